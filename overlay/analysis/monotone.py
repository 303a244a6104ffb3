"""Piecewise cubics through points that rise and fall only where the points do.

Worked out as SciPy's `PchipInterpolator` does, against which a test holds it; but to import its
`scipy.interpolate` takes a third of a second, in every command that computes results.

Source: Fritsch and Carlson 1980 for the piecewise cubics, Fritsch and Butland 1984 for the
slopes, Moler, Numerical Computing with MATLAB, section 3.6, for those at the ends (from memory).
"""

from __future__ import annotations

import numpy as np

from sync.arrays import Floats


def monotone_at(x: Floats, y: Floats, wanted: Floats) -> Floats:
    """Values of the curve through points, at any places.

    Parameters
    ----------
    x, y : [shape=(n,)]
        The points, n >= 2, x rising.
    wanted : [shape=(m,)]

    Returns
    -------
    values : [shape=(m,)]
        NaN beyond the first and the last point. Between the points k and k + 1, with h their
        distance, m the slope of the line between them and s the way from the first::

            y = y_k + d_k s + ((m − d_k) / h − t) s² + t / h s³,   t = (d_k + d_k+1 − 2 m) / h
    """
    h = np.diff(x)
    line = np.diff(y) / h
    slopes = _slopes(h, line)
    bend = (slopes[:-1] + slopes[1:] - 2 * line) / h
    k = np.clip(np.searchsorted(x, wanted, side="right") - 1, 0, x.size - 2)
    s = wanted - x[k]
    square = ((line - slopes[:-1]) / h - bend)[k] * (s * s)
    values = y[k] + slopes[k] * s + square + (bend / h)[k] * (s * s * s)
    return np.where((wanted >= x[0]) & (wanted <= x[-1]), values, np.nan)


def _slopes(h: Floats, line: Floats) -> Floats:
    """The slope at each point: the weighted harmonic mean of the lines on either side of it, and
    nought where these have not one sign."""
    if line.size == 1:
        return np.repeat(line, 2)
    before, after = line[:-1], line[1:]
    weight, other = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
    turns = (np.sign(before) != np.sign(after)) | (before == 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (weight / before + other / after) / (weight + other)
        inner = np.where(turns, 0.0, 1.0 / mean)
    first = _end(h[0], h[1], line[0], line[1])
    last = _end(h[-1], h[-2], line[-1], line[-2])
    return np.concatenate([[first], inner, [last]])


def _end(h: float, next_h: float, line: float, next_line: float) -> float:
    """The slope at an end: from three points, but never against the line next to it, nor steeper
    than three times that where the points turn."""
    slope = ((2 * h + next_h) * line - h * next_line) / (h + next_h)
    if np.sign(slope) != np.sign(line):
        return 0.0
    if np.sign(line) != np.sign(next_line) and abs(slope) > 3 * abs(line):
        return 3 * line
    return slope
