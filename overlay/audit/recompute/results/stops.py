"""Stops a second time: from the throttle's closing until speed over ground falls below 2 kn.

Where the last of the way is lost slowly, by less than 0.3 m/s², that instant is read off a parabola
through what lies within 3 s, else off the speed as it is shown.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from overlay.audit.recompute.day import Day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.laws import Curve, Reading
from overlay.audit.recompute.results.launches import RISES, foot
from overlay.audit.recompute.units import unit

CALM_HALF_S, QUICK_MPS2 = 3.0, 0.3
ABOUT_S = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StopAgain:
    """When the throttle closed, when the way was off, and how far she went in between."""

    start_s: float
    stop_s: float
    distance_m: float

    @property
    def time_s(self) -> float:
        """How long it took."""
        return self.stop_s - self.start_s


def stop_again(day: Day, about_s: float, ends_s: float) -> StopAgain:
    """The stop that is said to begin about an instant and to end at another.

    Raises
    ------
    CannotRecompute
        Where nothing tells its beginning, or the way is not off.
    """
    curve = day.curve("speed")
    if curve is None:
        raise CannotRecompute("no speed is logged")
    start = _closed(day, about_s, ends_s)
    stop = _way_off(curve, max(start, ends_s - ABOUT_S), ends_s + ABOUT_S)
    t = np.arange(start, stop, 0.05)
    gone = float(np.trapezoid(curve.values(t), t)) + (stop - float(t[-1])) * curve.at(stop).value
    return StopAgain(start_s=start, stop_s=stop, distance_m=gone)


def _closed(day: Day, about_s: float, ends_s: float) -> float:
    """When throttle or engine speed began to fall: its rise, turned over."""
    low, high = about_s - ABOUT_S, min(about_s + ABOUT_S, ends_s)
    for key, (least, straight) in RISES.items():
        channel = day.channels.get(key)
        if channel is None:
            continue
        near = channel.within(low, high)
        if near.t_s.size < 8:
            continue
        shut = float(near.t_s[int(np.argmin(near.values))])
        found = foot(replace(near, values=-near.values), low, shut + 1.0, least, straight)
        if found is not None:
            return found
    raise CannotRecompute("neither throttle nor engine speed tells when she began to stop")


def _way_off(curve: Curve, low_s: float, high_s: float) -> float:
    def calm(t_s: float) -> Reading:
        return curve.parabola_within(t_s, CALM_HALF_S)

    slowly = _under(calm, low_s, min(high_s, float(curve.channel.t_s[-1]) - CALM_HALF_S))
    if slowly is not None and -calm(slowly).slope <= QUICK_MPS2:
        return slowly
    quickly = _under(curve.at, low_s, min(high_s, float(curve.channel.t_s[-1]) - 0.5))
    if quickly is not None and -curve.at(quickly).slope >= QUICK_MPS2 / 2:
        return quickly
    if slowly is None:
        raise CannotRecompute("her way is not off there")
    return slowly


def _under(read: Callable[[float], Reading], low_s: float, high_s: float) -> float | None:
    """The first instant in steps of a fiftieth of a second at which speed is under 2 kn."""
    wanted = unit("kn").to_si(2.0)
    steps = np.arange(low_s, high_s, 0.02).tolist()
    return next((t_s for t_s in steps if read(t_s).value < wanted), None)
