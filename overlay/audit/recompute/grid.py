"""Which instant's value is shown at an instant.

::

    g = floor(t · rate) / rate
    m = the last mark not after t
    m if m > g − 1 / rate else g
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from overlay.audit.recompute.recorded import SAME_S, Floats

RATES_HZ: Mapping[str, int] = MappingProxyType({"engine_speed": 10, "fuel_flow": 2})
"""How often what is shown of a channel may change; all others four times a second."""

OTHER_RATE_HZ = 4

EDGE_S = 5e-6
"""An instant as near to a step of the grid as this may show what stands before it or behind it:
so far apart two ways lie from footage to UTC."""


def rate_hz(channel: str) -> int:
    """How often what is shown of a channel may change."""
    return RATES_HZ.get(channel.partition(".")[0], OTHER_RATE_HZ)


def shown_instants(t_s: Floats, rate: int, marks_s: Sequence[float] = ()) -> Floats:
    """The instants whose values are shown at some."""
    whole = np.floor(t_s)
    steps = whole * rate + np.floor((t_s - whole + SAME_S) * rate)
    grid: Floats = steps / rate
    if not marks_s:
        return grid
    marks = np.asarray(marks_s, dtype=np.float64)
    passed = np.searchsorted(marks, t_s + SAME_S, side="right")
    last = marks[np.maximum(passed - 1, 0)]
    late = (passed > 0) & (last > grid - 1 / rate + SAME_S)
    return np.where(late, last, grid)


def either_instants(t_s: Floats, rate: int, marks_s: Sequence[float] = ()) -> Floats:
    """The instants that may rightly be shown at some [shape=(n, 3)]: those that are, and what would
    be shown a little before and behind, which differs on the edge of a step alone."""
    off = (0.0, -EDGE_S, EDGE_S)
    return np.stack([shown_instants(t_s + one, rate, marks_s) for one in off], axis=1)


def instants_between(
    start_s: float, stop_s: float, rate: int, marks_s: Sequence[float] = ()
) -> Floats:
    """Every instant that is shown from one on up to another, in order."""
    first, last = math.floor((start_s + SAME_S) * rate), math.floor((stop_s + SAME_S) * rate)
    steps = shown_instants(np.arange(first, last + 1) / rate, rate, marks_s)
    marks = [mark for mark in marks_s if start_s <= mark <= stop_s + SAME_S]
    return np.unique(np.concatenate([steps, marks]))
