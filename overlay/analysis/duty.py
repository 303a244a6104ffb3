"""Fuel flow weighted by the engine speeds of the cycle E4, on this boat's own curve.

The cycle has five modes for pleasure craft, each a share of the engine's highest speed with a
weight. A brake in a test cell sets the torque of each mode; on the water the boat and her
propeller set it, so the figure compares boats and certifies nothing.

::

    flow = Σ weight · flow at (share · full-throttle engine speed)

Source: 40 CFR Part 1045, Appendix II (a), the modes of E4.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from overlay.analysis.curves import WIDEST_GAP, Curve, curve_through
from overlay.analysis.means import NONE, Mean
from overlay.analysis.steps import Step

MODES = ((1.0, 0.06), (0.8, 0.14), (0.6, 0.15), (0.4, 0.25), (0.0, 0.40))
"""Share of the highest engine speed and weight; the last is idling out of gear."""

NEAR = 0.02
"""A step may be so far from a mode's engine speed and stand for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One mode on this boat: its engine speed [1/s], 0 where it idles, and the flow there."""

    weight: float
    engine_speed_rps: float
    flow: Mean


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightedFlow:
    """Flow weighted by the speeds of E4 [m³/s]; `why_not` says what it lacks, where it is none."""

    flow: Mean
    modes: tuple[Mode, ...]
    why_not: str


def weighted_flow(
    steps: Sequence[Step], idle: Mean, top_rps: float, flow_share_sd: float = 0.0
) -> WeightedFlow:
    """The weighted flow from steps run both ways and idling.

    Parameters
    ----------
    steps
        Of which those that were run both ways count.
    idle
        Flow of all engines while they idle out of gear.
    top_rps
        Engine speed at full throttle; NaN where it is not known.
    flow_share_sd
        By which share all flows may be out together, which is in the steps' doubts already.
    """
    if not math.isfinite(top_rps):
        return _none("no step was held at full throttle")
    if not idle.known:
        return _none("fuel flow was not logged while the engine idled out of gear")
    both = [step for step in steps if step.ways == "both"]
    curve = curve_through(
        [(step.engine_speed.value, _without(step.flow, flow_share_sd)) for step in both]
    )
    if curve is None:
        return _none("fewer than two steps were run both ways with fuel flow")
    modes = []
    for share, weight in MODES:
        turns = share * top_rps
        if share > 0 and _climbs(both, turns):
            return _none(
                f"no step was run about {turns * 60:.0f} rpm, where she climbs onto the plane"
            )
        flow = idle if share == 0 else _near(curve, turns)
        if not flow.known:
            return _none(f"no steps were run about {turns * 60:.0f} rpm")
        modes.append(Mode(weight=weight, engine_speed_rps=turns, flow=flow))
    value = math.fsum(mode.weight * mode.flow.value for mode in modes)
    own = math.hypot(*(mode.weight * mode.flow.sd for mode in modes))
    return WeightedFlow(
        flow=Mean(value=value, sd=math.hypot(own, flow_share_sd * value)),
        modes=tuple(modes),
        why_not="",
    )


def _without(flow: Mean, share_sd: float) -> Mean:
    """A flow's own doubt, less what all flows share."""
    return Mean(value=flow.value, sd=math.sqrt(max(flow.sd**2 - (share_sd * flow.value) ** 2, 0.0)))


def _climbs(steps: Sequence[Step], turns: float) -> bool:
    """Whether an engine speed lies between two steps of which nobody knows how she gets from one
    to the other; not where a step is near enough to stand for it."""
    below = [step for step in steps if step.engine_speed.value <= turns]
    above = [step for step in steps if step.engine_speed.value > turns]
    if not below or not above:
        return False
    low = max(below, key=lambda step: step.engine_speed.value)
    high = min(above, key=lambda step: step.engine_speed.value)
    near = min(abs(step.engine_speed.value - turns) for step in (low, high))
    return near > NEAR * turns and high.speed.value > WIDEST_GAP * low.speed.value


def _near(curve: Curve, turns: float) -> Mean:
    """The flow at an engine speed, or at the end of the curve if that is near enough."""
    reached = min(max(turns, float(curve.x[0])), float(curve.x[-1]))
    return curve.mean_at(reached) if abs(reached - turns) <= NEAR * turns else NONE


def _none(why: str) -> WeightedFlow:
    return WeightedFlow(flow=NONE, modes=(), why_not=why)
