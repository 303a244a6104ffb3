"""The tables of cards: those of the report, with what goes first where there is no room."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from overlay.errors import AnalysisError
from overlay.figures import NO_VALUE, unit_for
from overlay.graphics.cards.facts import DOUBT, CardColumn, CardNote, CardTable
from overlay.report.columns import Table, number
from overlay.report.launch_times import BOTH_WAYS
from overlay.report.run_tables import CAUTION, flow_note
from overlay.report.tables import tables_of
from overlay.report.words import unit_key

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.trial import Trial

ALL_BOTH = "Means both ways, current and wind taken out."
SOME_BOTH = (
    "Both: the mean both ways, current and wind taken out. A course or several instead: single, "
    "with current and wind in it."
)
SD = "± is one standard deviation."


def _table(results: Results, trial: Trial, section: str, name: str) -> Table:
    found = [one for one in tables_of(results, trial)[section] if one.name == name]
    if not found or not found[0].rows:
        raise AnalysisError(
            f"the logs have no {section} to show",
            path=trial.material.sheet_path,
            advice="`trialreel check` says what is missing and why",
        )
    return found[0]


def _columns(table: Table) -> tuple[CardColumn, ...]:
    return tuple(
        CardColumn(text=one.text, unit=one.unit, number=one.kind == "number")
        for one in table.headings
    )


def step_card(results: Results, trial: Trial) -> CardTable:
    """A row for each engine speed; a lower third has the best on the plane and the top speed."""
    table = _table(results, trial, "steps", "steps")
    set_up = results.set_up
    names = [step.name for step in results.steps]
    both = all(step.ways == "both" for step in results.steps)
    notes = [
        CardNote(text=ALL_BOTH if both else SOME_BOTH),
        CardNote(text=SD, of=(DOUBT,)),
        CardNote(text=flow_note(trial.flow.text), of=("flow", "economy", "range", "lasts")),
        CardNote(text=CAUTION.format(reserve=trial.sheet.reserve), of=("range", "lasts")),
    ]
    chosen = [n for n, name in enumerate(names) if name in (set_up.best_planing, set_up.top)]
    return CardTable(
        columns=_columns(table),
        rows=table.rows,
        short_rows=_speeds_alone(table, unit_for("speed", trial.sheet.units)),
        keys=3,
        order=("lasts", "range", "slip", "trim", DOUBT, "flow", "economy"),
        spare=4,
        marked=tuple(n for n in chosen if names[n] == set_up.top),
        chosen=tuple(chosen),
        notes=tuple(notes),
    )


def _speeds_alone(table: Table, unit: str) -> tuple[tuple[str, ...], ...]:
    """The step table with speeds in the digits that they carry without their doubt."""
    place = next(n for n, one in enumerate(table.headings) if one.text == "speed")
    value = table.raw_headings.index(f"speed_{unit_key(unit)}")
    sd = table.raw_headings.index(f"speed_sd_{unit_key(unit)}")
    return tuple(
        (*row[:place], _alone(raw[value], raw[sd]), *row[place + 1 :])
        for row, raw in zip(table.rows, table.raw_rows, strict=True)
    )


def _alone(value: object, sd: object) -> str:
    """A value with the digits that its deviation supports; files have None where none is known."""
    if isinstance(value, float | int) and isinstance(sd, float | int):
        return number(float(value), float(sd))
    return NO_VALUE


def launch_card(results: Results, trial: Trial) -> CardTable:
    """The mean both ways first, which a lower third has alone, then each launch."""
    table = _table(results, trial, "launches", "launch_times")
    at = {name: n for n, name in enumerate(table.raw_headings)}
    times = {
        (raw[at["launch"]], f"to {raw[at['to']]}"): (raw[at["time_s"]], raw[at["time_sd_s"]])
        for raw in table.raw_rows
    }
    short = tuple(
        tuple(
            _alone(*times.get((row[0].removesuffix(" *"), head.text), (None, None)))
            if head.kind == "number"
            else cell
            for head, cell in zip(table.headings, row, strict=True)
        )
        for row in table.rows
    )
    return CardTable(
        columns=_columns(table),
        rows=table.rows,
        short_rows=short,
        order=("on", DOUBT, "is"),
        spare=3,
        marked=table.marked,
        chosen=tuple(n for n, row in enumerate(table.rows) if row[0] == BOTH_WAYS),
        notes=_launch_notes(table, both=bool(results.both_ways.times)),
    )


def _launch_notes(table: Table, *, both: bool) -> tuple[CardNote, ...]:
    """The report's sentences; those about single launches are not for the mean alone."""
    said = [text for note in table.notes for text in re.split(r"(?<=\.) (?=[A-Z*±])", note)]
    return tuple(
        CardNote(
            text=text,
            of=(DOUBT,) if text.startswith("±") else (),
            of_rest=both and not text.startswith(("±", "Both ways")),
        )
        for text in said
    )
