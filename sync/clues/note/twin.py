"""Whether the log holds the like of a place elsewhere, whatever the sound says.

A crew launches a boat again and again with the same hand. Where the log rises and falls alike in
two places, sound under wind can hardly tell which of the two was filmed, and where the sound's way
may bend it cannot. So the log is held against itself: the place that was found, over the instants
at which engine speed rises or falls there, against every other,

::

    rms(ln n(t + shift) − ln n(t + other))

and one that is alike leaves the question open, unless stamps rule it out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sync.arrays import Floats
from sync.clock import Span
from sync.clues.note.coarse import APART_S
from sync.clues.note.curve import Curve
from sync.clues.note.fit import MOVING

ALIKE = 0.04
ALIKE_PERIOD_S = 0.3
"""Two places nearer than this are alike: launches copied within simulated days, each logged anew,
came to 0.5 to 2.5 % of each other, others of that day to 6 % and more, nineteen in twenty of
them (seeds of their own, not those of tests/bench/accuracy_sync.py). A log with longer between
its values than the second number cuts corners, and is given more by that much."""

STEP_S = 0.05
SLOPE_S = 0.1
LEAST_SHARED = 0.3
"""Share of the rises and falls that must be known elsewhere too: a hole may hide half a launch."""


def twin_of(
    curve: Curve, t_s: Floats, shift_s: float, period_s: float, windows: Sequence[Span]
) -> float | None:
    """The shift of the place that is most like one, if one is alike.

    Parameters
    ----------
    t_s : [shape=(n,)]
        Instants of the footage.
    shift_s
        Of the place that was found, log less footage.
    period_s
        Of the log.
    windows
        Where the shift may lie; anywhere where there is none.
    """
    here = curve.at(t_s + shift_s)
    rise = (curve.at(t_s + shift_s + SLOPE_S) - curve.at(t_s + shift_s - SLOPE_S)) / (2 * SLOPE_S)
    moves = np.isfinite(here) & (np.abs(np.nan_to_num(rise)) >= MOVING)
    t, wanted = t_s[moves] + shift_s, here[moves]
    if t.size == 0:
        return None
    place = np.round((t - curve.start_s) / curve.step_s).astype(np.int64)
    stride = max(1, round(STEP_S / curve.step_s))
    steps = np.arange(-int(place.min()), curve.values.size - int(place.max()), stride)
    others = shift_s + steps * curve.step_s
    allowed = np.abs(others - shift_s) >= APART_S
    if windows:
        allowed &= np.any([(others >= w.start_s) & (others <= w.stop_s) for w in windows], axis=0)
    steps, others = steps[allowed], others[allowed]
    if steps.size == 0:
        return None
    squares, known = np.zeros(steps.size), np.zeros(steps.size)
    for at, value in zip(place.tolist(), wanted.tolist(), strict=True):
        off = curve.values[at + steps] - value
        there = np.isfinite(off)
        squares += np.where(there, off, 0.0) ** 2
        known += there
    shared = known >= LEAST_SHARED * t.size
    apart = np.where(shared, np.sqrt(squares / np.maximum(known, 1.0)), np.inf)
    best = int(np.argmin(apart))
    most = ALIKE * max(1.0, period_s / ALIKE_PERIOD_S)
    return float(others[best]) if apart[best] < most else None
