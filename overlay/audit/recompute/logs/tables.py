"""Delimited and Parquet tables a second time, by pandas.

The headings are the first line in which two cells or more are understood. Rows with fewer or more
cells than there are headings are left out, and so are comments, repeated headings and cells that
hold no number.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.logs.headings import Column, columns_of, fold, read_heading
from overlay.audit.recompute.logs.names import CHANNEL_OF
from overlay.audit.recompute.logs.times import Times, times_of
from overlay.audit.recompute.recorded import Floats, Places, Recorded, recorded
from overlay.audit.recompute.units import is_unit

if TYPE_CHECKING:
    import pandas as pd

    from overlay.audit.recompute.sheet import LogEntry, Sheet

DELIMITERS = ("\t", ";", ",", "|")
LOOK_LINES = 200
MORE_CELLS = 30
"""A damaged row is seen to be too long up to so many cells more than there are headings."""

NO_VALUE = frozenset(
    ("", "-", "--", "---", "nan", "n/a", "na", "#n/a", "null", "none", "nil", "*", "?", "inf")
)
GEARS = dict.fromkeys(("f", "fwd", "forward", "ahead", "d"), 1.0)
GEARS |= dict.fromkeys(("n", "neutral"), 0.0)
GEARS |= dict.fromkeys(("r", "rev", "reverse", "astern"), -1.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """The cells of a table as text by the place of their column, the line of each row, what the
    columns hold, and the clock."""

    frame: pd.DataFrame
    lines: Places
    columns: tuple[Column, ...]
    entry: LogEntry
    sheet: Sheet


def decoded(data: bytes) -> str:
    """The text of a file: UTF-16 or UTF-8 where it is that, else Windows-1252."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def read_table(text: str, entry: LogEntry, sheet: Sheet) -> tuple[dict[str, Recorded], bool]:
    """All channels of a delimited table by key, and whether they are on UTC.

    Raises
    ------
    CannotRecompute
        Where there is no table, or its times are none that are read here.
    """
    lines = text.splitlines()
    delimiter, place = _headings(lines, entry)
    headings = [cell.strip() for cell in _cells(lines[place], delimiter)]
    frame = _frame(text, delimiter, place, len(headings))
    numbers = np.arange(place + 2, place + 2 + len(frame), dtype=np.int64)
    frame, numbers = _whole(frame, numbers, headings)
    units: Sequence[str] = ()
    if len(frame) and _are_units(frame.iloc[0]):
        units = list(frame.iloc[0])
        frame, numbers = frame.iloc[1:], numbers[1:]
    if len(frame) and not text.endswith(("\n", "\r")):
        frame.iloc[-1, -1] = ""  # the last line has no end and may be cut
    columns = columns_of(headings, entry.columns, units)
    cells = Cells(frame=frame, lines=numbers, columns=columns, entry=entry, sheet=sheet)
    return _channels(cells)


def _headings(lines: list[str], entry: LogEntry) -> tuple[str, int]:
    """The delimiter, and the place of the headings among the lines."""
    stated = {fold(heading) for heading in entry.columns}
    best: tuple[int, str, int] | None = None
    for delimiter in DELIMITERS:
        for place, line in enumerate(lines[:LOOK_LINES]):
            known = sum(_understood(cell, stated) for cell in _cells(line, delimiter))
            if known >= 2:
                if best is None or known > best[0]:
                    best = (known, delimiter, place)
                break
    if best is None:
        raise CannotRecompute(f"the audit finds no headings in the log {entry.name!r}")
    return best[1], best[2]


def _cells(line: str, delimiter: str) -> list[str]:
    import csv

    rows = list(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    return rows[0] if rows else []


def _understood(cell: str, stated: set[str]) -> bool:
    """Whether a cell is a heading, be its unit in it, in a row below it, or one that is wrong."""
    name = fold(cell)
    if name in stated or name in CHANNEL_OF:
        return True
    try:
        return bool(read_heading(cell.strip()).role)
    except CannotRecompute:
        return True


def _frame(text: str, delimiter: str, place: int, width: int) -> pd.DataFrame:
    """The lines below the headings, one a row, with room for cells too many."""
    import pandas as pd

    below = io.StringIO(text)
    for _ in range(place + 1):
        below.readline()
    return pd.read_csv(
        below,
        sep=delimiter,
        header=None,
        names=list(range(width + MORE_CELLS)),
        index_col=False,
        dtype=str,
        keep_default_na=False,
        na_values=[],
        skip_blank_lines=False,
        skipinitialspace=True,
        on_bad_lines="error",
    )


def _whole(
    frame: pd.DataFrame, numbers: Places, headings: list[str]
) -> tuple[pd.DataFrame, Places]:
    """The rows that have as many cells as there are headings, without comments and the like."""
    width = len(headings)
    inside, beyond = frame.iloc[:, :width], frame.iloc[:, width:].fillna("")
    first = inside[0].fillna("").str.strip()
    good = inside.notna().all(axis=1) & (beyond == "").all(axis=1)
    good &= ~first.str.startswith("#")
    good &= (inside.fillna("") != "").any(axis=1)
    keep = good.to_numpy(dtype=bool, copy=True)
    for place in np.flatnonzero((first == headings[0]).to_numpy()).tolist():
        if [str(cell).strip() for cell in inside.iloc[place]] == headings:
            keep[place] = False
    return inside[keep].copy(), numbers[keep]


def _are_units(row: pd.Series[str]) -> bool:
    given = [str(cell).strip().strip("[]()") for cell in row if str(cell).strip()]
    words = ("utc", "local", "iso", "date", "time")
    return len(given) >= 2 and all(
        not text.isdigit() and (is_unit(text) or text.casefold() in words) for text in given
    )


def _channels(cells: Cells) -> tuple[dict[str, Recorded], bool]:
    wanted = [column for column in cells.columns if column.role == "channel"]
    if not wanted:
        return {}, True
    times = times_of(cells.frame, cells.columns, cells.entry, cells.sheet)
    comma = any(cells.frame[column.place].str.contains(",", regex=False).any() for column in wanted)
    rows = {column.place: _numbers(cells.frame[column.place], column, comma) for column in wanted}
    filled = np.zeros(len(cells.frame), dtype=bool)
    for column in wanted:
        words = cells.frame[column.place].str.strip().str.casefold()
        filled |= ~words.isin(NO_VALUE).to_numpy(dtype=bool)
    _must_go_on(times.t_s[filled], cells.lines[filled], cells.entry)
    found = {}
    for column in wanted:
        made = made_of(column, rows[column.place], times, cells.lines, cells.entry)
        if made is not None:
            found[column.key] = made
    return found, times.on_utc


def _must_go_on(t_s: Floats, lines: Places, entry: LogEntry) -> None:
    """Refuse times that run backwards: the product judges which of them are right."""
    good = np.isfinite(t_s)
    back = np.flatnonzero(np.diff(t_s[good]) < 0)
    if back.size:
        line = int(lines[good][int(back[0]) + 1])
        raise CannotRecompute(
            f"time runs backwards in the log {entry.name!r} at line {line}, and the audit does not "
            "judge which of its times are right"
        )


def made_of(
    column: Column, printed: Floats, times: Times, lines: Places, entry: LogEntry
) -> Recorded | None:
    """A channel of a column; None where it holds no value."""
    assert column.unit is not None  # only columns with one are channels
    factor, zero = float(column.unit.factor), float(column.unit.zero)
    return recorded(
        key=column.key,
        log=entry.name,
        path=entry.path,
        t_s=times.t_s,
        values=printed * factor + zero,
        lines=lines,
        printed=printed,
        worth_si=factor,
    )


def _numbers(texts: pd.Series[str], column: Column, comma: bool) -> Floats:
    """Cells as numbers; NaN where one holds none."""
    import pandas as pd

    plain = texts.str.strip()
    if comma:
        plain = plain.str.replace(",", ".", regex=False)
    values = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    if column.channel == "gear":
        words = plain.str.casefold().map(GEARS).to_numpy(dtype=np.float64)
        values = np.where(np.isnan(values), words, values)
    return values


MOST_WHY = 120
"""Letters of a library's own words that are told."""


def read_parquet(entry: LogEntry, sheet: Sheet) -> tuple[dict[str, Recorded], bool]:
    """All channels of a Parquet table by key, and whether they are on UTC. Units that stand beside
    the columns, and not in their names, are not seen."""
    import pandas as pd

    try:
        table = pd.read_parquet(entry.path)
    except (OSError, ValueError) as error:
        why = str(error).partition("\n")[0][:MOST_WHY].rstrip(" .")
        raise CannotRecompute(f"the log {entry.name!r} cannot be read ({why})") from error
    headings = [str(name) for name in table.columns]
    frame = pd.DataFrame(
        {place: _as_text(table[name]) for place, name in enumerate(table.columns)}, dtype="str"
    )
    columns = columns_of(headings, entry.columns)
    lines = np.arange(1, len(frame) + 1, dtype=np.int64)
    return _channels(Cells(frame=frame, lines=lines, columns=columns, entry=entry, sheet=sheet))


def _as_text(column: pd.Series[Any]) -> pd.Series[str]:
    """A column as the text that a delimited table would have."""
    import pandas as pd

    if isinstance(column.dtype, pd.DatetimeTZDtype):
        column = column.dt.tz_convert("UTC")
    return pd.Series([_cell_text(value) for value in column], dtype="str")


def _cell_text(value: Any) -> str:
    import pandas as pd

    if value is None or pd.isna(value):
        return ""
    if isinstance(value, pd.Timestamp):
        return value.isoformat()
    if isinstance(value, bool):
        return str(int(value))
    return repr(float(value)) if isinstance(value, float) else str(value)
