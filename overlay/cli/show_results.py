"""How results are printed: tables with units and uncertainty, then the definitions used."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.analysis.results import document
from overlay.cli import show_launches, show_runs
from overlay.cli.console import as_document, heading, lines

if TYPE_CHECKING:
    from overlay.workflow.results import ResultsOutcome


def results(outcome: ResultsOutcome, *, as_json: bool) -> None:
    """Print the results of a trial."""
    if as_json:
        as_document(document(outcome.results, outcome.trial))
        return
    sheet, found = outcome.trial.sheet, outcome.results
    heading(sheet.name)
    show_runs.set_up(found.set_up, found.steps, sheet.units)
    show_launches.launches(found.launches, found.both_ways, found.attitudes, sheet.units)
    show_runs.steps(found.steps, found.set_up.steps, sheet.units, sheet.reserve)
    show_runs.turns(found.turns, sheet.units, sheet.boat.length)
    show_runs.stops(found.stops, sheet.units)
    lines("what is missing, and why", found.missing)
    show_runs.day(found.day, sheet.time_zone or "UTC")
    lines("delays taken out", tuple(_delays(outcome)))
    lines(
        "definitions",
        tuple(f"{title}: {text} ({source})" for title, text, source in found.definitions),
    )
    shown = {"speed", "engine_speed", "fuel_flow", "pitch"}
    lines(
        "how a value follows from its samples",
        tuple(f"{key}: {text}" for key, text in found.laws if key in shown),
    )


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
