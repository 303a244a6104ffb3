"""Reading the labels off a stretch of linear timecode that runs on.

Bit by bit a code beneath other sound cannot be read. But a stretch of some seconds holds the
same hour and minute in each of its frames, and seconds and frames that count: every label that
the stretch could start with is held against the odds of all its bits at once, digit by digit,
and the one that explains them best counts if the next is far behind.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.clues.ltc.wave import (
    BitClock,
    Pulses,
    bit_clocks,
    read,
    signs_of,
    sync_sums,
    whitened,
)
from sync.clues.ltc.word import (
    BITS,
    DROP_BIT,
    FRAME_BITS,
    HOUR_BITS,
    MINUTE_BITS,
    SECOND_BITS,
    SYNC,
    SYNC_AT,
    Ints,
    digits,
    fields,
    time_bits,
)
from sync.timecode import RATES, TimecodeError, TimecodeRate, frames_of

LEAST_FRAMES = 8
"""Whole frames that a stretch must hold (own choice: a third of a second)."""

LIKELY = 6
"""Frames of a second that the first label may have: so many of the best are tried in full."""

PLACES = 4
"""Where the frame may begin: so many of the best places are tried, since the twelve ones of
the sync word fit nearly as well one bit further on."""

LEAST_LEAD = 5.0
"""By how many deviations of chance each digit must lead the next best."""

LEAST_FIT = 8.0
"""By how many deviations the whole stretch must be explained: of noise alone the best of all
labels comes to 5 (measured)."""

LEAST_SYNC = 6.0
"""By how many deviations ones and noughts of the sync word must be told apart, before labels
are tried: at the best of 80 places, noise comes to 3."""

LEAST_BIT = 0.2
"""Share of the mean agreement that each bit of the labels must have for a stretch to go on as
another did: one bit wrong throughout is another label."""

KNOWN_BITS = np.r_[
    FRAME_BITS, SECOND_BITS, MINUTE_BITS, HOUR_BITS, np.arange(SYNC_AT, SYNC_AT + SYNC.size)
]
"""Bits of a frame that its label tells."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """What a stretch of code says.

    Parameters
    ----------
    start_s, frame_s
        When its first whole frame begins, and how long a frame lasts.
    frame, frames
        Which frame of the day that is, and how many whole frames the stretch has.
    rate
        How it counts: one of `COUNTINGS`, whose frames a second are the nominal ones.
    fit
        How well it explains the sound, in deviations of chance.
    even
        Share of frames whose ones are even in number, as read bit by bit.
    """

    start_s: float
    frame_s: float
    frame: int
    frames: int
    rate: TimecodeRate
    fit: float
    even: float


COUNTINGS = {
    (24, False): RATES["24"],
    (25, False): RATES["25"],
    (30, False): RATES["30"],
    (30, True): RATES["29.97 drop"],
}
"""How labels go on, by labels a second and the flag of drop-frame; the rate is measured."""


def read_stretch(pulses: Pulses, *, weak: bool = False) -> tuple[Reading | None, bool]:
    """What a stretch of sound says, and whether it is a code that is played backwards.

    The lines of an engine at a steady speed draw a bit clock to them: for a weak code the
    clock is looked for with the spectrum evened, and then the bits as well.
    """
    flat = whitened(pulses) if weak else pulses
    for timed, heard in ((flat, pulses), (flat, flat)) if weak else ((pulses, pulses),):
        for clock in bit_clocks(timed):
            found, backwards = _at_clock(heard, clock)
            if found is not None:
                return (None if backwards else found), backwards
    return None, False


def _at_clock(pulses: Pulses, clock: BitClock) -> tuple[Reading | None, bool]:
    """What is read under a bit clock, forwards or, failing that, backwards."""
    first = math.ceil((pulses.start_s + 2 / pulses.rate_hz - clock.start_s) / clock.period_s)
    start_s = clock.start_s + first * clock.period_s
    end_s = pulses.start_s + (pulses.z.size - 3) / pulses.rate_hz
    bits = int((end_s - start_s) / clock.period_s) - 1
    if bits < (LEAST_FRAMES + 1) * BITS:
        return None, False
    here = read(pulses, start_s, clock.period_s, bits)
    ahead, back = sync_sums(here)
    for backwards, sums in ((False, ahead), (True, back)):
        odds = here.odds[::-1] if backwards else here.odds
        for place in _places(sums):
            # Backwards the sync word comes first, and the frame begins where it is seen to end.
            begin = (bits - place if backwards else place + SYNC.size) % BITS
            found = _labels(odds[begin:], clock, start_s + begin * clock.period_s)
            if found is not None:
                return found, backwards
    return None, False


def _places(sums: Floats) -> list[int]:
    """Bits of the frame at which the sync word fits best on the whole."""
    frames = sums.size // BITS
    if frames == 0:
        return []
    mean = sums[: frames * BITS].reshape(frames, BITS).mean(axis=0)
    return [int(k) for k in np.argsort(mean)[::-1][:PLACES]]


def _labels(odds: Floats, clock: BitClock, start_s: float) -> Reading | None:
    """The reading under which the first frame's label explains them all, if one does."""
    frames = odds.size // BITS
    if frames < LEAST_FRAMES:
        return None
    table, noise = levelled(odds[: frames * BITS].reshape(frames, BITS))
    mean = table.mean(axis=0)
    told_apart = float(mean[SYNC_AT:][SYNC == 1].mean()) / noise
    if told_apart * math.sqrt(frames * SYNC.size) < LEAST_SYNC:
        return None
    rate = COUNTINGS[clock.counted, bool(clock.counted == 30 and mean[DROP_BIT] > 0)]
    frame = _first_frame(table, rate, noise)
    if frame is None:
        return None
    agree = agreement(table, frame, rate)
    fit = float(np.sum(agree)) / (noise * math.sqrt(agree.size))
    if fit < LEAST_FIT:
        return None
    ones = np.sum(table > 0, axis=1)
    return Reading(
        start_s=start_s,
        frame_s=BITS * clock.period_s,
        frame=frame,
        frames=frames,
        rate=rate,
        fit=fit,
        even=float(np.mean(ones % 2 == 0)),
    )


def agreement(table: Floats, frame: int, rate: TimecodeRate) -> Floats:
    """How well each frame's levelled odds agree with the bits that its label tells, where the
    first one is a given frame of the day [shape=(frames, bits)]."""
    wanted = time_bits(frame + np.arange(table.shape[0]), rate)[:, KNOWN_BITS]
    return np.asarray(table[:, KNOWN_BITS] * (2.0 * wanted - 1.0))


def follow(pulses: Pulses, last: Reading) -> Reading | None:
    """What a stretch says if it goes on as another did; None where it does not."""
    margin = 2 / pulses.rate_hz
    number = math.ceil((pulses.start_s + margin - last.start_s) / last.frame_s)
    start_s = last.start_s + number * last.frame_s
    end_s = pulses.start_s + pulses.z.size / pulses.rate_hz - margin
    frames = int((end_s - start_s) / last.frame_s)
    if frames < LEAST_FRAMES or number == 0:
        return None
    odds = read(pulses, start_s, last.frame_s / BITS, frames * BITS).odds
    table, noise = levelled(odds.reshape(frames, BITS))
    frame = (last.frame + number) % last.rate.frames_in_a_day
    agree = agreement(table, frame, last.rate)
    fit = float(np.sum(agree)) / (noise * math.sqrt(agree.size))
    if fit < LEAST_FIT or agree.mean(axis=0).min() < LEAST_BIT * agree.mean():
        return None
    start_s += shift_of(pulses, start_s, np.arange(frames), last.frame_s)
    return Reading(
        start_s=start_s,
        frame_s=(start_s - last.start_s) / number,
        frame=frame,
        frames=frames,
        rate=last.rate,
        fit=fit,
        even=float(np.mean(np.sum(table > 0, axis=1) % 2 == 0)),
    )


def shift_of(pulses: Pulses, start_s: float, numbers: Ints, frame_s: float) -> float:
    """How much later than thought frames begin, by their sync words: those of some numbers,
    where number nought begins at `start_s`.

    Their changes of sign are laid over the sound at steps of a sample, a quarter of a bit early
    to as much late; a parabola about the best step has its peak where they are.
    """
    starts, middles = signs_of(SYNC)
    begins = np.asarray(start_s + frame_s * numbers, dtype=np.float64)
    period, step = frame_s / BITS, 1.0 / pulses.rate_hz
    at_starts = begins[:, None] + period * (SYNC_AT + np.arange(starts.size))
    at_middles = begins[:, None] + period * (SYNC_AT + 0.5 + np.arange(middles.size))

    def fit(late: float) -> float:
        sums = pulses.at(at_starts + late) @ starts + pulses.at(at_middles + late) @ middles
        return float(np.sum(np.square(sums)))

    reach = int(0.25 * period / step)
    shift = step * max(range(-reach, reach + 1), key=lambda k: fit(k * step))
    for _ in range(2):
        early, here, late = fit(shift - step), fit(shift), fit(shift + step)
        bend = early - 2 * here + late
        if bend < 0:
            shift += step * float(np.clip(0.5 * (early - late) / bend, -1, 1))
    return shift


def levelled(table: Floats) -> tuple[Floats, float]:
    """Odds with noughts below nought and ones above, by the sync word that is known; and the
    deviation of one bit about its own kind."""
    sync = table[:, SYNC_AT:].mean(axis=0)
    middle = 0.5 * (sync[SYNC == 1].mean() + sync[SYNC == 0].mean())
    spread = table[:, SYNC_AT:] - np.where(
        SYNC == 1, sync[SYNC == 1].mean(), sync[SYNC == 0].mean()
    )
    return table - middle, float(spread.std()) + 1e-12


def _first_frame(table: Floats, rate: TimecodeRate, noise: float) -> int | None:
    """Which frame of the day the first one is, digit by digit; None where a digit is unsure."""
    ahead = np.arange(table.shape[0])
    unit = 2.0 * noise * math.sqrt(table.shape[0])
    tens = _seconds(table, rate, ahead)
    best = max(tens, key=lambda n: tens[n])
    _, minutes_on, second, of_second = fields(best + ahead, rate)
    _, _, its_second, its_frame = fields(np.array(list(tens)), rate)
    other = (its_second != second[0]) | (its_frame != of_second[0])
    if tens[best] - np.max(np.array(list(tens.values()))[other]) < LEAST_LEAD * unit:
        return None
    carried = np.mod(minutes_on - minutes_on[0], 60)
    minutes = {
        m: _sum(table, MINUTE_BITS, (m + carried) % 60)
        for m in range(60)
        if _alike(m, int(minutes_on[0]), rate, carries=bool(carried.any()))
    }
    minute = _leader(minutes, unit)
    if minute is None:
        return None
    hours = {h: _sum(table, HOUR_BITS, (h + (minute + carried) // 60) % 24) for h in range(24)}
    hour = _leader(hours, unit)
    if hour is None:
        return None
    mark = ";" if rate.drop else ":"
    label = f"{hour:02d}:{minute:02d}:{int(second[0]):02d}{mark}{int(of_second[0]):02d}"
    try:
        return frames_of(label, rate)
    except TimecodeError:
        return None  # what was read is a label that cannot be


def _leader(scores: dict[int, float], unit: float) -> int | None:
    """The best of some numbers, if it leads the next by enough."""
    first, second = sorted(scores, key=lambda n: scores[n], reverse=True)[:2]
    return first if scores[first] - scores[second] >= LEAST_LEAD * unit else None


def _alike(minute: int, other: int, rate: TimecodeRate, *, carries: bool) -> bool:
    """Whether labels go on from one minute into the next as they do from another."""
    return not (rate.drop and carries) or (minute % 10 == 9) == (other % 10 == 9)


def _seconds(table: Floats, rate: TimecodeRate, ahead: Ints) -> dict[int, float]:
    """How well seconds and frames fit, by a frame of the first minutes that has them.

    Where labels are dropped, a minute that is whole, one whose next is not, and one whose next
    is stand for all others.
    """
    of_frames = _each(table, FRAME_BITS, rate.counted)
    of_seconds = _each(table, SECOND_BITS, 60)
    starts = np.arange(rate.counted)
    alone = of_frames[ahead, (starts[:, None] + ahead) % rate.counted].sum(axis=1)
    likely = np.argsort(alone)[::-1][:LIKELY]
    found: dict[int, float] = {}
    for minute in (0, 8, 9) if rate.drop else (0,):
        first = minute * 60 * rate.counted - rate.dropped * minute
        here = first + np.arange(60 * rate.counted - (rate.dropped if minute else 0))
        here = here[np.isin(fields(here, rate)[3], likely)]
        _, _, second, of_second = fields(here[:, None] + ahead, rate)
        total = (of_frames[ahead, of_second] + of_seconds[ahead, second]).sum(axis=1)
        found |= dict(zip(here.tolist(), total.tolist(), strict=True))
    return found


def _each(table: Floats, places: Ints, count: int) -> Floats:
    """How well each number below a count fits the bits of each frame [shape=(frames, count)]."""
    signs = 2.0 * digits(np.arange(count), places) - 1.0
    return np.asarray(table[:, places] @ signs.T)


def _sum(table: Floats, places: Ints, numbers: Ints) -> float:
    """How well numbers, one a frame, fit the bits of the frames."""
    return float(np.sum(table[:, places] * (2.0 * digits(numbers, places) - 1.0)))
