"""How results are printed: tables with units and uncertainty, then the definitions used."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TYPE_CHECKING

from overlay.analysis.held import Held
from overlay.analysis.launches import Launch
from overlay.analysis.results import document
from overlay.cli.console import OUT, as_document, lines, table
from overlay.figures import NO_VALUE, figure, plain, round_half_up, seconds, step_for, unit_for
from sync.clock import utc_text
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.workflow.results import ResultsOutcome


def results(outcome: ResultsOutcome, *, as_json: bool) -> None:
    """Print the results of a trial."""
    if as_json:
        as_document(document(outcome.results, outcome.trial))
        return
    sheet = outcome.trial.sheet
    OUT.print(f"[bold]{sheet.name}[/bold]")
    for launch in outcome.results.launches:
        _launch(launch, sheet.units)
    for held in outcome.results.held:
        _held(held, sheet.units, sheet.reserve)
    lines("what is missing, and why", outcome.results.missing)
    lines(
        "definitions",
        tuple(f"{title}: {text} ({source})" for title, text, source in outcome.results.definitions),
    )
    shown = {"speed", "engine_speed", "fuel_flow", "pitch"}
    lines(
        "how a value follows from its samples",
        tuple(f"{key}: {text}" for key, text in outcome.results.laws if key in shown),
    )
    lines(
        "delays taken out",
        tuple(f"{s.channel} of {s.log}: {s.delay:g} s ± {s.delay_sd:g} s" for s in sheet.sensors),
    )


def _launch(launch: Launch, units: str) -> None:
    start = launch.start
    course = NO_VALUE
    if math.isfinite(launch.course_rad):
        course = f"{round(math.degrees(launch.course_rad)) % 360:03d}°"
    OUT.print(
        f"[bold]{launch.name}[/bold]  {utc_text(start.t_s)} ± {start.sd_s:.3f} s, "
        f"before it {start.state}; start from {start.event.replace('_', ' ')}, course {course}, "
        "one direction only"
    )
    made = table("from the start to", "speed", "time", "± (1 sd)", "distance")
    short = unit_for("short_distance", units)
    for row in launch.ladder:
        distance = from_si(row.distance_m, short, "length")
        step = step_for(1.0)
        made.add_row(
            row.label,
            seconds(row.time_s, row.sd_s),
            f"{row.sd_s:.3f} s",
            f"{plain(round_half_up(distance, step), step)} {short}"
            if math.isfinite(distance)
            else NO_VALUE,
        )
    for label in launch.missed:
        made.add_row(label, "not reached", "", "")
    OUT.print(made)
    speed = figure("speed", units)
    pull = figure("acceleration", units)
    OUT.print(
        f"  fastest in the launch {speed.with_unit(launch.peak_speed_mps)} (no top speed), "
        f"peak acceleration {pull.with_unit(launch.peak_acceleration)}, "
        f"mean {pull.with_unit(launch.mean_acceleration)}"
    )


def _held(held: Held, units: str, reserve: float) -> None:
    distance = unit_for("distance", units)
    volume = unit_for("volume", units)
    per_volume = from_si(held.economy.per_volume_m, distance, "length") * (
        1.0 / from_si(1.0, volume, "volume")
    )
    made = table(f"held after {held.launch}: {held.span.length_s:.0f} s in one direction", "", "")
    made.add_row("speed", figure("speed", units).with_unit(held.speed_mps))
    made.add_row("engine speed", figure("engine_speed", units).with_unit(held.engine_speed_rps))
    made.add_row("fuel flow", figure("fuel_flow", units).with_unit(held.fuel_flow))
    made.add_row(
        "economy",
        f"{per_volume:.2f} {distance}/{volume}" if math.isfinite(per_volume) else NO_VALUE,
    )
    made.add_row(
        f"range less {reserve:.0%}",
        _whole(from_si(held.economy.range_m, distance, "length"), distance),
    )
    made.add_row("endurance", hours_and_minutes(held.economy.endurance_s))
    made.show_header = False
    OUT.print(made)
    OUT.print("  range is for comparison only, and never a passage plan; flow is engine-reported")


def _whole(value: float, unit: str) -> str:
    return f"{value:.0f} {unit}" if math.isfinite(value) else NO_VALUE


def hours_and_minutes(duration_s: float) -> str:
    """A duration to the nearest minute: `7 h 36 min`."""
    if not math.isfinite(duration_s):
        return NO_VALUE
    minutes = int(round_half_up(duration_s / 60, Decimal(1)))
    return f"{minutes // 60} h {minutes % 60:02d} min"
