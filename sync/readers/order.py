"""Times that ought to increase, and what to keep where they do not.

Receivers and loggers repeat times, glitch, and have their clocks set. Nothing here moves a
time: samples are kept or left out, and the log says how many.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.errors import LogFormatError

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_BREAKS = 200
"""A log whose clock goes back more often than this is not in order of time at all."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Order:
    """Which samples to keep, in order of time, and why the others go.

    `take` holds indices; `repeated` counts samples at the time of the one before; `stray`
    single times that stand out of their neighbours' order; `overlapping` samples of a stretch
    whose clock had been set, at times that a longer stretch also holds; `breaks` how often
    time runs backwards, first at index `first_break`.
    """

    take: NDArray[np.intp]
    repeated: int = 0
    stray: int = 0
    overlapping: int = 0
    breaks: int = 0
    first_break: int | None = None


def increasing(t_s: Floats) -> Order:
    """The samples that make times strictly increasing, as many as can be trusted.

    A repeated time loses to the first of its kind. A single stray time is left out. Where
    time runs backwards for good, the log falls into stretches; the longest is kept whole,
    and of the others what does not overlap it.

    Parameters
    ----------
    t_s : [shape=(n,), s]
        Times as recorded; NaN where there was none.

    Raises
    ------
    LogFormatError
        Where time runs backwards more than `MOST_BREAKS` times.
    """
    index = np.flatnonzero(np.isfinite(t_s))
    fresh = np.ones(index.size, dtype=bool)
    fresh[1:] = np.diff(t_s[index]) != 0
    repeated = int(np.sum(~fresh))
    index = index[fresh]
    stray = _strays(t_s[index])
    index = np.delete(index, stray)
    back = np.flatnonzero(np.diff(t_s[index]) <= 0) + 1
    if back.size == 0:
        return Order(take=index, repeated=repeated, stray=len(stray))
    if back.size > MOST_BREAKS:
        raise LogFormatError(
            f"time runs backwards {back.size} times", advice="sort the log by time, or split it"
        )
    take = _longest_first(t_s, np.split(index, back))
    return Order(
        take=take,
        repeated=repeated,
        stray=len(stray),
        overlapping=index.size - take.size,
        breaks=back.size,
        first_break=int(index[back[0]]),
    )


def _strays(t_s: Floats) -> list[int]:
    """Places of single times whose absence would restore the order around them."""
    found: list[int] = []
    for i in (np.flatnonzero(np.diff(t_s) <= 0) + 1).tolist():
        if found and found[-1] >= i - 1:
            continue
        after = t_s[i + 1] if i + 1 < t_s.size else np.inf
        if t_s[i - 1] < after < np.inf:
            found.append(i)
        elif i >= 2 and t_s[i - 2] < t_s[i] < after:
            found.append(i - 1)
    return found


def _longest_first(t_s: Floats, stretches: list[NDArray[np.intp]]) -> NDArray[np.intp]:
    """Indices of all stretches, the longer before the shorter, without overlaps, by time."""
    kept: list[NDArray[np.intp]] = []
    spans: list[tuple[float, float]] = []
    for stretch in sorted(stretches, key=len, reverse=True):
        t = t_s[stretch]
        free = np.ones(t.size, dtype=bool)
        for first, last in spans:
            free &= (t < first) | (t > last)
        if free.any():
            kept.append(stretch[free])
            spans.append((float(t[0]), float(t[-1])))
    take = np.concatenate(kept)
    return take[np.argsort(t_s[take], kind="stable")]
