"""What the card of a comparison is told: its figures as `trialreel compare` has them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from overlay.errors import AnalysisError
from overlay.figures import NO_VALUE, unit_for
from overlay.graphics.cards.facts import DOUBT, CardColumn, CardFacts, CardNote, CardTable
from overlay.graphics.cards.prose import TIED
from overlay.report.columns import number, with_deviation
from overlay.report.run_tables import economy_unit
from overlay.report.words import listed, one_line
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.analysis.compare import Compared
    from overlay.workflow.compare import CompareOutcome

UNTOLD = "* "
SIGNS: Mapping[str, str] = MappingProxyType(
    {
        "higher": "▲ ",
        "lower": "▼ ",
        "not alike": UNTOLD,
        "too few repeats": UNTOLD,
        "uncertainty not known": UNTOLD,
    }
)
"""What stands before a value, by what is said of its difference."""

SHORT: Mapping[str, str] = MappingProxyType(
    {
        "top_speed": "top speed",
        "lowest_planing": "lowest planing",
        "roll_on": "ladder end to end",
        "best_economy": "best economy",
        "best_planing_economy": "best on the plane",
    }
)
"""What figures are called where a phone must read it; others have the titles of the terminal."""

AT_EQUAL = " at equal "
"""In the name of a section whose rows are read off curves: those are for the terminal."""


def comparison_facts(outcome: CompareOutcome) -> tuple[CardFacts, tuple[str, ...]]:
    """The card's facts, and what is said of what they leave out.

    Raises
    ------
    AnalysisError
        Where the trials have no figure at all.
    """
    rows = [row for row in outcome.comparison.rows if AT_EQUAL not in row.figures.section]
    rows = [row for row in rows if any(one.mean.known for one in row.figures.readings)]
    if not rows:
        raise AnalysisError(
            "these trials have no figure to set side by side",
            path=outcome.trials[0].sheet_path,
            advice="`trialreel results` says for each what is missing and why",
        )
    letters = [trial.letter for trial in outcome.trials]
    table = CardTable(
        columns=(
            CardColumn(text=""),
            *(CardColumn(text=letter, number=True) for letter in letters),
        ),
        rows=tuple(_row(row, outcome, with_deviation) for row in rows),
        short_rows=tuple(_row(row, outcome, number) for row in rows),
        order=(DOUBT,),
        spare=1,
        chosen=_chosen(rows),
        notes=tuple(_notes(outcome, rows)),
    )
    facts = CardFacts(title=f"{letters[0]} against {listed(letters[1:])}", subtitle="", table=table)
    left = len(outcome.comparison.rows) - len(rows)
    said = ("what is compared at equal engine speed and at equal speed: see `trialreel compare`",)
    return facts, said if left else ()


def _chosen(rows: Sequence[Compared]) -> tuple[int, ...]:
    """What a lower third has room for: top speed, the longest launch time, the best on the
    plane."""
    keys = [row.figures.key for row in rows]
    launches = [key for key in keys if key.startswith("launch_to_")]
    wanted = {"top_speed", "best_planing_economy", *launches[-1:]}
    return tuple(n for n, key in enumerate(keys) if key in wanted)


def _row(
    row: Compared, outcome: CompareOutcome, form: Callable[[float, float], str]
) -> tuple[str, ...]:
    figures = row.figures
    scale, unit = _scale(figures.quantity, outcome.units)
    cells = []
    for one, off in zip(figures.readings, row.differences, strict=True):
        if not one.mean.known:
            cells.append(NO_VALUE)
            continue
        text = form(scale(one.mean.value), scale(one.mean.sd))
        cells.append(f"{SIGNS.get(off.says, '')}{text}")
    title = SHORT.get(figures.key, figures.title)
    return f"{title},{TIED}{unit.replace(' ', TIED)}", *cells


def _scale(quantity: str, units: str) -> tuple[Callable[[float], float], str]:
    """From SI to the reader's unit, and its sign."""
    if quantity == "economy":
        sign, factor = economy_unit(units)
        return (lambda si: si * factor), sign
    unit = unit_for(quantity, units)
    return (lambda si: from_si(si, unit, quantity)), unit


def _notes(outcome: CompareOutcome, rows: Sequence[Compared]) -> list[CardNote]:
    """Which letter is which trial, whether any may be judged, and what the signs mean."""
    first = outcome.trials[0].letter
    notes = [CardNote(text=f"{one.letter}: {one_line(one.name)}.") for one in outcome.trials]
    for place, one in enumerate(outcome.trials[1:], start=1):
        hindrances = outcome.comparison.hindrances(place)
        if hindrances:
            told = listed(f"{limit.limit.title} ({limit.states[place]})" for limit in hindrances)
            text = f"Neither {one.letter} nor {first} is called better: {told}."
        else:
            text = f"{one.letter} may be held against {first}: all that must be alike is."
        notes.append(CardNote(text=text))
    notes.append(CardNote(text=f"▲ ▼ differ from {first} by more than their 95 % uncertainty."))
    if any(SIGNS.get(off.says) == UNTOLD for row in rows for off in row.differences):
        notes.append(
            CardNote(text=f"* not held against {first}: not had alike, or too few repeats.")
        )
    notes.append(CardNote(text="± is one standard deviation.", of=(DOUBT,)))
    return notes
