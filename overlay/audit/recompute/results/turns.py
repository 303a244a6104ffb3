"""Turns a second time: how far the heading swept, and the circle that was held.

The circle's diameter is twice its radius, fitted after half a turn is done; the stream is taken out
where 430° and more of it were held. The boat's way comes from her speed and course over ground,
summed up, and the circle from least squares in the complex plane: with ψ how far she has turned,

::

    z(t) = z₀ + R e^(−iψ) [+ u t],    z east + i north,    diameter = 2 |R|
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from overlay.audit.recompute.day import Day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.laws import Curve
from overlay.audit.recompute.recorded import Floats, Recorded

STREAM_RAD = math.radians(430.0)
STEP_S = 0.1
LEAST_PLACES = 8
SMOOTH_S, ONSET_SHARE = 0.9, 0.1
LEAST_RATE_RADPS = math.radians(4.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnAgain:
    """Angles swept by instants [rad], and the speed at the beginning."""

    t_s: Floats
    swept_rad: Floats
    entry_mps: float

    def when(self, angle_rad: float) -> float:
        """When an angle had been swept; NaN where it never was."""
        if self.swept_rad[-1] <= angle_rad:
            return math.nan
        return float(np.interp(angle_rad, self.swept_rad, self.t_s))

    def at(self, t_s: float) -> float:
        """How far she had turned at an instant."""
        return float(np.interp(t_s, self.t_s, self.swept_rad))


def rate_of(day: Day) -> Recorded:
    """The rate of turn as logged, or that of the heading where it is logged twice a second.

    Raises
    ------
    CannotRecompute
        Where neither is there.
    """
    rate = day.channels.get("turn_rate")
    if rate is not None:
        return rate
    heading = day.channels.get("heading")
    if heading is None or not heading.period_s <= 0.5:
        raise CannotRecompute("neither rate of turn nor heading is logged")
    steps = np.diff(heading.t_s)
    turned = np.remainder(np.diff(heading.values) + math.pi, math.tau) - math.pi
    return replace(
        heading,
        key="turn_rate",
        t_s=(heading.t_s[1:] + heading.t_s[:-1]) / 2,
        values=turned / steps,
        lines=heading.lines[1:],
        printed=heading.printed[1:],
    )


def turn_again(day: Day, start_s: float, stop_s: float, *, to_port: bool) -> TurnAgain:
    """How far the heading swept in a turn: the rate of turn summed up, never falling."""
    curve = Curve(rate_of(day), "neighbours")
    t = np.arange(start_s, stop_s + STEP_S / 2, STEP_S)
    way = -1.0 if to_port else 1.0
    rates = np.maximum(way * np.nan_to_num(curve.values(t)), 0.0)
    swept = np.append(0.0, np.cumsum((rates[1:] + rates[:-1]) / 2 * STEP_S))
    speed = day.channels.get("speed")
    entry = math.nan if speed is None else Curve(speed, "neighbours").at(start_s).value
    return TurnAgain(t_s=t, swept_rad=swept, entry_mps=entry)


def onset(day: Day, about_s: float, stop_s: float, *, to_port: bool) -> float:
    """When a turn began: where its rate, as a mean over 0.9 s, passes a tenth of what it holds.

    Raises
    ------
    CannotRecompute
        Where she does not turn there.
    """
    rate, way = rate_of(day), -1.0 if to_port else 1.0
    t = np.arange(about_s - 5.0, stop_s, STEP_S)
    means = np.array(
        [way * rate.mean(one - SMOOTH_S / 2, one + SMOOTH_S / 2) for one in t.tolist()]
    )
    fast = np.flatnonzero((means >= LEAST_RATE_RADPS) & (t >= about_s))
    if not fast.size:
        raise CannotRecompute("the audit finds no turn there")
    level = ONSET_SHARE * float(np.median(means[fast]))
    first = int(fast[0])
    while first > 0 and means[first - 1] > level:
        first -= 1
    return float(t[first])


def diameter(day: Day, start_s: float, stop_s: float) -> float:
    """The diameter of the circle that was held in a stretch [m].

    Raises
    ------
    CannotRecompute
        Where the boat's way or her turning is not to be had all along.
    """
    speed, course = day.curve("speed"), day.channels.get("course")
    if speed is None or course is None:
        raise CannotRecompute("the way of the boat is worked out from speed and course alone")
    t = np.arange(start_s, stop_s, STEP_S)
    pace = Curve(speed.channel, "neighbours").values(t)
    way = Curve(course, "neighbours").values(t)
    turning = Curve(rate_of(day), "neighbours").values(t)
    if t.size < LEAST_PLACES or not np.all(np.isfinite(pace + way + turning)):
        raise CannotRecompute("speed, course or rate of turn break off in the turn")
    velocity = pace * np.exp(1j * (math.pi / 2 - way))
    place = _summed(velocity)
    psi = _summed(turning)
    columns = [np.ones(t.size, dtype=np.complex128), np.exp(-1j * psi)]
    if float(np.ptp(psi)) >= STREAM_RAD:
        columns.append((t - t.mean()).astype(np.complex128))
    table = np.stack(columns, axis=1)
    found = np.linalg.lstsq(table, place, rcond=None)[0]
    return 2 * float(abs(found[1]))


def _summed(rates: Any) -> Any:
    """A rate at even steps summed up by trapezia, from nought."""
    steps = (rates[1:] + rates[:-1]) / 2 * STEP_S
    return np.append(np.zeros(1, dtype=rates.dtype), np.cumsum(steps))
