"""A curve through measured points: monotone between them, and nothing beyond them.

Between two steps nobody has measured; so a curve may rise only where its points rise, and has no
value below the first or above the last.

Source: Fritsch and Carlson 1980, see `monotone`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.analysis.means import NONE, Mean
from overlay.analysis.monotone import monotone_at
from sync.arrays import Floats

LEAST_POINTS = 2

WIDEST_GAP = 1.5
"""Neighbouring steps whose speeds have a greater ratio are not interpolated between (own
choice): the hump lies in such gaps, and a curve through it is invented."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """Points with rising x, y and the deviation of each y [shape of each: (n,), n >= 2]."""

    x: Floats
    y: Floats
    sd: Floats

    def at(self, x: Floats) -> Floats:
        """Values at any places; NaN outside the points."""
        return monotone_at(self.x, self.y, np.asarray(x, dtype=np.float64))

    def mean_at(self, x: float) -> Mean:
        """The value at a place, as doubtful as the points on either side of it; none outside."""
        value = float(self.at(np.array([x]))[0])
        if not math.isfinite(value):
            return NONE
        return Mean(value=value, sd=float(np.interp(x, self.x, self.sd)))


def curve_through(points: Sequence[tuple[float, Mean]]) -> Curve | None:
    """The curve through what is known of some points; None for fewer than two.

    Where two points stand at one x the surer of them counts.
    """
    by_x: dict[float, Mean] = {}
    for x, y in points:
        if math.isfinite(x) and y.known and not (x in by_x and by_x[x].sd <= y.sd):
            by_x[x] = y
    if len(by_x) < LEAST_POINTS:
        return None
    xs = sorted(by_x)
    return Curve(
        x=np.array(xs),
        y=np.array([by_x[x].value for x in xs]),
        sd=np.array([by_x[x].sd for x in xs]),
    )
