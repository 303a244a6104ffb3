"""The times of an NMEA 0183 log: which instant each sentence belongs to.

Neighbouring RMC, GGA and GLL of one time, from the talker who gives the most of them, make an
epoch. Any other sentence belongs to the epoch that it stands in; between two, to the one before, or
to the one behind where the log shows its kind before its first time. Several of a kind in one epoch
share the way to the next evenly.
"""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.recorded import GAP_PERIODS, LEAST_GAP_S, Floats
from overlay.audit.recompute.zones import DAY_S, day_number, gps_ahead_s, utc_day

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from overlay.audit.recompute.logs.sentences import Sentence
    from overlay.audit.recompute.sheet import LogEntry, Sheet

POSITIONS = ("RMC", "GGA", "GLL")
FAR_DAYS = 30
"""A log that is dated further from the trial's day was dated by a receiver that did not know."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Epochs:
    """The epochs of a log: their first and last lines, their times on UTC, and who gives them."""

    first: list[int]
    last: list[int]
    t_s: Floats
    talker: str

    @property
    def period_s(self) -> float:
        """Median time from one to the next."""
        return float(np.median(np.diff(self.t_s))) if self.t_s.size > 1 else 0.0

    def times(self, row: Sequence[Sentence], counts: NDArray[np.bool_]) -> Floats:
        """The time of every sentence of one address; NaN for those that do not count."""
        if row[0].kind in POSITIONS and row[0].talker == self.talker:
            own = [self._own(one) for one in row]
            return np.where(counts, own, math.nan)
        leads = row[0].line < self.first[0]
        epochs = [self._around(one.line, leads=leads) for one in row]
        t_s = [math.nan if epoch is None else float(self.t_s[epoch]) for epoch in epochs]
        return self._shared(np.where(counts, t_s, math.nan))

    def _own(self, one: Sentence) -> float:
        if math.isnan(time_of_day(one.field("timestamp"))):
            return math.nan
        return float(self.t_s[bisect_right(self.first, one.line) - 1])

    def _around(self, line: int, *, leads: bool) -> int | None:
        epoch = bisect_right(self.first, line) - 1
        between = epoch < 0 or line > self.last[epoch]
        epoch += between and leads
        return epoch if 0 <= epoch < self.t_s.size else None

    def _shared(self, t_s: Floats) -> Floats:
        """Equal times spread over the way to the next epoch."""
        found = t_s.copy()
        count = Counter(t for t in t_s.tolist() if not math.isnan(t))
        met: Counter[float] = Counter()
        for place, t in enumerate(t_s.tolist()):
            if count[t] > 1:
                found[place] = t + met[t] / count[t] * self._step(t)
                met[t] += 1
        return found

    def _step(self, t_s: float) -> float:
        after = int(np.searchsorted(self.t_s, t_s, side="right"))
        step = float(self.t_s[after]) - t_s if after < self.t_s.size else math.inf
        period = self.period_s
        return period if step > max(GAP_PERIODS * period, LEAST_GAP_S) else step


def time_of_day(text: str) -> float:
    """Seconds of the day from `hhmmss.ss`; NaN where that is no time."""
    try:
        hours, minutes, seconds = int(text[:2]), int(text[2:4]), float(text[4:])
    except ValueError:
        return math.nan
    if not (0 <= hours < 24 and 0 <= minutes < 60 and 0 <= seconds < 61):
        return math.nan
    return hours * 3600 + minutes * 60 + seconds


def epochs_of(by_address: Mapping[str, list[Sentence]], entry: LogEntry, sheet: Sheet) -> Epochs:
    """The epochs of a log.

    Raises
    ------
    CannotRecompute
        Where no position is timed, no date is known, or the times do not go on from each other.
    """
    timed = sorted(
        (one for row in by_address.values() if row[0].kind in POSITIONS for one in row),
        key=lambda one: one.line,
    )
    timed = [one for one in timed if not math.isnan(time_of_day(one.field("timestamp")))]
    if not timed:
        raise CannotRecompute(f"no position in the log {entry.name!r} has a time")
    talker = Counter(one.talker for one in timed).most_common(1)[0][0]
    first, last, tods = _grouped([one for one in timed if one.talker == talker])
    days = _days(by_address, talker, first, tods, entry, sheet)
    t_s = np.array([day * DAY_S + tod for day, tod in zip(days, tods, strict=True)])
    if entry.clock == "gps":
        t_s = t_s - gps_ahead_s(t_s)
    back = np.flatnonzero(np.diff(t_s) <= 0)
    if back.size:
        raise CannotRecompute(
            f"the times of the log {entry.name!r} do not go on from each other at line "
            f"{first[int(back[0]) + 1]}, and the audit does not judge which are right"
        )
    if entry.clock == "own":
        raise CannotRecompute(
            f"the log {entry.name!r} of a receiver is said to have a clock of its own"
        )
    return Epochs(first=first, last=last, t_s=t_s, talker=talker)


def _grouped(timed: list[Sentence]) -> tuple[list[int], list[int], list[float]]:
    """First line, last line and time of day of each row of sentences with one time."""
    first: list[int] = []
    last: list[int] = []
    tods: list[float] = []
    for one in timed:
        tod = time_of_day(one.field("timestamp"))
        if tods and tods[-1] == tod:
            last[-1] = one.line
            continue
        first.append(one.line)
        last.append(one.line)
        tods.append(tod)
    return first, last, tods


def _days(
    by_address: Mapping[str, list[Sentence]],
    talker: str,
    first: list[int],
    tods: list[float],
    entry: LogEntry,
    sheet: Sheet,
) -> list[int]:
    """The day of every epoch, in days since 1970: one midnight after another from the first that
    the log dates, else from the trial's."""
    nights = [0]
    for before, here in pairwise(tods):
        nights.append(nights[-1] + (here < before - DAY_S / 2))
    told = set()
    for kind in ("RMC", "ZDA"):
        for one in by_address.get(talker + kind, []):
            day = _dated(one)
            if day is None:
                continue
            epoch = max(bisect_right(first, one.line) - 1, 0)
            apart = tods[epoch] - time_of_day(one.field("timestamp"))
            told.add(day + round(apart / DAY_S) * -1 - nights[epoch])
    if len(told) > 1:
        raise CannotRecompute(f"the dates in the log {entry.name!r} do not go on from each other")
    if told:
        begin = told.pop()
        if sheet.date is not None and abs(begin - day_number(sheet.date)) > FAR_DAYS:
            raise CannotRecompute(
                f"the log {entry.name!r} is dated far from the trial, and the audit does not judge "
                "which is right"
            )
        return [begin + night for night in nights]
    if sheet.date is None:
        raise CannotRecompute(f"neither the log {entry.name!r} nor the sheet has a date")
    begin = utc_day(tods[0], sheet.date, sheet.time_zone)
    return [begin + night for night in nights]


def _dated(one: Sentence) -> int | None:
    """The day that a sentence states, in days since 1970; None where it states none, or no time
    with it."""
    if math.isnan(time_of_day(one.field("timestamp"))):
        return None
    try:
        if one.kind == "RMC":
            text = one.field("datestamp")
            day, month, year = int(text[:2]), int(text[2:4]), int(text[4:])
        else:
            day, month, year = (int(one.field(name)) for name in ("day", "month", "year"))
        if year < 100:
            year += 1900 if year >= 70 else 2000
        return day_number(dt.date(year, month, day))
    except ValueError:
        return None
