"""What is not among the results, and why: nothing is left out without a word."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from overlay.analysis.attitude import LaunchAttitude
    from overlay.analysis.duty import WeightedFlow
    from overlay.analysis.launches import Launch
    from overlay.analysis.steps import Step
    from overlay.trial import Trial


def missing(
    trial: Trial,
    launches: Sequence[Launch],
    attitudes: Sequence[LaunchAttitude],
    steps: Sequence[Step],
    weighted: WeightedFlow,
) -> tuple[str, ...]:
    """Every figure that is not there, each with the reason, in whole sentences."""
    return (
        *_of_attitudes(attitudes),
        *_of_launches(trial, launches),
        *_of_steps(trial, steps, weighted),
        *trial.notes,
    )


def _of_attitudes(attitudes: Sequence[LaunchAttitude]) -> Iterator[str]:
    """What launches lack of their attitude, each reason once with those that it holds for."""
    by_reason: dict[str, list[str]] = {}
    for one in attitudes:
        for why in one.missing:
            by_reason.setdefault(why, []).append(one.launch)
    for why, names in by_reason.items():
        yield f"{', '.join(names)}: {why}"


def _of_launches(trial: Trial, launches: Sequence[Launch]) -> Iterator[str]:
    speed = trial.channels.get("speed")
    if speed is None:
        yield "launches: no log has speed over ground"
    elif speed.means == "differenced":
        yield "launches: speed was differenced from places, which is too coarse"
    elif not launches:
        yield "launches: none was found in the speed of the day"
    if launches and not {"throttle", "engine_speed"} & set(trial.channels):
        yield (
            "launch start from the throttle: neither throttle nor engine speed is logged, "
            "so the boat's first movement stands in"
        )
    for launch in launches:
        if (
            "throttle" in trial.channels
            and launch.start.event != "throttle"
            and trial.sheet.definitions.launch_start == "throttle_or_engine"
        ):
            yield (
                f"{launch.name}: its start is not the throttle's, which is logged but does not "
                "rise where the boat does; check the delay and the tie of its log"
            )
        if launch.broken:
            yield f"{launch.name}: the log of speed breaks off in it"


def _of_steps(trial: Trial, steps: Sequence[Step], weighted: WeightedFlow) -> Iterator[str]:
    if not any(channel.name == "engine_speed" for channel in trial.channels.values()):
        yield "steps: no log has engine speed, which tells one step from another"
        return
    if not steps:
        yield "steps: nothing was held steady under way for long enough"
        return
    if not any(step.flow.known for step in steps):
        yield "economy: no step has fuel flow from all engines"
        yield from _holes_in_flow(steps)
        return
    yield from _holes_in_flow(steps)
    if trial.sheet.load.usable_tank is None:
        yield "range: the sheet has no load.usable_tank"
    if weighted.why_not:
        yield f"weighted fuel flow: {weighted.why_not}"


def _holes_in_flow(steps: Sequence[Step]) -> Iterator[str]:
    """Where one of several engines has no flow, so that the sum of all has none either."""
    engines = max(len(run.flows) for step in steps for run in step.passes)
    for number in range(engines if engines > 1 else 0):
        names = [
            step.name
            for step in steps
            if any(
                not run.flows[number].known and any(flow.known for flow in run.flows)
                for run in step.passes
            )
        ]
        if names:
            yield (
                f"fuel flow at {', '.join(names)}: engine {number + 1} has no flow, or a hole in "
                "it, so the sum of all engines is not known there, nor what follows from it"
            )
