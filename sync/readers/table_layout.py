"""Where the table stands in a text file: its encoding, delimiter, headings and rows.

Delimited text has no standard that loggers keep to; RFC 4180 is the nearest, for quoting.
The rules here are common practice, no published source: a preamble may stand before the
headings, a row of units after them, comments begin with #, and a row with fewer or more
cells than there are headings is damaged.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from sync.errors import LogFormatError, UnitError
from sync.readers.table_headings import understood
from sync.units import unit_of

DELIMITERS = ("\t", ";", ",", "|")

LOOK_LINES = 200
"""How many lines may stand before the headings, and how far the layout is judged by."""

FOLLOWERS = 12
"""Rows after the headings that are looked at to see whether they fit."""

NO_VALUE = frozenset(
    ("", "-", "--", "---", "nan", "n/a", "na", "#n/a", "null", "none", "nil", "*", "?", "inf")
)
"""What loggers write where there is no value, folded."""

_DATA = re.compile(r"[-+]?[\d.,:/TZ+\- ]*\d[\d.,:/TZ+\- ]*(?:[eE][-+]?\d+)?[Z%]?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The delimiter, and the line (from 1) with the headings."""

    delimiter: str
    line: int
    headings: tuple[str, ...]
    score: int = 0


@dataclass(slots=True)
class Table:
    """The rows below the headings, each with the line where it ends, and what was left out."""

    layout: Layout
    units: tuple[str, ...] | None = None
    rows: list[list[str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    warnings: list[str] = field(default_factory=list)


def decode(data: bytes) -> tuple[str, str]:
    """A file's text, and a word on its encoding where that had to be guessed."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace"), ""
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        return text, "the file is not UTF-8 and was read as Windows-1252"


def find_layout(text: str) -> Layout | None:
    """The delimiter and the headings of the first table in a text, or None."""
    lines = list(islice(io.StringIO(text, newline=""), LOOK_LINES + FOLLOWERS))
    found = [layout for mark in DELIMITERS if (layout := _with_delimiter(lines, mark))]
    return max(found, key=lambda layout: (layout.score, len(layout.headings)), default=None)


def _with_delimiter(lines: list[str], delimiter: str) -> Layout | None:
    cells = [_cells(line, delimiter) for line in lines]
    for i, row in enumerate(cells[:LOOK_LINES]):
        if not _could_be_headings(row):
            continue
        known = sum(1 for cell in row if understood(cell))
        after = [other for other in cells[i + 1 :] if any(other)][:FOLLOWERS]
        if _fits(row, after) if after else known >= 2:
            return Layout(delimiter=delimiter, line=i + 1, headings=tuple(row), score=known)
    return None


def _cells(line: str, delimiter: str) -> list[str]:
    """The cells of one line, stripped; of a damaged one none."""
    if line.lstrip().startswith("#"):
        return []
    try:
        rows = list(csv.reader([line.rstrip("\r\n")], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return []
    return [cell.strip() for cell in rows[0]] if rows else []


def _could_be_headings(row: list[str]) -> bool:
    named = [cell for cell in row if cell and not _DATA.fullmatch(cell)]
    if any(cell.startswith(("$", "!")) for cell in named):
        return False
    return len(row) >= 2 and len(named) >= 2 and 2 * len(named) >= len(row)


def _fits(row: list[str], after: list[list[str]]) -> bool:
    """Whether most of the following rows are as wide as the headings and look like data."""
    wide = [other for other in after if len(other) == len(row)]
    given = [cell for other in wide for cell in other if cell]
    data = [cell for cell in given if _DATA.fullmatch(cell) or cell.casefold() in NO_VALUE]
    return 2 * len(wide) > len(after) and bool(data) and 2 * len(data) >= len(given)


def read_table(text: str, layout: Layout, path: Path) -> Table:
    """All whole rows below the headings.

    Raises
    ------
    LogFormatError
        Where the text breaks the rules of quoting.
    """
    table = Table(layout=layout)
    width = len(layout.headings)
    for line, row in _rows(text, layout, path):
        if not any(row):
            continue
        if row[0].lstrip().startswith("#"):
            table.counts["comments"] += 1
        elif len(row) < width:
            table.counts["short_rows"] += 1
        elif len(row) > width and any(cell.strip() for cell in row[width:]):
            table.counts["long_rows"] += 1
        elif (
            row[0].strip() == layout.headings[0]  # first, for it settles nearly every row
            and tuple(cell.strip() for cell in row[:width]) == layout.headings
        ):
            table.counts["repeated_headings"] += 1
        elif not table.rows and table.units is None and _are_units(row):
            table.units = tuple(cell.strip() for cell in row[:width])
        else:
            table.rows.append(row[:width])
            table.lines.append(line)
    if table.rows and not text.endswith(("\n", "\r")) and table.rows[-1][-1].strip():
        table.rows[-1][-1] = ""
        table.counts["cut_cells"] += 1
        table.warnings.append("the last line has no end and may be cut: its last cell was left out")
    return table


def _rows(text: str, layout: Layout, path: Path) -> Iterator[tuple[int, list[str]]]:
    """Every row below the headings with the line where it ends."""
    stream = io.StringIO(text, newline="")
    for _ in range(layout.line):
        stream.readline()
    reader = csv.reader(stream, delimiter=layout.delimiter, skipinitialspace=True)
    try:
        for row in reader:
            yield layout.line + reader.line_num, row
    except csv.Error as error:
        raise LogFormatError(
            f"the table cannot be taken apart ({error})",
            path=path,
            line=layout.line + reader.line_num,
            advice="look for a quotation mark that is never closed",
        ) from error


def _are_units(row: list[str]) -> bool:
    """Whether a row holds nothing but units: a second row of headings."""
    given = [cell.strip().strip("[]()") for cell in row if cell.strip()]
    return len(given) >= 2 and all(_is_unit(text) for text in given)


def _is_unit(text: str) -> bool:
    if text.isdigit():
        return False
    try:
        unit_of(text)
    except UnitError:
        return text.casefold() in ("utc", "local", "iso", "date", "time")
    return True
