"""Every table of a trial's results: the terminal, the pages and the CSV files have the same ones.

How to add one: write a function that makes it with `make_table`, and name it in `tables_of`
under the section that it belongs to. Nothing else formats a result.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from overlay.report.asked_tables import sides_table, timed_table
from overlay.report.columns import Heading, Table
from overlay.report.day_tables import day_table, definition_table, delay_table, law_table
from overlay.report.launch_tables import attitude_table, launch_tables
from overlay.report.run_tables import (
    idling_table,
    noise_table,
    pass_table,
    step_table,
)
from overlay.report.summary_table import summary_table
from overlay.report.tested_table import tested_table
from overlay.report.turn_tables import stop_table, turn_table

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.trial import Trial

__all__ = ["Heading", "Table", "tables_of"]


def tables_of(results: Results, trial: Trial) -> Mapping[str, tuple[Table, ...]]:
    """All tables by the section of the page that they stand in, in the page's order.

    They are in the units of the trial's sheet.
    """
    sheet = trial.sheet
    units, zone = sheet.units, sheet.time_zone or "UTC"
    steps = results.steps
    return {
        "tested": tested_table(sheet),
        "summary": (summary_table(results, sheet),),
        "launches": launch_tables(results, units, zone),
        "steps": (
            *step_table(steps, results.set_up.steps, sheet, trial.flow.text),
            *idling_table(results.idling, units),
            *noise_table(results.noise),
            *pass_table(steps, units, zone),
            *sides_table(results.sides, zone),
        ),
        "attitude": attitude_table(results.attitudes, units),
        "turns": (
            *turn_table(results.turns, units, sheet.boat.length),
            *stop_table(results.stops, units),
        ),
        "timed": timed_table(results.timed, zone),
        "day": day_table(results.day, zone),
        "definitions": (definition_table(results.definitions),),
        "delays": (*delay_table(trial.delays, trial.sources), *law_table(results.laws)),
    }
