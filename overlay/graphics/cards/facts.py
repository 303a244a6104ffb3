"""What cards are told: texts, tables and curves as plain values.

Cards format no result. The tables of a trial are made in one place, which lies behind this one
on the road (`overlay.report`), so whoever asks for a card hands their texts over; the arrows
between the rooms stay as they are, and a card has the very digits of the report.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DOUBT = "±"
"""Stands in the order of what is left out for the doubts behind values."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardColumn:
    """What stands over a column of a table; numbers stand flush right."""

    text: str
    unit: str = ""
    number: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CardNote:
    """A sentence under a table.

    Parameters
    ----------
    of
        It stands for as long as one of these columns is there, and always without any;
        `DOUBT` counts as a column.
    of_rest
        Whether it belongs to rows that a lower third does not show.
    """

    text: str
    of: tuple[str, ...] = ()
    of_rest: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CardTable:
    """A table in its texts.

    Parameters
    ----------
    columns, rows
        One text a column in each row.
    short_rows
        The same rows with the digits that each value carries without its doubt behind it.
    keys
        How many columns at the left stay when the others are parted over several cards.
    order
        What is left out where there is no room, the first first: columns by their text, or
        `DOUBT`.
    spare
        How many of those may go to save a second card.
    marked
        Rows that matter most.
    chosen
        Rows that a lower third shows; all of them where there are none.
    """

    columns: tuple[CardColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    short_rows: tuple[tuple[str, ...], ...] = ()
    keys: int = 1
    order: tuple[str, ...] = ()
    spare: int = 0
    marked: tuple[int, ...] = ()
    chosen: tuple[int, ...] = ()
    notes: tuple[CardNote, ...] = ()

    def __post_init__(self) -> None:
        for row in (*self.rows, *self.short_rows):
            if len(row) != len(self.columns):
                raise ValueError(f"{row} does not have {len(self.columns)} columns")
        if self.short_rows and len(self.short_rows) != len(self.rows):
            raise ValueError("a table's short rows are not as many as its rows")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """One thing that the sheet states: of which part, what, and its value."""

    part: str
    what: str
    value: str


Stroke = Literal["thin", "solid", "dotted", "strong", "dashed"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChartLine:
    """A line [shape of each: (n,), in the units of the axes], with holes where it is NaN.

    `text` says in the key what the stroke means; the same text is named once.
    """

    x: Floats
    y: Floats
    stroke: Stroke = "solid"
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """A point with the halves of its bars; hollow where it is single, and named if it matters."""

    x: float
    y: float
    x_bar: float = 0.0
    y_bar: float = 0.0
    both: bool = True
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chart:
    """A plot as plain values.

    Parameters
    ----------
    x_text, y_text
        What stands at the axes; of a course plot the unit of both.
    band
        A stretch of x that is laid out in buff, and its name.
    plan
        Whether both axes are one scale, as of a course: it has a scale bar and no numbers.
    notes
        Sentences under it; what several plots on a card have in common is said once.
    """

    title: str
    x_text: str
    y_text: str
    lines: tuple[ChartLine, ...] = ()
    points: tuple[ChartPoint, ...] = ()
    band: tuple[float, float, str] | None = None
    plan: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardFacts:
    """Everything that a card may show of a trial, or of several.

    Parameters
    ----------
    title, subtitle
        What the trial is called; when and where it was.
    tested
        Boat, engine, propeller, each as the sheet calls it.
    stated
        What the sheet states.
    table, charts
        What the kind of card shows.
    """

    title: str
    subtitle: str
    tested: tuple[str, ...] = ()
    stated: tuple[Stated, ...] = ()
    table: CardTable | None = None
    charts: tuple[Chart, ...] = ()
