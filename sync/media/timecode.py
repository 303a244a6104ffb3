"""Timecode as a count of frames (SMPTE ST 12-1), and what it says of a cut between two files."""

from __future__ import annotations

import re
from fractions import Fraction

_TIMECODE = re.compile(r"^(\d\d):(\d\d):(\d\d)([:;.])(\d\d)$")


def nominal_rate(rate_hz: Fraction | float) -> int:
    """Frames that the timecode counts to a second: 30 for 29.97."""
    return max(1, round(float(rate_hz)))


def timecode_frames(text: str, rate: int) -> int | None:
    """The number of a frame since midnight; None where the text is no timecode at that rate.

    A semicolon before the frames says that numbers are dropped: two a minute at 30, four at
    60, except in every tenth minute (ST 12-1, from memory).
    """
    match = _TIMECODE.match(text.strip())
    if match is None:
        return None
    hours, minutes, seconds, frames = (int(match[n]) for n in (1, 2, 3, 5))
    if minutes > 59 or seconds > 59 or frames >= rate:
        return None
    count = ((hours * 60 + minutes) * 60 + seconds) * rate + frames
    if match[4] == ":":
        return count
    if rate % 30:
        return None
    all_minutes = 60 * hours + minutes
    return count - rate // 15 * (all_minutes - all_minutes // 10)


def frames_in_a_day(text: str, rate: int) -> int:
    """After how many frames the count begins anew."""
    dropped = ";" in text or "." in text
    return 86_400 * rate - (rate // 15 * 1296 if dropped else 0)


def frames_missing(one: str, other: str, frames: int, rate: int) -> int | None:
    """Frames that lie between two files by their timecodes.

    Parameters
    ----------
    one, other
        The timecode of each file's first frame.
    frames
        How many frames the first file has.
    rate
        Frames that the timecode counts to a second.

    Returns
    -------
    int or None
        0 where the other goes on where the one ends, negative where they overlap. None where
        the timecodes cannot be read, or are the same and so do not run.
    """
    begin, following = timecode_frames(one, rate), timecode_frames(other, rate)
    if begin is None or following is None or begin == following:
        return None
    day = frames_in_a_day(one, rate)
    missing = (following - begin - frames) % day
    return missing - day if missing > day // 2 else missing
