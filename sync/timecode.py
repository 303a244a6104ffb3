"""Timecode labels and the frames that they count (SMPTE ST 12-1, after published descriptions).

A label `HH:MM:SS:FF` counts the frames of a day. At rates of 1000/1001 of a whole number the
count of whole seconds runs slow by 3.6 s an hour; drop-frame counting, written with a semicolon
before the frames, leaves out labels to keep up: 00 and 01 (at 59.94 the first four) of every
minute but each tenth, so that a day's count is 86.4 ms ahead. No frame is dropped, only labels.

Not covered: labels of high frame rates that count pairs of frames, and field marks.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from sync.errors import SyncError

DAY_S = 86_400

MATCH_SHARE = 2e-4
"""A measured rate this near to a known one is that one: a fifth of the 1/1001 between 29.97
and 30, and four times what the clocks of cameras are out (common practice, no published
source)."""

_LABEL = re.compile(r"(\d{1,2}):(\d{2}):(\d{2})([:;.,])(\d{2})")


class TimecodeError(SyncError, ValueError):
    """A timecode that cannot be: no label, or one that its rate does not have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimecodeRate:
    """How a timecode counts.

    Parameters
    ----------
    key
        As people write it, such as "29.97 drop".
    rate_hz
        Frames a second, exactly.
    counted
        Labels to a counted second.
    drop
        Whether labels are left out to keep up with the time of day.
    """

    key: str
    rate_hz: Fraction
    counted: int
    drop: bool = False

    @property
    def frame_s(self) -> Fraction:
        """How long a frame lasts."""
        return 1 / self.rate_hz

    @property
    def dropped(self) -> int:
        """Labels left out in a minute that leaves any out."""
        return self.counted // 15 if self.drop else 0

    @property
    def frames_in_a_day(self) -> int:
        """Labels of a day, after which they begin anew."""
        return self.counted * DAY_S - self.dropped * (24 * 54)

    @property
    def keeps_time(self) -> bool:
        """Whether an hour of labels is an hour, to 4 ms."""
        return self.drop or self.rate_hz == self.counted


RATES: Mapping[str, TimecodeRate] = MappingProxyType(
    {
        rate.key: rate
        for rate in (
            TimecodeRate(key="23.976", rate_hz=Fraction(24000, 1001), counted=24),
            TimecodeRate(key="24", rate_hz=Fraction(24), counted=24),
            TimecodeRate(key="25", rate_hz=Fraction(25), counted=25),
            TimecodeRate(key="29.97", rate_hz=Fraction(30000, 1001), counted=30),
            TimecodeRate(key="29.97 drop", rate_hz=Fraction(30000, 1001), counted=30, drop=True),
            TimecodeRate(key="30", rate_hz=Fraction(30), counted=30),
            TimecodeRate(key="47.952", rate_hz=Fraction(48000, 1001), counted=48),
            TimecodeRate(key="48", rate_hz=Fraction(48), counted=48),
            TimecodeRate(key="50", rate_hz=Fraction(50), counted=50),
            TimecodeRate(key="59.94", rate_hz=Fraction(60000, 1001), counted=60),
            TimecodeRate(key="59.94 drop", rate_hz=Fraction(60000, 1001), counted=60, drop=True),
            TimecodeRate(key="60", rate_hz=Fraction(60), counted=60),
        )
    }
)
"""Every way of counting that is read and written here, by its key."""


def is_drop_label(label: str) -> bool:
    """Whether a label is written as drop-frame: anything but a colon before the frames."""
    found = _LABEL.fullmatch(label.strip())
    return found is not None and found[4] != ":"


def rate_near(rate_hz: Fraction | float, *, drop: bool = False) -> TimecodeRate:
    """The way of counting whose frames a second are those measured or stated.

    Raises
    ------
    TimecodeError
        Where no rate is near, or labels are dropped at one that does not drop any.
    """
    for rate in RATES.values():
        if rate.drop == drop and abs(float(rate_hz) / float(rate.rate_hz) - 1) <= MATCH_SHARE:
            return rate
    raise TimecodeError(
        f"no {'drop-frame ' if drop else ''}timecode counts {float(rate_hz):.3f} frames a second",
        allowed=tuple(rate.key for rate in RATES.values() if rate.drop == drop),
    )


def frames_of(label: str, rate: TimecodeRate) -> int:
    """Which frame of the day a label stands for, counted from nought at midnight.

    ::

        N = ((60 h + m) 60 + s) counted + f − dropped (M − ⌊M / 10⌋),    M = 60 h + m

    Raises
    ------
    TimecodeError
        Where the text is no label, or the rate has none of this name.

    Examples
    --------
    >>> frames_of("00:01:00;02", RATES["29.97 drop"])
    1800
    """
    found = _LABEL.fullmatch(label.strip())
    if found is None:
        raise TimecodeError(
            f"{label!r} is no timecode",
            advice="write hours, minutes, seconds and frames as 10:20:30:12, with a semicolon "
            "before the frames where labels are dropped",
        )
    hours, minutes, seconds, frames = (int(found[k]) for k in (1, 2, 3, 5))
    if (found[4] != ":") != rate.drop:
        told = "does not drop" if found[4] != ":" else "drops"
        raise TimecodeError(f"{label!r} cannot be at {rate.key}, which {told} labels")
    return _count(label, rate, hours, minutes, seconds, frames)


def _count(
    label: str, rate: TimecodeRate, hours: int, minutes: int, seconds: int, frames: int
) -> int:
    if hours > 23 or minutes > 59 or seconds > 59 or frames >= rate.counted:
        raise TimecodeError(
            f"{label!r} is beyond 23:59:59 and frame {rate.counted - 1}, the last that "
            f"{rate.key} counts"
        )
    if seconds == 0 and minutes % 10 and frames < rate.dropped:
        raise TimecodeError(
            f"{label!r} is a label that drop-frame timecode leaves out",
            advice=f"the first of that minute ends in ;{rate.dropped:02d}",
        )
    whole = 60 * hours + minutes
    return (60 * whole + seconds) * rate.counted + frames - rate.dropped * (whole - whole // 10)


def label_of(frame: int, rate: TimecodeRate) -> str:
    """The label of a frame of the day; after the last of a day, and before its first, the
    labels of the next and of the last.

    Examples
    --------
    >>> label_of(1800, RATES["29.97 drop"])
    '00:01:00;02'
    """
    number = frame % rate.frames_in_a_day
    if rate.drop:
        a_minute = 60 * rate.counted - rate.dropped
        tens, rest = divmod(number, 10 * a_minute + rate.dropped)
        # The first minute of ten is whole, and so longer than the others.
        short = max(0, (rest - rate.dropped) // a_minute)
        number += rate.dropped * (9 * tens + short)
    total, frames = divmod(number, rate.counted)
    hours, rest = divmod(total, 3600)
    minutes, seconds = divmod(rest, 60)
    mark = ";" if rate.drop else ":"
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}{mark}{frames:02d}"


def seconds_of(frames: int, rate: TimecodeRate) -> Fraction:
    """How long so many frames last, in seconds."""
    return frames / rate.rate_hz


def time_of_day(frame: int, rate: TimecodeRate) -> Fraction:
    """The time of day that a frame's label reads, in seconds.

    ::

        86400 · frame / (labels of a day)

    Where none are dropped that is hours, minutes, seconds and a share of a second; where they
    are, the steps of up to two frames that single labels make are evened out. What time of day
    it *was* is another matter: see `behind_s`.
    """
    return Fraction(DAY_S * (frame % rate.frames_in_a_day), rate.frames_in_a_day)


def behind_s(elapsed_s: float, rate: TimecodeRate) -> float:
    """How far labels fall behind the time of day, in seconds, so long after they were set to it.

    ::

        elapsed (1 − rate · day / labels of a day)        3.6 s an hour; −86.4 ms a day with drop
    """
    a_second = rate.rate_hz * DAY_S / rate.frames_in_a_day
    return elapsed_s * float(1 - a_second)
