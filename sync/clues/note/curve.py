"""A logged engine speed as a curve that can be read at any instant, fast.

A search reads a log at millions of instants. So its logarithm is laid out once on an even grid:
between the log's values along cubics that never overshoot them [PCHIP]_, and nowhere across a
hole. A launch bends between two values of a slow log; straight lines would cut its corners.

.. [PCHIP] F. N. Fritsch and J. Butland, "A method for constructing local monotone piecewise
   cubic interpolants", SIAM Journal on Scientific and Statistical Computing 5 (1984).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel

STEP_S = 0.01
MOST_POINTS = 4_000_000
"""Step of the grid, and the most points that it may have; eleven hours at that step."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """The logarithm of an engine speed in 1/s, `step_s` apart from `start_s` on; NaN where it
    is not known or the engine stands [shape=(n,)]."""

    start_s: float
    step_s: float
    values: Floats

    @property
    def stop_s(self) -> float:
        """The last instant."""
        return self.start_s + self.step_s * (self.values.size - 1)

    def at(self, t_s: Floats) -> Floats:
        """The curve at some instants, on straight lines between the grid's points."""
        place = (t_s - self.start_s) * (1 / self.step_s)
        inside = (place >= 0) & (place <= self.values.size - 1)
        whole = np.clip(place, 0, max(self.values.size - 2, 0)).astype(np.int64)
        share = place - whole
        low = self.values[whole]
        high = self.values[np.minimum(whole + 1, self.values.size - 1)]
        return np.where(inside, low + share * (high - low), np.nan)


def curve_of(engine: Channel) -> Curve:
    """The curve of an engine speed that holds some values."""
    from scipy.interpolate import PchipInterpolator

    good = np.isfinite(engine.values)
    t, values = engine.t_s[good], engine.values[good]
    length_s = float(t[-1] - t[0])
    step = max(STEP_S, length_s / MOST_POINTS)
    grid = t[0] + step * np.arange(int(length_s / step) + 1)
    speed = PchipInterpolator(t, values)(grid)
    speed[~np.isfinite(engine.at(grid)) | (speed <= 0)] = np.nan
    return Curve(start_s=float(t[0]), step_s=step, values=np.log(speed))
