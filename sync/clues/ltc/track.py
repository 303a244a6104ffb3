"""Following the bit clock of linear timecode from frame to frame, out of a reading.

From where the reading fits best, chunks of a second are timed one after the other, each where
the last ones lead; a tape that wavers is followed, and over a burst of noise the clock runs on
as it did. Chunks are timed by their sync words alone, whatever their labels are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.clues.ltc.read import Reading, agreement, levelled, shift_of
from sync.clues.ltc.wave import Pulses, read
from sync.clues.ltc.word import BITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

CHUNK_FRAMES = 25
"""Frames whose sync words are timed together: about a second."""

GAIN, RATE_GAIN = 0.5, 0.1
"""Shares of what a chunk is off that go into the clock and into its rate (own choice: a code 20 dB
below other sound is timed to 10 µs a chunk, and a tenth of a bit is 40)."""

LEAST_FIT = 5.0
"""By how many deviations of chance a chunk must agree with its labels to move the clock."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """When frames begin: chunks by the numbers of their middles [shape=(n,)], counted from the
    reading's first frame, their instants, and which of them were timed and not run on to; the
    numbers between which it was followed, and the one where the reading fits best."""

    numbers: Floats
    t_s: Floats
    sure: NDArray[np.bool_]
    low: int
    high: int
    heart: int

    def times(self, numbers: Floats) -> Floats:
        """Instants by straight lines from chunk to chunk, and on beyond the ends."""
        k = np.clip(np.searchsorted(self.numbers, numbers) - 1, 0, self.numbers.size - 2)
        slope = np.diff(self.t_s) / np.diff(self.numbers)
        return np.asarray(self.t_s[k] + slope[k] * (numbers - self.numbers[k]), dtype=np.float64)


def followed(pulses: Pulses, reading: Reading, from_s: float, to_s: float) -> Track:
    """The track of a reading's bit clock between two instants about it."""
    frame_s = reading.frame_s
    low = min(0, math.ceil((from_s - reading.start_s) / frame_s))
    high = max(reading.frames, math.floor((to_s - reading.start_s) / frame_s))
    heart = _heart(pulses, reading)
    ahead = _outwards(pulses, reading, heart, high, 1)
    behind = _outwards(pulses, reading, heart, low, -1)
    chunks = sorted(behind[1:] + ahead) if len(behind) > 1 else ahead
    numbers, t_s, sure = (np.array(column) for column in zip(*chunks, strict=True))
    return Track(numbers=numbers, t_s=t_s, sure=sure.astype(bool), low=low, high=high, heart=heart)


def _heart(pulses: Pulses, reading: Reading) -> int:
    """The middle of the frames of the reading that agree with it best, one chunk of them."""
    count = reading.frames
    odds = read(pulses, reading.start_s, reading.frame_s / BITS, count * BITS).odds
    table, _ = levelled(odds.reshape(count, BITS))
    fits = np.r_[0.0, np.cumsum(agreement(table, reading.frame, reading.rate).sum(axis=1))]
    wide = min(CHUNK_FRAMES, count)
    return int(np.argmax(fits[wide:] - fits[:-wide])) + wide // 2


def _outwards(
    pulses: Pulses, reading: Reading, heart: int, end: int, way: int
) -> list[tuple[float, float, bool]]:
    """Chunks from the heart to one end: number of the middle, instant, whether it was timed."""
    frame_s = reading.frame_s
    begin_s = reading.start_s + heart * frame_s
    number = float(heart)
    found: list[tuple[float, float, bool]] = []
    chunk = np.arange(CHUNK_FRAMES) - CHUNK_FRAMES // 2
    while not found or (end - number) * way > 0:
        if found:
            number += way * CHUNK_FRAMES
            begin_s += way * CHUNK_FRAMES * frame_s
        sure = _fits(
            pulses,
            reading,
            begin_s + float(chunk[0]) * frame_s,
            frame_s,
            int(number) + int(chunk[0]),
        )
        off = shift_of(pulses, begin_s, chunk, frame_s) if sure else 0.0
        found.append((number, begin_s + off, sure))
        begin_s += GAIN * off if found[1:] else off
        frame_s += way * RATE_GAIN * off / CHUNK_FRAMES if found[1:] else 0.0
    return found


def _fits(pulses: Pulses, reading: Reading, start_s: float, frame_s: float, number: int) -> bool:
    """Whether a chunk has the labels that the reading leads to."""
    odds = read(pulses, start_s, frame_s / BITS, CHUNK_FRAMES * BITS).odds
    table, noise = levelled(odds.reshape(CHUNK_FRAMES, BITS))
    agree = agreement(table, reading.frame + number, reading.rate)
    return float(agree.sum()) > LEAST_FIT * noise * math.sqrt(agree.size)
