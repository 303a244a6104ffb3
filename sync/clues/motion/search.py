"""The search of all offsets at which one log's motion may explain another's.

The law is that of `motion.fit` with the terms of cause and state apart, so that every sum in
the normal equations is a correlation, and comes from a fast Fourier transform. The gain of an
offset is what the cause explains there of what the state leaves over,

::

    gain = −(seconds in common) · ln(1 − R²)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.clues.motion.signals import LEAST_COMMON_S, STEP_S, Bools, Motion, Series, quick, scaled

COARSE = 3
"""Steps of the grid between two offsets in the search."""

APART_S = 3.0
"""Offsets nearer than this to the best are its flanks."""

CHUNK = 20_000
"""Lags that are solved at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """An offset of the search: ``t_cause = t_effect + shift_s``, its gain and its R²."""

    shift_s: float
    gain: float
    r2: float


def search(motion: Motion) -> tuple[Peak, ...]:
    """The best offset and the best one well away from it, the better first."""
    causes, here = _terms(motion.cause, [p for p, q in motion.joint if q == 0], motion.fast_s)
    effects, there = _effects(motion)
    if not np.any(here) or not np.any(there):
        return ()
    lags = np.arange(-(there.size - 1), here.size)
    common, r2 = _explained(_Lagged(here.size, there.size), causes, here, effects, there)
    step = COARSE * STEP_S
    gain = np.where(common * step >= LEAST_COMMON_S, -common * step * np.log1p(-r2), -np.inf)
    base = motion.cause.start_s - motion.effect.start_s
    found: list[Peak] = []
    while len(found) < 2:
        k = int(np.argmax(gain))
        if not gain[k] > 0:
            break
        found.append(
            Peak(shift_s=base + step * float(lags[k]), gain=float(gain[k]), r2=float(r2[k]))
        )
        gain[_flanks(gain, k, round(APART_S / step))] = -np.inf
    return tuple(found)


def _flanks(gain: Floats, k: int, least: int) -> slice:
    """A peak with its flanks: down to half its height, and a little further at least."""
    half = gain[k] / 2
    low, high = k, k
    while low > 0 and (gain[low] > half or k - low < least):
        low -= 1
    while high < gain.size - 1 and (gain[high] > half or high - k < least):
        high += 1
    return slice(low, high + 1)


def _terms(series: Series, powers: Sequence[int], fast_s: float) -> tuple[Floats, Bools]:
    """Fast parts of powers of a series, thinned for the search, and where it has values."""
    values = scaled(series.values)
    there = np.isfinite(values)
    columns = np.stack([np.where(there, values, 0.0) ** p for p in powers], axis=1)
    return quick(columns, there, fast_s)[::COARSE], there[::COARSE]


def _effects(motion: Motion) -> tuple[Floats, Bools]:
    """The effect in the first column, and the terms of its own state."""
    values, state = motion.effect.values, scaled(motion.state.values)
    there = np.isfinite(values) & np.isfinite(state)
    state = np.where(there, state, 0.0)
    columns = np.stack([np.where(there, values, 0.0), *(state**q for q in motion.own)], axis=1)
    return quick(columns, there, motion.fast_s)[::COARSE], there[::COARSE]


class _Lagged:
    """Sums of products of two rows at every lag of one against the other."""

    def __init__(self, first: int, second: int) -> None:
        self._size = 1 << (first + second - 1).bit_length()
        self._lags = np.arange(-(second - 1), first)

    def sums(self, first: Floats, second: Floats) -> Floats:
        """``Σ first[i + lag] second[i]`` by lag [shape=(first + second − 1,)]."""
        product = np.fft.rfft(first, self._size) * np.fft.rfft(second, self._size).conj()
        return np.asarray(np.fft.irfft(product, self._size)[self._lags])


def _explained(
    lagged: _Lagged, causes: Floats, here: Bools, effects: Floats, there: Bools
) -> tuple[Floats, Floats]:
    """Samples in common, and R² beyond the effect's own state, at every lag."""
    mine, theirs = here.astype(np.float64), there.astype(np.float64)
    own, other = effects.shape[1] - 1, causes.shape[1]
    common = np.round(lagged.sums(mine, theirs))
    square = lagged.sums(mine, effects[:, 0] ** 2)
    count = own + other
    gram = np.empty((common.size, count, count))
    right = np.empty((common.size, count))
    for i in range(own):
        right[:, i] = lagged.sums(mine, effects[:, i + 1] * effects[:, 0])
        for j in range(i, own):
            gram[:, i, j] = gram[:, j, i] = lagged.sums(mine, effects[:, i + 1] * effects[:, j + 1])
        for j in range(other):
            cross = lagged.sums(causes[:, j], effects[:, i + 1])
            gram[:, i, own + j] = gram[:, own + j, i] = cross
    for i in range(other):
        right[:, own + i] = lagged.sums(causes[:, i], effects[:, 0])
        for j in range(i, other):
            pair = lagged.sums(causes[:, i] * causes[:, j], theirs)
            gram[:, own + i, own + j] = gram[:, own + j, own + i] = pair
    # A little of the identity keeps what too few samples cannot tell from running away.
    gram += np.eye(count) * (1e-6 * np.maximum(common, 1.0))[:, None, None]
    given = _left_over(gram, right, square)
    without = _left_over(gram[:, :own, :own], right[:, :own], square)
    # Terms explain by chance as well; the fewer the samples, the more.
    fair = 1 + other / np.maximum(common * COARSE * STEP_S - count, 1.0)
    felt = without > 1e-6 * max(float(np.max(square)), 1e-12)
    r2 = 1 - fair * np.divide(given, without, out=np.ones_like(given), where=felt)
    return common, np.clip(r2, 0.0, 1 - 1e-9)


def _left_over(gram: Floats, right: Floats, square: Floats) -> Floats:
    """Sum of squares that a least-squares fit leaves over, at every lag."""
    if gram.shape[1] == 0:
        return np.maximum(square, 0.0)
    left = np.empty(square.size)
    for first in range(0, square.size, CHUNK):
        part = slice(first, first + CHUNK)
        solved = np.linalg.solve(gram[part], right[part][..., None])[..., 0]
        left[part] = square[part] - np.sum(solved * right[part], axis=1)
    return np.maximum(left, 0.0)
