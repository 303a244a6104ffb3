"""The times of a table: ISO 8601, seconds of a clock, or dates and times of day."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.recorded import Floats
from overlay.audit.recompute.zones import DAY_S, day_number, from_wall, gps_ahead_s, utc_day

if TYPE_CHECKING:
    import pandas as pd

    from overlay.audit.recompute.logs.headings import Column
    from overlay.audit.recompute.sheet import LogEntry, Sheet

NUMBER = r"[-+]?\d+(?:[.,]\d*)?(?:[eE][-+]?\d+)?"
TIME_OF_DAY = r"(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?"
ZONED = r".*(?:[zZ]|[+-]\d{2}:?\d{2}|[+-]\d{2})"
ISO = r"\d{4}-?\d{2}-?\d{2}[T ].*"

SINCE_1970 = ((1e8, 1e11, 1.0), (1e11, 1e14, 1e-3), (1e14, 1e17, 1e-6))
"""Bare numbers that count from 1970, and what one of them is in seconds."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Times:
    """The time of every row, NaN where it has none, and whether that is UTC."""

    t_s: Floats
    on_utc: bool


def times_of(
    frame: pd.DataFrame, columns: tuple[Column, ...], entry: LogEntry, sheet: Sheet
) -> Times:
    """The times of a table's rows.

    Raises
    ------
    CannotRecompute
        Where there are none, or in a form that is not read here.
    """
    timed = [column for column in columns if column.role == "time"]
    if not timed:
        raise CannotRecompute(f"the audit finds no column of time in the log {entry.name!r}")
    stamps = [column for column in timed if column.sort not in ("date", "week")]
    if not stamps and any(column.sort == "week" for column in timed):
        raise CannotRecompute(f"the log {entry.name!r} counts GPS weeks, which the audit does not")
    column = _preferred(stamps, entry) if stamps else timed[0]
    text = frame[column.place].str.strip()
    given = text[text != ""]
    if _most(given, NUMBER):
        return _numeric(text, column, entry)
    date = next((one for one in timed if one.sort == "date"), None)
    if _most(given, TIME_OF_DAY):
        if date is not None and date is not column:
            days = _days(frame[date.place].str.strip(), sheet)
            utc = column.utc or date.utc
        else:
            days, utc = _nights(text, column, entry, sheet), column.utc
        return _wall(days * DAY_S + _tod(text), entry, sheet, utc=utc)
    if _most(given, ISO):
        return _iso(text, given, column, entry, sheet)
    raise CannotRecompute(f"the audit does not read the times of the log {entry.name!r}")


def _preferred(stamps: list[Column], entry: LogEntry) -> Column:
    """The sheet's, else one since the start for a clock of its own, else one that is dated."""
    stated = [c for c in stamps if c.by_sheet]
    elapsed = [c for c in stamps if c.sort == "elapsed" or (c.unit is not None and not c.utc)]
    others = [c for c in stamps if c not in elapsed]
    return (stated + (elapsed + others if entry.clock == "own" else others + elapsed))[0]


def _most(texts: pd.Series[str], pattern: str) -> bool:
    return bool(texts.size) and float(texts.str.fullmatch(pattern).mean()) > 0.5


def _numeric(text: pd.Series[str], column: Column, entry: LogEntry) -> Times:
    import pandas as pd

    plain = text.str.replace(",", ".", regex=False)
    values = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    values = np.where(np.isfinite(values), values, np.nan)
    if not np.isfinite(values).any():
        raise CannotRecompute(f"no time of the log {entry.name!r} is a number")
    middle = float(np.nanmedian(np.abs(values)))
    if column.unit is not None:
        factor = float(column.unit.factor)
        since_1970 = middle * factor >= SINCE_1970[0][0]
    else:
        scales = [scale for low, high, scale in SINCE_1970 if low <= middle < high]
        factor, since_1970 = (scales or [1.0])[0], bool(scales)
    t_s = values * factor
    if since_1970:
        return _dated(t_s, entry)
    if entry.clock_start_s is not None:
        return Times(t_s=t_s + entry.clock_start_s, on_utc=entry.clock != "own")
    return Times(t_s=t_s, on_utc=False)


def _dated(t_s: Floats, entry: LogEntry) -> Times:
    if entry.clock == "gps":
        t_s = t_s - gps_ahead_s(t_s)
    return Times(t_s=t_s, on_utc=entry.clock != "own")


def _iso(
    text: pd.Series[str], given: pd.Series[str], column: Column, entry: LogEntry, sheet: Sheet
) -> Times:
    import pandas as pd

    plain = text.str.replace(",", ".", regex=False)
    zoned = given.str.fullmatch(ZONED) & ~given.str.fullmatch(r"\d{4}-\d{2}-\d{2}")
    if zoned.any() and not zoned.all():
        raise CannotRecompute(f"some times of the log {entry.name!r} have an offset from UTC")
    parsed = pd.to_datetime(plain, format="ISO8601", errors="coerce", utc=True)
    micros = parsed.dt.as_unit("us").astype("int64").to_numpy()
    t_s = np.where(parsed.isna().to_numpy(), np.nan, micros / 1e6)
    if zoned.all():
        return _dated(t_s, entry)
    return _wall(t_s, entry, sheet, utc=column.utc)


def _wall(wall_s: Floats, entry: LogEntry, sheet: Sheet, *, utc: bool) -> Times:
    """What a wall clock shows, to the microsecond, onto UTC."""
    plain = np.round(wall_s * 1e6) / 1e6
    if not (utc or entry.clock in ("own", "gps")):
        plain = from_wall(plain, sheet.time_zone)
    return _dated(plain, entry)


def _tod(text: pd.Series[str]) -> Floats:
    """Seconds of the day."""
    found = [re.fullmatch(TIME_OF_DAY, cell) for cell in text]
    return np.array(
        [
            np.nan
            if match is None
            else int(match[1]) * 3600
            + int(match[2]) * 60
            + float((match[3] or "0").replace(",", "."))
            for match in found
        ]
    )


def _nights(text: pd.Series[str], column: Column, entry: LogEntry, sheet: Sheet) -> Floats:
    """The day of every time of day: the trial's, and one more from each midnight on."""
    tod = _tod(text)
    good = np.flatnonzero(np.isfinite(tod))
    days = np.full(tod.size, np.nan)
    if not good.size:
        return days
    if sheet.date is None:
        if entry.clock != "own":
            raise CannotRecompute(f"neither the log {entry.name!r} nor the sheet has a date")
        first = 0
    elif column.utc or entry.clock == "gps":
        first = utc_day(float(tod[good[0]]), sheet.date, sheet.time_zone)
    else:
        first = day_number(sheet.date)
    days[good] = first + np.cumsum(np.diff(tod[good], prepend=tod[good[0]]) < -DAY_S / 2)
    return days


def _days(text: pd.Series[str], sheet: Sheet) -> Floats:
    """Days since 1970 of a column of dates."""
    texts = [cell for cell in dict.fromkeys(text) if cell]
    order = _order(texts, sheet)
    known = {cell: _day(cell, order) for cell in texts}
    return np.array([known.get(cell, np.nan) for cell in text])


def _order(texts: list[str], sheet: Sheet) -> str:
    """Whether dates have the year, the day or the month first."""
    parts = [match for text in texts if (match := re.fullmatch(r"(\d+)([-/.])(\d+)\2(\d+)", text))]
    if not parts or len(parts[0][1]) == 4:
        return "year"
    slashed = [(int(m[1]), int(m[3])) for m in parts if m[2] != "."]
    if not slashed or any(one > 12 for one, _ in slashed):
        return "day"
    if any(other > 12 for _, other in slashed):
        return "month"
    day = sheet.date
    if day is not None and (day.day, day.month) in slashed:
        return "day"
    if day is not None and (day.month, day.day) in slashed:
        return "month"
    raise CannotRecompute(f"the date {texts[0]!r} can be read in two ways")


def _day(text: str, order: str) -> float:
    digits = re.fullmatch(r"(\d{4})(\d{2})(\d{2})", text)
    match = digits or re.fullmatch(r"(\d+)[-/.](\d+)[-/.](\d+)", text)
    if match is None:
        return float("nan")
    a, b, c = (int(part) for part in match.groups())
    year, month, day = {"year": (a, b, c), "day": (c, b, a), "month": (c, a, b)}[order]
    try:
        return float(day_number(dt.date(year, month, day)))
    except ValueError:
        return float("nan")
