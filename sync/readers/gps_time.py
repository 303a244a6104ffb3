"""GPS time: its leap seconds, its weeks, and what becomes of them on UTC.

GPS time was equal to UTC at 1980-01-06T00:00:00 and has had no leap second since (IS-GPS-200),
so it is ahead of UTC by those that UTC has had. A receiver counts weeks in ten bits, and so a
week can be meant that lies 1024 weeks, or a multiple of that, from the one that is stated.
"""

from __future__ import annotations

import datetime as dt

import numpy as np

from sync.arrays import Floats

EPOCH_S = 315_964_800.0
"""1980-01-06T00:00:00Z in seconds since 1970: nought of GPS time."""

WEEK_S = 604_800.0
WEEKS = 1024
"""Weeks that ten bits can count."""

ROLL_OVER_DAYS = 7 * WEEKS

LEAPS: tuple[tuple[str, int], ...] = (
    ("1981-07-01", 1),
    ("1982-07-01", 2),
    ("1983-07-01", 3),
    ("1985-07-01", 4),
    ("1988-01-01", 5),
    ("1990-01-01", 6),
    ("1991-01-01", 7),
    ("1992-07-01", 8),
    ("1993-07-01", 9),
    ("1994-07-01", 10),
    ("1996-01-01", 11),
    ("1997-07-01", 12),
    ("1999-01-01", 13),
    ("2006-01-01", 14),
    ("2009-01-01", 15),
    ("2012-07-01", 16),
    ("2015-07-01", 17),
    ("2017-01-01", 18),
)
"""From which day in UTC on GPS time is ahead by how many seconds (IERS Bulletin C, as IANA's
list `leapseconds` has it; none is announced after the last)."""

_FROM_S = np.array([dt.datetime.fromisoformat(f"{day}T00:00:00Z").timestamp() for day, _ in LEAPS])
_AHEAD_S = np.array([0, *(count for _, count in LEAPS)], dtype=np.float64)


def ahead_s(t_utc_s: Floats | float) -> Floats:
    """By how many seconds GPS time is ahead of UTC at times in UTC [s since 1970]."""
    return np.asarray(_AHEAD_S[np.searchsorted(_FROM_S, t_utc_s, side="right")])


def gps_to_utc(t_gps_s: Floats) -> Floats:
    """UTC of times that a clock on GPS time shows.

    ::

        t_utc = t_gps - (leap seconds that UTC has had since 1980)

    Parameters
    ----------
    t_gps_s : [shape=(n,), s]
        Seconds since 1970 as a calendar on GPS time counts them.
    """
    place = np.searchsorted(_FROM_S + _AHEAD_S[1:], t_gps_s, side="right")
    return np.asarray(t_gps_s - _AHEAD_S[place])


def week_to_gps(week: Floats, tow_s: Floats) -> Floats:
    """Seconds since 1970 as GPS time counts them, of full weeks and seconds in them."""
    return np.asarray(EPOCH_S + week * WEEK_S + tow_s)


def rolled_over(days: Floats, date: dt.date) -> Floats:
    """How many times 1024 weeks to add to days so that they come to a date.

    Parameters
    ----------
    days : [shape=(n,), days since 1970]
        As a receiver states them.
    date
        The day on which they must lie, give or take one for the time zone.

    Returns
    -------
    turns : [shape=(n,)]
        Nought where no whole number of turns, of one or more, comes to the date.
    """
    wanted = (date - dt.date(1970, 1, 1)).days
    turns = np.round((wanted - days) / ROLL_OVER_DAYS)
    meets = np.abs(days + turns * ROLL_OVER_DAYS - wanted) <= 1.0
    return np.where(meets & (turns >= 1), turns, 0.0)


def onto_date(t_s: Floats, date: dt.date | None) -> tuple[Floats, int]:
    """Times with those put right that lie some 1024 weeks before a date.

    Parameters
    ----------
    t_s : [shape=(n,), s since 1970]
        NaN where there is none.
    date
        The day of the trial; None where it is not known, and then no time is moved.

    Returns
    -------
    t_s : [shape=(n,), s since 1970]
    moved
        How many were.
    """
    if date is None:
        return t_s, 0
    turns = rolled_over(np.where(np.isfinite(t_s), t_s // 86400.0, np.nan), date)
    return t_s + turns * WEEKS * WEEK_S, int(np.sum(turns > 0))
