"""The 80 bits of a frame of linear timecode (SMPTE ST 12-1, after published descriptions).

Numbers are binary-coded decimals, the lowest bit first; eight groups of four user bits stand
between them, and sixteen bits that occur nowhere else end the frame and tell its direction.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
from numpy.typing import NDArray

from sync.timecode import TimecodeRate

BITS = 80
SYNC = np.array([0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1], dtype=np.int8)
SYNC_AT = 64

FRAME_BITS = np.array([0, 1, 2, 3, 8, 9])
SECOND_BITS = np.array([16, 17, 18, 19, 24, 25, 26])
MINUTE_BITS = np.array([32, 33, 34, 35, 40, 41, 42])
HOUR_BITS = np.array([48, 49, 50, 51, 56, 57])
DROP_BIT = 10
"""Places of the digits' bits, ones before tens, and of the flag that labels are dropped."""

_WORTH = np.array([1, 2, 4, 8, 10, 20, 40])

Bits = NDArray[np.int8]
Ints = NDArray[np.int64]


def digits(values: Ints, places: NDArray[np.int64]) -> Bits:
    """Binary-coded decimals of numbers below a hundred [shape=(..., places)], lowest bit first."""
    value = np.asarray(values)[..., None]
    k = np.arange(places.size)
    ones, tens = value % 10 >> k & 1, value // 10 >> np.maximum(k - 4, 0) & 1
    return np.where(k < 4, ones, tens).astype(np.int8)


def fields(frames: Ints, rate: TimecodeRate) -> tuple[Ints, Ints, Ints, Ints]:
    """Hours, minutes, seconds and frames on the labels of frames of the day, as `label_of`."""
    number = np.asarray(frames) % rate.frames_in_a_day
    if rate.drop:
        a_minute = 60 * rate.counted - rate.dropped
        tens, rest = np.divmod(number, 10 * a_minute + rate.dropped)
        short = np.maximum(0, (rest - rate.dropped) // a_minute)
        number = number + rate.dropped * (9 * tens + short)
    total, of_second = np.divmod(number, rate.counted)
    return total // 3600, total // 60 % 60, total % 60, of_second


def time_bits(frames: Ints, rate: TimecodeRate) -> Bits:
    """Words of frames of the day [shape=(n, 80)], user bits and flags but that of drop nought."""
    out = np.zeros((np.size(frames), BITS), dtype=np.int8)
    hours, minutes, seconds, of_second = fields(np.atleast_1d(frames), rate)
    out[:, FRAME_BITS] = digits(of_second, FRAME_BITS)
    out[:, SECOND_BITS] = digits(seconds, SECOND_BITS)
    out[:, MINUTE_BITS] = digits(minutes, MINUTE_BITS)
    out[:, HOUR_BITS] = digits(hours, HOUR_BITS)
    out[:, DROP_BIT] = rate.drop
    out[:, SYNC_AT:] = SYNC
    return out


def user_groups(word: Bits) -> tuple[int, ...]:
    """The eight groups of four user bits of a word [shape=(80,)]."""
    worth = np.array([1, 2, 4, 8])
    return tuple(int(word[4 + 8 * k : 8 + 8 * k] @ worth) for k in range(8))


def date_of(groups: tuple[int, ...]) -> dt.date | None:
    """The date in user bits as day, month and year of the century, the ones first.

    The order of SMPTE ST 309 as libltc writes it (read in its output; the standard from
    memory). Groups seven and eight, the zone, are not read. None where the groups are no date:
    user bits can hold anything, and a number may look like a date by chance.
    """
    day, month, year = (groups[2 * k] + 10 * groups[2 * k + 1] for k in range(3))
    if any(group > 9 for group in groups[:6]):
        return None
    try:
        return dt.date(2000 + year, month, day)
    except ValueError:
        return None


def even(words: Bits) -> NDArray[np.bool_]:
    """Whether words [shape=(n, 80)] have an even number of ones, as the polarity bit sees to."""
    return np.asarray(words.sum(axis=-1) % 2 == 0)
