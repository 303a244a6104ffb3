"""One run of linear timecode: from readings that go on from each other to its very ends."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.clues.ltc.read import Reading, agreement
from sync.clues.ltc.track import CHUNK_FRAMES, Track, followed
from sync.clues.ltc.wave import Pulses, read_at
from sync.clues.ltc.word import BITS, SYNC, SYNC_AT, Bits, date_of, user_groups
from sync.timecode import RATES, TimecodeError, TimecodeRate, label_of, rate_near

LEAST_CHUNKS = 2
"""Timed chunks that a line through them takes."""

REACH_S = 8.0
"""How far beyond the parts that were read a run is looked for."""

CHANCES = 7.0
"""By chance one run in a thousand is cut short: exp(−7)."""

LEAST_SD_S = 2e-6
"""Deviation of a run's line that no scatter takes away: a tenth of a sample."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeRun:
    """Linear timecode that runs on without a jump.

    Parameters
    ----------
    start_s
        When the first label's frame begins, on the clock of the sound.
    frame_s
        How long a frame lasts by that clock.
    frame, frames
        Which frame of the day the first one is, and how many there are.
    rate
        How it counts.
    middle_s, sd_s, frame_sd_s
        The instant about which the line turns, its deviation there, and that of `frame_s`.
    user
        The eight groups of user bits, and the date that they hold, if it is one.
    even
        Share of frames whose ones are even in number, as a polarity bit sees to.
    """

    channel: int
    start_s: float
    frame_s: float
    frame: int
    frames: int
    rate: TimecodeRate
    middle_s: float
    sd_s: float
    frame_sd_s: float
    user: tuple[int, ...]
    date: dt.date | None
    even: float
    fit: float

    @property
    def stop_s(self) -> float:
        """When its last frame ends."""
        return self.start_s + self.frames * self.frame_s

    @property
    def label(self) -> str:
        """The label of its first frame."""
        return label_of(self.frame, self.rate)

    @property
    def speed(self) -> float:
        """Its frames a second by the clock of the sound, over those that its rate has."""
        return 1.0 / (self.frame_s * float(self.rate.rate_hz))


def run_of(
    pulses: Pulses, channel: int, group: list[Reading], after: float, before: float
) -> CodeRun | None:
    """A run from readings that go on from each other, to its very ends between two instants;
    None where too little of it holds to time it."""
    best = max(group, key=lambda one: one.fit)
    first, last = group[0].start_s, group[-1].start_s + group[-1].frames * group[-1].frame_s
    span = (max(after, first - REACH_S), min(before, last + REACH_S))
    track = followed(pulses, best, *span)
    low, high, word = _ends(pulses, best, track)
    inside = track.sure & (track.numbers >= low) & (track.numbers < high)
    if np.count_nonzero(inside) < LEAST_CHUNKS:
        return None
    line = _Line.through(track.numbers[inside], track.t_s[inside])
    user = user_groups(word)
    return CodeRun(
        channel=channel,
        start_s=line.at(low),
        frame_s=line.slope,
        frame=(best.frame + low) % best.rate.frames_in_a_day,
        frames=high - low,
        rate=_true_rate(best.rate, line.slope),
        middle_s=line.middle_s,
        sd_s=line.sd,
        frame_sd_s=line.slope_sd,
        user=user,
        date=date_of(user),
        even=best.even,
        fit=sum(one.fit for one in group),
    )


def _true_rate(rate: TimecodeRate, frame_s: float) -> TimecodeRate:
    """The rate that counts the same and is nearest to what was measured."""
    if rate.drop:
        return rate
    try:
        measured = rate_near(1 / frame_s)
    except TimecodeError:
        return rate  # a tape off speed: its frames are what it says, not how long they last
    return measured if measured.counted == rate.counted else RATES[rate.key]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A straight line through instants of frames, and how sure it is."""

    middle: float
    middle_s: float
    slope: float
    sd: float
    slope_sd: float

    def at(self, number: float) -> float:
        return self.middle_s + (number - self.middle) * self.slope

    @classmethod
    def through(cls, numbers: Floats, t_s: Floats) -> _Line:
        middle, middle_s = numbers.mean(), t_s.mean()
        x, y = numbers - middle, t_s - middle_s
        spread = float(np.sum(np.square(x)))
        slope = float(np.sum(x * y)) / spread
        left = float(np.sum(np.square(y - slope * x)))
        noise = max(np.sqrt(left / max(len(x) - 2, 1)), LEAST_SD_S)
        return cls(
            middle=float(middle),
            middle_s=float(middle_s),
            slope=slope,
            sd=float(np.hypot(noise / np.sqrt(len(x)), LEAST_SD_S)),
            slope_sd=float(noise / np.sqrt(spread)),
        )


def _ends(pulses: Pulses, reading: Reading, track: Track) -> tuple[int, int, Bits]:
    """Numbers of the first frame and after the last that fit the run, counted from its
    reading; and the bits that its frames up to midnight have in common.

    From the heart of the run outwards, the fits of its frames less half of what they have on
    the whole are added up; the run ends where the sum is largest, or before where one bit of
    the labels is wrong from some frame on.
    """
    low, high = track.low, track.high
    bits = low + np.arange((high - low) * BITS + 1) / BITS
    table = read_at(pulses, track.times(bits)).odds.reshape(high - low, BITS)
    heart = track.heart - low
    core = slice(max(0, heart - CHUNK_FRAMES // 2), heart + CHUNK_FRAMES // 2)
    sync = table[core, SYNC_AT:].mean(axis=0)
    ones, noughts = float(sync[SYNC == 1].mean()), float(sync[SYNC == 0].mean())
    middle, level = 0.5 * (ones + noughts), 0.5 * (ones - noughts)
    agree = agreement(table - middle, reading.frame + low, reading.rate)
    fits = agree.sum(axis=1)
    fits = fits - 0.5 * float(np.median(fits[core]))
    noise = float(np.std(agree[core]))
    first = heart - _fitting(fits[heart::-1], agree[heart::-1], level, noise) + 1
    last = heart + _fitting(fits[heart:], agree[heart:], level, noise)
    day = reading.rate.frames_in_a_day
    until = min(last, first + day - (reading.frame + low + first) % day)
    word = (table[first:until].mean(axis=0) > middle).astype(np.int8)
    return low + first, low + last, word


def _fitting(fits: Floats, agree: Floats, level: float, noise: float) -> int:
    """How many frames fit, the first of them certainly.

    A bit of the labels that is wrong from some frame on pulls the sum of its agreement down,
    and further than chance does; it was right up to where that sum was largest. With noise of
    variance v a sum that grows by a level at each frame falls back by v / (2 level) times the
    logarithm of how often it could have. Twice that is allowed, and twice more where it is made
    good again: what an engine adds to a bit can stay the same for seconds.
    """
    count = int(np.argmax(np.cumsum(fits))) + 1
    sums = np.cumsum(agree[:count], axis=0)
    fall = np.maximum.accumulate(sums, axis=0) - sums
    by_chance = noise**2 / level * (np.log(agree.shape[1] * count) + CHANCES)
    allowed = max(1.5 * level, by_chance)
    ends = [count]
    for bit in range(agree.shape[1]):
        deep = np.flatnonzero(fall[:, bit] > 2 * allowed)
        if deep.size:
            ends.append(int(np.argmax(sums[: deep[0], bit])) + 1)
        elif fall[-1, bit] > allowed:
            ends.append(int(np.argmax(sums[:, bit])) + 1)
    return min(ends)
