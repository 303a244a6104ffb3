"""What `trialreel compare` prints: may one be called better, then figure by figure."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from overlay.analysis.compare import COVERAGE, Compared, Difference, document
from overlay.analysis.comparing.limits import Likeness, Stated
from overlay.cli.console import OUT, as_document, heading, table
from overlay.cli.exit_codes import CANNOT_SAY, DONE
from overlay.cli.show_table import paragraph
from overlay.figures import MINUS, NO_VALUE, unit_for
from overlay.report.columns import rounded, with_deviation
from overlay.report.side_by_side import scale_of
from overlay.report.tested_table import tested_table
from overlay.report.words import listed, one_line
from sync.units import from_si

if TYPE_CHECKING:
    from rich.table import Table

    from overlay.analysis.comparing.side import Reading
    from overlay.sheet import TrialSheet
    from overlay.workflow.compare import CompareOutcome

SIGNS = {"higher": "▲", "lower": "▼"}


def compare(outcome: CompareOutcome, *, as_json: bool) -> int:
    """Print a comparison; the exit code says whether it may be judged."""
    comparison = outcome.comparison
    others = range(1, len(outcome.trials))
    silent = [i for i in others if comparison.hindrances(i) or not comparison.common(i)]
    code = CANNOT_SAY if silent else DONE
    if as_json:
        as_document(
            document(
                comparison,
                [
                    {"letter": one.letter, "name": one.name, "sheet": str(one.sheet_path)}
                    for one in outcome.trials
                ],
            )
        )
        return code
    for one in outcome.trials:
        heading(one.letter, one_line(one.name))
    for place in others:
        _may_be_judged(outcome, place)
    _stated_otherwise(outcome)
    _alike(outcome)
    for section, rows in groupby(comparison.rows, key=lambda row: row.figures.section):
        _section(section, list(rows), outcome)
    _notes(outcome)
    return code


def _may_be_judged(outcome: CompareOutcome, place: int) -> None:
    """The plain statement whether a trial may be called better or worse than the first."""
    mine, first = outcome.trials[place].letter, outcome.trials[0].letter
    hindrances = outcome.comparison.hindrances(place)
    if not outcome.comparison.common(place):
        paragraph(f"{mine} and {first} have no figure in common: there is nothing to compare.")
    elif hindrances:
        told = "; ".join(_hindrance(one, place, outcome) for one in hindrances)
        paragraph(
            f"Neither {mine} nor {first} is called better: {told}. Their differences are "
            "printed, but what made them cannot be told."
        )
    else:
        paragraph(f"{mine} may be held against {first}: all that must be alike is.")


def _hindrance(one: Likeness, place: int, outcome: CompareOutcome) -> str:
    title, limit = one.limit.title, one.limit
    first, other = one.stated[0], one.stated[place]
    if one.states[place] == "not stated":
        lacking = [
            outcome.trials[i].letter for i in (0, place) if not math.isfinite(one.stated[i].number)
        ]
        return f"{title} is not known for {listed(lacking)}"
    if limit.quantity == "words":
        letters = outcome.trials[0].letter, outcome.trials[place].letter
        return f"{title} is {first.words} in {letters[0]} and {other.words} in {letters[1]}"
    if first.lacks != other.lacks:
        return f"{title} is summed of other parts"
    if limit.share:
        by, most = rounded(100 * one.by[place], "0.01"), rounded(100 * limit.most, "1")
        return f"{title} differs by {by} %, more than {most} %"
    unit = unit_for(limit.quantity, outcome.units)
    by = rounded(from_si(one.by[place], unit, limit.quantity), "0.1")
    return f"{title} differs by {by} {unit}, more than {_limit(one, outcome.units)}"


def _limit(one: Likeness, units: str) -> str:
    unit = unit_for(one.limit.quantity, units)
    return f"{rounded(from_si(one.limit.most, unit, one.limit.quantity), '0.1')} {unit}"


def _stated_otherwise(outcome: CompareOutcome) -> None:
    """What the sheets do not state alike: what was changed, as far as anybody wrote it down."""
    stated = [_told(one.trial.sheet) for one in outcome.trials]
    made = _table("what the sheets state otherwise", "", "", "stated")
    for key in dict.fromkeys(key for one in stated for key in one):
        values = [one.get(key, "not stated") for one in stated]
        if len(set(values)) == 1:
            continue
        for place, value in enumerate(values):
            made.add_row(": ".join(key) if place == 0 else "", outcome.trials[place].letter, value)
    if made.row_count:
        OUT.print(made)


def _told(sheet: TrialSheet) -> dict[tuple[str, str], str]:
    """What a sheet states, by the part of it and what is said of that."""
    return {
        (str(part), str(what)): str(value)
        for table in tested_table(sheet)
        for part, what, value in table.raw_rows
    }


def _alike(outcome: CompareOutcome) -> None:
    """What must be alike, with what each trial states of it, and the limits."""
    made = _table("what must be alike", "", "", "stated", "")
    for one in outcome.comparison.likenesses:
        for place, trial in enumerate(outcome.trials):
            made.add_row(
                one.limit.title if place == 0 else "",
                trial.letter,
                _stated(one, one.stated[place], outcome.units),
                one.states[place] if place else "",
            )
    OUT.print(made)
    for one in outcome.comparison.likenesses:
        paragraph(f"{one.limit.title}: {one.limit.text} ({one.limit.source})", indent="  ")


def _stated(one: Likeness, stated: Stated, units: str) -> str:
    if one.limit.quantity == "words":
        return stated.words
    if not math.isfinite(stated.number):
        return "not stated"
    if one.limit.key == "air":
        assumed = ", taken as dry" if stated.note else ""
        return f"{rounded(stated.number, '0.001')} of standard{assumed}"
    unit = unit_for(one.limit.quantity, units)
    value = rounded(from_si(stated.number, unit, one.limit.quantity), "1")
    return f"{value} {unit}{f' without {stated.lacks}' if stated.lacks else ''}"


def _section(section: str, rows: Sequence[Compared], outcome: CompareOutcome) -> None:
    """The figures of one kind: under each other the trials, beside them what differs."""
    letters = [trial.letter for trial in outcome.trials]
    made = _table(section, "", "", "value ± sd", "at", f"less {letters[0]}", "so it is")
    for row in rows:
        scale, unit = scale_of(row.figures.quantity, outcome.units)
        for place, (one, off) in enumerate(zip(row.figures.readings, row.differences, strict=True)):
            made.add_row(
                (row.figures.title, unit, *[""] * len(letters))[place],
                letters[place],
                _value(one, scale),
                one.at,
                _off(off, scale),
                one.lacks or _says(off, row.figures.readings[0], one),
            )
    OUT.print(made)


def _table(title: str, *headings: str) -> Table:
    """A table that leaves its room to words: only the first and the last column fold."""
    made = table(title, *headings)
    made.padding = (0, 1, 0, 0)
    made.pad_edge = False
    for column in made.columns[1:-1]:
        column.no_wrap = True
    return made


def _value(one: Reading, scale: Callable[[float], float]) -> str:
    return with_deviation(scale(one.mean.value), scale(one.mean.sd))


def _off(one: Difference, scale: Callable[[float], float]) -> str:
    """A difference with its sign; every unit here has its nought where SI has."""
    if not one.value.known:
        return ""
    value, sd = scale(one.value.value), scale(one.value.sd)
    if not math.isfinite(sd):
        return NO_VALUE
    text = with_deviation(abs(value), sd)
    sign = "" if not text.partition(" ")[0].strip("0.") else "+" if value > 0 else MINUS
    return f"{sign}{text}"


def _says(one: Difference, first: Reading, other: Reading) -> str:
    """By sign and word whether it differs, and whether that is better."""
    if one.exceeds:
        judged = "" if one.verdict == "none" else f", {one.verdict}"
        return f"{SIGNS[one.says]} {one.says}{judged}"
    if one.says == "not alike":
        return f"not alike: {other.basis}, {first.basis}"
    return one.says


def _notes(outcome: CompareOutcome) -> None:
    first = outcome.trials[0].letter
    paragraph(
        f"± is one standard deviation. ▲ and ▼ mark what differs from {first} by more than its "
        f"95 % uncertainty ({COVERAGE} standard deviations of the difference); of twenty figures "
        "that do not differ, one is marked by chance.",
        indent="  ",
    )
    paragraph(
        "At equal engine speed the doubt of a difference has in it what the rpm between the two "
        "steps may be worth, and of noise what two meters may differ by. Values at equal speed are "
        "worked out between steps both ways and never outside them.",
        indent="  ",
    )
    paragraph(
        "Launches are held against each other by how those of one direction scatter: waves make "
        "the next one differ by more than each is measured to. Where neither trial repeated one, "
        "nobody can tell.",
        indent="  ",
    )
    if outcome.redefined:
        paragraph(
            f"{listed(outcome.redefined)}: worked out with the definitions of {first}, which that "
            "sheet does not choose itself.",
            indent="  ",
        )
