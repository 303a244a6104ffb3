"""What each kind of card is told of a trial, as plain values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from overlay.errors import AnalysisError
from overlay.graphics.cards.facts import CardFacts, Stated
from overlay.graphics.cards.prose import TIED
from overlay.report.tested_table import tested_table
from overlay.report.words import one_line
from overlay.workflow.card_plots import course_chart, curve_charts
from overlay.workflow.card_tables import launch_card, step_card

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.sheet import TrialSheet
    from overlay.trial import Trial

BARE = ("name", "length", "power")
"""What needs no word before its value."""

NAMED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "boat": ("name", "length"),
        "engine": ("name", "power"),
        "propeller": ("name", "diameter", "pitch"),
    }
)
"""What a title card says of each part, where the sheet states it."""


def facts_of(results: Results, trial: Trial, kind: str) -> CardFacts:
    """What a kind of card is told.

    Raises
    ------
    AnalysisError
        Where the trial has nothing for it.
    """
    return FILLED[kind](results, trial)


def _trial(sheet: TrialSheet) -> CardFacts:
    """What the trial is called, and when and where it was."""
    day = "" if sheet.date is None else f"{sheet.date.day} {sheet.date:%B %Y}"
    place = one_line(sheet.conditions.place or "")
    return CardFacts(
        title=one_line(sheet.name), subtitle=" · ".join(part for part in (day, place) if part)
    )


def _stated(sheet: TrialSheet) -> list[Stated]:
    return [
        Stated(part=str(part), what=str(what), value=str(value))
        for table in tested_table(sheet)
        for part, what, value in table.raw_rows
    ]


def _title(_results: Results, trial: Trial) -> CardFacts:
    lines: dict[str, list[str]] = {}
    for one in _stated(trial.sheet):
        if one.what not in NAMED.get(one.part.split()[0], ()):
            continue
        said = one.value if one.what in BARE else f"{one.what} {one.value}"
        # A name may wrap; a number stays with its unit.
        said = said if one.what == "name" else said.replace(" ", TIED)
        lines.setdefault(one.part, []).append(said)
    tested = tuple(dict.fromkeys(", ".join(parts) for parts in lines.values()))
    return replace(_trial(trial.sheet), tested=tested)


def _conditions(_results: Results, trial: Trial) -> CardFacts:
    parts = ("conditions", "load")
    stated = [one for one in _stated(trial.sheet) if one.part in parts]
    if not stated:
        raise AnalysisError(
            "the sheet states neither conditions nor load",
            path=trial.material.sheet_path,
            advice="write [conditions] and [load] into it",
        )
    stated.sort(key=lambda one: parts.index(one.part))
    return replace(_trial(trial.sheet), stated=tuple(stated))


def _steps(results: Results, trial: Trial) -> CardFacts:
    return replace(_trial(trial.sheet), table=step_card(results, trial))


def _launches(results: Results, trial: Trial) -> CardFacts:
    return replace(_trial(trial.sheet), table=launch_card(results, trial))


def _curves(results: Results, trial: Trial) -> CardFacts:
    return replace(_trial(trial.sheet), charts=curve_charts(results, trial))


def _course(results: Results, trial: Trial) -> CardFacts:
    return replace(_trial(trial.sheet), charts=(course_chart(results, trial),))


FILLED: Mapping[str, Callable[[Results, Trial], CardFacts]] = MappingProxyType(
    {
        "title": _title,
        "conditions": _conditions,
        "steps": _steps,
        "launches": _launches,
        "curves": _curves,
        "course": _course,
    }
)
"""What fills in the facts of each kind that shows one trial."""
