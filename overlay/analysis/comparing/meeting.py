"""Where the steps of two trials meet: at equal engine speed, and at equal speed.

Crews set engine speed by hand, so that steps of two trials lie within a hundred rpm of each
other and not at one. A step is held against the nearest of the other trial within that rule, and
what the rest is worth goes into the doubt of the difference, by the steeper of the two trials'
own slopes: a boat is not called faster for having been run at 40 rpm more.

Between steps a figure follows by monotone interpolation (PCHIP, Fritsch and Carlson 1980, from
memory), never outside them, and never across a gap that a boat may do anything in: from
the hump onto the plane.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from overlay.analysis.comparing.side import Reading
from overlay.analysis.curves import WIDEST_GAP
from overlay.analysis.means import Mean
from overlay.analysis.steps import Step, same_engine_speed

Read = Callable[[Step], Mean]


def partner(step: Step, mine: Sequence[Step], theirs: Sequence[Step]) -> Step | None:
    """The other trial's step at the engine speed of a step: each the nearest to the other."""
    near = _nearest(step, theirs)
    if near is None or _nearest(near, mine) is not step:
        return None
    here, there = step.engine_speed.value, near.engine_speed.value
    return near if same_engine_speed(here, there) and same_engine_speed(there, here) else None


def _nearest(step: Step, others: Sequence[Step]) -> Step | None:
    known = [one for one in others if one.engine_speed.known]
    if not step.engine_speed.known:
        return None
    return min(
        known,
        key=lambda one: abs(one.engine_speed.value - step.engine_speed.value),
        default=None,
    )


def slope(read: Read, step: Step, steps: Sequence[Step]) -> float:
    """The steeper of a figure's slopes over engine speed to the steps on both sides; where there
    are none, as if the figure grew with engine speed."""
    known = [one for one in steps if one.engine_speed.known and read(one).known]
    place = next((i for i, one in enumerate(known) if one is step), None)
    if place is None:
        return 0.0
    slopes = [
        abs((read(b).value - read(a).value) / (b.engine_speed.value - a.engine_speed.value))
        for a, b in pairwise(known[max(place - 1, 0) : place + 2])
        if b.engine_speed.value > a.engine_speed.value
    ]
    return max(slopes, default=abs(read(step).value) / step.engine_speed.value)


def at_speed(steps: Sequence[Step], speed_mps: float, read: Read) -> Reading:
    """A figure at a speed, worked out between the steps on both sides of it.

    ::

        sd = √( max(sd₁, sd₂)² + (slope · max(sd of the speeds))² + (PCHIP − straight line)² )

    Parameters
    ----------
    steps
        Those run both ways.
    """
    known = sorted(
        (step for step in steps if step.speed.known and read(step).known),
        key=lambda step: step.speed.value,
    )
    speeds = np.array([step.speed.value for step in known])
    if len(known) < 2 or not speeds[0] <= speed_mps <= speeds[-1] or np.any(np.diff(speeds) <= 0):
        return Reading(lacks="no steps on both sides of it")
    above = max(int(np.searchsorted(speeds, speed_mps)), 1)
    low, high = known[above - 1], known[above]
    if high.speed.value > WIDEST_GAP * low.speed.value:
        return Reading(at=_names(low, high), lacks="these steps are too far apart")
    return Reading(mean=_between(known, speeds, above, speed_mps, read), at=_names(low, high))


def _between(
    known: Sequence[Step], speeds: np.ndarray, above: int, speed_mps: float, read: Read
) -> Mean:
    from scipy.interpolate import PchipInterpolator

    low, high = known[above - 1], known[above]
    values = np.array([read(step).value for step in known])
    value = float(PchipInterpolator(speeds, values)(speed_mps))
    steep = (values[above] - values[above - 1]) / (speeds[above] - speeds[above - 1])
    straight = values[above - 1] + steep * (speed_mps - speeds[above - 1])
    doubt = math.sqrt(
        np.maximum(read(low).sd, read(high).sd) ** 2  # a doubt that is not known stays so
        + (steep * np.maximum(low.speed.sd, high.speed.sd)) ** 2
        + (value - straight) ** 2
    )
    return Mean(value=value, sd=doubt)


def _names(low: Step, high: Step) -> str:
    return f"{low.name.removesuffix(' rpm')} to {high.name}"
