"""When a sentence was true: epochs of an NMEA 0183 log, and what belongs to them.

RMC, GGA and GLL carry the time of a position. Neighbouring ones of equal time make an epoch.
ZDA gives the time of the receiver's clock, which in a real log was seen to lag the position
by a second in every fourth epoch: it lends its date, and its time only where no position is
logged. One talker alone is heard, the one that gives the most times, so that two receivers
in one log are not mixed up.

A sentence without a time of its own belongs to the epoch that it stands in. Between the last
time of one epoch and the first of the next the log itself must say which one is meant: the
first line of the log is taken for the start of a cycle, so a kind of sentence that the log
shows before its first time stands before the time of its epoch throughout ("leads"), and any
other behind it ("follows"). Common practice, no published source: NMEA 0183 has no frame
around a cycle. Several sentences of one kind in one epoch share the time to the next evenly.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.channel import GAP_PERIODS, LEAST_GAP_S
from sync.errors import EmptyLogError
from sync.readers.base import LogSettings
from sync.readers.days import DAY_S, on_days
from sync.readers.nmea_clock import Righted, put_right
from sync.readers.nmea_fields import dates, time_of_day
from sync.readers.nmea_lines import Sentences
from sync.readers.order import Order, increasing

if TYPE_CHECKING:
    from numpy.typing import NDArray

TIME_PLACE: Mapping[str, int] = {"RMC": 0, "GGA": 0, "GLL": 4, "ZDA": 0}
"""Which field of a sentence holds the time of day."""

CLOCK_KIND = "ZDA"
"""The sentence whose time is that of the clock and not of a position."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Epochs:
    """The epochs of a log in its order, with those whose time cannot be used marked NaN.

    Parameters
    ----------
    first, last : [shape=(n,), lines]
        First and last line of the log that gives the epoch's time.
    t_s : [shape=(n,), s, UTC]
        Time; NaN where the epoch was left out.
    talker
        Who gives the times.
    timed
        By address, which of its sentences carry a time that can be read.
    order
        What was kept and what was left out.
    dated
        Whether the log knows its date.
    righted
        What was wrong with the receiver's clock, and put right.
    """

    first: NDArray[np.int64]
    last: NDArray[np.int64]
    t_s: Floats
    talker: str
    timed: Mapping[str, NDArray[np.bool_]]
    order: Order
    dated: bool
    righted: Righted

    @property
    def period_s(self) -> float:
        """Median time from one epoch to the next; NaN for fewer than two."""
        kept = np.sort(self.t_s[np.isfinite(self.t_s)])
        return float(np.median(np.diff(kept))) if kept.size > 1 else float("nan")

    def leads(self, of: Sentences) -> bool:
        """Whether sentences of an address stand before the time of their epoch."""
        return bool(of.order[0] < self.first[0])

    def times(self, of: Sentences, has_value: NDArray[np.bool_]) -> Floats:
        """The time of every sentence of an address, NaN where it has none.

        Parameters
        ----------
        of
            The sentences.
        has_value : [shape=(n,)]
            Which of them hold the quantity that is wanted; the others get no time.
        """
        place = of.order
        epoch = np.searchsorted(self.first, place, side="right") - 1
        if of.kind in TIME_PLACE and of.talker == self.talker and of.kind != CLOCK_KIND:
            t = np.where(epoch >= 0, self.t_s[np.maximum(epoch, 0)], np.nan)
            return np.where(self.timed[of.address] & has_value, t, np.nan)
        between = (epoch < 0) | (place > self.last[np.maximum(epoch, 0)])
        if self.leads(of):
            epoch = epoch + between
        inside = (epoch >= 0) & (epoch < self.t_s.size)
        t = np.where(inside, self.t_s[np.clip(epoch, 0, self.t_s.size - 1)], np.nan)
        return self._spread(np.where(has_value, t, np.nan))

    def _spread(self, t_s: Floats) -> Floats:
        """Equal times made to share the way to the next epoch evenly."""
        order = np.flatnonzero(np.isfinite(t_s))
        t = t_s[order]
        if t.size < 2 or not np.any(np.diff(t) == 0):
            return t_s
        times, group, size = np.unique(t, return_inverse=True, return_counts=True)
        by_group = np.argsort(group, kind="stable")
        rank = np.empty(t.size)
        rank[by_group] = np.arange(t.size) - np.repeat(np.cumsum(size) - size, size)
        kept = np.sort(self.t_s[np.isfinite(self.t_s)])
        after = np.searchsorted(kept, times, side="right")
        step = np.append(kept, np.inf)[after] - times
        period = self.period_s if kept.size > 1 else 0.0
        step = np.where(step > max(GAP_PERIODS * period, LEAST_GAP_S), period, step)
        out = t_s.copy()
        out[order] = t + rank / size[group] * step[group]
        return out


def find_epochs(by_address: Mapping[str, Sentences], settings: LogSettings, path: Path) -> Epochs:
    """Find the epochs of a log.

    Raises
    ------
    EmptyLogError
        Where no sentence carries a time.
    LogFormatError
        Where neither the log nor the settings know a date, or time runs wild.
    """
    timed = [s for s in by_address.values() if s.kind in TIME_PLACE]
    times = {s.address: time_of_day(s.column(TIME_PLACE[s.kind])) for s in timed}
    given = {s.address: int(np.sum(np.isfinite(times[s.address]))) for s in timed}
    bearers = [s for s in timed if s.kind != CLOCK_KIND and given[s.address]]
    bearers = bearers or [s for s in timed if given[s.address]]
    if not bearers:
        raise EmptyLogError(
            "no sentence of the log carries a time",
            path=path,
            advice="log RMC, GGA, GLL or ZDA along with the others",
        )
    most: Counter[str] = Counter()
    for s in bearers:
        most[s.talker] += given[s.address]
    talker = most.most_common(1)[0][0]
    mine = [s for s in bearers if s.talker == talker]
    line = np.concatenate([s.order for s in mine])
    tod = np.concatenate([times[s.address] for s in mine])
    use = np.flatnonzero(np.isfinite(tod))
    use = use[np.argsort(line[use], kind="stable")]
    line, tod = line[use], tod[use]
    starts = np.flatnonzero(np.diff(tod, prepend=np.nan) != 0)
    first, last = line[starts], line[np.append(starts[1:], line.size) - 1]
    day = _epoch_days([s for s in timed if s.talker == talker], times, first, tod[starts])
    t = DAY_S * on_days(
        tod[starts], day, date=settings.date, time_zone=settings.time_zone, path=path
    )
    dated = bool(np.isfinite(day).any())
    righted = put_right(t + tod[starts], first, dated=dated, settings=settings)
    t = righted.t_s
    order = increasing(t)
    kept = np.full(t.size, np.nan)
    kept[order.take] = t[order.take]
    return Epochs(
        first=first,
        last=last,
        t_s=kept,
        talker=talker,
        timed={address: np.isfinite(found) for address, found in times.items()},
        order=order,
        dated=dated,
        righted=righted,
    )


def _epoch_days(
    timed: list[Sentences], times: Mapping[str, Floats], first: NDArray[np.int64], tod_s: Floats
) -> Floats:
    """The date of every epoch that a dated sentence stands in or just before, else NaN.

    The sentence's own time says on which side of midnight its date is meant.
    """
    day = np.full(first.size, np.nan)
    for s in timed:
        dates_of = _dates(s)
        rows = np.flatnonzero(np.isfinite(dates_of) & np.isfinite(times[s.address]))
        epoch = np.searchsorted(first, s.order[rows], side="right") - 1
        epoch = np.maximum(epoch, 0)
        ahead = tod_s[epoch] - times[s.address][rows]
        shift = (ahead < -DAY_S / 2).astype(float) - (ahead > DAY_S / 2)
        found = np.full(first.size, np.nan)
        found[epoch[::-1]] = (dates_of[rows] + shift)[::-1]
        day = np.where(np.isnan(day), found, day)
    return day


def _dates(of: Sentences) -> Floats:
    """The date that each sentence gives, in days since 1970."""
    if of.kind == "RMC":
        texts = of.column(8)
        return dates([(x[0:2], x[2:4], x[4:]) for x in texts])
    if of.kind == "ZDA":
        return dates(list(zip(of.column(1), of.column(2), of.column(3), strict=True)))
    return np.full(len(of), np.nan)
