"""Days, zones and GPS time, by the standard library."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.recorded import Floats

DAY_S = 86_400

GPS_AHEAD_S = 18
GPS_AHEAD_SINCE_S = dt.datetime(2017, 1, 1, tzinfo=dt.UTC).timestamp()
"""GPS time is ahead of UTC by so much since then (IERS Bulletin C); the audit reads no older."""

QUARTER_S = 900
"""Zones change on whole quarters of an hour (IANA)."""


def day_number(day: dt.date) -> int:
    """Days since 1970-01-01."""
    return (day - dt.date(1970, 1, 1)).days


def zone(name: str) -> ZoneInfo:
    """A time zone by its IANA name."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise CannotRecompute(f"the time zone {name!r} is not known here") from error


def gps_ahead_s(t_s: Floats) -> int:
    """By how much dates in GPS time are ahead of UTC."""
    known = t_s[np.isfinite(t_s)]
    if known.size and float(known.min()) < GPS_AHEAD_SINCE_S + GPS_AHEAD_S:
        raise CannotRecompute("the audit reads no GPS time from before 2017")
    return GPS_AHEAD_S


def utc_day(tod_s: float, day: dt.date, time_zone: str | None) -> int:
    """The day of UTC on which a time of day of UTC falls on a day of a zone."""
    if time_zone is None:
        return day_number(day)
    here = zone(time_zone)
    for shift in (0, -1, 1):
        start = dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC) + dt.timedelta(days=shift)
        if (start + dt.timedelta(seconds=tod_s)).astimezone(here).date() == day:
            return day_number(start.date())
    raise CannotRecompute(f"no such time of day falls on {day} in {time_zone}")


def from_wall(wall_s: Floats, time_zone: str | None) -> Floats:
    """UTC of what a wall clock shows; refused where clocks were changed meanwhile.

    Raises
    ------
    CannotRecompute
        Where no zone is known, or one of the times is one that came twice or never.
    """
    if time_zone is None:
        raise CannotRecompute("times without an offset from UTC, and no time zone in the sheet")
    here = zone(time_zone)
    offsets = {}
    for quarter in np.unique(np.floor(wall_s[np.isfinite(wall_s)] / QUARTER_S)).tolist():
        wall = dt.datetime(1970, 1, 1) + dt.timedelta(seconds=quarter * QUARTER_S)  # noqa: DTZ001
        first, second = (wall.replace(tzinfo=here, fold=fold).utcoffset() for fold in (0, 1))
        if first is None or first != second:
            raise CannotRecompute(f"clocks were changed in {time_zone} during the log")
        offsets[quarter] = first.total_seconds()
    shifts = [offsets.get(quarter, np.nan) for quarter in np.floor(wall_s / QUARTER_S).tolist()]
    return wall_s - np.array(shifts, dtype=np.float64)
