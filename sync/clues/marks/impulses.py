"""Sudden short sounds: a clap, a knock, a slate.

A clap is broad in frequency, rises within a few milliseconds and is gone within a tenth of a
second. So the sound is limited to a band above wind and engine, its short-time level is held
against a running median of itself, and what stands out must come and go quickly: an engine
that opens up stays. The onset is then set to the sample by the two-variance (Akaike)
criterion for a change point, as seismologists pick arrivals (Maeda 1985, from memory).

How it can mislead: a spray hit on the microphone, a dropped tool and a slamming hatch are
impulses too. Which impulse was the clap is for `clap` to say, or to leave open.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats

if TYPE_CHECKING:
    from numpy.typing import NDArray

BAND_HZ = (1500.0, 8000.0)
"""Above wind (most of it below 500 Hz) and the engine's firing orders, where a clap is strong
(common practice, no published source)."""

HOP_S = 0.001
LEVEL_S = 0.004
"""Step and length of the short-time level: a clap's first burst lasts some milliseconds."""

BLOCK_S = 0.05
BLOCKS = 17
"""The background is the median over 0.05 s, and of 17 of those the median again: 0.85 s."""

LEAST_RISE_DB = 5.0
LEAST_SPREADS = 5.5
"""An impulse stands this far above the background, and this many of its robust spreads."""

SUDDEN_S = 0.010
SUDDEN_SHARE = 0.5
"""At least half of the rise happens within this time."""

GONE_S = (0.10, 0.20)
GONE_SHARE = 0.5
"""Between these times after it, at most half of the rise (in decibels) is left."""

ECHO_S = 0.25
ECHO_DB = 3.0
"""A later impulse within this time and weaker by this much is the echo of the one before."""

BEGINS_SD_S = 1.0e-3
"""How much sooner or later than claps do in the mean those of one pair of hands are found, as one
standard deviation: most begin at once, some touch for milliseconds before they strike (calibrated
on simulated claps, on other seeds than those of the tests, and held against recorded ones)."""

PIECE_S = 60.0
MARGIN_S = 1.5
"""Long sound is searched in pieces of this length, with this much of the neighbours around."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Impulse:
    """A sudden sound: its onset on the footage clock, and how far it stood out.

    `sd_s` is the onset's deviation against others that are made alike; what those share is
    `BEGINS_SD_S`.
    """

    t_s: float
    sd_s: float
    rise_db: float


def find_impulses(
    samples: NDArray[np.float32], rate_hz: float, start_s: float
) -> tuple[Impulse, ...]:
    """All impulses of a stretch of sound, by time, without echoes.

    Parameters
    ----------
    samples : [shape=(n,)]
        One channel; the scale does not matter.
    rate_hz
        Samples a second.
    start_s
        Time of the first sample on the footage clock.
    """
    if rate_hz < 2.5 * BAND_HZ[0]:
        return ()
    piece, margin = round(PIECE_S * rate_hz), round(MARGIN_S * rate_hz)
    found: list[Impulse] = []
    for first in range(0, samples.size, piece):
        low, high = max(first - margin, 0), min(first + piece + margin, samples.size)
        part = np.asarray(samples[low:high], dtype=np.float64)
        for impulse in _in_piece(part, rate_hz):
            place = low + impulse.t_s * rate_hz
            if first <= place < first + piece:
                t = start_s + place / rate_hz
                found.append(Impulse(t_s=t, sd_s=impulse.sd_s, rise_db=impulse.rise_db))
    return _without_echoes(found)


def _in_piece(samples: Floats, rate_hz: float) -> list[Impulse]:
    """Impulses of a piece, timed from its first sample, echoes and all."""
    hop = max(round(HOP_S * rate_hz), 1)
    if samples.size < hop * 200:
        return []
    band = _band_passed(samples, rate_hz)
    level, rise, spread = _levels(band, hop)
    wide = round(0.05 / HOP_S)
    found = []
    for k in _peaks(rise, np.maximum(LEAST_RISE_DB, LEAST_SPREADS * spread), wide):
        if _comes_and_goes(level, rise, k):
            rise_db = float(rise[k])
            t = _onset(band, k * hop, rate_hz) / rate_hz - _late_s(rise_db)
            found.append(Impulse(t_s=t, sd_s=_onset_sd(rise_db), rise_db=rise_db))
    return found


def _band_passed(samples: Floats, rate_hz: float) -> Floats:
    from scipy.signal import butter, sosfilt  # late: over a second

    high = min(BAND_HZ[1], 0.45 * rate_hz)
    sos = butter(2, (BAND_HZ[0], high), btype="bandpass", fs=rate_hz, output="sos")
    return np.asarray(sosfilt(sos, samples), dtype=np.float64)


def _levels(band: Floats, hop: int) -> tuple[Floats, Floats, Floats]:
    """Short-time level, its rise over the background, and the background's spread.

    Returns
    -------
    level, rise, spread : [shape=(n,), dB]
        One value a hop; the level at k is that of the `LEVEL_S` that begin there.
    """
    count = band.size // hop
    power = np.mean(band[: count * hop].reshape(count, hop) ** 2, axis=1)
    width = round(LEVEL_S / HOP_S)
    padded = np.append(power, np.full(width - 1, power[-1]))
    smooth = np.convolve(padded, np.full(width, 1.0 / width), mode="valid")
    floor = max(float(np.max(smooth)) * 1e-12, 1e-300)
    level = 10.0 * np.log10(np.maximum(smooth, floor))
    background = _running(level)
    rise = level - background
    return level, rise, 1.4826 * _running(np.abs(rise))


def _running(values: Floats) -> Floats:
    """A running median in two steps, drawn back out to one value a hop."""
    size = round(BLOCK_S / HOP_S)
    count = values.size // size
    blocks = np.median(values[: count * size].reshape(count, size), axis=1)
    half = min(BLOCKS // 2, (count - 1) // 2)
    padded = np.pad(blocks, half, mode="reflect") if half else blocks
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    middle = (np.arange(count) + 0.5) * size
    return np.interp(np.arange(values.size), middle, np.median(windows, axis=1))


def _peaks(rise: Floats, least: Floats, wide: int) -> list[int]:
    """Places above the threshold that are the highest within `wide` on either side."""
    out: list[int] = []
    for k in np.flatnonzero(rise >= least).tolist():
        if rise[k] >= np.max(rise[max(k - wide, 0) : k + wide + 1]) and (
            not out or k - out[-1] > wide
        ):
            out.append(k)
    return out


def _comes_and_goes(level: Floats, rise: Floats, k: int) -> bool:
    """Whether most of the rise came at once, and most of what came is gone soon after."""
    sudden = round(SUDDEN_S / HOP_S)
    before = float(np.median(level[max(k - 2 * sudden, 0) : max(k - sudden // 2, 1)]))
    after = level[k + round(GONE_S[0] / HOP_S) : k + round(GONE_S[1] / HOP_S)]
    jump = float(level[k]) - before
    left = float(np.median(after)) - before if after.size else 0.0
    return jump >= SUDDEN_SHARE * float(rise[k]) and left <= GONE_SHARE * jump


def _onset(band: Floats, place: int, rate_hz: float) -> float:
    """The sample at which the variance changes, near a place.

    ::

        AIC(n) = n log var(x[:n]) + (N - n) log var(x[n:])
    """
    first = max(place - round(0.012 * rate_hz), 0)
    around = band[first : place + round(0.006 * rate_hz)]
    squares = np.cumsum(around**2)
    count = np.arange(1, around.size + 1, dtype=np.float64)
    least = round(0.001 * rate_hz)
    tiny = max(float(squares[-1]), 1e-300) * 1e-9
    before = np.log(squares / count + tiny)
    rest = np.maximum(squares[-1] - squares, 0.0)
    left = np.maximum(around.size - count, 1.0)
    aic = count * before + left * np.log(rest / left + tiny)
    inner = aic[least : around.size - least]
    return float(first + least + int(np.argmin(inner)) + 1)


def _late_s(rise_db: float) -> float:
    """How much later than it begins a clap is found, in the mean: the softer it begins and the
    less it stands out, the more of its beginning is lost.

    ::

        10^((18.5 - rise) / 30) ms

    Source: simulated claps of many attacks under wind and engine, on other seeds than those of
    the tests.
    """
    return float(1e-3 * 10.0 ** ((18.5 - rise_db) / 30.0))


def _onset_sd(rise_db: float) -> float:
    """One standard deviation of an onset against others of the same hands.

    ::

        sd = sqrt(0.5² + (10^((10 - rise) / 20))²) ms

    Source: as for `_late_s`.
    """
    return float(1e-3 * np.hypot(0.5, 10.0 ** ((10.0 - rise_db) / 20.0)))


def _without_echoes(found: list[Impulse]) -> tuple[Impulse, ...]:
    kept: list[Impulse] = []
    for impulse in sorted(found, key=lambda one: one.t_s):
        echo = any(
            impulse.t_s - other.t_s <= ECHO_S and impulse.rise_db <= other.rise_db - ECHO_DB
            for other in kept[-4:]
        )
        if not echo:
            kept.append(impulse)
    return tuple(kept)
