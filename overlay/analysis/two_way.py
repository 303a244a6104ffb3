"""Speed through the water from passes in opposite directions: what the stream adds drops out.

Over ground a boat moves with her own speed V along the bow and with the stream. Passes on
reciprocal headings have +W and −W of the one and a stream that varies slowly of the other,

::

    g_i = s_i W + c_0 + c_1 t_i + c_2 t_i²,    s_i = ±1,    V = |W|

so W follows by least squares from the passes' mean velocities and mid times. Velocities and not
speeds: a stream across the course turns both passes the same way, and half the difference of the
two vectors is free of it. For equal spacing the weights are the binomial ones of the mean of
means (Tupper, Introduction to Naval Architecture, p. 245); the polynomial of the stream is his on
p. 244. The means are of speeds and never of times.

What drops out is current and wind together: the boat in a head wind is slower by more than she
is faster in the same wind from astern, and that part stays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats

MOST_DEGREE = 2
"""Of the stream's polynomial: quadratic in time, as on Tupper's p. 244."""

MOST_GAIN = 1.25
"""How much less sure than the mean of two passes a result may become by letting the stream vary
more (own choice): passes badly placed in time cannot tell one from the other."""

RECIPROCAL_RAD = math.radians(30.0)
"""How far from opposite two passes may lie: beyond that a third of the stream's change along
the course is lost (1 − cos 30° = 13 % of the speed along it, own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """One direction: when its middle was, its mean velocity over ground, and the doubt."""

    t_s: float
    speed_mps: float
    course_rad: float
    sd_mps: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoWay:
    """What passes came to.

    Parameters
    ----------
    speed_mps, sd_mps
        Speed with the stream taken out, and one standard deviation of it from the passes' own.
    ways
        +1 or -1 for each pass: along the first of them, or against it.
    stream_mps
        What was removed along the course of each pass, current and wind together.
    across_mps
        The mean of the stream across the courses.
    degree
        Of the stream's change in time: 0 for one that stays, 1, 2.
    left_mps
        Root mean square of what the passes leave over; NaN where nothing is left to tell.
    """

    speed_mps: float
    sd_mps: float
    ways: tuple[int, ...]
    stream_mps: tuple[float, ...]
    across_mps: float
    degree: int
    left_mps: float


def opposite(one_rad: float, other_rad: float) -> bool:
    """Whether two courses are each other's way back; a course that is not known is no one's."""
    off = math.remainder(one_rad - other_rad - math.pi, 2 * math.pi)
    return abs(off) <= RECIPROCAL_RAD


def two_way(passes: Sequence[Pass]) -> TwoWay | None:
    """The speed of passes both ways; None where there are none both ways, or where one of them
    lies across.

    Parameters
    ----------
    passes
        At one engine speed, in any order.

    Source: Tupper pp. 244 and 245 for the model and for its weights at equal spacing.
    """
    ways = _ways(passes)
    if ways is None:
        return None
    ground = np.array([[math.sin(p.course_rad), math.cos(p.course_rad)] for p in passes])
    ground *= np.array([[p.speed_mps] for p in passes])
    sd = np.array([p.sd_mps for p in passes])
    times = np.array([p.t_s for p in passes])
    for degree in range(min(len(passes) - 2, MOST_DEGREE), -1, -1):
        made = _solved(ground, sd, times, ways, degree)
        if made is not None:
            return made
    return None


def _ways(passes: Sequence[Pass]) -> Floats | None:
    """Which way each pass went, as +1 and -1."""
    if len(passes) < 2 or any(not math.isfinite(p.course_rad) for p in passes):
        return None
    first = passes[0].course_rad
    there = np.array([abs(math.remainder(p.course_rad - first, 2 * math.pi)) for p in passes])
    back = np.array([opposite(first, p.course_rad) for p in passes])
    along = there <= RECIPROCAL_RAD
    if not np.all(along | back) or not np.any(back):
        return None
    return np.where(along, 1.0, -1.0)


def _solved(ground: Floats, sd: Floats, times: Floats, ways: Floats, degree: int) -> TwoWay | None:
    """The least-squares solution for a stream of some degree; None where it tells too little."""
    spread = max(float(np.ptp(times)), 1.0)
    when = (times - times.mean()) / spread
    rows = np.column_stack([ways, *(when**k for k in range(degree + 1))])
    weight = 1.0 / np.maximum(sd, 1e-6)
    if np.linalg.matrix_rank(rows * weight[:, None], tol=1e-9) < rows.shape[1]:
        return None
    inverse = np.linalg.pinv(rows * weight[:, None])
    solved = inverse @ (ground * weight[:, None])
    gain = float(np.linalg.norm(inverse[0] * weight))
    if degree and gain > MOST_GAIN * math.sqrt(0.5):
        return None
    boat = solved[0]
    speed = float(np.hypot(*boat))
    if speed <= 0:
        return None
    along, across = boat / speed, np.array([boat[1], -boat[0]]) / speed
    stream = rows[:, 1:] @ solved[1:]
    left = ground - rows @ solved
    spare = 2 * (len(times) - rows.shape[1])
    return TwoWay(
        speed_mps=speed,
        sd_mps=float(np.linalg.norm(inverse[0] * weight * sd)),
        ways=tuple(int(way) for way in ways),
        stream_mps=tuple((ways * (stream @ along)).tolist()),
        across_mps=float(np.mean(stream @ across)),
        degree=degree,
        left_mps=math.sqrt(float(np.sum(left**2)) / spare) if spare else math.nan,
    )
