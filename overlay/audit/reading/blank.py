"""Where ground is blank, which is where a text may end."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.reading.products import Floats
from overlay.audit.reading.rows import Row

if TYPE_CHECKING:
    from numpy.typing import NDArray

BLANK = 0.35
"""Ground is blank where no spot of the breadth of a stroke is covered by as much as this: a dot
comes to 0.8, what an encoder makes of ground beside a letter to 0.2."""

RULE = 0.25
"""A column is ruled where it is covered by so much more than its neighbours."""

BORDER_EM = 0.15
"""A border along a plate's left edge is no broader than this, in sizes of the font."""


def blank(crops: Floats, low: int, high: int, row: Row) -> NDArray[np.bool_]:
    """Whether some columns are ground in each picture, down to the baseline; a thin upright rule
    across all rows counts as such, as plates have them along their edges."""
    rows, stroke_px = row.alphabet.above_px + 1, row.stroke_px
    low, high = max(low, 0), min(high, crops.shape[2])
    if high <= low:
        return np.ones(len(crops), bool)
    part = crops[:, :rows, low:high]
    means = part.mean(axis=1, keepdims=True)
    spots = part - means
    ground = np.sort(means, axis=2)[:, :, means.shape[2] // 4, None]
    ruled = means - ground > RULE
    found = np.maximum(spots.max(axis=(1, 2)), -spots.min(axis=(1, 2))) <= BLANK
    rest = np.flatnonzero(~found)  # in the others single pixels may reach higher, but no spot
    if len(rest):
        spots = spots[rest]
        for axis in (1, 2):
            spots = _means(spots, min(stroke_px, spots.shape[axis]), axis)
        found[rest] = np.maximum(spots.max(axis=(1, 2)), -spots.min(axis=(1, 2))) <= BLANK
    if row.leftward and low == 0:  # a plate may have a border, as flags have their poles
        border = math.ceil(BORDER_EM * row.alphabet.size_px)
        ruled[:, :, :border] = False
    return np.asarray(found & (ruled.sum(axis=(1, 2)) <= row.rule_px))


def straight(cells: Floats, row: Row) -> NDArray[np.bool_]:
    """Whether all columns up to each one are alike from top to bottom, as ground, rules and the
    edges of plates are and no letter is, all of which end above or below [shape=(n, columns)]."""
    spots = _means(cells - cells.mean(axis=1, keepdims=True), row.stroke_px, 1)
    alike = np.abs(spots).max(axis=1) <= BLANK
    return np.asarray(np.logical_and.accumulate(alike, axis=1))


def _means(values: Floats, wide: int, axis: int) -> Floats:
    """Running means along an axis."""
    if wide <= 1:
        return values
    sums = np.cumsum(values, axis=axis, dtype=np.float32)
    total = np.take(sums, range(wide - 1, sums.shape[axis]), axis=axis)
    rest = np.take(sums, range(sums.shape[axis] - wide), axis=axis)
    head = [slice(None)] * 3
    head[axis] = slice(1, None)
    total[tuple(head)] -= rest
    means: Floats = total / np.float32(wide)
    return means


def ends(crops: Floats, row: Row, pen: int) -> NDArray[np.bool_]:
    """Whether a chain may end at a place in each picture: on blank ground."""
    low, high = row.cell(pen, row.clear_px)
    return blank(crops, low, high, row)
