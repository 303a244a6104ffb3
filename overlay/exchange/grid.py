"""The frames of a sequence, and the time of day on each of them.

A sequence has one constant rate and counts its frames from the one that `first` labels. That
label is the time of day; from there on frames are counted, so that at rates of 1000/1001 the
labels leave the time of day again: by 86.4 ms a day where they drop, by 3.6 s an hour where
there is no dropping (`sync.timecode.behind_s`). Where a frame *is* in UTC is always exact.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from sync.clock import TIME_TOLERANCE_S
from sync.timecode import TimecodeError, TimecodeRate, frames_of, label_of, rate_near, time_of_day

USUAL_RATE = Fraction(30)
"""The rate of a sequence whose recordings have none that a timecode counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The frames of one sequence.

    Parameters
    ----------
    rate
        How many a second, exactly, and how they are labelled.
    zero_utc_s
        When the first frame begins, in UTC, exactly.
    first
        The number of the first frame, counted from midnight as labels count.
    time_zone
        Whose time of day the labels are.
    """

    rate: TimecodeRate
    zero_utc_s: Fraction
    first: int
    time_zone: str

    def place_of(self, t_utc_s: float | Fraction) -> Fraction:
        """How many frames after the first an instant lies, exactly."""
        return (Fraction(t_utc_s) - self.zero_utc_s) * self.rate.rate_hz

    def frame_at(self, t_utc_s: float | Fraction) -> int:
        """The frame that is on the screen at an instant."""
        return math.floor(self.place_of(Fraction(t_utc_s) + Fraction(TIME_TOLERANCE_S)))

    def nearest(self, t_utc_s: float | Fraction) -> int:
        """The frame that begins nearest to an instant."""
        return math.floor(self.place_of(t_utc_s) + Fraction(1, 2))

    def label(self, frame: int) -> str:
        """The timecode of a frame of the sequence."""
        return label_of(self.first + frame, self.rate)


def grid_from(t_utc_s: float, rate: TimecodeRate, time_zone: str) -> Grid:
    """The grid that begins with the first label of the second in which an instant lies.

    ::

        zero = midnight + 86400 · N / (labels of a day)        N = the label, counted

    Parameters
    ----------
    t_utc_s
        Nothing of the sequence lies before this.
    time_zone
        In which the labels are the time of day.
    """
    local = dt.datetime.fromtimestamp(math.floor(t_utc_s), tz=ZoneInfo(time_zone))
    number = first_label(local, rate)
    midnight = _midnight_of(local)
    if midnight + time_of_day(number, rate) > Fraction(t_utc_s):
        # What labels leave out, they leave out ahead: a frame's label may be ahead of its time.
        local = dt.datetime.fromtimestamp(math.floor(t_utc_s) - 1, tz=ZoneInfo(time_zone))
        number, midnight = first_label(local, rate), _midnight_of(local)
    return Grid(
        rate=rate,
        zero_utc_s=midnight + time_of_day(number, rate),
        first=number,
        time_zone=time_zone,
    )


def _midnight_of(local: dt.datetime) -> int:
    """When a clock on the wall that had not been set since would have shown midnight [UTC, s]."""
    shown = 3600 * local.hour + 60 * local.minute + local.second
    return round(local.timestamp()) - shown


def first_label(local: dt.datetime, rate: TimecodeRate) -> int:
    """The number of the first frame whose label has a second in it."""
    mark = ";" if rate.drop else ":"
    left_out = rate.dropped if local.second == 0 and local.minute % 10 else 0
    return frames_of(f"{local:%H:%M:%S}{mark}{left_out:02d}", rate)


def counted_at(rate_hz: Fraction) -> TimecodeRate:
    """How timecode counts at a rate: with drop-frame labels where there are any.

    Raises
    ------
    TimecodeError
        Where no timecode counts at that rate.
    """
    try:
        return rate_near(rate_hz, drop=True)
    except TimecodeError:
        return rate_near(rate_hz)


def most_common_rate(rates_hz: Iterable[Fraction | None]) -> TimecodeRate:
    """The rate that most recordings have, the first of them where several are as common; 30 frames
    a second where no timecode counts any of them."""
    found: Counter[str] = Counter()
    by_key: dict[str, TimecodeRate] = {}
    for rate_hz in rates_hz:
        if not rate_hz:
            continue
        try:
            rate = counted_at(rate_hz)
        except TimecodeError:
            continue
        by_key[rate.key] = rate
        found[rate.key] += 1
    if not found:
        return counted_at(USUAL_RATE)
    return by_key[found.most_common(1)[0][0]]
