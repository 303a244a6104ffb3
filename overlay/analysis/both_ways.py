"""Launch times both ways: the mean of launches on opposite headings, their number and spread.

A knot of current moves a mark by a quarter of a second, there and back by as much the other
way; so launches in one direction have no mean that could be claimed, and are marked so. What
drew air or broke off is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.analysis.ladder import LadderTime
from overlay.analysis.launches import Launch
from overlay.analysis.means import Mean
from overlay.analysis.two_way import RECIPROCAL_RAD, opposite


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoWayTime:
    """A speed of the ladder over launches both ways.

    `time_s` is the mean of the two directions' means, its deviation from what each time's own
    comes to and from the spread within a direction, whichever is more; `spread_s` is from the
    quickest to the slowest; `launches` are the names of those that it is the mean of.
    """

    label: str
    speed_mps: float
    time_s: Mean
    distance_m: float
    spread_s: float
    launches: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BothWays:
    """The headline of a day's launches.

    `times` is empty where they went one way only; `left_out` names the launches that are not in
    it, each with the reason.
    """

    times: tuple[TwoWayTime, ...]
    left_out: tuple[tuple[str, str], ...]


def both_ways(launches: Sequence[Launch]) -> BothWays:
    """The mean of the sound launches on opposite headings."""
    left_out = [(one.name, why) for one in launches if (why := _unsound(one))]
    sound = [one for one in launches if not _unsound(one)]
    pair = next(
        ((a, b) for a in sound for b in sound if opposite(a.course_rad, b.course_rad)), None
    )
    if pair is None:
        return BothWays(times=(), left_out=tuple(left_out))
    there = [one for one in sound if _along(one, pair[0].course_rad)]
    back = [one for one in sound if opposite(one.course_rad, pair[0].course_rad)]
    left_out += [
        (one.name, "on another course") for one in sound if one not in there and one not in back
    ]
    labels = dict.fromkeys(row.label for one in (*there, *back) for row in one.ladder)
    times = [_time(label, there, back) for label in labels]
    return BothWays(times=tuple(one for one in times if one is not None), left_out=tuple(left_out))


def _unsound(launch: Launch) -> str:
    """Why a launch is not to be averaged, if it is not."""
    if launch.broken:
        return "the log of speed breaks off in it"
    if launch.aired_s:
        return "the propeller drew air"
    return "" if math.isfinite(launch.course_rad) else "no course is logged"


def _along(launch: Launch, course_rad: float) -> bool:
    off = math.remainder(launch.course_rad - course_rad, 2 * math.pi)
    return abs(off) <= RECIPROCAL_RAD


def _time(label: str, there: Sequence[Launch], back: Sequence[Launch]) -> TwoWayTime | None:
    """One speed both ways; None where one of the two ways has no time for it."""
    ways = [
        [(one.name, row) for one in way for row in one.ladder if row.label == label]
        for way in (there, back)
    ]
    if not all(ways):
        return None
    rows = [row for way in ways for _, row in way]
    means = [float(np.mean([row.time_s for _, row in way])) for way in ways]
    return TwoWayTime(
        label=label,
        speed_mps=rows[0].speed_mps,
        time_s=Mean(
            value=float(np.mean(means)),
            sd=math.hypot(
                0.5 * math.hypot(*(_doubt([row for _, row in way]) for way in ways)), _shared(rows)
            ),
        ),
        distance_m=float(np.mean([np.mean([row.distance_m for _, row in way]) for way in ways])),
        spread_s=float(np.ptp([row.time_s for row in rows])),
        launches=tuple(name for way in ways for name, _ in way),
    )


def _doubt(rows: Sequence[LadderTime]) -> float:
    """Of a direction's mean: its times' own doubts, or how they differ if that is more."""
    own = math.sqrt(math.fsum(row.reading_sd_s**2 for row in rows)) / len(rows)
    if len(rows) < 2:
        return own
    apart = float(np.std([row.time_s for row in rows], ddof=1)) / math.sqrt(len(rows))
    return max(own, apart)


def _shared(rows: Sequence[LadderTime]) -> float:
    """What all times may be out by alike, channels' delays: no mean makes it smaller."""
    return max(math.sqrt(max(row.sd_s**2 - row.reading_sd_s**2, 0.0)) for row in rows)
