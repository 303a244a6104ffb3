"""Where a film may have been cut: hard cuts, and fades from one picture to another.

A cut that is none does no harm, since what runs on from one piece to the next is put together
when both are placed; so this errs on the side of too many.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

SIZE = (32, 18)
"""Width and height of the pictures that are held against each other."""

AROUND = 5
OTHER_CUTS = 2
CUT_RATIO, CUT_CODES = 1.6, 1.0
"""A cut is a change this many times the third greatest of some frames before and after, and so many
codes more (measured on the demo's footage, on pans and on noise)."""

FADE_HALVES = (3, 5, 8, 12, 18, 25, 37)
"""Half the lengths, in frames, of the stretches that are tried for being a fade."""

FADE_CODES = 8.0
FADE_RATIO = 0.27
"""In a fade the middle lies nearer to the mean of both ends than by this share of what is between
them, which is so many codes at least; a picture that moves lies about 0.9 away."""

OUTSIDE = 1.5
"""What lies at both ends of a fade differs by this much more than before and after it."""

LEAST_PART = 0.05
"""Less of the other picture than this does not show."""

BLOCK = 512


def grids(small: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Pictures on a grid [shape=(n, 18, 32), codes] as their differences from their mean."""
    import cv2

    out = np.empty((len(small), SIZE[1], SIZE[0]), np.float32)
    for number, picture in enumerate(small):
        grid = cv2.resize(np.asarray(picture), SIZE, interpolation=cv2.INTER_AREA)
        out[number] = grid
    return out


def pieces(small: NDArray[np.uint8]) -> tuple[range, ...]:
    """Stretches of frames without a cut inside, fades left out.

    Parameters
    ----------
    small
        The film's pictures [shape=(n, height, width)].
    """
    grid = grids(small)
    faded = fades(grid)
    borders = [False, *hard_cuts(grid)]
    found: list[range] = []
    start = None
    for number in range(len(grid)):
        if start is not None and (borders[number] or faded[number]):
            found.append(range(start, number))
            start = None
        if start is None and not faded[number]:
            start = number
    if start is not None:
        found.append(range(start, len(grid)))
    return tuple(found)


def hard_cuts(grid: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Whether each frame but the first begins a new shot [shape=(n - 1,)]."""
    change = np.abs(np.diff(grid, axis=0)).mean(axis=(1, 2))
    padded = np.pad(change, AROUND, constant_values=0.0)
    near = np.lib.stride_tricks.sliding_window_view(padded, 2 * AROUND + 1)
    others = np.delete(near, AROUND, axis=1)
    # Other cuts may be near: of a shot of three frames both lie within the stretch.
    greatest = np.sort(others, axis=1)[:, -OTHER_CUTS - 1]
    cuts: NDArray[np.bool_] = change > CUT_RATIO * greatest + CUT_CODES
    return cuts


def fades(grid: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Whether each frame lies in a fade [shape=(n,)].

    A fade is a mixture, so that a frame in the middle of it is the mean of two that lie as far
    before it as behind it, though these have little to do with each other::

        |f(k) - (f(k - h) + f(k + h)) / 2| < 0.27 |f(k - h) - f(k + h)|
        |f(k - h) - f(k + h)| > 1.5 |f(k - h) - f(k - 3 h)|, 1.5 |f(k + h) - f(k + 3 h)|
    """
    faded = np.zeros(len(grid), bool)
    level = grid - grid.mean(axis=(1, 2), keepdims=True)
    for half in FADE_HALVES:
        for block in _blocks(len(grid), half):
            before, middle, after = (
                level[block.start + by : block.stop + by] for by in (-half, 0, half)
            )
            apart = _rms(before - after)
            off = _rms(middle - (before + after) / 2)
            sudden = apart > OUTSIDE * _outside(level, block, half)
            for found in np.flatnonzero((off < FADE_RATIO * apart) & (apart > FADE_CODES) & sudden):
                k = block.start + int(found)
                faded[k - half + 1 : k + half] |= _mixed(level[k - half : k + half + 1])
    return faded


def _outside(level: NDArray[np.float32], block: range, half: int) -> NDArray[np.float32]:
    """How much the picture changes in as long a time before and after: slow pans go on."""
    numbers = np.arange(block.start, block.stop)
    ends = []
    for by in (-half, half):
        near = numbers + by
        far = np.clip(near + 2 * by, 0, len(level) - 1)
        ends.append(_rms(level[near] - level[far]))
    return np.maximum(*ends)


def _mixed(stretch: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Which frames inside a stretch hold a part of what its ends differ by."""
    before, way = stretch[0], stretch[-1] - stretch[0]
    share = ((stretch[1:-1] - before) * way).sum(axis=(1, 2)) / np.square(way).sum()
    mixed: NDArray[np.bool_] = (share > LEAST_PART) & (share < 1 - LEAST_PART)
    return mixed


def _blocks(frames: int, half: int) -> Iterator[range]:
    for start in range(max(half, 1), frames - half, BLOCK):
        yield range(start, min(start + BLOCK, frames - half))


def _rms(pictures: NDArray[np.float32]) -> NDArray[np.float32]:
    out: NDArray[np.float32] = np.sqrt(np.square(pictures).mean(axis=(1, 2)))
    return out
