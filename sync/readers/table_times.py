"""Times of the rows of a table: ISO 8601, epoch, date and time of day, or seconds since start.

Which of them a column holds is judged by its heading and by what stands in it. Numbers
without a unit are taken as seconds since 1970 (or milliseconds, or microseconds) where they
are as large as such a time is today, and refused otherwise: they could be anything.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.clock import UTC
from sync.readers.base import GPS, OWN, LogSettings, plural
from sync.readers.days import DAY_S, on_days
from sync.readers.gps_time import onto_date
from sync.readers.table_dates import Place, read_days
from sync.readers.table_headings import Column
from sync.readers.table_weeks import week_times
from sync.readers.table_zone import on_utc, seconds
from sync.units import to_si

if TYPE_CHECKING:
    import pandas as pd

EPOCH_UNITS = ((1e8, 1e11, 1.0), (1e11, 1e14, 1e-3), (1e14, 1e17, 1e-6))
"""Least and most number, and seconds to one: 1e8 s after 1970 was in 1973, 1e11 ms too."""

LEAST_RESOLUTION_S = 1e-6
"""Digits of a printed time beyond this are those of the arithmetic, not of a clock."""

_PURE_NUMBER = r"[-+]?\d+(?:[.,]\d*)?(?:[eE][-+]?\d+)?"
_TIME_OF_DAY = r"\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?"
_HAS_ZONE = r".*(?:[zZ]|[+-]\d{2}:?\d{2}|[+-]\d{2})"
_ISO = r"\d{4}-?\d{2}-?\d{2}[T ].*"
_DECIMALS = re.compile(r"[.,](\d+)(?=\s*(?:[zZ]|[+-]\d{2}:?\d{0,2})?\s*$)")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Times:
    """The time of every row, NaN where it has none; the clock; the step of its last digit; the
    columns that it comes from; and what a person should be told."""

    t_s: Floats
    clock: str
    step_s: float
    used: tuple[str, ...]
    told: tuple[str, ...] = ()


def read_times(frame: pd.DataFrame, columns: tuple[Column, ...], place: Place) -> Times:
    """The time of every row.

    Raises
    ------
    LogFormatError
        Where there is no column of time, or what stands in it can be read in several ways.
    """
    found = [column for column in columns if column.role == "time"]
    week = next((column for column in found if column.sort == "week"), None)
    tow = next((column for column in found if column.sort == "tow"), None)
    found = [column for column in found if column.sort not in ("week", "tow")]
    if tow is not None and (week is not None or not found):
        return _of_week(frame, week, tow, place)
    date = next((column for column in found if column.sort == "date"), None)
    stamps = [column for column in found if column.sort != "date"]
    if not stamps and date is None:
        known = ", ".join(repr(column.heading) for column in columns[:8])
        raise place.error(
            f"no column of time among {known}",
            None,
            "name one under columns in the trial sheet, such as 'time (s)'",
        )
    column = _preferred(stamps, place.settings) if stamps else date
    assert column is not None  # one of the two is there
    text = frame[column.place].str.strip()
    given = text[text != ""]
    if given.str.fullmatch(_PURE_NUMBER).mean() > 0.5:
        return _numeric(text, column, place)
    if date is not None and date is not column and _share(given, _TIME_OF_DAY) > 0.5:
        return _date_and_time(frame[date.place].str.strip(), text, date, column, place)
    if _share(given, _TIME_OF_DAY) > 0.5:
        return _time_of_day(text, column, place)
    if _share(given, _ISO) > 0.5:
        return _iso(text, column, place)
    shown = given.iloc[0] if given.size else ""
    raise place.error(
        f"the times are in a form that is not read (the first is {shown!r})",
        column.heading,
        "write them as ISO 8601, such as 2026-06-11T09:30:00.5Z, or in seconds",
    )


def _of_week(frame: pd.DataFrame, week: Column | None, tow: Column, place: Place) -> Times:
    """GPS weeks and the seconds in them: on UTC, whatever clock the sheet states."""
    weeks = None if week is None else frame[week.place]
    t, told = week_times(weeks, frame[tow.place], tow, place)
    factor = to_si(1.0, tow.unit, "time") if tow.unit else 1.0
    return Times(
        t_s=t,
        clock=place.settings.clock_name(place.name),
        step_s=max(_step(frame[tow.place]) * factor, LEAST_RESOLUTION_S),
        used=(tow.heading,) if week is None else (week.heading, tow.heading),
        told=tuple(told),
    )


def _preferred(stamps: list[Column], settings: LogSettings) -> Column:
    """The column to take of several: the sheet's, else one since start on an own clock."""
    mapped = [c for c in stamps if c.heading in settings.columns]
    elapsed = [c for c in stamps if c.sort == "elapsed" or (c.unit is not None and not c.utc)]
    absolute = [c for c in stamps if c not in elapsed]
    order = elapsed + absolute if settings.clock == OWN else absolute + elapsed
    return (mapped + order)[0]


def _share(texts: pd.Series[str], pattern: str) -> float:
    return float(texts.str.fullmatch(pattern).mean()) if texts.size else 0.0


def _numeric(text: pd.Series[str], column: Column, place: Place) -> Times:
    import pandas as pd  # late: half a second

    plain = text.str.replace(",", ".", regex=False)
    numbers = pd.to_numeric(plain, errors="coerce")
    values = numbers.to_numpy(dtype=np.float64, na_value=np.nan, copy=True)
    values[~np.isfinite(values)] = np.nan
    if not np.isfinite(values).any():
        raise place.error("the column of time holds no number", column.heading, "")
    middle = float(np.nanmedian(np.abs(values)))
    if column.unit is not None:
        factor = to_si(1.0, column.unit, "time")
        since_1970 = middle * factor >= EPOCH_UNITS[0][0]
    else:
        scale = next((s for low, high, s in EPOCH_UNITS if low <= middle < high), None)
        since_1970 = scale is not None
        factor = 1.0 if scale is None else scale
        if not since_1970 and column.sort not in ("elapsed", "epoch"):
            raise place.error(
                "the column of time holds plain numbers without a unit",
                column.heading,
                "state it in the heading or under columns in the trial sheet, such as 'time (s)'",
            )
    return _on_clock(values * factor, since_1970, _step(text) * factor, column, place)


def _on_clock(t: Floats, since_1970: bool, step: float, column: Column, place: Place) -> Times:
    settings = place.settings
    told: tuple[str, ...] = ()
    if since_1970:
        t, told = _on_date(settings.to_utc(t), place)
    elif settings.clock_start is not None:
        t, since_1970 = t + settings.clock_start.timestamp(), True
    clock = settings.clock_name(place.name, implied=UTC if since_1970 else OWN)
    if clock == UTC and not since_1970:
        raise place.error(
            "the log counts from its own start and cannot be on UTC",
            column.heading,
            "leave its clock 'own', or state the instant of its start",
        )
    step = max(step, LEAST_RESOLUTION_S)
    return Times(t_s=t, clock=clock, step_s=step, used=(column.heading,), told=told)


def _on_date(t: Floats, place: Place) -> tuple[Floats, tuple[str, ...]]:
    """Times of a receiver whose date has rolled over put right, and a word on that."""
    t, moved = onto_date(t, place.settings.date)
    if not moved:
        return t, ()
    word = (
        f"{plural(moved, 'row')} dated a multiple of 1024 weeks before the trial put right: the "
        "receiver has lost count of the GPS weeks"
    )
    return t, (word,)


def _step(text: pd.Series[str], sample: int = 5000) -> float:
    """What the last printed digit of the times is worth, in their own unit."""
    found = (_DECIMALS.search(cell) for cell in text.iloc[:sample])
    return float(10.0 ** -max((len(match.group(1)) for match in found if match), default=0))


def _iso(text: pd.Series[str], column: Column, place: Place) -> Times:
    import pandas as pd  # late: half a second

    given = text[text != ""]
    aware = given.str.fullmatch(_HAS_ZONE)
    dashes_only = given.str.fullmatch(r"\d{4}-\d{2}-\d{2}")
    aware &= ~dashes_only
    if aware.any() and not aware.all():
        raise place.error(
            "some times have an offset from UTC and some have none",
            column.heading,
            "write all of them one way",
        )
    plain = text.str.replace(",", ".", regex=False)
    if aware.all():
        t = seconds(pd.to_datetime(plain, format="ISO8601", errors="coerce", utc=True))
    else:
        wall = seconds(pd.to_datetime(plain, format="ISO8601", errors="coerce"))
        t = on_utc(wall, column, place)
    return _on_clock(t, True, _step(text), column, place)


def _tod(text: pd.Series[str]) -> Floats:
    """Seconds of the day from h:mm:ss.s, NaN where that is none."""
    import pandas as pd  # late: half a second

    parts = text.str.replace(",", ".", regex=False).str.extract(
        r"^(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d+)?))?$"
    )
    h, m, s = (
        pd.to_numeric(parts[i]).to_numpy(dtype=np.float64, na_value=np.nan) for i in range(3)
    )
    s = np.where(np.isnan(s), 0.0, s)
    tod = h * 3600.0 + m * 60.0 + s
    with np.errstate(invalid="ignore"):
        return np.where((h < 24) & (m < 60) & (s < 61), tod, np.nan)


def _time_of_day(text: pd.Series[str], column: Column, place: Place) -> Times:
    """Times of day without a date: the sheet's date, and a new day at every midnight."""
    settings = place.settings
    tod = _tod(text)
    good = np.isfinite(tod)
    day = np.full(int(good.sum()), np.nan)
    if settings.clock == OWN and settings.date is None:
        day[:1] = 0.0  # any day will do on a clock of its own
    days = on_days(
        tod[good],
        day,
        date=settings.date,
        time_zone=settings.time_zone if column.utc or settings.clock == GPS else None,
        path=place.path,
    )
    t = np.full(tod.size, np.nan)
    t[good] = days * DAY_S + tod[good]
    return _local_seconds(t, _step(text), column, place)


def _date_and_time(
    dates: pd.Series[str], times: pd.Series[str], date: Column, column: Column, place: Place
) -> Times:
    """A column of dates beside a column of times of day."""
    days = read_days(dates, date, place)
    t = days * DAY_S + _tod(times)
    utc = column.utc or date.utc
    both = Column(place=column.place, heading=column.heading, role="time", utc=utc)
    found = _local_seconds(t, _step(times), both, place)
    return replace(found, used=(date.heading, column.heading))


def _local_seconds(t: Floats, step: float, column: Column, place: Place) -> Times:
    """Seconds since 1970 as a wall clock shows them, onto UTC."""
    wall = np.round(t * 1e6) / 1e6
    return _on_clock(on_utc(wall, column, place), True, step, column, place)
