"""How boat, engine and propeller stand to each other: what a trial of a set-up is run for."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from overlay.analysis.duty import WeightedFlow, weighted_flow
from overlay.analysis.idling import neutral_flow
from overlay.analysis.load import MassAsTested, mass_as_tested, power_w
from overlay.analysis.means import Mean, mean_of
from overlay.analysis.propeller import (
    SLIP_HIGH,
    SLIP_LOW,
    FullThrottle,
    full_throttle,
    implausible,
    planes,
    slip,
    wide_open,
)
from overlay.analysis.steady import Steady
from overlay.analysis.steps import Step
from overlay.analysis.trim import running_trims
from sync.channel import Channel

if TYPE_CHECKING:
    from overlay.sheet import TrialSheet


@dataclass(frozen=True, slots=True, kw_only=True)
class StepMore:
    """What sheet and rest add to a step: whether the boat planes, the propeller's slip, and her
    running trim [rad]."""

    name: str
    planes: bool | None
    slip: Mean
    trim: Mean


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """The set-up's figures.

    Parameters
    ----------
    full_throttle
        Engine speed against the maker's band; None where it cannot be said.
    mass
        As tested; None where the sheet has none.
    power_to_mass
        In W/kg; NaN where either is not known.
    steps
        In the order of the steps.
    top
        Name of the fastest step that was run both ways; empty where there is none.
    best, best_planing
        Names of the steps, run both ways, that go furthest on their fuel.
    lowest_planing
        Name of the slowest step, run both ways, at which the boat planes.
    weighted_flow
        Over the speeds of E4.
    warnings
        What a person should look at: slip out of bounds, a top speed that can hardly be.
    """

    full_throttle: FullThrottle | None
    mass: MassAsTested | None
    power_to_mass: float
    steps: tuple[StepMore, ...]
    top: str
    best: str
    best_planing: str
    lowest_planing: str
    weighted_flow: WeightedFlow
    warnings: tuple[str, ...]


def set_up(
    sheet: TrialSheet,
    channels: Mapping[str, Channel],
    steps: Sequence[Step],
    steady: Sequence[Steady],
    flow_share_sd: float = 0.0,
) -> SetUp:
    """What sheet and steps come to together, with what was held at rest.

    `flow_share_sd` is by which share all fuel flows may be out together.
    """
    engine = sheet.engines[0] if sheet.engines else None
    mass, power = mass_as_tested(sheet), power_w(sheet)
    kilograms = None if mass is None else mass.value_kg
    trims = running_trims(channels, steady, steps)
    more = tuple(
        StepMore(
            name=step.name,
            planes=planes(step.speed.value, kilograms),
            slip=slip(step, sheet.propeller.pitch, engine.gear_ratio if engine else None),
            trim=trim,
        )
        for step, trim in zip(steps, trims, strict=True)
    )
    both = [step for step in steps if step.ways == "both"]
    top = max(both, key=lambda step: step.speed.value, default=None)
    doubted = None if top is None else implausible(top.speed.value, power, kilograms)
    planing = [
        step for step, one in zip(steps, more, strict=True) if one.planes and step.ways == "both"
    ]
    opened = [_opened(channels, step) for step in steps]
    wide = wide_open(steps, opened)
    return SetUp(
        full_throttle=full_throttle(steps, engine.rated_rpm if engine else None, opened),
        mass=mass,
        power_to_mass=power / kilograms if power and kilograms else math.nan,
        steps=more,
        top="" if top is None else top.name,
        best=_furthest(both),
        best_planing=_furthest(planing),
        lowest_planing=min(planing, key=lambda step: step.speed.value).name if planing else "",
        weighted_flow=weighted_flow(
            steps,
            neutral_flow(channels, steady, len(sheet.engines)),
            math.nan if wide is None else wide.engine_speed.value,
            flow_share_sd,
        ),
        warnings=(*_slips(more), *([doubted] if doubted else [])),
    )


def _opened(channels: Mapping[str, Channel], step: Step) -> float:
    """The mean throttle over a step's stretches, of the engine that was opened least; NaN where
    none is logged."""
    spans = [span for run in step.passes for span in run.spans]
    opened = [
        [mean_of(channel, span).value for span in spans]
        for channel in channels.values()
        if channel.name == "throttle"
    ]
    means = [sum(one) / len(one) for one in opened if one]
    return min(means, default=math.nan)


def _furthest(steps: Sequence[Step]) -> str:
    known = [step for step in steps if step.economy.per_volume_m.known]
    best = max(known, key=lambda step: step.economy.per_volume_m.value, default=None)
    return "" if best is None else best.name


def _slips(more: Sequence[StepMore]) -> list[str]:
    """Slip that no planing propeller has, in words; below planing speed half is ordinary."""
    return [
        f"slip of {one.slip.value:.0%} at {one.name} is "
        f"{'less than nothing' if one.slip.value < SLIP_LOW else f'more than {SLIP_HIGH:.0%}'}: "
        "look at pitch, gear ratio, and whether speed and engine speed are right"
        for one in more
        if one.planes and one.slip.known and not SLIP_LOW <= one.slip.value <= SLIP_HIGH
    ]
