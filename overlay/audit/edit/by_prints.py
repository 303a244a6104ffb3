"""The same closer look where a source's pictures are gone and its prints alone are left."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.fit import gain_and_level, misfits
from overlay.audit.edit.looking import Sighting

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Cells = NDArray[np.float32]

MOVES_CODES = 0.5
"""A cell moves when it changes by more than this around its mean: prints are whole codes."""

WORSE = 1.3
WORSE_CODES = 0.25
"""A picture that fits no worse than by this factor and so many codes fits as well as the best."""

KEPT = 0.75
"""Share of the cells, those that fit best, that a picture is judged by."""


def look_at_prints(film: Cells, seen: NDArray[np.bool_], source: Cells, frames: range) -> Sighting:
    """Hold prints of the film against all of a stretch of a source.

    Parameters
    ----------
    film : [shape=(k, 32)]
        As the source would have them.
    seen : [shape=(32,)]
        Which cells show the source.
    source : [shape=(n, 32)]
    frames
        The numbers of these.

    Returns
    -------
    Sighting
        What agrees is the share of the source's movement that is found in the film::

            1 - misfit^2 / var(source)
    """
    mine, its = film[:, seen].astype(np.float64), source[:, seen].astype(np.float64)
    spread = its.std(axis=0)
    moves = spread > MOVES_CODES
    gain, level = _graded(mine, its)
    off = np.square((mine[:, None] - level) / gain - its[None])
    keep = max(1, int(KEPT * mine.shape[1]))
    score = np.sqrt(np.sort(off, axis=2)[:, :, :keep].mean(axis=2))
    rows = np.arange(len(mine))
    best = score.argmin(axis=1)
    close = score <= WORSE * score[rows, best][:, None] + WORSE_CODES
    power = float(np.square(spread[moves]).mean()) if moves.any() else 0.0
    agree = 1 - np.square(score[rows, best]) / max(power, 1e-6)
    first, last = _runs(close, best)
    return Sighting(
        agree=np.clip(agree, -1.0, 1.0),
        first=frames.start + first,
        last=frames.start + last,
        best=frames.start + best,
        gain=np.ones(len(mine)),
        whole=float(np.clip(1 - score[rows, best].mean() / 4.0, 0.0, 1.0)),
        moving=int(moves.sum()),
    )


def _graded(
    mine: NDArray[np.float64], its: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Gain and level by the best of all rows of the source, pictures taken one after the other."""
    count = min(len(mine), len(its))
    rows = np.stack([its[n : n + count] for n in range(len(its) - count + 1)])
    everything = np.ones(mine.shape[1], bool)
    nearest = rows[int(misfits(mine[:count], rows, everything).argmin())][None]
    return gain_and_level(mine[:count], nearest, np.ones((1, mine.shape[1])))


def _runs(
    close: NDArray[np.bool_], best: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """From where to where around the best all are close."""
    first, last = best.copy(), best.copy()
    for k, top in enumerate(best):
        apart = np.flatnonzero(~close[k])
        before, after = apart[apart < top], apart[apart > top]
        first[k] = before[-1] + 1 if len(before) else 0
        last[k] = after[0] - 1 if len(after) else close.shape[1] - 1
    return first, last
