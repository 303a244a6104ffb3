"""Stops: from full speed to where the way is off, by the throttle's closing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from overlay.analysis.ladder import DOPPLER_MEMORY_S, kept_noise, noise_of
from overlay.analysis.means import Mean
from overlay.analysis.smoothing import LAWS, Law, alone, fit, law_for
from overlay.analysis.start import RISES, rise_of
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

LEAST_ENTRY_MPS = 5.0
"""Slower than this a boat does not plane, and her stop is not what is asked for (own choice)."""

WAY_OFF_MPS = 2 * 1852 / 3600
"""Below two knots over ground the way is off; a stream would carry her on (own choice)."""

MOST_S = 60.0
RISE_MPS = 0.5
"""Speed may rise by so much on the way, in a following sea, and no more."""

NEUTRAL_WITHIN_S = 3.0
"""In a stop the gear is out or astern so soon after the throttle closes; else she was slowed
down in gear."""

ABOUT_S = 10.0
"""Where the throttle is looked for about the instant from which speed falls: she may have lost
some of it on a wave before."""

SHUT_S = 1.0
"""How long past its least a throttle is looked at, so that its fall is known from a blip."""

SOON_S = 2.0
FALLS_SD_S = 0.3
"""How far out a beginning is that only the fall of speed tells (own choice)."""

CALM = replace(LAWS["parabola"], half_s=3.0)
QUICK_MPS2 = 0.3
"""By what law the last of the way is read where it dies away more slowly than this."""

LEAST_LOSS_MPS2 = 0.01
"""A loss of way that is read as less is taken for this: the time of a stop is then out by
seconds."""

_STEP_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop: time and distance from where the throttle closed until the way was off.

    `event` names what told the beginning: `throttle`, `engine_speed` or `speed`; `gear` says what
    the gear did: `neutral`, `astern`, or `not logged`.
    """

    span: Span
    entry: Mean
    time_s: Mean
    distance_m: Mean
    event: str
    gear: str


def find_stops(channels: Mapping[str, Channel]) -> tuple[Stop, ...]:
    """All stops of a day, in order; those slowed down in gear are none.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    """
    speed = channels.get("speed")
    if speed is None or speed.span is None:
        return ()
    law = law_for(speed, channels)
    grid = np.arange(speed.span.start_s, speed.span.stop_s, _STEP_S)
    pace = fit(speed, grid, alone(law)).values
    with np.errstate(invalid="ignore"):
        off = np.flatnonzero((pace[1:] < WAY_OFF_MPS) & (pace[:-1] >= WAY_OFF_MPS)) + 1
    found: list[Stop] = []
    for end in off.tolist():
        begin = _begin(pace, end)
        if begin is None or (found and grid[begin] < found[-1].span.stop_s):
            continue  # no stop, or one whose way came back for a moment
        closed = _closing(channels, float(grid[begin]), float(grid[end]))
        gear = _gear(channels, closed.t_s)
        if gear is not None:
            stop = _measured(speed, law, closed, float(grid[end]), gear)
            found += [] if stop is None else [stop]
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Closed:
    """When a stop began, how far that may be out, and what told it."""

    t_s: float
    sd_s: float
    event: str


def _begin(pace: Floats, end: int) -> int | None:
    """Where the fall of speed that ends at an index begins; None where it is no stop.

    That is where she last ran as fast as she ever did on the way, but for what speed may rise
    by: at full speed noise alone has its highest value anywhere.
    """
    least = max(0, end - round(MOST_S / _STEP_S))
    highest = float(pace[end])
    first = end
    for i in range(end - 1, least - 1, -1):
        if not math.isfinite(pace[i]) or pace[i] < highest - RISE_MPS:
            break
        highest, first = max(highest, float(pace[i])), i
    if highest < LEAST_ENTRY_MPS:
        return None
    return first + int(np.flatnonzero(pace[first:end] >= highest - RISE_MPS)[-1])


def _closing(channels: Mapping[str, Channel], falls_s: float, end_s: float) -> _Closed:
    """When the throttle began to close, or engine speed to fall; else where speed began to."""
    near = Span(start_s=falls_s - ABOUT_S, stop_s=min(falls_s + ABOUT_S, end_s))
    for key in RISES:
        channel = channels.get(key)
        if channel is None or channel.broken_in(near):
            continue
        # Turned over, and up to where it is closed: astern it may be opened again.
        closing = replace(channel.cut(near), values=-channel.cut(near).values)
        if np.any(np.isfinite(closing.values)):
            shut_s = float(closing.t_s[int(np.nanargmax(closing.values))])
            fall = Span(start_s=near.start_s, stop_s=shut_s + SHUT_S)
            if (found := rise_of(closing, fall)) is not None:
                return _Closed(t_s=found[0], sd_s=found[1], event=key)
    speed = channels["speed"]
    # She is down by what speed may rise by where the fall is told: that takes so long to lose.
    first, later = speed.at(np.array([falls_s, falls_s + SOON_S]))
    loss = max(float(np.nan_to_num(first - later)) / SOON_S, LEAST_LOSS_MPS2)
    fall_sd = math.hypot(FALLS_SD_S, RISE_MPS / loss / math.sqrt(12), speed.delay_sd_s)
    return _Closed(t_s=falls_s, sd_s=fall_sd, event="speed")


def _gear(channels: Mapping[str, Channel], start_s: float) -> str | None:
    """What the gear did as the throttle closed; None where it stayed ahead."""
    gear = channels.get("gear")
    if gear is None:
        return "not logged"
    soon = gear.cut(Span(start_s=start_s, stop_s=start_s + NEUTRAL_WITHIN_S)).values
    if soon.size == 0 or np.nanmin(soon) >= 0.5:
        return None
    return "astern" if np.nanmin(soon) <= -0.5 else "neutral"


def _measured(speed: Channel, law: Law, closed: _Closed, near_s: float, gear: str) -> Stop | None:
    """The figures of a stop; None where the way was not off after all.

    A wrong delay of speed moves its end and what is gone before the throttle closes; where speed
    itself tells the beginning, it moves all alike.
    """
    about = Span(start_s=max(closed.t_s, near_s - ABOUT_S), stop_s=near_s + ABOUT_S)
    end_s, read_by = _way_off(speed, law, about)
    if not math.isfinite(end_s):
        return None
    span = Span(start_s=closed.t_s, stop_s=end_s)
    t = np.linspace(span.start_s, span.stop_s, max(int(span.length_s / 0.05), 2))
    values = fit(speed, t, law).values
    noise = noise_of(speed, law, span.start_s, span.stop_s)
    loss = max(-float(fit(speed, end_s, read_by).slopes[0]), LEAST_LOSS_MPS2)
    late = 0.0 if closed.event == "speed" else speed.delay_sd_s
    end_sd = noise * kept_noise(read_by) / loss
    entry = float(values[0])
    down_sd = RISE_MPS / math.sqrt(12) if closed.event == "speed" else 0.0
    gone = noise * math.sqrt(2 * DOPPLER_MEMORY_S * span.length_s)
    return Stop(
        span=span,
        entry=Mean(value=entry, sd=math.hypot(noise * kept_noise(law), down_sd)),
        time_s=Mean(value=span.length_s, sd=math.hypot(end_sd, closed.sd_s, late)),
        distance_m=Mean(
            value=float(np.trapezoid(values, t)),
            sd=math.hypot(entry * math.hypot(closed.sd_s, late), WAY_OFF_MPS * end_sd, gone),
        ),
        event=closed.event,
        gear=gear,
    )


def _way_off(speed: Channel, law: Law, span: Span) -> tuple[float, Law]:
    """When speed falls below that at which the way is off, within a stretch about it, and the law
    that it was read by; NaN where it does not.

    A boat that loses her last way by herself takes so long over it that noise alone would take her
    there seconds too early: then it is read off more of the log.
    """
    t, last = np.arange(span.start_s, span.stop_s, _STEP_S / 5), float(speed.t_s[-1])
    otherwise = math.nan
    for each, quickest, slowest in ((CALM, QUICK_MPS2, 0.0), (law, math.inf, QUICK_MPS2 / 2)):
        read = fit(speed, t, each)
        whole = t <= last - each.half_s  # half a window says little of how speed goes on
        with np.errstate(invalid="ignore"):
            under = np.flatnonzero((read.values < WAY_OFF_MPS) & whole)
        if under.size and slowest <= -read.slopes[under[0]] <= quickest:
            return float(t[under[0]]), each
        if under.size and each is CALM:
            otherwise = float(t[under[0]])
    return otherwise, CALM
