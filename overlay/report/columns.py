"""Tables as text, and how one is made: a row for each item, a column for each thing to say of it.

A column says both how a value is printed and what its file holds: the printed text has the
digits that the value's doubt supports, the file the value itself in the reader's unit with its
standard deviation beside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Generic, Literal, TypeVar

from overlay.analysis.means import Mean
from overlay.figures import NO_VALUE, plain, round_half_up, step_for, with_doubt
from overlay.report.words import one_line, unit_key
from sync.units import from_si

T = TypeVar("T")
Raw = float | int | str | None
Kind = Literal["number", "word", "name", "prose"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What stands over a column: `kind` says how it is set, and that names and prose may wrap."""

    text: str
    unit: str = ""
    kind: Kind = "word"

    def __str__(self) -> str:
        return f"{self.text}, {self.unit}" if self.unit else self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table, ready to be printed anywhere, and the same in numbers.

    Parameters
    ----------
    name
        Of its file.
    rows
        As printed, one text for each heading.
    notes
        Sentences that belong under it.
    marked
        Rows that matter most, by number.
    listed
        Whether a narrow place has its rows as paragraphs: what it tells is prose.
    raw_headings, raw_rows
        As its file has them; None where there is no value.
    """

    name: str
    title: str
    headings: tuple[Heading, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()
    marked: tuple[int, ...] = ()
    listed: bool = False
    raw_headings: tuple[str, ...] = ()
    raw_rows: tuple[tuple[Raw, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Column(Generic[T]):
    """One thing to say of every item; `raw` has the columns of the file, name and value."""

    heading: Heading
    text: Callable[[T], str]
    raw: tuple[tuple[str, Callable[[T], Raw]], ...] = ()


def make_table(
    name: str,
    title: str,
    items: Sequence[T],
    columns: Sequence[Column[T]],
    *,
    notes: Sequence[str] = (),
    marked: Sequence[int] = (),
    listed: bool = False,
) -> Table:
    """A table with a row for each item; columns that would be empty are not printed."""
    files = [entry for column in columns for entry in column.raw]
    columns = [column for column in columns if not _tells_nothing(column, items)]
    return Table(
        name=name,
        title=title,
        headings=tuple(column.heading for column in columns),
        rows=tuple(tuple(one_line(column.text(item)) for column in columns) for item in items),
        notes=tuple(one_line(note) for note in notes),
        marked=tuple(marked),
        listed=listed,
        raw_headings=tuple(heading for heading, _ in files),
        raw_rows=tuple(tuple(_known(get(item)) for _, get in files) for item in items),
    )


def _tells_nothing(column: Column[T], items: Sequence[T]) -> bool:
    """Whether a column has no value in any row: its file keeps it, the eye is spared."""
    return bool(column.raw) and all(column.text(item) in ("", NO_VALUE) for item in items)


def _known(value: Raw) -> Raw:
    if isinstance(value, str):
        return one_line(value)
    return None if isinstance(value, float) and not math.isfinite(value) else value


def words(text: str, get: Callable[[T], str], *, key: str = "", kind: Kind = "word") -> Column[T]:
    """A column of words, which its file has as they are."""
    return Column(
        heading=Heading(text=text, kind=kind),
        text=get,
        raw=((key or text.replace(" ", "_"), get),),
    )


def measured(
    text: str,
    unit: str,
    get: Callable[[T], Mean],
    *,
    key: str,
    quantity: str | None = None,
    factor: float | None = None,
    doubt: bool = False,
) -> Column[T]:
    """A column of values with their standard deviations, as many digits as those support.

    Parameters
    ----------
    quantity, factor
        Of the unit; or what SI is multiplied by, where the unit is made of two.
    doubt
        Whether the deviation is printed behind the value; its file has it in any case.
    """

    def scaled(si: float) -> float:
        return si * factor if factor is not None else from_si(si, unit, quantity)

    def value(item: T) -> float:
        return scaled(get(item).value)

    def deviation(item: T) -> float:
        return scaled(get(item).sd)

    def shown(item: T) -> str:
        both = (value(item), deviation(item))
        return with_deviation(*both) if doubt else number(*both)

    file = f"{key}_{unit_key(unit)}", f"{key}_sd_{unit_key(unit)}"
    return Column(
        heading=Heading(text=text, unit=unit, kind="number"),
        text=shown,
        raw=((file[0], value), (file[1], deviation)),
    )


def plain_number(
    text: str,
    unit: str,
    get: Callable[[T], float],
    *,
    key: str,
    step: str,
    quantity: str | None = None,
) -> Column[T]:
    """A column of values whose last digit is worth a fixed step."""

    def value(item: T) -> float:
        si = get(item)
        return si if quantity is None else from_si(si, unit, quantity)

    return Column(
        heading=Heading(text=text, unit=unit, kind="number"),
        text=lambda item: rounded(value(item), step),
        raw=((f"{key}_{unit_key(unit)}" if unit else key, value),),
    )


def rounded(value: float, step: str) -> str:
    """A value whose last digit is worth a step, such as `0.1`."""
    if not math.isfinite(value):
        return NO_VALUE
    return plain(round_half_up(value, Decimal(step)), Decimal(step))


def number(value: float, sd: float) -> str:
    """A value with the digits that its deviation supports."""
    return with_doubt(value, sd, "").strip()


def with_deviation(value: float, sd: float) -> str:
    """A value with its deviation behind it, both to the same digit: `29.63 ± 0.04`.

    Beside its doubt a value may carry a digit that it would not carry alone, as uncertainties are
    commonly stated (JCGM 100:2008, 7.2.6).
    """
    if not (math.isfinite(value) and math.isfinite(sd)):
        return number(value, sd)
    step = _finest(sd)
    return f"{plain(round_half_up(value, step), step)} ± {deviation_text(sd)}"


def deviation_text(sd: float) -> str:
    """A standard deviation to its first digit, never nought."""
    step = _finest(sd)
    return plain(max(round_half_up(sd, step), step), step)


def _finest(sd: float) -> Decimal:
    """The worth of a deviation's first digit, once it has been rounded to it."""
    step = step_for(sd) / 10
    return step * 10 if round_half_up(sd, step) >= 10 * step else step
