"""For how long the bow stood above a given angle in a launch: how long nobody saw over it."""

from __future__ import annotations

import math

import numpy as np

from overlay.analysis.means import Mean
from sync.arrays import Floats

READ_SD_S = 0.05
"""How far one passage of the angle may be out by the grid and the mean that it is read off (own
choice: a step of the one, a sixth of the other)."""


def time_above(t_s: Floats, angle_rad: Floats, limit_rad: float) -> float:
    """How long a line drawn through values lies above a limit [s].

    Parameters
    ----------
    t_s : [shape=(n,), s]
        Rising.
    angle_rad : [shape=(n,), rad]

    Examples
    --------
    >>> time_above(np.array([0.0, 2.0, 4.0]), np.array([0.0, 2.0, 0.0]), 1.0)
    2.0
    """
    length, over = np.diff(t_s), angle_rad - limit_rad
    before, after = over[:-1], over[1:]
    rise = np.abs(before) + np.abs(after)
    # Of a piece that passes the limit, the share above it is that of its higher end.
    share = np.maximum(np.maximum(before, after), 0.0) / np.where(rise > 0, rise, 1.0)
    share = np.where((before > 0) & (after > 0), 1.0, share)
    return float(np.dot(length, np.where(np.maximum(before, after) > 0, share, 0.0)))


def bow_above(t_s: Floats, angle_rad: Floats, limit_rad: float, angle_sd_rad: float) -> Mean:
    """The time above a limit, with what the angle's own doubt makes of it.

    Parameters
    ----------
    t_s, angle_rad
        As `time_above` has them: the bow angle, level taken off, from the start of a launch on.
    angle_sd_rad
        By how much the angle may be out throughout: level and sensor together, one deviation. It
        moves every passage at once,

        ::

            sd² = ((T(limit − sd_angle) − T(limit + sd_angle)) / 2)² + n · 0.05²

        for n passages of the limit.
    """
    over = angle_rad > limit_rad
    passages = int(np.count_nonzero(over[1:] != over[:-1]))
    low = time_above(t_s, angle_rad, limit_rad - angle_sd_rad)
    high = time_above(t_s, angle_rad, limit_rad + angle_sd_rad)
    return Mean(
        value=time_above(t_s, angle_rad, limit_rad),
        sd=math.hypot((low - high) / 2, READ_SD_S * math.sqrt(passages)),
    )
