"""Whether what lies between two shots is the one turning into the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.shots import grids

if TYPE_CHECKING:
    from numpy.typing import NDArray

LONGEST_FRAMES = 90
MIXTURE = 0.35
BACKWARDS = 0.08
"""By so much the share of the later picture may seem to fall, since both move."""

STEEPEST = 3.0
"""A fade may be so many times as steep as an even one; a cut is a step from 0 to 1."""


def is_transition(small: NDArray[np.uint8], between: range) -> bool:
    """Whether frames are mixtures of the ones before and behind them, ever more of the latter.

    ::

        f(k) = (1 - a) f(before) + a f(behind) + rest,  |rest| < 0.35 |f(behind) - f(before)|
    """
    if not 0 < len(between) <= LONGEST_FRAMES:
        return False
    if between.start == 0 or between.stop == len(small):
        return False
    grid = grids(small[between.start - 1 : between.stop + 1]).astype(np.float64)
    before, behind, middle = grid[0], grid[-1], grid[1:-1]
    way = behind - before
    length = float(np.square(way).sum())
    if length < 4.0 * way.size:
        return False
    share = ((middle - before) * way).sum(axis=(1, 2)) / length
    rest = middle - before - share[:, None, None] * way
    off = np.sqrt(np.square(rest).sum(axis=(1, 2)) / length)
    steps = np.diff(share, prepend=0.0, append=1.0)
    gradual = (steps > -BACKWARDS) & (steps < BACKWARDS + STEEPEST / len(steps))
    return bool((off < MIXTURE).all() and gradual.all())
