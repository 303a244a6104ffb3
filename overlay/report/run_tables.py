"""Steps with their passes, idling and noise as tables."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from overlay.analysis.means import NONE, Mean
from overlay.figures import NO_VALUE, figure, unit_for
from overlay.report.columns import (
    Column,
    Heading,
    Table,
    make_table,
    measured,
    plain_number,
    words,
)
from overlay.report.words import course, hours_minutes, time_of_day
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.analysis.noise import StepNoise
    from overlay.analysis.setup import StepMore
    from overlay.analysis.steps import Step, StepPass
    from overlay.sheet import TrialSheet

SAME_RAD = math.radians(30.0)
"""Passes further apart than this are not told by one course."""

CAUTION = (
    "Range and endurance keep {reserve:.0%} of the usable tank back; they are for comparison "
    "only, and never a passage plan."
)
BOTH_OR_SINGLE = (
    "Both: the mean both ways, current and wind together taken out. A step with a course behind "
    "its number of passes, or on several courses, is single: current and wind are in its speed."
)
OF_PASSES = (
    "Single passes over ground: current and wind are in their speeds. The last column says what "
    "of both together was taken out of each, positive along its course."
)


def flow_note(flow_from: str) -> str:
    """Where fuel flow comes from, as a sentence."""
    return f"Fuel flow: {flow_from}."


def economy_unit(units: str) -> tuple[str, float]:
    """Distance per volume: its sign, and what the metres on a cubic metre are multiplied by."""
    distance, volume = unit_for("distance", units), unit_for("volume", units)
    factor = from_si(1.0, distance, "length") / from_si(1.0, volume, "volume")
    return f"{distance}/{volume}", factor


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """A step with what the sheet adds to it."""

    step: Step
    more: StepMore

    @property
    def slip(self) -> Mean:
        """Of a planing step; below planing speed it says nothing."""
        return self.more.slip if self.more.planes else NONE


def step_table(
    steps: Sequence[Step], more: Sequence[StepMore], sheet: TrialSheet, flow_from: str
) -> tuple[Table, ...]:
    """A row for each engine speed, those run both ways with current and wind taken out."""
    if not steps:
        return ()
    units = sheet.units
    items = [_Step(step=step, more=added) for step, added in zip(steps, more, strict=True)]
    speed, flow = unit_for("speed", units), unit_for("volume_flow", units)
    distance, (per_volume, factor) = unit_for("distance", units), economy_unit(units)
    columns: list[Column[_Step]] = [
        _engine_speed(units),
        Column(heading=Heading(text="passes"), text=lambda one: _ways(one.step)),
        measured("speed", speed, lambda one: one.step.speed, key="speed", quantity="speed",
                 doubt=True),
        measured("flow", flow, lambda one: one.step.flow, key="flow", quantity="volume_flow"),
        measured("economy", per_volume, lambda one: one.step.economy.per_volume_m, key="economy",
                 factor=factor),
        measured("range", distance, lambda one: one.step.economy.range_m, key="range",
                 quantity="length"),
        Column(
            heading=Heading(text="lasts", unit="h:min", kind="number"),
            text=lambda one: hours_minutes(one.step.economy.endurance_s.value),
            raw=(
                ("endurance_h", lambda one: one.step.economy.endurance_s.value / 3600),
                ("endurance_sd_h", lambda one: one.step.economy.endurance_s.sd / 3600),
            ),
        ),
        measured("trim", "°", lambda one: one.more.trim, key="trim", quantity="angle"),
        _slip(),
    ]  # fmt: skip
    notes = [BOTH_OR_SINGLE, "± is one standard deviation."]
    if any(step.economy.range_m.known for step in steps):
        notes.append(CAUTION.format(reserve=sheet.reserve))
    if any(step.flow.known for step in steps):
        notes.append(flow_note(flow_from))
    return (make_table("steps", "steps", items, columns, notes=notes),)


def _engine_speed(units: str) -> Column[_Step]:
    turning = figure("engine_speed", units)
    return Column(
        heading=Heading(text="engine", unit="rpm", kind="number"),
        text=lambda one: turning.text(one.step.engine_speed.value),
        raw=(
            ("step", lambda one: one.step.name),
            ("ways", lambda one: one.step.ways),
            ("passes", lambda one: len(one.step.passes)),
            ("planes", lambda one: {True: "yes", False: "no"}.get(one.more.planes)),
            ("engine_rpm", lambda one: one.step.engine_speed.value * 60),
            ("engine_sd_rpm", lambda one: one.step.engine_speed.sd * 60),
        ),
    )


def _ways(step: Step) -> str:
    if step.ways == "both":
        return f"{len(step.passes)} both"
    first = step.passes[0].course_rad
    if any(abs(math.remainder(p.course_rad - first, 2 * math.pi)) > SAME_RAD for p in step.passes):
        return f"{len(step.passes)} on several courses"
    return f"{len(step.passes)} {course(first)}"


def _slip() -> Column[_Step]:
    return Column(
        heading=Heading(text="slip", unit="%", kind="number"),
        text=lambda one: f"{one.slip.value * 100:.0f}" if one.slip.known else NO_VALUE,
        raw=(
            ("slip_pct", lambda one: one.slip.value * 100),
            ("slip_sd_pct", lambda one: one.slip.sd * 100),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pass:
    """A pass of a step, and what of the stream was taken out of its speed."""

    step: Step
    run: StepPass
    stream_mps: float


def pass_table(steps: Sequence[Step], units: str, time_zone: str) -> tuple[Table, ...]:
    """Every pass singly: when, on which course, and what current and wind did to it."""
    items = []
    for step in steps:
        stream = (math.nan,) * len(step.passes)
        if step.two_way is not None:
            stream = step.two_way.stream_mps
        items += [
            _Pass(step=step, run=run, stream_mps=along)
            for run, along in zip(step.passes, stream, strict=True)
        ]
    if not items:
        return ()
    speed, flow = unit_for("speed", units), unit_for("volume_flow", units)
    columns: list[Column[_Pass]] = [
        words("step", lambda one: one.step.name),
        words("from", lambda one: time_of_day(one.run.span.start_s, time_zone)),
        plain_number("for", "s", lambda one: one.run.length_s, key="for", step="1",
                     quantity="time"),
        Column(
            heading=Heading(text="on", kind="number"),
            text=lambda one: course(one.run.course_rad),
            raw=(("course_deg", lambda one: math.degrees(one.run.course_rad)),),
        ),
        measured("speed", speed, lambda one: one.run.speed, key="speed", quantity="speed",
                 doubt=True),
        *_flows(max(len(one.run.flows) for one in items), flow),
        plain_number("current and wind", speed, lambda one: one.stream_mps, key="stream",
                     step="0.01", quantity="speed"),
    ]  # fmt: skip
    return (make_table("passes", "passes", items, columns, notes=[OF_PASSES]),)


def _flows(engines: int, unit: str) -> list[Column[_Pass]]:
    """The flow of all engines together; of several also that of each, port first."""

    def of_one(number: int) -> Callable[[_Pass], Mean]:
        return lambda one: one.run.flows[number] if number < len(one.run.flows) else NONE

    made: list[Column[_Pass]] = [
        measured("flow", unit, lambda one: one.run.flow, key="flow", quantity="volume_flow")
    ]
    if engines > 1:
        made += [
            measured(
                f"engine {n + 1}", unit, of_one(n), key=f"flow_{n + 1}", quantity="volume_flow"
            )
            for n in range(engines)
        ]
    return made


def idling_table(found: Sequence[Step], units: str) -> tuple[Table, ...]:
    """What she does idling in gear, and astern; each course that has no way back by itself."""
    if not found:
        return ()
    speed, flow = unit_for("speed", units), unit_for("volume_flow", units)
    turning = figure("engine_speed", units)
    columns: list[Column[Step]] = [
        words("what", lambda one: one.name),
        words("passes", _ways),
        plain_number("engine", "rpm", lambda one: one.engine_speed.value, key="engine",
                     step=str(turning.step), quantity="rotation"),
        measured("speed", speed, lambda one: one.speed, key="speed", quantity="speed", doubt=True),
        measured("flow", flow, lambda one: one.flow, key="flow", quantity="volume_flow"),
    ]  # fmt: skip
    notes = [
        "Both: the mean both ways.",
        "What has a course behind its number of passes is single: current and wind are in it.",
    ]
    return (make_table("idling", "idling in gear, and astern", found, columns, notes=notes),)


def noise_table(levels: Sequence[StepNoise]) -> tuple[Table, ...]:
    """The level at each step where a sound level meter logged."""
    if not levels:
        return ()
    columns: list[Column[StepNoise]] = [
        words("step", lambda one: one.name),
        measured("level", "dB(A)", lambda one: one.level, key="level", factor=1.0, doubt=True),
        plain_number("apart", "dB", lambda one: one.spread_db, key="spread", step="0.1"),
    ]
    notes = ["By a sound level meter: energy means, those of the two directions counted alike."]
    return (make_table("noise", "noise by step", levels, columns, notes=notes),)
