"""Whether one sound goes on where another ends.

An engine's note is predictable for longer than the cut between two files lasts: what comes
before says in which phase what comes after must be. The wind is not. So the likelihood of both
sides together, under the spectrum that they share, is held against that of each alone, and both
against what the same figure is where the sound is known to go on (cuts made within each side)
and where it is known not to (stretches that do not belong together). Where these two cannot be
told apart, as in wind alone, nothing is claimed.

The likelihood is that of a stationary Gaussian process (e.g. Brockwell and Davis, Time Series:
Theory and Methods, 8.6; from memory)::

    score = -½ [uᵀR⁻¹u - aᵀR₁⁻¹a - bᵀR₁⁻¹b],   u = (a, b)

with R the covariance by the autocorrelation of both sides and R₁ its upper left quarter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

Array = NDArray[np.float64]

RATE_HZ = 4000
"""The first orders of an engine's note lie well below half of this."""

SIDE = 300
"""Samples on each side of a cut that are weighed: 75 ms, a few firings of an idling engine."""

BODY_S = 1.5
"""How much of each side is looked at."""

NEAR_S = 0.5
"""How much of each side, next to the cut, the spectrum is taken from."""

NOISE = 0.02
"""Share of the power that is taken for coding noise, which no two files share."""

PLACEBOS = 24
"""Cuts that are made within each side."""

CLEAR = 0.9
"""Share of the made cuts that must fall on their own side of the threshold."""

USUAL = 0.15
"""Share of the cuts where the sound goes on that score less than what is believed."""

FAINT = 1e-4
"""Below this RMS (full scale 1) there is nothing to hear."""


def goes_on(before: Array, after: Array, rate_hz: int) -> bool | None:
    """Whether `after` is what followed on `before`, sample by sample.

    Parameters
    ----------
    before, after : [shape=(n,), full scale is 1]
        The end of the one and the beginning of the other, mono.
    rate_hz
        Samples a second.

    Returns
    -------
    bool or None
        None where the sound is too short, too faint or too random to tell.

    Source
    ------
    tests/sync/media/test_chapters.py has how often it is right, on simulated engines.
    """
    a, b = _slowed(before, rate_hz)[-_count(BODY_S) :], _slowed(after, rate_hz)[: _count(BODY_S)]
    if min(len(a), len(b)) < 4 * SIDE or min(a.std(), b.std()) < FAINT:
        return None
    score = _Score(a[-_count(NEAR_S) :], b[: _count(NEAR_S)])
    true, false = _placebos(score, a, b)
    threshold = _between(true, false)
    if threshold is None:
        return None
    seam = score(a[-SIDE:], b[:SIDE])
    if seam <= threshold:
        return False
    # A stretch of an even note may fit by chance, but seldom as well as what belongs there.
    return True if seam >= np.quantile(true, USUAL) else None


def _count(seconds: float) -> int:
    return round(seconds * RATE_HZ)


def _slowed(samples: Array, rate_hz: int) -> Array:
    from scipy.signal import resample_poly  # late: a second

    common = int(np.gcd(RATE_HZ, rate_hz))
    slowed = resample_poly(samples.astype(np.float64), RATE_HZ // common, rate_hz // common)
    return np.asarray(slowed - slowed.mean(), dtype=np.float64)


class _Score:
    """The figure of the module's head, for one spectrum."""

    def __init__(self, a: Array, b: Array) -> None:
        from scipy.linalg import toeplitz

        r = _autocorrelation(a) + _autocorrelation(b)
        r = r / r[0]
        r[0] += NOISE
        self._both = np.linalg.inv(toeplitz(r))
        self._one = np.linalg.inv(toeplitz(r[:SIDE]))

    def __call__(self, a: Array, b: Array) -> float:
        a, b = a / (a.std() or 1.0), b / (b.std() or 1.0)
        u = np.concatenate([a, b])
        alone = a @ self._one @ a + b @ self._one @ b
        return float(-0.5 * (u @ self._both @ u - alone))


def _autocorrelation(x: Array) -> Array:
    x = (x - x.mean()) / x.std()
    power = np.abs(np.fft.rfft(x * np.hanning(len(x)), 4 * len(x))) ** 2
    return np.asarray(np.fft.irfft(power)[: 2 * SIDE])


def _placebos(score: _Score, a: Array, b: Array) -> tuple[list[float], list[float]]:
    """Scores of cuts where the sound goes on, and of others where it does not."""
    true, false = [], []
    for side in (a, b):
        places = np.linspace(SIDE, len(side) - SIDE, PLACEBOS).astype(int)
        true += [score(side[p - SIDE : p], side[p : p + SIDE]) for p in places]
    # Steps that share no common measure, so that no engine's period fits all of them.
    for n in range(2 * PLACEBOS):
        at = SIDE + int((n * 0.6180339887 % 1) * (len(a) - SIDE))
        to = int((n * 0.4142135624 % 1) * (len(b) - SIDE))
        if at < len(a) or to > 0:
            false.append(score(a[at - SIDE : at], b[to : to + SIDE]))
    return true, false


def _between(true: Sequence[float], false: Sequence[float]) -> float | None:
    """The threshold that parts two sets of scores best, if one parts them clearly."""
    best, share = 0.0, 0.0
    both = np.sort(np.concatenate([true, false]))
    for threshold in (both[1:] + both[:-1]) / 2:
        right = min(np.mean(np.array(true) > threshold), np.mean(np.array(false) <= threshold))
        if right > share:
            best, share = float(threshold), float(right)
    return best if share >= CLEAR else None
