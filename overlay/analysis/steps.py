"""Steps: what the boat does at one engine speed, from passes in both directions.

Steady stretches at one engine speed belong together. Stretches on one course that follow each
other within seconds are one pass, broken by a wave. Passes on reciprocal courses make a two-way
mean; a step that was run in one direction only is marked single, and has current and wind in it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from overlay.analysis.economy import NO_TANK, Economy, Tank, economy
from overlay.analysis.means import NONE, Mean, average, mean_of, total
from overlay.analysis.steady import UNDER_WAY_MPS, Steady
from overlay.analysis.two_way import RECIPROCAL_RAD, Pass, TwoWay, two_way
from sync.channel import Channel
from sync.clock import Span

IDLES_RPS = 900 / 60
"""An engine below this idles: what it does in gear is measured as it comes, in no direction."""

SAME_SHARE, SAME_RPS = 0.03, 100 / 60
"""Two passes are of one engine speed within 3 % or 100 rpm: each lies in a band of 2 %."""

GOES_ON_S = 20.0
"""Stretches on one course with less between them are one pass (own choice)."""

Ways = Literal["both", "single"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPass:
    """One direction of a step: its steady stretches, and the means over them.

    `engines` are the engine speeds and `flows` the fuel flows, one for each engine; `way` is +1
    for the direction of the step's first pass, -1 against it, 0 where that says nothing.
    """

    spans: tuple[Span, ...]
    course_rad: float
    speed: Mean
    engines: tuple[Mean, ...]
    flows: tuple[Mean, ...]
    pitch: Mean
    way: int = 0

    @property
    def length_s(self) -> float:
        """How long it was steady, all stretches together."""
        return math.fsum(span.length_s for span in self.spans)

    @property
    def span(self) -> Span:
        """From the beginning of the first stretch to the end of the last."""
        return Span(start_s=self.spans[0].start_s, stop_s=self.spans[-1].stop_s)

    @property
    def engine_speed(self) -> Mean:
        """The mean over the engines that were logged."""
        return average(self.engines)

    @property
    def flow(self) -> Mean:
        """The flow of all engines together; none where one of them has none."""
        return total(self.flows)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What was measured at one engine speed.

    `speed` is the two-way mean where there are passes both ways, else the mean of the passes
    there are, with current and wind in it. `flow` and `pitch` are means over the passes, those
    of the two directions counted alike. `economy` is of these means.
    """

    name: str
    passes: tuple[StepPass, ...]
    ways: Ways
    engine_speed: Mean
    speed: Mean
    flow: Mean
    pitch: Mean
    two_way: TwoWay | None
    economy: Economy


def same_engine_speed(one_rps: float, other_rps: float) -> bool:
    """Whether two engine speeds are one step's."""
    return abs(one_rps - other_rps) <= max(SAME_RPS, SAME_SHARE * one_rps)


def find_steps(
    channels: Mapping[str, Channel], steady: Sequence[Steady], engines: int, tank: Tank = NO_TANK
) -> tuple[Step, ...]:
    """The steps of a day, by rising engine speed.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    steady
        What `find_steady` found in them.
    engines
        How many engines the sheet has; a flow that one of them lacks is no flow.
    tank
        What range and endurance are worked out from.
    """
    under_way = [
        one
        for one in steady
        if one.kind == "step"
        and one.speed_mps >= UNDER_WAY_MPS
        and one.engine_speed_rps >= IDLES_RPS
        and math.isfinite(one.course_rad)
    ]
    # Full throttle is a step of its own, however near another lies.
    groups = [
        group
        for full in (False, True)
        for group in _groups([one for one in under_way if one.full == full])
    ]
    return _named_apart([step_of(channels, group, engines, tank) for group in groups])


def _named_apart(steps: list[Step]) -> tuple[Step, ...]:
    """By rising engine speed; the faster of two whose names would be the same says that it is
    at full throttle."""
    out: list[Step] = []
    for step in sorted(steps, key=lambda one: (one.engine_speed.value, one.speed.value)):
        twin = any(step.name == other.name for other in out)
        out.append(replace(step, name=f"{step.name}, full throttle") if twin else step)
    return tuple(out)


def _groups(steady: Sequence[Steady]) -> list[list[Steady]]:
    """Stretches of one engine speed, each group no wider than one step may be."""
    groups: list[list[Steady]] = []
    for one in sorted(steady, key=lambda stretch: stretch.engine_speed_rps):
        if groups and same_engine_speed(groups[-1][0].engine_speed_rps, one.engine_speed_rps):
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def step_of(channels: Mapping[str, Channel], group: list[Steady], engines: int, tank: Tank) -> Step:
    """One step of its stretches, those of one pass together."""
    runs = [_pass(channels, part, engines) for part in _in_one_go(group)]
    found = two_way(
        [
            Pass(
                t_s=(run.span.start_s + run.span.stop_s) / 2,
                speed_mps=run.speed.value,
                course_rad=run.course_rad,
                sd_mps=run.speed.sd,
            )
            for run in runs
            if run.speed.known
        ]
    )
    ways = _directions(runs)
    named = tuple(replace(run, way=way) for run, way in zip(runs, ways, strict=True))
    engine_speed = both_ways([run.engine_speed for run in named], ways)
    turns = engine_speed.value if engine_speed.known else group[0].engine_speed_rps
    speed = (
        both_ways([run.speed for run in named], ways)
        if found is None
        else Mean(value=found.speed_mps, sd=found.sd_mps)
    )
    flow = both_ways([run.flow for run in named], ways)
    # By what the check of the flow may be out, all flows are out alike: no mean makes it smaller.
    flow = Mean(value=flow.value, sd=math.hypot(flow.sd, tank.flow_share_sd * flow.value))
    return Step(
        name=f"{round(turns * 6) * 10} rpm",
        passes=named,
        ways="single" if found is None else "both",
        engine_speed=engine_speed,
        speed=speed,
        flow=flow,
        pitch=both_ways([run.pitch for run in named], ways),
        two_way=found,
        economy=economy(speed, flow, tank),
    )


def _in_one_go(group: list[Steady]) -> list[list[Steady]]:
    """The stretches by passes, in order of time."""
    ordered = sorted(group, key=lambda one: one.span.start_s)
    parts = [[ordered[0]]]
    for before, after in pairwise(ordered):
        turned = abs(math.remainder(after.course_rad - before.course_rad, 2 * math.pi))
        if after.span.start_s - before.span.stop_s <= GOES_ON_S and turned <= RECIPROCAL_RAD:
            parts[-1].append(after)
        else:
            parts.append([after])
    return parts


def _pass(channels: Mapping[str, Channel], part: list[Steady], engines: int) -> StepPass:
    spans = tuple(one.span for one in part)
    turning, flowing = keys(channels, "engine_speed", 1), keys(channels, "fuel_flow", engines)
    return StepPass(
        spans=spans,
        course_rad=_direction([one.course_rad for one in part], spans),
        speed=_over(channels.get("speed"), spans),
        engines=tuple(_over(channels.get(key), spans) for key in turning),
        flows=tuple(_over(channels.get(key), spans) for key in flowing),
        pitch=_over(channels.get("pitch"), spans),
    )


def keys(channels: Mapping[str, Channel], name: str, engines: int) -> list[str]:
    """The keys of a channel for all engines: those of the sheet and those that were logged."""
    logged = [int(key.partition(".")[2] or 0) for key in channels if key.partition(".")[0] == name]
    count = max([engines, *(number + 1 for number in logged)])
    return [name if i == 0 else f"{name}.{i}" for i in range(count)]


def _over(channel: Channel | None, spans: Sequence[Span]) -> Mean:
    """The mean over several stretches, each by its length."""
    if channel is None:
        return NONE
    parts = [mean_of(channel, span) for span in spans]
    if not all(part.known for part in parts):
        return NONE
    share = np.array([span.length_s for span in spans]) / sum(span.length_s for span in spans)
    return Mean(
        value=float(np.dot(share, [part.value for part in parts])),
        sd=float(np.linalg.norm(share * [part.sd for part in parts])),
    )


def _direction(courses: list[float], spans: Sequence[Span]) -> float:
    weights = np.array([span.length_s for span in spans])
    return float(np.angle(np.sum(weights * np.exp(1j * np.array(courses)))) % (2 * math.pi))


def _directions(runs: list[StepPass]) -> list[int]:
    """Along the first pass, against it, or neither."""
    first = runs[0].course_rad
    ways = []
    for run in runs:
        off = abs(math.remainder(run.course_rad - first, 2 * math.pi))
        ways.append(1 if off <= RECIPROCAL_RAD else -1 if math.pi - off <= RECIPROCAL_RAD else 0)
    return ways


def both_ways(means: Sequence[Mean], ways: Sequence[int]) -> Mean:
    """The mean of what was measured each way, the two ways counted alike; of all passes where
    there is one way only."""
    there = [mean for mean, way in zip(means, ways, strict=True) if way == 1]
    back = [mean for mean, way in zip(means, ways, strict=True) if way == -1]
    if not back:
        return average(means)
    return average([average(there), average(back)])
