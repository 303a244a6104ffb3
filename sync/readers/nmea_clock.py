"""What can be wrong with the time that a receiver states, and what is made of it.

A receiver that was off for long starts without the leap seconds and runs ahead of UTC by them,
or by those that were added since its firmware was made, until it has had the almanac, 12.5
minutes at most (IS-GPS-200: 25 frames of 30 s); then its time steps back by whole seconds while
its epochs keep their beat. One whose ten bits of the week have turned over is 1024 weeks
behind. One that has no idea of the date yet states that of its firmware.

The first two are put right, the last is left out, and all are counted and told.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.readers.base import LogSettings, plural
from sync.readers.days import DAY_S, day_number
from sync.readers.gps_time import ahead_s, onto_date
from sync.readers.nmea_bulk import Places

LONGEST_WAIT_S = 1800.0
"""The almanac is in after 12.5 minutes of good reception; twice that and some for bad."""

STALE = (1, 2, 3)
"""Leap seconds that firmware may lack: those of the last years before it is no longer sold
(own choice; from 2006 to 2017 there were five in eleven years)."""

BEAT = 5
"""So many steps on either side of the one back must be as long as all others."""

STEP_TOLERANCE_S = 0.005
"""Receivers print hundredths or thousandths of a second."""

OTHER_DAYS = 30.0
"""A trial lasts a day, and its log may hold some more; dates further off are no dates."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Righted:
    """Times put right: NaN where one cannot be used; what was counted and is to be told."""

    t_s: Floats
    counts: Counter[str]
    told: tuple[str, ...]


def put_right(t_s: Floats, line: Places, *, dated: bool, settings: LogSettings) -> Righted:
    """Put the times of a receiver right where it can be known how.

    Parameters
    ----------
    t_s : [shape=(n,), s since 1970]
        As stated, in the order of the log.
    line : [shape=(n,)]
        Where each stands in the log, for the words.
    dated
        Whether the log knows its date; else the sheet's was taken, which is right.
    """
    counts: Counter[str] = Counter()
    told: list[str] = []
    t = settings.to_utc(t_s)
    if dated:
        t, moved = onto_date(t, settings.date)
        if moved:
            counts["weeks_put_right"] = moved
            told.append(
                f"{plural(moved, 'epoch')} dated a multiple of 1024 weeks before the trial put "
                "right: the receiver has lost count of the GPS weeks"
            )
        astray = _astray(t, settings)
        if astray.any():
            counts["other_dates"] = int(astray.sum())
            told.append(
                f"{plural(int(astray.sum()), 'epoch')} with a date far from the trial's left out, "
                f"first at line {int(line[np.argmax(astray)])}: the receiver did not know it yet"
            )
            t = np.where(astray, np.nan, t)
    place, ahead = _step_back(t)
    if ahead:
        t = t.copy()
        t[:place] -= ahead
        counts["leap_seconds_put_right"] = int(np.sum(np.isfinite(t[:place])))
        told.append(
            f"the first {plural(counts['leap_seconds_put_right'], 'epoch')} put back by "
            f"{ahead} s, which the time steps back at line {int(line[place])}: until then the "
            "receiver had not had its leap seconds"
        )
    return Righted(t_s=t, counts=counts, told=tuple(told))


def _astray(t_s: Floats, settings: LogSettings) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Which times lie far from the trial's day, in a log of which others lie on it."""
    if settings.date is None:
        return np.zeros(t_s.size, dtype=bool)
    off = np.abs(t_s / DAY_S - day_number(settings.date) - 0.5)
    if not np.any(off <= 1.5):
        return np.zeros(t_s.size, dtype=bool)
    return np.asarray(off > OTHER_DAYS)


def _step_back(t_s: Floats) -> tuple[int, int]:
    """Where the time steps back by leap seconds, and by how many; nought for nowhere.

    The step less the beat of the epochs must be all the leap seconds that there were, or a
    few, in whole seconds; and there must be no other step back in the stretch looked at.
    """
    known = np.flatnonzero(np.isfinite(t_s))
    t = t_s[known]
    if t.size < 2 * BEAT + 2:
        return 0, 0
    step = np.diff(t)
    period = float(np.median(step))
    back = np.flatnonzero(step < 0)
    if not period > 0 or not back.size:
        return 0, 0
    at = int(back[0])
    if t[at] - t[0] > LONGEST_WAIT_S or (back.size > 1 and back[1] <= at + BEAT):
        return 0, 0
    around = np.r_[step[max(at - BEAT, 0) : at], step[at + 1 : at + 1 + BEAT]]
    if around.size < BEAT + 1 or np.any(np.abs(around - period) > STEP_TOLERANCE_S):
        return 0, 0
    for ahead in (int(ahead_s(float(t[at + 1]))), *STALE):
        beats = (float(step[at]) + ahead) / period
        most = 2 if ahead > max(STALE) else 1
        whole = round(beats)
        if 1 <= whole <= most and abs(beats - whole) * period <= STEP_TOLERANCE_S:
            return int(known[at + 1]), ahead
    return 0, 0
