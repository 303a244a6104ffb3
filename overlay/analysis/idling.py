"""Idling in gear, and going astern: what the boat does by herself beside a quay.

At such speeds a boat wanders, turns on the spot and is carried along by current and wind, which
count for as much as her engine. So of every stretch at a steady engine speed only that is taken in
which the gear is in and a course is held for eight seconds; what was held on reciprocal courses
makes a mean both ways, and what was not is single, each course by itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.analysis.economy import NO_TANK
from overlay.analysis.means import NONE, Mean, average, mean_of, running_mean, total
from overlay.analysis.steady import COURSE_FAN_RAD, LEAST_S, Flags, Steady, mean_course
from overlay.analysis.steps import IDLES_RPS, Step, keys, same_engine_speed, step_of
from overlay.analysis.turning import turn_rate
from overlay.analysis.two_way import RECIPROCAL_RAD, opposite
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

AHEAD, ASTERN = "idle in gear", "astern"

SEA_SD_MPS = 0.006
"""What small waves make of such a speed in all passes alike, as one standard deviation (measured on
simulated days, see tests/bench/attitude_rows.py)."""

_STEP_S = 0.25
_SMOOTH = 5
"""Values of the grid that a course is averaged over: a receiver's noise is no change of course."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Idling:
    """What was held idling in gear, and astern.

    `held` has those run both ways first; each of the others has passes on one course only.
    `remarks` say why there is nothing, and what had to be taken for granted.
    """

    held: tuple[Step, ...]
    remarks: tuple[str, ...]


def find_idling(
    channels: Mapping[str, Channel],
    steady: Sequence[Steady],
    engines: int,
    flow_share_sd: float = 0.0,
) -> Idling:
    """What was held idling ahead, and astern at any engine speed.

    Parameters
    ----------
    channels, steady, engines
        As `find_steps` has them.
    flow_share_sd
        By what share all fuel flows may be out alike.
    """
    tank = replace(NO_TANK, flow_share_sd=flow_share_sd)
    held: list[Step] = []
    remarks = []
    for name, kind in ((AHEAD, "step"), (ASTERN, "astern")):
        whole = [
            one
            for one in steady
            if one.kind == kind
            and math.isfinite(one.course_rad)
            and (kind == "astern" or one.engine_speed_rps < IDLES_RPS)
        ]
        parts = [list(_parts(channels, one)) for one in whole]
        groups = _by_course([part for some in parts for part in some])
        held += [
            replace(_scattered(step_of(channels, group, engines, tank)), name=name)
            for group in groups
        ]
        if whole and not groups:
            remarks.append(
                f"{name}: no course was held for {LEAST_S:.0f} s in any of its stretches "
                f"({len(whole)})"
            )
    if "gear" not in channels and any(one.name == AHEAD for one in held):
        remarks.append(
            f"{AHEAD}: no gear is logged, so what moved with its engine idling is taken to have "
            "been in gear"
        )
    return Idling(held=tuple(held), remarks=tuple(remarks))


def _scattered(step: Step) -> Step:
    """The step with what its passes leave over in its doubt: at such speeds the wind's gusts and
    what way the boat still has count for more than a pass knows of itself."""
    found, doubt = step.two_way, math.hypot(step.speed.sd, SEA_SD_MPS)
    if found is not None and math.isfinite(found.left_mps):
        doubt = math.hypot(doubt, found.left_mps / math.sqrt(len(step.passes)))
    return replace(step, speed=Mean(value=step.speed.value, sd=doubt))


def _parts(channels: Mapping[str, Channel], one: Steady) -> Iterator[Steady]:
    """The parts of a steady stretch in which the gear is in and a course is held."""
    t = np.arange(one.span.start_s, one.span.stop_s, _STEP_S)
    ways = [_unwrapped(channels["course"], t)]
    rate = turn_rate(channels)
    if rate is not None:
        # The bow swings before the course does; a hole in its log says nothing.
        ways.append(np.cumsum(np.nan_to_num(rate.at(t))) * _STEP_S)
    whole = _in_gear(channels, t, one) & np.isfinite(ways[0])
    for first, last in _longest(ways, whole):
        span = Span(start_s=float(t[first]), stop_s=float(t[last - 1]))
        yield replace(
            one,
            span=span,
            speed_mps=mean_of(channels["speed"], span).value,
            course_rad=mean_course(channels["course"], span),
        )


def _unwrapped(course: Channel, t: Floats) -> Floats:
    """Course without its jump at north, less the receiver's noise; NaN where it has a hole."""
    values = course.at(t)
    known = np.isfinite(values)
    out = np.full(t.shape, np.nan)
    out[known] = np.unwrap(values[known])
    return running_mean(out, _SMOOTH)


def _in_gear(channels: Mapping[str, Channel], t: Floats, one: Steady) -> Flags:
    gear = channels.get("gear")
    if gear is None:
        return np.ones(t.shape, dtype=bool)
    way = -1.0 if one.kind == "astern" else 1.0
    with np.errstate(invalid="ignore"):
        return np.asarray(way * gear.at(t) > 0.5)


def _longest(ways: Sequence[Floats], whole: Flags) -> Iterator[tuple[int, int]]:
    """Stretches that hold every way within the fan, the longest first and none over another,
    each as first index and end."""
    least = round(LEAST_S / _STEP_S) + 1
    waiting = [(0, whole.size)]
    while waiting:
        low, high = waiting.pop()
        best = (low, low)
        start = low
        for end in range(low, high):
            if not whole[end]:
                start = end + 1
                continue
            # The fan was held up to the point before, so only the new one can break it.
            while any(abs(way[start : end + 1] - way[end]).max() > COURSE_FAN_RAD for way in ways):
                start += 1
            if end + 1 - start > best[1] - best[0]:
                best = (start, end + 1)
        if best[1] - best[0] >= least:
            yield best
            waiting += [(low, best[0]), (best[1], high)]


def _by_course(parts: Sequence[Steady]) -> list[list[Steady]]:
    """Parts at one engine speed on one course and its reciprocal; the rest by course alone.

    Those that were held longest both ways come first.
    """
    left = sorted(parts, key=lambda one: one.span.start_s)
    groups = []
    for reciprocal in (True, False):
        while left:
            found = [_company(left[i:], reciprocal=reciprocal) for i in range(len(left))]
            group = max(found, key=_length_s)
            if not group:
                break
            groups.append(group)
            left = [one for one in left if one not in group]
    return groups


def _company(later: Sequence[Steady], *, reciprocal: bool) -> list[Steady]:
    """The first part with those after it that belong to it; nothing where a way back is asked
    for and there is none."""
    first = later[0]
    alike = [
        one
        for one in later
        if same_engine_speed(first.engine_speed_rps, one.engine_speed_rps)
        or math.isnan(first.engine_speed_rps)
    ]
    there = [one for one in alike if _along(first.course_rad, one.course_rad)]
    if not reciprocal:
        return there
    back = [one for one in alike if opposite(first.course_rad, one.course_rad)]
    return [*there, *back] if back else []


def _along(one_rad: float, other_rad: float) -> bool:
    return abs(math.remainder(one_rad - other_rad, 2 * math.pi)) <= RECIPROCAL_RAD


def _length_s(group: Sequence[Steady]) -> float:
    return math.fsum(one.span.length_s for one in group)


def neutral_flow(channels: Mapping[str, Channel], steady: Sequence[Steady], engines: int) -> Mean:
    """Fuel flow of all engines while they idle out of gear; none where that was not logged."""
    flowing = keys(channels, "fuel_flow", engines)
    parts = [
        total([mean_of(channels.get(key), one.span) for key in flowing])
        for one in steady
        if one.kind == "rest" and 0 < one.engine_speed_rps < IDLES_RPS
    ]
    known = [part for part in parts if part.known and part.value > 0]
    return average(known) if known else NONE
