"""Columns of dates in a table: whole days, in the forms that people write them."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.errors import LogFormatError
from sync.readers.base import LogSettings
from sync.readers.days import day_number
from sync.readers.table_headings import Column

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a table comes from and what is known about it, for times and for errors."""

    path: Path
    name: str
    line: int
    settings: LogSettings

    def error(self, what: str, key: str | None, advice: str) -> LogFormatError:
        """An error about a column of this table."""
        return LogFormatError(what, path=self.path, line=self.line, key=key, advice=advice)


def read_days(texts: pd.Series[str], column: Column, place: Place) -> Floats:
    """Days since 1970; a date with its year last must say or imply which part is the day."""
    known: dict[str, float] = {}
    day_first = _day_first([text for text in dict.fromkeys(texts) if text], column, place)
    for text in dict.fromkeys(texts):
        known[text] = _day(text, day_first)
    return np.array([known[text] for text in texts], dtype=np.float64)


def _parts(text: str) -> tuple[int, int, int] | None:
    match = re.fullmatch(r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})", text)
    return None if match is None else (int(match[1]), int(match[3]), int(match[4]))


def _day_first(texts: list[str], column: Column, place: Place) -> bool:
    """Whether dates with the year last put the day first.

    With dots they do; otherwise a part above 12, or the date of the trial, must say.
    """
    slashed = [p for text in texts if "." not in text and (p := _parts(text)) and p[2] > 31]
    if not slashed:
        return True
    if any(first > 12 for first, _, _ in slashed):
        return True
    if any(second > 12 for _, second, _ in slashed):
        return False
    date = place.settings.date
    if date is not None:
        if any(p == (date.day, date.month, date.year) for p in slashed):
            return True
        if any(p == (date.month, date.day, date.year) for p in slashed):
            return False
    raise place.error(
        f"the date {texts[0]!r} can be read with the day or with the month first",
        column.heading,
        "state the date of the trial in the trial sheet",
    )


def _day(text: str, day_first: bool) -> float:
    parts = _parts(text)
    if parts is None:
        match = re.fullmatch(r"(\d{4})(\d{2})(\d{2})", text)
        if match is None:
            return float("nan")
        parts = (int(match[1]), int(match[2]), int(match[3]))
    a, b, c = parts
    year, month, day = (a, b, c) if a > 31 else (c, b, a) if day_first else (c, a, b)
    try:
        return float(day_number(dt.date(year, month, day)))
    except (ValueError, OverflowError):
        return float("nan")
