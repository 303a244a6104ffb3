"""The figures of steps: at equal engine speed, and at equal speed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from overlay.analysis.comparing.meeting import at_speed, partner, slope
from overlay.analysis.comparing.rows import flow_told
from overlay.analysis.comparing.side import Better, Figures, Reading, Side
from overlay.analysis.ladder import rungs
from overlay.analysis.means import NONE, Mean
from overlay.analysis.noise import METER_SD_DB
from overlay.analysis.steps import Step


def _speed(_side: Side, step: Step) -> Mean:
    return step.speed


def _economy(_side: Side, step: Step) -> Mean:
    return step.economy.per_volume_m


def _engine_speed(_side: Side, step: Step) -> Mean:
    return step.engine_speed


def _noise(side: Side, step: Step) -> Mean:
    return next((one.level for one in side.noise if one.name == step.name), NONE)


def _no_basis(_side: Side) -> str:
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """One figure of a step; `apart` is one standard deviation of what the instruments of two trials
    differ by, beyond what the figure's own doubt has of it."""

    key: str
    title: str
    quantity: str
    better: Better
    read: Callable[[Side, Step], Mean]
    lacks: str
    basis: Callable[[Side], str] = _no_basis
    apart: float = 0.0


SPEED = StepRow(
    key="speed", title="speed", quantity="speed", better="more", read=_speed, lacks="no speed"
)
ECONOMY = StepRow(
    key="economy",
    title="economy",
    quantity="economy",
    better="more",
    read=_economy,
    lacks="no fuel flow from all engines",
    basis=flow_told,
)
NOISE = StepRow(
    key="noise",
    title="noise",
    quantity="level",
    better="less",
    read=_noise,
    lacks="no sound level meter logged",
    apart=METER_SD_DB * math.sqrt(2),
)
ENGINE_SPEED = StepRow(
    key="engine_speed",
    title="engine speed",
    quantity="rotation",
    better="neither",
    read=_engine_speed,
    lacks="no engine speed",
)

AT_EQUAL_ENGINE_SPEED = (SPEED, ECONOMY, NOISE)
AT_EQUAL_SPEED = (ENGINE_SPEED, ECONOMY)


def at_equal_engine_speed(sides: Sequence[Side]) -> list[Figures]:
    """Rows for each step of the first trial at whose engine speed another has one too.

    Noise is among them where any trial has it; where none has, one row says so.
    """
    first = sides[0].both_ways()
    met = [
        (step, [step, *(partner(step, first, side.both_ways()) for side in sides[1:])])
        for step in first
    ]
    rows = [row for row in AT_EQUAL_ENGINE_SPEED if row is not NOISE or any(s.noise for s in sides)]
    out = [
        _row(row, step, sides, steps)
        for row in rows
        for step, steps in met
        if any(one is not None for one in steps[1:])
    ]
    return out if NOISE in rows else [*out, _silent(sides)]


def _row(row: StepRow, step: Step, sides: Sequence[Side], met: Sequence[Step | None]) -> Figures:
    return Figures(
        key=f"{row.key}_at_{step.name.replace(' ', '_')}",
        section=f"{row.title} at equal engine speed",
        title=f"at {step.name}",
        quantity=row.quantity,
        better=row.better,
        readings=tuple(
            _reading(row, side, one, sides[0], step) for side, one in zip(sides, met, strict=True)
        ),
    )


def _reading(row: StepRow, side: Side, step: Step | None, first: Side, other: Step) -> Reading:
    if step is None:
        return Reading(lacks="no step both ways there" if side.both_ways() else side.no_step())
    mean = row.read(side, step)
    if not mean.known:
        return Reading(at=step.name, lacks=row.lacks)
    if side is first:
        return Reading(mean=mean, at=step.name, basis=row.basis(side))
    # The steeper of both trials' slopes: which of them comes first must not matter.
    steep = max(
        slope(lambda one: row.read(side, one), step, side.both_ways()),
        slope(lambda one: row.read(first, one), other, first.both_ways()),
    )
    off = abs(step.engine_speed.value - other.engine_speed.value)
    return Reading(
        mean=mean,
        at=step.name,
        basis=row.basis(side),
        apart_sd=math.hypot(off * steep, row.apart),
    )


def _silent(sides: Sequence[Side]) -> Figures:
    return Figures(
        key="noise",
        section="noise at equal engine speed",
        title="noise",
        quantity="level",
        better="less",
        readings=tuple(Reading(lacks=NOISE.lacks) for _ in sides),
    )


def at_equal_speed(sides: Sequence[Side]) -> list[Figures]:
    """Rows for each speed of the first trial's ladder, worked out between the steps around it."""
    ladder = sides[0].sheet.ladder_speeds()
    return [
        Figures(
            key=f"{row.key}_at_{rung.label.replace(' ', '_').replace('/', '')}",
            section=f"{row.title} at equal speed",
            title=f"at {rung.label}",
            quantity=row.quantity,
            better=row.better,
            readings=tuple(_between(row, side, rung.speed_mps) for side in sides),
        )
        for row in AT_EQUAL_SPEED
        for rung in rungs(ladder.unit, ladder.speeds)
    ]


def _between(row: StepRow, side: Side, speed_mps: float) -> Reading:
    steps = side.both_ways()
    if not steps:
        return Reading(lacks=side.no_step())
    if not any(row.read(side, step).known for step in steps):
        return Reading(lacks=row.lacks)
    found = at_speed(steps, speed_mps, lambda step: row.read(side, step))
    if found.lacks:
        return found
    return Reading(mean=found.mean, at=found.at, basis=row.basis(side))
