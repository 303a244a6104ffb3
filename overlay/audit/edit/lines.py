"""The straight line from film time to source time that most sightings allow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

NICE_SPEEDS = (1.0, 0.5, 2.0, 0.25, 4.0, 0.75, 1.5, 0.8, 1.25, 0.4, 0.6, 1 / 3, 2 / 3, 3.0, 0.2,
               1.2, 5 / 6, 0.96, 25 / 24, 1000 / 1001, 1001 / 1000, 0.0)  # fmt: skip
"""Speeds that editors type (the last is a picture that is held), and those that one nominal rate
has played at another; one is taken where as many sightings allow it as allow any other."""

NEAR = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Film instants, and between which two instants of the source each must lie."""

    t_s: NDArray[np.float64]
    low_s: NDArray[np.float64]
    high_s: NDArray[np.float64]

    def __add__(self, other: Seen) -> Seen:
        return Seen(
            t_s=np.concatenate([self.t_s, other.t_s]),
            low_s=np.concatenate([self.low_s, other.low_s]),
            high_s=np.concatenate([self.high_s, other.high_s]),
        )

    @property
    def span_s(self) -> float:
        """How long the stretch is that was looked at."""
        return float(self.t_s.max() - self.t_s.min())


@dataclass(frozen=True, slots=True, kw_only=True)
class Straight:
    """A line through sightings: `at_s` at film time 0, and how many of them lie on it.

    `room_s` is how far it may be shifted before it misses more of them.
    """

    at_s: float
    speed: float
    hits: int
    room_s: float


def straight(seen: Seen, speed: float, step_s: float) -> Straight:
    """The line that most sightings allow.

    Parameters
    ----------
    speed
        About what it is, where the sightings are too few to say.
    step_s
        How long a frame of the source is.
    """
    speed = _slope(seen, speed)
    # It is known to about two frames over the stretch that was looked at.
    free = 2 * step_s / max(seen.span_s, 1e-3)
    found = [_shifted(seen, nice) for nice in NICE_SPEEDS if abs(nice - speed) <= free + NEAR] + [
        _shifted(seen, max(speed + free * by, 0.0)) for by in np.linspace(-1, 1, 31)
    ]
    most = max(one.hits for one in found)
    for one in found[:-31]:
        if one.hits >= most - max(1, 0.04 * len(seen.t_s)):
            return one
    allowed = [one for one in found if one.hits == most]
    return max(allowed, key=lambda one: one.room_s)


def _slope(seen: Seen, otherwise: float) -> float:
    """The median of the slopes between any two sightings that lie apart (Theil and Sen)."""
    middle = (seen.low_s + seen.high_s) / 2
    a, b = np.triu_indices(len(middle), 1)
    after = seen.t_s[b] - seen.t_s[a]
    apart = np.abs(after) > seen.span_s / 3
    if apart.sum() < 4:
        return otherwise
    slope = float(np.median((middle[b] - middle[a])[apart] / after[apart]))
    return max(slope, 0.0)


def _shifted(seen: Seen, speed: float) -> Straight:
    """The line of one speed that most sightings allow: where most intervals overlap."""
    low = seen.low_s - speed * seen.t_s
    high = seen.high_s - speed * seen.t_s
    edges = np.concatenate([low, high - 2 * NEAR])
    steps = np.concatenate([np.ones(len(low)), -np.ones(len(high))])
    # Of equal edges the ends come first: intervals are half-open.
    order = np.lexsort((steps, edges))
    count = np.cumsum(steps[order])
    most = int(count.max())
    at = int(count.argmax())
    begin, end = edges[order[at]], edges[order[min(at + 1, len(order) - 1)]]
    return Straight(
        at_s=float((begin + end) / 2), speed=speed, hits=most, room_s=float(end - begin)
    )
