"""Stops: from full speed to where the way is off, by the throttle's closing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overlay.analysis.smoothing import Law, alone, fit, law_for
from sync.clock import Span
from sync.log import Channel, Floats

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

_STEP_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop: time and distance from where the throttle closed until the way was off.

    `gear` says what the gear did: `neutral`, `astern`, or `not logged`.
    """

    span: Span
    entry_mps: float
    time_s: float
    distance_m: float
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
    found = []
    for end in off.tolist():
        begin = _begin(pace, end)
        if begin is None:
            continue
        start = _closing(channels, float(grid[begin]), float(grid[end]))
        gear = _gear(channels, start)
        if gear is not None:
            found.append(_measured(speed, law, Span(start_s=start, stop_s=float(grid[end])), gear))
    return tuple(found)


def _begin(pace: Floats, end: int) -> int | None:
    """Where the fall of speed that ends at an index begins; None where it is no stop."""
    least = max(0, end - round(MOST_S / _STEP_S))
    highest, at = float(pace[end]), end
    for i in range(end - 1, least - 1, -1):
        if not math.isfinite(pace[i]) or pace[i] < highest - RISE_MPS:
            break
        if pace[i] > highest:
            highest, at = float(pace[i]), i
    return at if highest >= LEAST_ENTRY_MPS else None


def _closing(channels: Mapping[str, Channel], falls_s: float, end_s: float) -> float:
    """When the throttle closed, or engine speed fell; else where speed began to fall."""
    for name, drop in (("throttle", 0.1), ("engine_speed", 300 / 60)):
        channel = channels.get(name)
        if channel is None:
            continue
        here = channel.cut(Span(start_s=falls_s - 10.0, stop_s=min(falls_s + 10.0, end_s)))
        if here.values.size < 3 or not np.all(np.isfinite(here.values)):
            continue
        values = here.values
        steepest = int(np.argmin(np.diff(values)))
        before = float(np.median(values[max(0, steepest - 20) : steepest + 1]))
        kept = np.flatnonzero(values[: steepest + 2] >= before - drop)
        if kept.size and before - float(values.min()) > drop:
            return float(here.t_s[kept[-1]])
    return falls_s


def _gear(channels: Mapping[str, Channel], start_s: float) -> str | None:
    """What the gear did as the throttle closed; None where it stayed ahead."""
    gear = channels.get("gear")
    if gear is None:
        return "not logged"
    soon = gear.cut(Span(start_s=start_s, stop_s=start_s + NEUTRAL_WITHIN_S)).values
    if soon.size == 0 or np.nanmin(soon) >= 0.5:
        return None
    return "astern" if np.nanmin(soon) <= -0.5 else "neutral"


def _measured(speed: Channel, law: Law, span: Span, gear: str) -> Stop:
    t = np.arange(span.start_s, span.stop_s, 0.05)
    values = fit(speed, t, law).values
    return Stop(
        span=span,
        entry_mps=float(values[0]) if values.size else math.nan,
        time_s=span.length_s,
        distance_m=float(np.trapezoid(values, t)) if values.size > 1 else math.nan,
        gear=gear,
    )
