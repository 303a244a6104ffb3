"""How the runs of a day are printed: the time line, steps, turns and stops."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from overlay.cli.console import OUT, lines, table
from overlay.figures import NO_VALUE, figure, round_half_up, seconds, unit_for, with_doubt
from overlay.workflow.checking.words import course, listed, time_of_day
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.analysis.day import Stretch
    from overlay.analysis.means import Mean
    from overlay.analysis.setup import SetUp, StepMore
    from overlay.analysis.steps import Step
    from overlay.analysis.stopping import Stop
    from overlay.analysis.turning import Turn

WORDS = {"way": "under way", "hole": "no speed logged", "named": "as named"}
"""Kinds of stretches that are called something else than in the document."""


def day(line: Sequence[Stretch], time_zone: str) -> None:
    """What was found from the beginning of the day to its end, and what was left out."""
    if not line:
        return
    made = table("the day, in the trial's own time", "from", "for", "what", "left out, and why")
    made.columns[1].justify = "right"
    for one in line:
        made.add_row(
            time_of_day(one.span.start_s, time_zone),
            f"{one.span.length_s:.0f} s",
            one.name or WORDS.get(one.kind, one.kind),
            one.left_out,
        )
    OUT.print(made)


def set_up(found: SetUp, steps: Sequence[Step], units: str) -> None:
    """What an engine man asks first, then top speed, economy and mass, a line each."""
    if found.full_throttle is not None:
        at, (low, high) = found.full_throttle, found.full_throttle.rated_rps
        OUT.print(
            f"full throttle: {figure('engine_speed', units).with_unit(at.engine_speed.value)}, "
            f"{at.verdict} the maker's band of {low * 60:.0f} to {high * 60:.0f} rpm"
        )
    by_name = {step.name: step for step in steps}
    if found.top:
        speed = unit_for("speed", units)
        top = with_doubt(*_in(by_name[found.top].speed, speed, "speed"), speed)
        OUT.print(f"top speed, mean both ways: {top} at {found.top}")
    for title, name in (("best economy", found.best), ("planing", found.best_planing)):
        if name:
            OUT.print(f"{title}: {_per_volume(by_name[name], units)} at {name}")
    if found.mass is not None:
        mass = unit_for("mass", units)
        lacks = f", without {listed(found.mass.not_stated)}" if found.mass.not_stated else ""
        OUT.print(
            f"mass as tested: {from_si(found.mass.value_kg, mass, 'mass'):.0f} {mass}, "
            f"{found.mass.origin}{lacks}"
        )
    lines("look at", found.warnings)


def _per_volume(step: Step, units: str) -> str:
    distance, volume = unit_for("distance", units), unit_for("volume", units)
    factor = from_si(1.0, distance, "length") / from_si(1.0, volume, "volume")
    return with_doubt(*_scaled(step.economy.per_volume_m, factor), f"{distance}/{volume}")


def steps(found: Sequence[Step], more: Sequence[StepMore], units: str, reserve: float) -> None:
    """A row for each engine speed, those run both ways with current and wind taken out."""
    if not found:
        return
    speed, flow = unit_for("speed", units), unit_for("volume_flow", units)
    distance, volume = unit_for("distance", units), unit_for("volume", units)
    made = table(
        "steps",
        "rpm",
        "passes",
        speed,
        flow,
        f"{distance}/{volume}",
        f"range, {distance}",
        "for h:min",
        "slip",
    )
    per_volume = from_si(1.0, distance, "length") / from_si(1.0, volume, "volume")
    for step, added in zip(found, more, strict=True):
        made.add_row(
            figure("engine_speed", units).text(step.engine_speed.value),
            _passes(step),
            _doubted(_in(step.speed, speed, "speed")),
            with_doubt(*_in(step.flow, flow, "volume_flow"), "").strip(),
            with_doubt(*_scaled(step.economy.per_volume_m, per_volume), "").strip(),
            with_doubt(*_in(step.economy.range_m, distance, "length"), "").strip(),
            hours_minutes(step.economy.endurance_s.value),
            f"{added.slip.value:.0%}" if added.slip.known and added.planes else NO_VALUE,
        )
    OUT.print(made)
    OUT.print(
        "  ± is one standard deviation; both ways: current and wind together are taken out.\n"
        f"  Range and endurance keep {reserve:.0%} of the usable tank back; they are for "
        "comparison\n  only, and never a passage plan. Flow is engine-reported."
    )


def _passes(step: Step) -> str:
    if step.ways == "both":
        return f"{len(step.passes)} both"
    return f"{len(step.passes)} {course(step.passes[0].course_rad)}"


def _in(mean: Mean, unit: str, quantity: str) -> tuple[float, float]:
    return from_si(mean.value, unit, quantity), from_si(mean.sd, unit, quantity)


def _scaled(mean: Mean, factor: float) -> tuple[float, float]:
    return mean.value * factor, mean.sd * factor


def _doubted(value_and_sd: tuple[float, float]) -> str:
    """A value with the digits that its doubt supports, and that doubt."""
    value, sd = value_and_sd
    if not (math.isfinite(value) and math.isfinite(sd)):
        return NO_VALUE
    return f"{with_doubt(value, sd, '').strip()} ± {sd:.2f}"


def turns(found: Sequence[Turn], units: str, boat_m: float | None) -> None:
    """A row for each turn of half a circle and more."""
    held = [turn for turn in found if turn.held is not None]
    if not held:
        return
    short, speed = unit_for("short_distance", units), figure("speed", units)
    made = table("turns", "to", "swept", "entry, least", "diameter", "heel", "sideways")
    for turn in held:
        across = with_doubt(
            from_si(turn.diameter_m.value, short, "length"),
            from_si(turn.diameter_m.sd, short, "length"),
            short,
        )
        if boat_m is not None and math.isfinite(turn.diameter_m.value):
            across += f", {turn.diameter_m.value / boat_m:.1f} boat lengths"
        if not turn.stream_removed:
            across += ", stream in it"
        made.add_row(
            turn.to,
            f"{math.degrees(turn.swept_rad):.0f}°",
            f"{speed.text(turn.entry_mps)}, {speed.with_unit(turn.least_mps)}",
            across,
            NO_VALUE if not turn.heel.known else f"{math.degrees(turn.heel.value):.0f}°",
            figure("acceleration", units).with_unit(turn.centripetal.value),
        )
    OUT.print(made)


def stops(found: Sequence[Stop], units: str) -> None:
    """A line for each stop."""
    short, speed = unit_for("short_distance", units), figure("speed", units)
    for number, stop in enumerate(found, start=1):
        far = from_si(stop.distance_m, short, "length")
        OUT.print(
            f"stop {number}: from {speed.with_unit(stop.entry_mps)} until the way is off (2 kn) "
            f"{seconds(stop.time_s, 0.1)} and {far:.0f} {short}, gear {stop.gear}"
        )


def hours_minutes(duration_s: float) -> str:
    """A duration to the nearest minute, as a column has it: `7:36`."""
    if not math.isfinite(duration_s):
        return NO_VALUE
    minutes = int(round_half_up(duration_s / 60, Decimal(1)))
    return f"{minutes // 60}:{minutes % 60:02d}"
