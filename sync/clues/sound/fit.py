"""How two sounds lie to each other to a fraction of a millisecond, and how fast they drift apart.

Pieces of some seconds are held against each other by their phases alone, each frequency
counting the same (generalised cross-correlation with the phase transform, Knapp and Carter
1976, from memory): so a steady engine's few lines do not drown the noise that has no period.
What the pieces say is added up along straight lines, an offset and a drift: the side peaks of a
note whose pitch changes lie elsewhere in each piece, and only the truth adds up.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.clues.sound.places import MOST_DRIFT, NOISE_SAMPLES, Heard, Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

PIECE_S = (2.0, 6.0)
MOST_PIECES = 60
PIECE_SHARE = 1 / 16
"""Pieces are a sixteenth of what is shared, within these lengths, and no more than so many."""

FINE_HZ = 12_000.0
BAND_HZ = (150.0, 5000.0)
REACH_S = 0.06
"""Rate at which pieces are compared, the frequencies that count, and how far from the place
that is tried an offset is looked for: a drift of 120 parts in a million takes 8 minutes to it."""

DRIFT_LEFT = 15e-6
"""How far a drift that is known may be out: a line's slope is looked for within it."""

SAME_S = 0.0015
"""Offsets nearer than this are one: side peaks of the band itself."""

NEAR_S = 0.0006
LEAST_PEAK = 4.5
"""A piece counts whose own peak stands out by so many deviations, so near to the line."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SoundFit:
    """A straight line through what the pieces say.

    ::

        t_other = t_one + offset_s + drift (t_one − at_s)

    Parameters
    ----------
    offset_s, at_s, drift
        The line, about the middle of the pieces that count.
    sd_s, spread_s
        Deviation of the offset there, and how far in the mean the pieces lie from it.
    score, second
        By how many deviations of all lines the best stands out, and the best that lies
        elsewhere.
    pieces, used
        How many were compared, and how many of them say the same.
    second_s
        Where the second best has its offset.
    """

    offset_s: float
    at_s: float
    drift: float
    sd_s: float
    spread_s: float
    score: float
    second: float
    second_s: float
    pieces: int
    used: int


def fit_sounds(one: Heard, other: Heard, place: Place) -> SoundFit | None:
    """The best line near a place; None where too little is shared to be compared."""
    offset_s = place.offset_s
    begin = max(one.start_s, other.start_s - offset_s) + REACH_S
    end = min(one.start_s + one.length_s, other.start_s + other.length_s - offset_s) - REACH_S
    length = float(np.clip((end - begin) * PIECE_SHARE, *PIECE_S))
    count = min(MOST_PIECES, int((end - begin) / length))
    if count < 3:
        return None
    starts = np.linspace(begin, end - length, count)
    rows = []
    kept = []
    drift = place.drift or 0.0
    for start in starts.tolist():
        there = start + offset_s + drift * (start + 0.5 * length - place.at_s)
        row = _phases(_cut(one, start, length), _cut(other, there, length))
        if row is not None:
            rows.append(row)
            kept.append(start + 0.5 * length)
    if len(rows) < 3:
        return None
    more = MOST_DRIFT if place.drift is None else DRIFT_LEFT
    found = _line(np.array(rows), np.array(kept), more)
    return replace(
        found,
        offset_s=found.offset_s + offset_s + drift * (found.at_s - place.at_s),
        second_s=found.second_s + offset_s + drift * (found.at_s - place.at_s),
        drift=found.drift + drift,
    )


def _cut(sound: Heard, start_s: float, length_s: float) -> Floats:
    """A piece at the rate of comparison; its first sample is at the instant to a millionth."""
    from scipy.signal import resample_poly

    first = (start_s - sound.start_s) * sound.rate_hz
    whole = max(0, round(first))
    piece = sound.samples[whole : whole + round(length_s * sound.rate_hz)]
    ratio = Fraction(FINE_HZ / sound.rate_hz).limit_denominator(2000)
    wanted = round(length_s * FINE_HZ)
    brought = np.asarray(resample_poly(piece, ratio.numerator, ratio.denominator), np.float64)
    out = np.zeros(wanted)
    out[: min(wanted, brought.size)] = brought[:wanted]
    # What rounding to a sample moved is turned back in phase.
    moved = (first - whole) / sound.rate_hz
    hz = np.fft.rfftfreq(wanted, 1 / FINE_HZ)
    spectrum = np.fft.rfft(out * np.hanning(wanted)) * np.exp(2j * np.pi * hz * moved)
    return np.asarray(np.fft.irfft(spectrum, wanted))


def _phases(one: Floats, other: Floats) -> Floats | None:
    """How well the phases fit at lags within the reach [shape=(lags,)], in deviations."""
    if float(np.ptp(one)) == 0.0 or float(np.ptp(other)) == 0.0:
        return None
    size = 2 * one.size
    cross = np.conj(np.fft.rfft(one, size)) * np.fft.rfft(other, size)
    hz = np.fft.rfftfreq(size, 1 / FINE_HZ)
    inside = (hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1])
    cross = np.where(inside, cross / np.maximum(np.abs(cross), 1e-300), 0.0)
    fit = np.fft.irfft(cross, size)
    reach = round(REACH_S * FINE_HZ)
    fit = np.r_[fit[-reach:], fit[: reach + 1]]
    return np.asarray(fit / (1.4826 * np.median(np.abs(fit)) + 1e-12))


def _line(rows: Floats, t_s: Floats, most_drift: float) -> SoundFit:
    """The line along which the rows add up most, from where they were cut."""
    reach = rows.shape[1] // 2
    at_s = float(t_s.mean())
    since = t_s - at_s
    smooth = rows + 0.5 * (np.roll(rows, 1, axis=1) + np.roll(rows, -1, axis=1))
    most = most_drift * float(np.abs(since).max()) * FINE_HZ
    steps = max(1, int(np.ceil(most / 0.7)))
    drifts = np.arange(-steps, steps + 1) * (most_drift / steps)
    sums = np.empty((drifts.size, rows.shape[1]), dtype=np.float32)
    for k, drift in enumerate(drifts):
        sums[k] = _sum_along(smooth, np.round(drift * since * FINE_HZ).astype(int))
    k, lag = divmod(int(np.argmax(sums)), sums.shape[1])
    every = max(1, sums.size // NOISE_SAMPLES)
    noise = 1.4826 * float(np.median(np.abs(sums.ravel()[::every]))) + 1e-12
    apart = round(SAME_S * FINE_HZ)
    # A steeper line through the same pieces is the same place seen aslant.
    elsewhere = sums[k].copy()
    elsewhere[max(0, lag - apart) : lag + apart + 1] = -np.inf
    second = int(np.argmax(elsewhere)), float(np.max(elsewhere))
    best = float(sums[k, lag])
    found = _through_pieces(rows, since, float(lag), float(drifts[k]))
    middle, drift, sd, used, centre, spread = found
    return SoundFit(
        offset_s=(middle - reach) / FINE_HZ,
        at_s=at_s + centre,
        drift=drift,
        sd_s=sd,
        spread_s=spread,
        score=best / noise,
        second=second[1] / noise,
        second_s=(second[0] - reach) / FINE_HZ,
        pieces=rows.shape[0],
        used=used,
    )


def _sum_along(rows: Floats, moved: NDArray[np.int64]) -> Floats:
    """The sum of rows, each read so many lags further on; what lies beyond an end is nought."""
    count = rows.shape[1]
    total = np.zeros(count)
    for row, k in zip(rows, moved.tolist(), strict=True):
        if 0 <= k < count:
            total[: count - k] += row[k:]
        elif -count < k < 0:
            total[-k:] += row[:k]
    return total


def _through_pieces(
    rows: Floats, since: Floats, lag: float, drift: float
) -> tuple[float, float, float, int, float, float]:
    """A line through the pieces' own peaks near one: its lag in the middle of those that count,
    its drift, its deviation, how many count, where their middle is, and how far they spread."""
    near = round(NEAR_S * FINE_HZ)
    peaks, heights = [], []
    for row, t in zip(rows, since.tolist(), strict=True):
        guess = round(lag + drift * t * FINE_HZ)
        low, high = max(1, guess - near), min(row.size - 1, guess + near + 1)
        if low >= high:
            peaks.append(np.nan)
            heights.append(0.0)
            continue
        k = low + int(np.argmax(row[low:high]))
        bend = row[k - 1] - 2 * row[k] + row[k + 1]
        peaks.append(k + (0.5 * (row[k - 1] - row[k + 1]) / bend if bend < 0 else 0.0))
        heights.append(float(row[k]))
    where, high_enough = np.array(peaks), np.array(heights) >= LEAST_PEAK
    count = int(np.count_nonzero(high_enough))
    if count < 3:
        return lag, drift, np.inf, count, 0.0, 0.0
    x, y = since[high_enough], where[high_enough]
    kept = np.ones(x.size, dtype=bool)
    for _ in range(3):
        slope, level = np.polyfit(x[kept] - x[kept].mean(), y[kept], 1)
        left = y - level - slope * (x - x[kept].mean())
        scatter = 1.4826 * float(np.median(np.abs(left[kept]))) + 0.02
        kept = np.abs(left) <= 4 * scatter
    used = int(np.count_nonzero(kept))
    centre = float(x[kept].mean())
    noise = float(np.sqrt(np.sum(np.square(left[kept])) / max(used - 2, 1)))
    spread = float(x[kept].std())
    sd = noise / np.sqrt(used) / FINE_HZ
    return float(level), float(slope) / FINE_HZ, sd, used, centre, spread
