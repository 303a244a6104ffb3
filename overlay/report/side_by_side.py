"""Trials under each other and their figures beside each other, from the rows that are compared.

`trialreel compare` holds up to six trials against the first of them; a season has more, and its
tables say what each has and how sure that is, and judge nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from overlay.analysis.comparing.limits import Likeness, Stated
from overlay.analysis.comparing.side import Figures, Reading
from overlay.figures import NO_VALUE, unit_for
from overlay.report.columns import rounded, with_deviation
from overlay.report.run_tables import economy_unit
from overlay.report.words import one_line
from sync.units import from_si

LETTERS = "abcdefghijklmnopqrstuvwxyz"

MOST_COLUMNS = 8
"""So many figures fit beside each other on a sheet of A4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What one trial has of one figure: its text, what stands below it in small, and the letter of
    the note that says more."""

    text: str
    below: str = ""
    letter: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideTable:
    """One table; `rows` has a row for each trial, in their order.

    Figures that no trial has are no columns, but `nobody` says why.
    """

    title: str
    headings: tuple[tuple[str, str], ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[tuple[str, str], ...] = ()
    nobody: tuple[str, ...] = ()
    words: bool = False


class Letters:
    """Letters for notes: the same note has the same letter."""

    def __init__(self) -> None:
        self._known: dict[str, str] = {}

    def of(self, note: str) -> str:
        """The letter of a note."""
        note = one_line(note)
        if note and note not in self._known:
            before, place = divmod(len(self._known), len(LETTERS))
            self._known[note] = (LETTERS[before - 1] if before else "") + LETTERS[place]
        return self._known.get(note, "")

    def notes(self) -> tuple[tuple[str, str], ...]:
        """All notes by their letters."""
        return tuple((letter, note) for note, letter in self._known.items())


def scale_of(quantity: str, units: str) -> tuple[Callable[[float], float], str]:
    """From SI to the reader's unit, and its sign."""
    if quantity == "level":
        return (lambda si: si), "dB(A)"
    if quantity == "economy":
        unit, factor = economy_unit(units)
        return (lambda si: si * factor), unit
    unit = unit_for(quantity, units)
    kind = "length" if quantity == "distance" else quantity
    return (lambda si: from_si(si, unit, kind)), unit


def side_tables(figures: Sequence[Figures], units: str) -> tuple[SideTable, ...]:
    """Tables for the sections of the figures that trials are compared by."""
    sections = groupby(figures, key=lambda row: row.section)
    return tuple(one for title, rows in sections for one in _section(title, list(rows), units))


def _section(title: str, rows: list[Figures], units: str) -> Iterator[SideTable]:
    """One table, or as many as paper has the width for."""
    had = [row for row in rows if any(one.mean.known for one in row.readings)]
    nobody = tuple(_nobody(row) for row in rows if row not in had)
    parts = [had[first : first + MOST_COLUMNS] for first in range(0, len(had), MOST_COLUMNS)]
    for number, part in enumerate(parts or [[]]):
        letters = Letters()
        columns = [_column(row, units, letters) for row in part]
        yield SideTable(
            title=f"{title}, continued" if number else title,
            headings=tuple((row.title, scale_of(row.quantity, units)[1]) for row in part),
            rows=tuple(zip(*columns, strict=True)),
            notes=letters.notes(),
            nobody=() if number else nobody,
        )


def _column(row: Figures, units: str, letters: Letters) -> list[Cell]:
    """A figure of all trials. How it was had stands below where it was not had alike in all."""
    scale, _ = scale_of(row.quantity, units)
    alike = len({one.basis for one in row.readings if one.mean.known}) < 2
    return [
        _cell(one, scale, told=_told(one, row.title, alike=alike), letters=letters)
        for one in row.readings
    ]


def _cell(one: Reading, scale: Callable[[float], float], *, told: str, letters: Letters) -> Cell:
    if not one.mean.known:
        return Cell(text=NO_VALUE, letter=letters.of(one.lacks))
    return Cell(text=with_deviation(scale(one.mean.value), scale(one.mean.sd)), below=told)


def _told(one: Reading, title: str, *, alike: bool) -> str:
    """Where a figure was found, unless its column says so, and how it was had."""
    at = "" if title.endswith(one.at) else one.at
    return one_line(", ".join(part for part in (at, "" if alike else one.basis) if part))


def _nobody(row: Figures) -> str:
    """Why no trial has a figure."""
    reasons = "; ".join(dict.fromkeys(one.lacks for one in row.readings if one.lacks))
    return one_line(f"{row.title}: {reasons}")


def stated_table(likenesses: Sequence[Likeness], units: str) -> SideTable:
    """What must be alike before one trial is called better than another, as each states it."""
    had = [one for one in likenesses if any(not _silent(stated) for stated in one.stated)]
    letters = Letters()
    columns = [[_stated(one, stated, units, letters) for stated in one.stated] for one in had]
    return SideTable(
        title="what must be alike",
        headings=tuple((one.limit.title, _stated_unit(one, units)) for one in had),
        rows=tuple(zip(*columns, strict=True)),
        notes=letters.notes(),
        nobody=tuple(f"{one.limit.title}: not stated" for one in likenesses if one not in had),
        words=True,
    )


def _silent(stated: Stated) -> bool:
    return not math.isfinite(stated.number) and stated.words in ("", "not stated")


def _stated_unit(one: Likeness, units: str) -> str:
    if one.limit.quantity == "words":
        return ""
    return "of standard" if one.limit.key == "air" else unit_for(one.limit.quantity, units)


def _stated(one: Likeness, stated: Stated, units: str, letters: Letters) -> Cell:
    if one.limit.quantity == "words":
        return Cell(text=one_line(stated.words))
    if not math.isfinite(stated.number):
        return Cell(text=NO_VALUE, letter=letters.of("not stated"))
    if one.limit.key == "air":
        return Cell(text=rounded(stated.number, "0.001"), letter=letters.of(stated.note))
    unit = unit_for(one.limit.quantity, units)
    text = rounded(from_si(stated.number, unit, one.limit.quantity), "1")
    without = f"without {stated.lacks}" if stated.lacks else ""
    return Cell(text=text, letter=letters.of(without))
