"""Times of day onto days: logs that know the hour but not always the date."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from sync.arrays import Floats
from sync.errors import LogFormatError

DAY_S = 86400.0
EPOCH_DAY = dt.date(1970, 1, 1).toordinal()

NEXT_DAY_S = 43200.0
"""A time of day that falls by more than half a day belongs to the next day."""

MIDNIGHT_JITTER_S = 60.0
"""A time of day that rises by a day less this is a step back across midnight. More would
take a log that paused overnight for one whose clock went back."""


def zone(name: str, path: Path | None = None) -> ZoneInfo:
    """A time zone by its IANA name.

    Raises
    ------
    LogFormatError
        Where there is no such zone.
    """
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise LogFormatError(
            f"{name!r} is not a time zone",
            path=path,
            key="time_zone",
            advice="write an IANA name such as Europe/Helsinki",
        ) from error


def day_number(date: dt.date) -> int:
    """Days since 1970-01-01."""
    return date.toordinal() - EPOCH_DAY


def rolled(tod_s: Floats) -> Floats:
    """How many midnights lie between the first time of day and each.

    Parameters
    ----------
    tod_s : [shape=(n,), s]
        Finite times of day, in the order of the log.

    Returns
    -------
    nights : [shape=(n,)]
    """
    step = np.diff(tod_s, prepend=tod_s[:1])
    forward = np.cumsum(step < -NEXT_DAY_S)
    back = np.cumsum(step > DAY_S - MIDNIGHT_JITTER_S)
    return (forward - back).astype(np.float64)


def on_days(
    tod_s: Floats,
    day: Floats,
    *,
    date: dt.date | None,
    time_zone: str | None = None,
    path: Path | None = None,
) -> Floats:
    """The day of every time of day, from the dates that the log has, or the one that is given.

    Parameters
    ----------
    tod_s : [shape=(n,), s]
        Finite times of day in UTC.
    day : [shape=(n,), days since 1970]
        The date that the log gives with each, NaN where it gives none. A dated time carries
        its date to the undated ones after it, and the first one also to those before.
    date, time_zone
        The day on which the log begins, for one that has no date at all. In a zone, since
        the crew's day and the day in UTC differ around midnight.

    Returns
    -------
    days : [shape=(n,), days since 1970]

    Raises
    ------
    LogFormatError
        Where neither the log nor the caller knows a date.
    """
    nights = rolled(tod_s)
    base = day - nights
    known = np.flatnonzero(np.isfinite(base))
    if known.size:
        latest = np.searchsorted(known, np.arange(base.size), side="right") - 1
        return nights + base[known[np.maximum(latest, 0)]]
    if date is None:
        raise LogFormatError(
            "the log gives times of day but no date",
            path=path,
            advice="state the date of the trial in the trial sheet",
        )
    if tod_s.size == 0:
        return nights
    return nights + _utc_day(float(tod_s[0]), date, time_zone, path)


def _utc_day(tod_s: float, date: dt.date, time_zone: str | None, path: Path | None) -> int:
    """The day in UTC on which a time of day in UTC falls on a date of the zone."""
    if time_zone is None:
        return day_number(date)
    here = zone(time_zone, path)
    for shift in (0, -1, 1):
        day = dt.datetime(date.year, date.month, date.day, tzinfo=dt.UTC) + dt.timedelta(days=shift)
        if (day + dt.timedelta(seconds=tod_s)).astimezone(here).date() == date:
            return day_number(day.date())
    raise LogFormatError(
        f"no time of day in UTC falls on {date} in {time_zone}", path=path, key="date"
    )
