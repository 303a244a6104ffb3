"""GPS weeks and seconds of the week in a table, onto UTC.

A receiver may state the full week since 1980, or what is left of it in ten bits (IS-GPS-200);
which of the weeks 1024 apart is meant is settled by the date of the trial.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.readers.base import plural
from sync.readers.days import day_number
from sync.readers.gps_time import EPOCH_S, WEEK_S, WEEKS, gps_to_utc, week_to_gps
from sync.readers.table_dates import Place
from sync.readers.table_headings import Column
from sync.units import to_si

if TYPE_CHECKING:
    import pandas as pd

LEAST_FULL = 1024
"""A week that is smaller fits in ten bits: it is of 1980 to 1999, or its higher bits are gone."""


def week_times(
    weeks: pd.Series[str] | None, tows: pd.Series[str], column: Column, place: Place
) -> tuple[Floats, list[str]]:
    """The UTC of every row, and what is to be told.

    Parameters
    ----------
    weeks
        The column of weeks; None where there is none, and then the date settles the first.
    tows
        Seconds of the week, or milliseconds where the heading says so.
    column
        That of `tows`.

    Raises
    ------
    LogFormatError
        Where the seconds are too many for a week, or the date would have to settle the week
        and is not known.
    """
    factor = to_si(1.0, column.unit, "time") if column.unit else 1.0
    tow = _numbers(tows) * factor
    with np.errstate(invalid="ignore"):
        most = float(np.nanmax(tow, initial=0.0))
        tow = np.where((tow >= 0) & (tow <= WEEK_S), tow, np.nan)
    if (most > WEEK_S and not np.any(np.isfinite(tow))) or most > 10 * WEEK_S:
        raise place.error(
            f"the seconds of the week go up to {most:,.0f}, and a week has 604,800",
            column.heading,
            "state the unit in the heading, such as 'tow (ms)'",
        )
    told: list[str] = []
    week = _counted(tow, place, column) if weeks is None else _full(_numbers(weeks), place, told)
    return gps_to_utc(week_to_gps(week, tow)), told


def _numbers(texts: pd.Series[str]) -> Floats:
    import pandas as pd  # late: half a second

    plain = texts.str.strip().str.replace(",", ".", regex=False)
    values = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    return np.where(np.isfinite(values), values, np.nan)


def _week_of(place: Place, why: str, heading: str) -> float:
    """The full week of the trial's date."""
    date = place.settings.date
    if date is None:
        raise place.error(why, heading, "state the date of the trial in the trial sheet")
    return float((day_number(date) * 86400.0 - EPOCH_S) // WEEK_S)


def _full(week: Floats, place: Place, told: list[str]) -> Floats:
    """Full weeks of those that are stated."""
    good = np.where((week >= 0) & (week == np.floor(week)), week, np.nan)
    short = good < LEAST_FULL
    if place.settings.date is None and not short.any():
        return good
    heading = "week"
    known = _week_of(place, "a GPS week below 1024 can be one of several", heading)
    turns = np.round((known - good) / WEEKS)
    meets = (turns >= 1) & (np.abs(good + turns * WEEKS - known) <= 1)
    moved = int(np.sum(meets & ~short))
    if moved:
        told.append(
            f"{plural(moved, 'row')} in a week a multiple of 1024 before the trial's put right: "
            "the receiver has lost count of the GPS weeks"
        )
    return np.where(meets, good + turns * WEEKS, good)


def _counted(tow: Floats, place: Place, column: Column) -> Floats:
    """Weeks of a log that has none: the date's, and a new one whenever the seconds begin anew."""
    week = _week_of(place, "the log gives seconds of the week but no week", column.heading)
    out = np.full(tow.size, np.nan)
    good = np.flatnonzero(np.isfinite(tow))
    if not good.size:
        return out
    anew = np.cumsum(np.diff(tow[good], prepend=tow[good[:1]]) < -WEEK_S / 2)
    assert place.settings.date is not None  # `_week_of` has asked for it
    noon = day_number(place.settings.date) * 86400.0 + 43200.0
    first = week_to_gps(np.array([week]), tow[good[:1]])[0]
    nearest = np.round((noon - first) / WEEK_S)
    out[good] = week + nearest + anew
    return out
