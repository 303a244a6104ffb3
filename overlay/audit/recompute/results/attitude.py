"""Bow rise and time to plane a second time.

Bow rise is the highest pitch of the launch, as a mean over 0.3 s, less its mean in the rest just
before; time to plane is from the start to the first instant after that peak at which pitch has
fallen two thirds of the way to the running trim at the lowest planing step, or to a speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.audit.recompute.day import Day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.levelling import rest_before
from overlay.audit.recompute.recorded import Floats, Recorded
from overlay.audit.recompute.results.launches import LaunchAgain, reached
from overlay.audit.recompute.sheet import Sheet

MEAN_S = 0.3
SETTLED_S = 25.0
SEA_WATER_KGPM3, GRAVITY_MPS2 = 1025.0, 9.80665


@dataclass(frozen=True, slots=True, kw_only=True)
class BowAgain:
    """Level at rest and rise [rad], when the peak was, and for how long it stood above a limit."""

    level_rad: float
    rise_rad: float
    peak_s: float
    above_s: float


def bow_of(day: Day, sheet: Sheet, launch: LaunchAgain) -> BowAgain:
    """How the bow came up in a launch.

    Raises
    ------
    CannotRecompute
        Where no pitch is logged in it.
    """
    pitch = day.channels.get("pitch")
    if pitch is None:
        raise CannotRecompute("no pitch is logged")
    level = pitch.mean(*rest_before(day, launch.start_s))
    t, mean = smoothed(pitch, launch.start_s, launch.stop_s)
    top = int(np.argmax(mean))
    limit = sheet.bow_limit_rad
    above = math.nan if limit is None else _above(t, mean - level, limit)
    return BowAgain(
        level_rad=level, rise_rad=float(mean[top]) - level, peak_s=float(t[top]), above_s=above
    )


def smoothed(pitch: Recorded, start_s: float, stop_s: float) -> tuple[Floats, Floats]:
    """Pitch at its own samples, each the mean of those about it."""
    near = pitch.within(start_s - MEAN_S, stop_s + MEAN_S)
    if near.t_s.size < 4:
        raise CannotRecompute("pitch breaks off in the launch")
    gone = np.append(0.0, np.cumsum(near.values))
    inside = (near.t_s >= start_s) & (near.t_s <= stop_s)
    t = near.t_s[inside]
    first = np.searchsorted(near.t_s, t - MEAN_S / 2)
    last = np.searchsorted(near.t_s, t + MEAN_S / 2, side="right")
    return t, (gone[last] - gone[first]) / (last - first)


def _above(t: Floats, angle: Floats, limit: float) -> float:
    """For how long a line through values lies above a limit, in pieces of a millisecond."""
    fine = np.arange(t[0], t[-1], 1e-3)
    return float(np.count_nonzero(np.interp(fine, t, angle) > limit) * 1e-3)


def plane_of(day: Day, sheet: Sheet, launch: LaunchAgain, trim_rad: float | None) -> float:
    """When she was on the plane.

    Parameters
    ----------
    trim_rad
        Pitch at the lowest planing step, the sensor's mounting in it.

    Raises
    ------
    CannotRecompute
        Where that cannot be told.
    """
    if sheet.time_to_plane == "button":
        raise CannotRecompute("an observer's button is not read a second time")
    if sheet.time_to_plane != "two_thirds":
        return _at_speed(day, launch, _plane_speed(sheet))
    pitch = day.channels.get("pitch")
    if pitch is None or trim_rad is None:
        raise CannotRecompute("neither pitch nor a planing step is there to tell it by")
    t, mean = smoothed(pitch, launch.start_s, launch.stop_s + SETTLED_S)
    top = int(np.argmax(np.where(t <= launch.stop_s, mean, -np.inf)))
    line = mean[top] - 2 * (mean[top] - trim_rad) / 3
    down = np.flatnonzero(mean[top:] <= line)
    if not down.size:
        raise CannotRecompute("she did not come down onto the plane")
    return float(t[top + down[0]])


def _plane_speed(sheet: Sheet) -> float:
    if sheet.time_to_plane == "speed":
        if sheet.plane_speed_mps is None:
            raise CannotRecompute("the sheet has no speed at which she planes")
        return sheet.plane_speed_mps
    if sheet.test_mass_kg is None:
        raise CannotRecompute("the sheet states no mass as tested")
    # Froude's number of the displaced volume: v / sqrt(g · cube root of the volume).
    side_m = (sheet.test_mass_kg / SEA_WATER_KGPM3) ** (1 / 3)
    return 2.0 * math.sqrt(GRAVITY_MPS2 * side_m)


def _at_speed(day: Day, launch: LaunchAgain, wanted: float) -> float:
    curve = day.curve("speed")
    assert curve is not None  # the launch was found in it
    t = np.arange(launch.start_s, launch.stop_s, 0.02)
    found = reached(curve, t, curve.values(t), wanted)
    if math.isnan(found):
        raise CannotRecompute("she did not reach the speed for it")
    return found
