"""Where two sounds could be the same, over their whole lengths.

Both are brought to a low rate, evened in level and spectrum, and the lines of a steady engine
cut down. Then pieces of some seconds, all over the shorter sound, are each held against all of
the other: short enough that clocks do not drift by a period within one, and enough of them
that some lie in what both recorded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Wave = NDArray[np.float32]

COARSE_HZ, LONG_HZ = 4000.0, 2000.0
LONG_S = 1200.0
"""Rate of the search, and for sounds beyond twenty minutes, of which there are samples enough."""

MEAN_TO = 5.0
"""Samples are first put together by their means, down to so many times the rate of the search:
quicker than a filter, and what folds back of higher sound is weak."""

LOWEST_HZ = 150.0
LEVEL_S = 0.5
"""What lies lower is wind; levels are evened over half a second."""

BAND_HZ = 20.0
LINE_CLIP = 2.5
"""Lines of more than so many medians of their band are cut down to that."""

EVENED_S = 32.0
"""A sound's spectrum is evened in stretches of about this length: an engine's lines stand still
for as long."""

BLOCK = 1 << 17
LOWERED, MARGIN = 1 << 20, 1 << 12
NOISE_SAMPLES = 200_000
"""Samples that are compared, or brought to a lower rate, at once, and how many of all fits tell
the noise: an hour of sound costs no more memory than minutes do."""

PIECE_S = 6.0
EVERY_S = 45.0
PIECES = (8, 24)
"""Length of the pieces, how far apart they are, and how few and many at most."""

MOST_DRIFT = 120e-6
"""How fast two clocks may run apart: two cheap crystals at 50 parts in a million, and some
(common practice, no published source)."""

LEAST_SHARED_S = 10.0

APART_S = 0.03
"""Places nearer than this, at the drift that clocks may have, are one."""

PLACES = 4

SURE, FAR_S = 7.0, 100.0
"""Pieces that stand out so far, so far apart, tell the drift to 3 parts in a million: chance
brings the best of some million places to 5.5."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """A sound: mono samples [shape=(n,)], their rate, and when the first is on its clock."""

    samples: Wave
    rate_hz: float
    start_s: float

    @property
    def length_s(self) -> float:
        """How long it is."""
        return self.samples.size / self.rate_hz


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the one sound is in the other, by a piece of it.

    ::

        t_other = t_one + offset_s + drift (t_one − at_s)

    The drift is None where no two pieces that are far apart tell it. `score` is by how many
    deviations of all places the best of its pieces stands out.
    """

    offset_s: float
    at_s: float
    score: float
    drift: float | None = None


def likely_places(one: Heard, other: Heard) -> list[Place]:
    """Where pieces of the one sound are most like the other, the best first."""
    if one.length_s > other.length_s:
        return [_turned(place) for place in likely_places(other, one)]
    rate_hz = COARSE_HZ if other.length_s <= LONG_S else LONG_HZ
    short, long = evened(one, rate_hz), evened(other, rate_hz)
    length = min(round(PIECE_S * rate_hz), short.size)
    count = int(np.clip(one.length_s / EVERY_S, *PIECES))
    firsts = np.linspace(0, short.size - length, count).astype(int)
    pieces = np.stack([short[first : first + length] for first in firsts.tolist()])
    heard = np.any(pieces, axis=1)
    best, score = _best_of(pieces[heard], long)
    found = []
    for first, k, its in zip(firsts[heard].tolist(), best.tolist(), score.tolist(), strict=True):
        at_s = one.start_s + first / rate_hz
        offset_s = other.start_s + k / rate_hz - at_s
        found.append(Place(offset_s=offset_s, at_s=at_s, score=its))
    return _apart(sorted(found, key=lambda place: place.score, reverse=True))


def _best_of(pieces: Wave, long: Wave) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Where in a long sound each piece [shape=(pieces, n)] fits best, and by how many deviations
    of all places.

    The long sound is gone through in overlapping blocks, so that no more than a block of fits
    is ever held.
    """
    from scipy.fft import irfft, rfft

    count, length = pieces.shape
    size = max(BLOCK, 1 << (4 * length - 1).bit_length())
    spectra = np.conj(rfft(pieces, size, axis=1))
    ahead = size - length + 1
    every = max(1, long.size // NOISE_SAMPLES)
    best, most = np.zeros(count, dtype=np.int64), np.full(count, -np.inf)
    sampled: list[Wave] = []
    for first in range(0, long.size, ahead):
        block = rfft(long[first : first + size], size)
        fit = irfft(block * spectra, size, axis=1)[:, : min(ahead, long.size - first)]
        sampled.append(np.abs(fit[:, ::every]))
        here = np.argmax(fit, axis=1)
        high = fit[np.arange(count), here]
        best = np.where(high > most, first + here, best)
        most = np.maximum(most, high)
    noise = 1.4826 * np.median(np.concatenate(sampled, axis=1), axis=1) + 1e-12
    return best, most / noise


def _turned(place: Place) -> Place:
    """A place as the other sound has it; of the drift's square nothing is left to see."""
    return Place(
        offset_s=-place.offset_s,
        at_s=place.at_s + place.offset_s,
        score=place.score,
        drift=None if place.drift is None else -place.drift,
    )


def _apart(found: list[Place]) -> list[Place]:
    """The best places, each once, with the drift that their pieces agree on."""
    groups: list[list[Place]] = []
    for one in found:
        for group in groups:
            if abs(one.offset_s - group[0].offset_s) <= _reach(one, group[0]):
                group.append(one)
                break
        else:
            groups.append([one])
    return [replace(group[0], drift=_drift(group)) for group in groups[:PLACES]]


def _reach(one: Place, other: Place) -> float:
    return APART_S + MOST_DRIFT * abs(one.at_s - other.at_s)


def _drift(group: list[Place]) -> float | None:
    """The median of what the best piece and each sure one far from it say of the drift."""
    best = group[0]
    slopes = [
        (one.offset_s - best.offset_s) / (one.at_s - best.at_s)
        for one in group[1:]
        if one.score >= SURE and abs(one.at_s - best.at_s) >= FAR_S
    ]
    return float(np.median(slopes)) if slopes else None


def evened(sound: Heard, rate_hz: float) -> Wave:
    """A sound at a low rate, of one level at all times and all frequencies, without its lines.

    Stretches that overlap by half are evened each by its own spectrum and added up again.
    """
    x = _levelled(_lowered(sound, rate_hz), max(1, round(LEVEL_S * rate_hz)))
    size = 1 << round(np.log2(EVENED_S * rate_hz))
    half = size // 2
    window = np.hanning(size + 1)[:-1].astype(np.float32)
    out = np.zeros(half + x.size + size, dtype=np.float32)
    padded = np.r_[np.zeros(half, np.float32), x, np.zeros(size, np.float32)]
    for first in range(0, x.size + half, half):
        out[first : first + size] += _flat(padded[first : first + size] * window, rate_hz)
    return out[half : half + x.size]


def _lowered(sound: Heard, rate_hz: float) -> Wave:
    """A sound at a lower rate, brought there in blocks that overlap by what the filter reaches."""
    from scipy.signal import resample_poly

    every = max(1, int(sound.rate_hz / (MEAN_TO * rate_hz)))
    ratio = Fraction(rate_hz * every / sound.rate_hz).limit_denominator(2000)
    up, down = ratio.numerator, ratio.denominator
    whole = sound.samples.size // every
    # Blocks and margins of whole steps of the filter, so that theirs fall on the same instants.
    step, margin = down * max(1, LOWERED // down), down * max(1, MARGIN // down)
    parts = []
    for first in range(0, whole, step):
        begin = max(0, first - margin)
        part = sound.samples[begin * every : min(whole, first + step + margin) * every]
        means = part.reshape(-1, every).mean(axis=1)
        low = np.asarray(resample_poly(means, up, down), dtype=np.float32)
        skip = (first - begin) // down * up
        wanted = step // down * up if first + step < whole else low.size
        parts.append(low[skip : skip + wanted])
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.float32)


def _flat(x: Wave, rate_hz: float) -> Wave:
    """A stretch with its spectrum evened and its lines cut down.

    Its energy stays in proportion, so that a stretch that is silence but for an end is not made
    up for by a loud one.
    """
    from scipy.fft import irfft, rfft

    energy = float(np.sqrt(np.mean(np.square(x))))
    spectrum = rfft(x)
    power = np.abs(spectrum)
    wide = max(1, round(BAND_HZ * x.size / rate_hz))
    bands = power.size // wide
    level = np.median(power[: bands * wide].reshape(bands, wide), axis=1)
    level = np.interp(np.arange(power.size), (np.arange(bands) + 0.5) * wide, level)
    level = level.astype(np.float32) + 1e-6 * float(power.max()) + 1e-20
    spectrum *= np.minimum(1.0, LINE_CLIP * level / np.maximum(power, 1e-30)) / level
    hz = np.arange(power.size) * (rate_hz / x.size)
    spectrum[(hz < LOWEST_HZ) | (hz > 0.45 * rate_hz)] = 0.0
    return np.asarray(energy * irfft(spectrum, x.size), dtype=np.float32)


def _levelled(x: Wave, width: int) -> Wave:
    """Samples over the level about them; silence stays silence."""
    count = max(1, x.size // width)
    blocks = x[: count * width].reshape(count, -1) if x.size >= width else x[None, :]
    level = np.sqrt(np.mean(np.square(blocks), axis=1))
    quiet = 1e-3 * float(level.max()) + 1e-20
    middles, level = (np.arange(level.size) + 0.5) * width, np.maximum(level, quiet)
    out = np.empty(x.size, dtype=np.float32)
    for first in range(0, x.size, LOWERED):
        part = x[first : first + LOWERED]
        out[first : first + part.size] = part / np.interp(
            np.arange(first, first + part.size), middles, level
        )
    return out
