"""Seeded chance for instruments and sound."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def generator(seed: int, use: str) -> np.random.Generator:
    """A generator of its own for each use, so that one more use shifts no other."""
    return np.random.default_rng([seed, *use.encode()])


def coloured(
    rng: np.random.Generator, count: int, *, sd: float, period_s: float, time_s: float
) -> Floats:
    """Noise that forgets itself over a time: a first-order autoregression.

    ::

        e[i] = r e[i-1] + √(1 - r²) w[i],   r = exp(-period / time)

    Returns
    -------
    noise : [shape=(count,)]
        With a standard deviation of `sd` from the first sample on.
    """
    keep = math.exp(-period_s / time_s)
    steps = rng.normal(0.0, sd, count)
    steps[1:] *= math.sqrt(1 - keep * keep)
    out = np.empty(count)
    last = 0.0
    for i, step in enumerate(steps.tolist()):
        last = keep * last + step
        out[i] = last
    return out
