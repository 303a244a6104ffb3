"""Steady stretches of a day: engine speed, speed and course held for long enough.

A stretch is steady when, smoothed over a second, every engine's speed stays within 2 % or
50 rpm of its median, whichever is more, the boat's speed within 3 % or 0.3 kn of its own, and
its course, once under way, within a fan of 20°; full throttle and what is just below it are kept
apart. What is found are the longest such stretches
that do not overlap, of eight seconds or more; what a boat does at the beginning of one while she
still gains on her speed is left off, where enough remains.

All of these are the project's own choices. The band of engine speed is that of 40 CFR
91.410(b) for the modes of an emission test: ±50 rpm or ±2 %.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from overlay.analysis.means import running_mean
from overlay.analysis.start import MOVING_MPS
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

ENGINE_SHARE, ENGINE_LEAST_RPS = 0.02, 50 / 60
SPEED_SHARE, SPEED_LEAST_MPS = 0.03, 0.3 * 1852 / 3600
"""Half-widths of the bands: as a share of the middle, and the least that they are."""

COURSE_FAN_RAD = math.radians(20.0)
"""How far apart the courses of a steady stretch may lie; a helmsman in a swell keeps to half."""

OPENED, FULL_SHARE = 0.95, 0.995
"""A throttle that goes so far in a day was opened fully; at so much of the most it is at full
throttle (own choice)."""

UNDER_WAY_MPS = 2.0
"""Slower than this a course over ground says little of where the bow points."""

LEAST_S = 8.0
"""Shortest stretch that counts."""

SETTLED_SDS, SETTLED_SHARE = 3.0, 0.003
"""How far a piece of a stretch may lie from what follows it, in its scatter and as a share of
speed (own choice)."""

_STEP_S = 0.25
_PIECE = 10
"""Values of the grid to a piece."""

_SMOOTH = 5
"""Values of the grid that are averaged: 1.25 s from first to last edge."""

Kind = Literal["step", "astern", "rest"]
Flags = NDArray[np.bool_]
Fits = Callable[[Floats, Floats], Flags]


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """One steady stretch, with the means over it; NaN for what was not logged.

    `kind` is `rest` for a boat that hardly moves or is out of gear, `astern` where the gear
    says so, else `step`. `engine_speed_rps` is the mean over the engines, and `full` says whether
    all throttles were open as far as they go.
    """

    span: Span
    kind: Kind
    engine_speed_rps: float
    speed_mps: float
    course_rad: float
    full: bool = False


def find_steady(channels: Mapping[str, Channel]) -> tuple[Steady, ...]:
    """All steady stretches of a day, in order.

    Parameters
    ----------
    channels
        By key, on UTC, timely. Without speed there are none; without engine speed, speed and
        course alone decide.
    """
    speed = channels.get("speed")
    if speed is None or speed.span is None or speed.span.length_s < LEAST_S:
        return ()
    grid = np.arange(speed.span.start_s, speed.span.stop_s, _STEP_S)
    pace = running_mean(speed.at(grid), _SMOOTH)
    rows = [(pace, SPEED_SHARE, SPEED_LEAST_MPS)]
    rows += [
        (running_mean(channel.at(grid), _SMOOTH), ENGINE_SHARE, ENGINE_LEAST_RPS)
        for channel in _engines(channels)
    ]
    reach = np.min([_reach(row, _band(share, least)) for row, share, least in rows], axis=0)
    full = _full_throttle(channels, grid)
    reach = np.minimum(reach, _reach(full, lambda low, high: np.asarray(high - low < 0.5)))
    if (course := channels.get("course")) is not None:
        ways = _unwrapped(course, grid, pace)
        reach = np.minimum(reach, _reach(ways, _fan))
    found = []
    for first, last in _longest(reach):
        held = _within(rows, first, last)
        if held is not None:
            held = _settled(pace, *held)
            # The grid's points stand for what lies half a step about them.
            span = Span(start_s=float(grid[held[0]]), stop_s=float(grid[held[1] - 1]))
            found.append(_measured(channels, span, full=bool(full[held[0]] > 0.5)))
    return tuple(sorted(found, key=lambda one: one.span.start_s))


def _engines(channels: Mapping[str, Channel]) -> list[Channel]:
    return [channel for channel in channels.values() if channel.name == "engine_speed"]


def _full_throttle(channels: Mapping[str, Channel], grid: Floats) -> Floats:
    """Ones where all throttles are open as far as they go in the day, noughts elsewhere, and where
    none is logged or was ever opened."""
    throttles = [channel for channel in channels.values() if channel.name == "throttle"]
    out = np.full(grid.size, 1.0 if throttles else 0.0)
    for channel in throttles:
        most = float(np.nanmax(channel.values, initial=0.0))
        with np.errstate(invalid="ignore"):
            out *= (channel.at(grid) >= FULL_SHARE * most) & (most >= OPENED)
    return out


def _unwrapped(course: Channel, grid: Floats, pace: Floats) -> Floats:
    """Course without its jump at north; infinite where it says nothing, which fits anywhere."""
    values = course.at(grid)
    with np.errstate(invalid="ignore"):
        told = np.isfinite(values) & (pace >= UNDER_WAY_MPS)
    out = np.full(values.shape, np.inf)
    out[told] = np.unwrap(values[told])
    return out


def _band(share: float, least: float) -> Fits:
    """Whether all values between a lowest and a highest lie in one band about their middle."""

    def fits(low: Floats, high: Floats) -> Flags:
        half = (high - low) / 2
        return np.asarray((half <= least) | (half <= share * (high + low) / 2))

    return fits


def _fan(low: Floats, high: Floats) -> Flags:
    return np.asarray(high - low <= COURSE_FAN_RAD)


def _reach(row: Floats, fits: Fits) -> Floats:
    """For every start, the first index that a stretch from it can no longer take in.

    Whatever fits must also fit in all its parts. A NaN ends every stretch; an infinite value
    is passed over. The lowest and highest of every stretch whose length is a power of two are
    worked out once; then all starts reach out at the same time, by the longest of these first.
    """
    passed, empty = np.isinf(row), np.isnan(row)
    low = np.where(passed, np.inf, np.where(empty, -np.inf, row))
    high = np.where(passed, -np.inf, np.where(empty, np.inf, row))
    tables = [(low, high)]
    while (length := 1 << len(tables)) <= row.size:
        (lows, highs), half = tables[-1], length // 2
        tables.append(
            (np.minimum(lows[:-half], lows[half:]), np.maximum(highs[:-half], highs[half:]))
        )
    end = np.arange(row.size)
    low, high = np.full(row.size, np.inf), np.full(row.size, -np.inf)
    for k, (lows, highs) in reversed(list(enumerate(tables))):
        room = end + (1 << k) <= row.size
        place = np.where(room, end, 0)
        lower, higher = np.minimum(low, lows[place]), np.maximum(high, highs[place])
        with np.errstate(invalid="ignore"):
            further = room & fits(lower, higher)
        end = np.where(further, end + (1 << k), end)
        low, high = np.where(further, lower, low), np.where(further, higher, high)
    return end.astype(np.float64)


def _longest(reach: Floats) -> list[tuple[int, int]]:
    """Stretches that do not overlap, the longest first, each as first index and end."""
    least = round(LEAST_S / _STEP_S) + 1
    starts = np.arange(reach.size)
    waiting = [(0, reach.size)]
    found = []
    while waiting:
        low, high = waiting.pop()
        if high - low < least:
            continue
        lengths = np.minimum(reach[low:high], high) - starts[low:high]
        first = low + int(np.argmax(lengths))
        last = first + int(lengths[first - low])
        if last - first < least:
            continue
        found.append((first, last))
        waiting += [(low, first), (last, high)]
    return found


def _within(
    rows: list[tuple[Floats, float, float]], first: int, last: int
) -> tuple[int, int] | None:
    """The stretch less what lies at its ends outside a band about the median, if enough is
    left."""
    while (last - first - 1) * _STEP_S >= LEAST_S:
        outside = np.zeros(last - first, dtype=bool)
        for row, share, least in rows:
            part = row[first:last]
            middle = float(np.median(part))
            outside |= np.abs(part - middle) > max(least, share * middle) + 1e-9
        places = np.flatnonzero(outside)
        if places.size == 0:
            return first, last
        ahead, behind = int(places[0]), last - first - 1 - int(places[-1])
        if ahead <= behind:
            first += ahead + 1
        else:
            last -= behind + 1
    return None


def _settled(pace: Floats, first: int, last: int) -> tuple[int, int]:
    """The stretch less the seconds in which the boat was still coming up or down to its speed.

    Pieces of two and a half seconds at its beginning are dropped while they lie further from the
    middle of those after them than these scatter; what is left is long enough to count.
    """
    pieces = (last - first) // _PIECE
    means = pace[first : first + pieces * _PIECE].reshape(pieces, _PIECE).mean(axis=1)
    dropped = 0
    while (last - first - (dropped + 1) * _PIECE - 1) * _STEP_S >= LEAST_S:
        after = means[dropped + 1 :]
        middle = float(np.median(after))
        scatter = 1.4826 * float(np.median(np.abs(after - middle)))
        if abs(means[dropped] - middle) <= max(SETTLED_SDS * scatter, SETTLED_SHARE * middle):
            break
        dropped += 1
    return first + dropped * _PIECE, last


def _measured(channels: Mapping[str, Channel], span: Span, *, full: bool) -> Steady:
    speed = _mean(channels["speed"], span)
    turning = [_mean(channel, span) for channel in _engines(channels)]
    gear = _mean(channels["gear"], span) if "gear" in channels else math.nan
    kind: Kind = "step"
    if speed < MOVING_MPS or abs(gear) < 0.5:
        kind = "rest"
    elif gear <= -0.5:
        kind = "astern"
    return Steady(
        span=span,
        kind=kind,
        engine_speed_rps=float(np.mean(turning)) if turning else math.nan,
        speed_mps=speed,
        course_rad=math.nan if kind == "rest" else mean_course(channels.get("course"), span),
        full=full,
    )


def _mean(channel: Channel, span: Span) -> float:
    values = channel.cut(span).values
    values = values[np.isfinite(values)]
    return float(np.mean(values)) if values.size else math.nan


def mean_course(course: Channel | None, span: Span) -> float:
    """Mean direction over a span, in [0, 2π); NaN where there is none."""
    if course is None:
        return math.nan
    values = course.cut(span).values
    values = values[np.isfinite(values)]
    if values.size == 0:
        return math.nan
    return float(np.angle(np.mean(np.exp(1j * values))) % (2 * math.pi))
