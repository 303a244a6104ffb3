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
    from scipy.fft import irfft, next_fast_len, rfft

    rate_hz = COARSE_HZ if other.length_s <= LONG_S else LONG_HZ
    short, long = evened(one, rate_hz), evened(other, rate_hz)
    length = min(round(PIECE_S * rate_hz), short.size)
    size = next_fast_len(long.size + length, real=True)
    spectrum = rfft(long, size)
    count = int(np.clip(one.length_s / EVERY_S, *PIECES))
    found = []
    for first in np.linspace(0, short.size - length, count).astype(int).tolist():
        piece = short[first : first + length]
        if not np.any(piece):
            continue
        fit = irfft(spectrum * np.conj(rfft(piece, size)), size)[: long.size]
        noise = 1.4826 * float(np.median(np.abs(fit[:: max(1, fit.size // 200_000)]))) + 1e-12
        k = int(np.argmax(fit))
        at_s = one.start_s + first / rate_hz
        offset_s = other.start_s + k / rate_hz - at_s
        found.append(Place(offset_s=offset_s, at_s=at_s, score=float(fit[k]) / noise))
    return _apart(sorted(found, key=lambda place: place.score, reverse=True))


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
    """A sound at a low rate, of one level at all times and all frequencies, without its lines."""
    from scipy.fft import irfft, next_fast_len, rfft
    from scipy.signal import resample_poly

    every = max(1, int(sound.rate_hz / (MEAN_TO * rate_hz)))
    whole = sound.samples.size // every * every
    x = sound.samples[:whole].reshape(-1, every).mean(axis=1)
    ratio = Fraction(rate_hz * every / sound.rate_hz).limit_denominator(2000)
    x = resample_poly(x, ratio.numerator, ratio.denominator).astype(np.float32)
    x = _levelled(x, max(1, round(LEVEL_S * rate_hz)))
    size = next_fast_len(x.size, real=True)
    spectrum = rfft(x, size)
    power = np.abs(spectrum)
    wide = max(1, round(BAND_HZ * size / rate_hz))
    bands = power.size // wide
    if bands < 2:
        return x
    level = np.median(power[: bands * wide].reshape(bands, wide), axis=1)
    level = np.interp(np.arange(power.size), (np.arange(bands) + 0.5) * wide, level)
    level = level.astype(np.float32) + 1e-6 * float(power.max()) + 1e-20
    spectrum *= np.minimum(1.0, LINE_CLIP * level / np.maximum(power, 1e-30)) / level
    hz = np.arange(power.size) * (rate_hz / size)
    spectrum[(hz < LOWEST_HZ) | (hz > 0.45 * rate_hz)] = 0.0
    return np.asarray(irfft(spectrum, size)[: x.size], dtype=np.float32)


def _levelled(x: Wave, width: int) -> Wave:
    """Samples over the level about them; silence stays silence."""
    count = max(1, x.size // width)
    blocks = x[: count * width].reshape(count, -1) if x.size >= width else x[None, :]
    level = np.sqrt(np.mean(np.square(blocks), axis=1))
    quiet = 1e-3 * float(level.max()) + 1e-20
    middles = (np.arange(level.size) + 0.5) * width
    return np.asarray(
        x / np.interp(np.arange(x.size), middles, np.maximum(level, quiet)), dtype=np.float32
    )
