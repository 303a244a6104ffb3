"""How results are printed: tables with units and uncertainty, then the definitions used."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from overlay.analysis.launches import Launch
from overlay.analysis.results import document
from overlay.cli import show_runs
from overlay.cli.console import OUT, as_document, heading, lines, table
from overlay.figures import NO_VALUE, figure, seconds, unit_for, with_doubt
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
    heading(sheet.name)
    lines(
        "definitions",
        tuple(f"{title}: {text} ({source})" for title, text, source in outcome.results.definitions),
    )
    shown = {"speed", "engine_speed", "fuel_flow", "pitch"}
    lines(
        "how a value follows from its samples",
        tuple(f"{key}: {text}" for key, text in outcome.results.laws if key in shown),
    )
    lines("delays taken out", tuple(_delays(outcome)))
    lines("what is missing, and why", outcome.results.missing)
    found = outcome.results
    show_runs.day(found.day, sheet.time_zone or "UTC")
    for launch in found.launches:
        _launch(launch, sheet.units)
    show_runs.steps(found.steps, sheet.units, sheet.reserve)
    show_runs.turns(found.turns, sheet.units, sheet.boat.length)
    show_runs.stops(found.stops, sheet.units)


def _delays(outcome: ResultsOutcome) -> list[str]:
    out = []
    for key, log in outcome.trial.sources.items():
        channel = outcome.trial.channels[key]
        stated = {(s.log, s.channel): s.delay for s in outcome.trial.sheet.sensors}
        delay = stated.get((log, key))
        if delay is not None:
            out.append(f"{key} of {log}: {delay:g} s ± {channel.delay_sd_s:g} s")
        elif channel.delay_sd_s:
            out.append(f"{key} of {log}: not stated, so 0 s ± {channel.delay_sd_s:g} s")
    return out


def _launch(launch: Launch, units: str) -> None:
    start = launch.start
    course = NO_VALUE
    if math.isfinite(launch.course_rad):
        course = f"{round(math.degrees(launch.course_rad)) % 360:03d}°"
    heading(
        launch.name,
        f"{utc_text(start.t_s)} ± {start.sd_s:.3f} s, before it {start.state}; start from "
        f"{start.event.replace('_', ' ')}, course {course}, one direction only",
    )
    made = table("from the start to", "speed", "time", "± (1 sd)", "distance")
    short = unit_for("short_distance", units)
    for row in launch.ladder:
        distance = from_si(row.distance_m, short, "length")
        # The time's doubt, at the speed of the mark, is the distance's.
        doubt = from_si(row.speed_mps * row.sd_s, short, "length")
        made.add_row(
            row.label,
            seconds(row.time_s, row.sd_s),
            f"{row.sd_s:.3f} s",
            with_doubt(distance, doubt, short),
        )
    for label, why in launch.missed:
        made.add_row(label, NO_VALUE, "", why)
    OUT.print(made)
    if launch.broken:
        OUT.print("  the log of speed breaks off in this launch, so its peaks are not known")
        return
    speed = figure("speed", units)
    pull = figure("acceleration", units)
    OUT.print(
        f"  the launch ends at {speed.with_unit(launch.peak_speed_mps)}, which is no top speed; "
        f"peak acceleration {pull.with_unit(launch.peak_acceleration)}, "
        f"mean {pull.with_unit(launch.mean_acceleration)}"
    )
