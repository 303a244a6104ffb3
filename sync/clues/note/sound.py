"""The engine's note in a sound: how well each firing frequency explains each instant.

The sound is cut into short frames. Each frame is played at a few steadily changing speeds, so
that a note which rises or falls at one of these rates becomes a steady one and all of its
orders sharp at once; a launch takes an engine through an octave in a third of a second. The
log-magnitude is whitened over frequency, and a comb adds up what stands at the multiples of
a firing frequency and takes off half of what stands midway between them:

::

    S(f, t) = Σ_k [W(k f, t) − ½ (W((k − ½) f, t) + W((k + ½) f, t)) / 2] / √K

less its mean over time, so that a hum which never changes speaks for no place.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats

Table = NDArray[np.float32]

SOURCE_HZ = 8000.0
"""Rate to which the sound is brought before frames are read between its samples."""

FRAME_HZ = 4000.0
FRAME_S = 0.16
FRAME = round(FRAME_S * FRAME_HZ)
BINS = 2048
"""Rate, length and Fourier size of a frame: bins of 2 Hz, and Hann's window 12 Hz wide."""

CHIRPS = np.array([-3.0, -1.6, -0.8, -0.3, 0.0, 0.3, 0.8, 1.6, 3.0])
"""Rates of change of the note that are tried, of its logarithm a second: an outboard that is
thrown open from idle reaches about 3 (measured on the demo's simulation)."""

LOWEST_HZ, HIGHEST_HZ = 18.0, 1600.0
"""Where orders are looked for: below, a frame holds too few periods."""

MOST_ORDERS = 12
SMOOTH_HZ = 120.0
CLIP = 2.5
RATIO = 1.006
"""Step from one firing frequency of the table to the next: 12 orders of 100 Hz move by 7 Hz."""

LEAST_HOP_S = 0.025
MOST_FRAMES = 8000
CHUNK = 256


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectra:
    """Whitened spectra [shape=(frames, chirps, BINS/2 + 1)] of frames whose middles lie
    `hop_s` apart from `start_s` on, on the clock of the sound."""

    start_s: float
    hop_s: float
    whitened: NDArray[np.float16]

    @property
    def t_s(self) -> Floats:
        """Middles of the frames."""
        return _middles(self.start_s, self.hop_s, self.whitened.shape[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Note:
    """How well firing frequencies explain the frames.

    Parameters
    ----------
    start_s, hop_s
        Middle of the first frame and from each to the next.
    lowest_hz
        Firing frequency of the first column; each next one is `RATIO` times the last.
    table : [shape=(frames, chirps, columns)]
        The score S, in standard deviations of a cell, its mean over frames nought.
    """

    start_s: float
    hop_s: float
    lowest_hz: float
    table: Table

    @property
    def t_s(self) -> Floats:
        """Middles of the frames."""
        return _middles(self.start_s, self.hop_s, self.table.shape[0])


def _middles(start_s: float, hop_s: float, count: int) -> Floats:
    return np.asarray(start_s + hop_s * np.arange(count), dtype=np.float64)


def spectra_of(samples: NDArray[np.float32], rate_hz: float, start_s: float) -> Spectra | None:
    """Frames of a sound, whitened; None where it is shorter than two of them."""
    source = _resampled(samples, rate_hz)
    length_s = source.size / SOURCE_HZ
    hop = max(LEAST_HOP_S, length_s / MOST_FRAMES)
    count = int((length_s - 1.5 * FRAME_S) // hop)
    if count < 2:
        return None
    middles = 0.75 * FRAME_S + hop * np.arange(count)
    out = np.empty((count, CHIRPS.size, BINS // 2 + 1), dtype=np.float16)
    window = np.hanning(FRAME).astype(np.float32)
    floor = 1e-3 * float(np.mean(source**2)) * FRAME * 0.375 + 1e-20
    for k, chirp in enumerate(CHIRPS):
        places = _warped(float(chirp)) * SOURCE_HZ
        for first in range(0, count, CHUNK):
            at = middles[first : first + CHUNK, None] * SOURCE_HZ + places[None, :]
            out[first : first + CHUNK, k] = _whitened(_read(source, at) * window, floor)
    return Spectra(start_s=start_s + float(middles[0]), hop_s=hop, whitened=out)


def _resampled(samples: NDArray[np.float32], rate_hz: float) -> NDArray[np.float32]:
    from scipy.signal import resample_poly

    share = Fraction(SOURCE_HZ / rate_hz).limit_denominator(1000)
    if share == 1:
        return np.asarray(samples, dtype=np.float32)
    out = resample_poly(np.asarray(samples, np.float32), share.numerator, share.denominator)
    return np.asarray(out, dtype=np.float32)


def _warped(chirp: float) -> Floats:
    """Instants about a frame's middle at which a note of that rate has turned evenly.

    The phase of a note with ln f changing at `c` is ∝ (eᶜᵗ − 1)/c; evenly spaced phases u
    are reached at t = ln(1 + c u)/c.
    """
    u = (np.arange(FRAME) - (FRAME - 1) / 2) / FRAME_HZ
    return np.asarray(u if chirp == 0 else np.log1p(chirp * u) / chirp, dtype=np.float64)


def _read(source: NDArray[np.float32], at: Floats) -> NDArray[np.float32]:
    whole = np.clip(at.astype(np.int64), 0, source.size - 2)
    share = (at - whole).astype(np.float32)
    return source[whole] * (1 - share) + source[whole + 1] * share


def _whitened(frames: NDArray[np.float32], floor: float) -> Table:
    from scipy.fft import rfft
    from scipy.ndimage import uniform_filter1d

    spectrum = rfft(frames, BINS, axis=1)
    level = np.log(spectrum.real**2 + spectrum.imag**2 + np.float32(floor))
    width = round(SMOOTH_HZ * BINS / FRAME_HZ)
    around = uniform_filter1d(level, width, axis=1, mode="nearest")
    return np.asarray(np.clip(level - around, -CLIP, CLIP), dtype=np.float32)


def note_of(spectra: Spectra, lowest_hz: float, highest_hz: float) -> Note:
    """The score of every firing frequency between two."""
    columns = int(np.ceil(np.log(highest_hz / lowest_hz) / np.log(RATIO))) + 2
    comb = _comb(np.asarray(lowest_hz * RATIO ** np.arange(columns), dtype=np.float64))
    count, chirps, bins = spectra.whitened.shape
    table = np.empty((count, chirps, columns), dtype=np.float32)
    for first in range(0, count, CHUNK):
        part = spectra.whitened[first : first + CHUNK].astype(np.float32)
        table[first : first + CHUNK] = (part.reshape(-1, bins) @ comb).reshape(-1, chirps, columns)
    table -= table.mean(axis=0)
    table /= max(float(np.std(table)), 1e-12)
    return Note(start_s=spectra.start_s, hop_s=spectra.hop_s, lowest_hz=lowest_hz, table=table)


def _comb(firing_hz: Floats) -> Table:
    """Weights of the spectrum's bins for each firing frequency [shape=(bins, frequencies)]."""
    comb = np.zeros((BINS // 2 + 1, firing_hz.size), dtype=np.float32)
    for column, f in enumerate(firing_hz.tolist()):
        first = max(1, int(np.ceil(LOWEST_HZ / f)))
        last = min(first + MOST_ORDERS - 1, int(HIGHEST_HZ / f))
        orders = np.arange(first, last + 1)
        if orders.size == 0:
            continue
        for places, share in ((orders, 1.0), (orders - 0.5, -0.25), (orders + 0.5, -0.25)):
            at = places * f * BINS / FRAME_HZ
            whole = at.astype(np.int64)
            part = at - whole
            weight = share / np.sqrt(orders.size)
            np.add.at(comb[:, column], whole, weight * (1 - part))
            np.add.at(comb[:, column], whole + 1, weight * part)
    return comb
