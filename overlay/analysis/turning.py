"""Turns: found by the rate of turn, measured by the circle that was held.

A boat that holds a turn goes round a circle which the stream carries along. Her position follows
from the circle's centre, the stream u and the heading ψ, which runs evenly with the angle gone,

::

    x = x_0 + u_x t + P sin ψ + Q cos ψ,    y = y_0 + u_y t + P cos ψ − Q sin ψ,    R = √(P² + Q²)

all of it linear, so that least squares over the held part give R and u at once. The stream can
be told from the circle where some more than a whole turn was held; where less was, it stays in.
The held part begins when half a turn is done, as in the analysis of ships' turning circles
(explanatory notes to the standards for ship manoeuvrability, MSC/Circ.1053, 3.4.2.5). Those
standards are for ships of 100 m and more, so nothing here is held against their limits.

A boat's heading in a turn points inside her course by the angle of drift; in the held part it
does so evenly, so that both turn alike.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overlay.analysis.means import NONE, Mean, mean_of, running_mean
from overlay.analysis.track import track
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

LEAST_RATE_RADPS = math.radians(4.0)
"""Turning faster than this a boat is in a turn (own choice: a quarter of a planing boat's)."""

LEAST_SPEED_MPS = 3.0
"""Slower than this she is turned round, not tested (own choice)."""

LEAST_SWEPT_RAD = math.radians(120.0)
"""Less than this is a change of course (own choice)."""

HALF_RAD, STREAM_RAD = math.pi, math.radians(430.0)
"""From where on the turn is held, and how much of it tells the stream from the circle."""

ONSET_SHARE = 0.1
"""The turn begins where the rate of turn passes this share of what it will hold, for want of the
helm (own choice)."""

STILL_SHARE, LEAST_HELD_S = 0.7, 2.0
"""She comes out of the turn where its rate falls below this share of what she held, and must
have held it for so long (own choice)."""

AIRED_SHARE = 1.06
"""An engine that runs so much faster than on entry while the boat loses speed draws air (own
choice: a propeller's slip alone gives a few per cent)."""

_STEP_S = 0.1
_SMOOTH = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One turn.

    Parameters
    ----------
    span
        From the onset to where the rate of turn falls off.
    to
        `starboard` or `port`.
    swept_rad
        How far the heading turned.
    entry_mps, least_mps
        Speed over ground at the onset, and the least in the turn.
    held
        The part of which the circle is fitted; None where half a turn was not done.
    diameter_m
        Of the circle, with one standard deviation; NaN likewise.
    stream_removed
        Whether the stream was told from the circle.
    rate, speed, heel, centripetal
        Means over the held part: rad/s, m/s, rad (outward negative: to the side that she turns
        to), m/s².
    broken
        Whether the log of turning breaks off where it begins: then it began earlier, nobody knows
        when, and there is no entry speed.
    aired
        Whether the engine flared while speed fell; None where no engine speed is logged.
    """

    span: Span
    to: str
    swept_rad: float
    entry_mps: float
    least_mps: float
    held: Span | None
    diameter_m: Mean
    stream_removed: bool
    rate: Mean
    speed: Mean
    heel: Mean
    centripetal: Mean
    aired: bool | None
    broken: bool = False


def find_turns(channels: Mapping[str, Channel]) -> tuple[Turn, ...]:
    """All turns of a day, in order; none where neither rate of turn nor heading is logged.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    """
    speed, rate = channels.get("speed"), turn_rate(channels)
    if speed is None or speed.span is None or rate is None:
        return ()
    grid = np.arange(speed.span.start_s, speed.span.stop_s, _STEP_S)
    turning, pace = running_mean(rate.at(grid), _SMOOTH), speed.at(grid)
    turns = []
    with np.errstate(invalid="ignore"):
        fast = (np.abs(turning) >= LEAST_RATE_RADPS) & (pace >= LEAST_SPEED_MPS)
    for way in (1.0, -1.0):
        edges = np.flatnonzero(np.diff(np.r_[0, (fast & (way * turning > 0)).astype(int), 0]))
        for first, last in edges.reshape(-1, 2).tolist():
            swept = float(np.sum(turning[first:last])) * _STEP_S
            if abs(swept) >= LEAST_SWEPT_RAD:
                turns.append(_measured(channels, grid, turning, (first, last)))
    return tuple(sorted(turns, key=lambda turn: turn.span.start_s))


def turn_rate(channels: Mapping[str, Channel]) -> Channel | None:
    """The logged rate of turn, or that of the heading where it is sampled twice a second."""
    if "turn_rate" in channels:
        return channels["turn_rate"]
    heading = channels.get("heading")
    if heading is None or heading.period_s > 0.5:
        return None
    good = np.isfinite(heading.values)
    t, values = heading.t_s[good], np.unwrap(heading.values[good])
    if t.size < 3:
        return None
    middle = (t[1:] + t[:-1]) / 2
    return Channel(
        name="turn_rate", clock=heading.clock, t_s=middle, values=np.diff(values) / np.diff(t)
    )


def _measured(
    channels: Mapping[str, Channel], grid: Floats, turning: Floats, part: tuple[int, int]
) -> Turn:
    first, last = _onset(turning, part)
    span = Span(start_s=float(grid[first]), stop_s=float(grid[last - 1]))
    swept = float(np.nansum(turning[first:last])) * _STEP_S
    held = _held(grid, turning, first, last)
    rate_of, speed, roll = turn_rate(channels), channels["speed"], channels.get("roll")
    rate, going, heel = (
        NONE if held is None else mean_of(channel, held) for channel in (rate_of, speed, roll)
    )
    circle, removed = (NONE, False) if held is None else _circle(channels, grid, turning, held)
    pace = speed.at(grid[first:last])
    broken = first > 0 and not math.isfinite(turning[first - 1])
    return Turn(
        span=span,
        to="starboard" if swept > 0 else "port",
        swept_rad=abs(swept),
        entry_mps=math.nan if broken else float(pace[0]),
        least_mps=float(np.nanmin(pace)) if np.any(np.isfinite(pace)) else math.nan,
        held=held,
        diameter_m=circle,
        stream_removed=removed,
        rate=Mean(value=abs(rate.value), sd=rate.sd),
        speed=going,
        heel=Mean(value=math.copysign(1.0, swept) * heel.value, sd=heel.sd),
        centripetal=_centripetal(going, rate),
        aired=_aired(channels, span),
        broken=broken,
    )


def _held(grid: Floats, turning: Floats, first: int, last: int) -> Span | None:
    """The part of a turn after half of it is done, until she comes out of it."""
    rate = np.abs(np.nan_to_num(turning[first:last]))
    half = np.flatnonzero(np.cumsum(rate) * _STEP_S >= HALF_RAD)
    if not half.size:
        return None
    start = int(half[0])
    still = np.flatnonzero(rate[start:] >= STILL_SHARE * float(np.median(rate[start:])))
    stop = start + int(still[-1])
    if (stop - start) * _STEP_S < LEAST_HELD_S:
        return None
    return Span(start_s=float(grid[first + start]), stop_s=float(grid[first + stop]))


def _onset(turning: Floats, part: tuple[int, int]) -> tuple[int, int]:
    """The turn from where its rate is a tenth of what it holds, to where it is that again."""
    first, last = part
    level = ONSET_SHARE * float(np.nanmedian(np.abs(turning[first:last])))
    way = np.sign(turning[(first + last) // 2])
    while first > 0 and way * turning[first - 1] > level:
        first -= 1
    while last < turning.size and way * turning[last] > level:
        last += 1
    return first, last


def _circle(
    channels: Mapping[str, Channel], grid: Floats, turning: Floats, held: Span
) -> tuple[Mean, bool]:
    """The diameter of the circle that was held, and whether the stream was told from it."""
    path = track(channels, held)
    if path is None:
        return NONE, False
    inside = (grid >= held.start_s - _STEP_S) & (grid <= held.stop_s + _STEP_S)
    angle = np.cumsum(np.nan_to_num(turning[inside])) * _STEP_S
    psi = np.interp(path.t_s, grid[inside], angle)
    removed = float(np.ptp(psi)) >= STREAM_RAD
    return fit_circle(path.t_s, path.x_m, path.y_m, psi, stream=removed), removed


def fit_circle(t_s: Floats, x_m: Floats, y_m: Floats, psi_rad: Floats, *, stream: bool) -> Mean:
    """The diameter of a circle that is carried along, by least squares.

    Parameters
    ----------
    t_s, x_m, y_m : [shape=(n,), s, m east, m north]
    psi_rad : [shape=(n,)]
        How far the boat has turned, clockwise, from any beginning.
    stream
        Whether the circle may be carried along.

    Returns
    -------
    No value for fewer than eight places. The deviation takes what is left over for noise that stays
    for a quarter of a turn.
    """
    n = t_s.size
    if n < 8:
        return NONE
    t = t_s - t_s.mean()
    sine, cosine, one, none = np.sin(psi_rad), np.cos(psi_rad), np.ones(n), np.zeros(n)
    east, north = [one, none, sine, cosine], [none, one, cosine, -sine]
    if stream:
        east, north = [*east, t, none], [*north, none, t]
    rows = np.vstack([np.column_stack(east), np.column_stack(north)])
    wanted = np.r_[x_m, y_m]
    solved = np.linalg.lstsq(rows, wanted, rcond=None)[0]
    left = wanted - rows @ solved
    # Errors of place last; a quarter of a turn stands for one of them.
    pieces = max(4.0, 2 * float(np.ptp(psi_rad)) / (math.pi / 2))
    noise = float(np.sum(left**2)) / max(2 * n - rows.shape[1], 1)
    spread = np.linalg.inv(rows.T @ rows)[2, 2] * noise * (2 * n / pieces)
    radius = math.hypot(solved[2], solved[3])
    return Mean(value=2 * radius, sd=2 * math.sqrt(max(spread, 0.0)))


def _centripetal(speed: Mean, rate: Mean) -> Mean:
    """A = v ω, with the doubt of both."""
    value = speed.value * abs(rate.value)
    if not math.isfinite(value):
        return NONE
    return Mean(value=value, sd=math.hypot(speed.sd * rate.value, speed.value * rate.sd))


def _aired(channels: Mapping[str, Channel], span: Span) -> bool | None:
    """Whether the engine flared in a turn while speed fell."""
    engine = channels.get("engine_speed")
    if engine is None:
        return None
    before = engine.cut(Span(start_s=span.start_s - 3.0, stop_s=span.start_s)).values
    during = engine.cut(span).values
    speed = channels["speed"].cut(span).values
    if not (before.size and during.size and speed.size):
        return None
    return bool(
        np.nanmax(during) > AIRED_SHARE * np.nanmean(before) and np.nanmin(speed) < speed[0]
    )
