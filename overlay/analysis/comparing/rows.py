"""The figures that trials are compared by: what each is, which way is better, how it is read."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from overlay.analysis.attitude import LaunchAttitude
from overlay.analysis.comparing.side import Better, Figures, Reading, Side
from overlay.analysis.launches import Launch
from overlay.analysis.means import NONE, Mean

ONE_WAY = "launches one way only"
NO_LAUNCH = "no launch was found"

FLOW_TOLD = {"engine": "engine-reported flow", "meter": "metered flow", "weighed": "weighed fuel"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure of a trial as a whole."""

    key: str
    section: str
    title: str
    quantity: str
    better: Better
    read: Callable[[Side], Reading]


def _full_throttle(side: Side) -> Reading:
    found = side.results.set_up.full_throttle
    if found is not None:
        return Reading(mean=found.engine_speed)
    if not side.sheet.engines or side.sheet.engines[0].rated_rpm is None:
        return Reading(lacks="the sheet has no rated_rpm")
    return Reading(lacks="no step was held with the throttle open")


def _top_speed(side: Side) -> Reading:
    step = side.step(side.results.set_up.top)
    if step is None:
        return Reading(lacks=side.no_step())
    return Reading(mean=step.speed, at=step.name)


def _best(side: Side) -> Reading:
    return _economy_at(side, side.results.set_up.best, "no step both ways has fuel flow")


def _best_planing(side: Side) -> Reading:
    name = side.results.set_up.best_planing
    if not name and side.results.set_up.mass is None:
        return Reading(lacks="no mass in the sheet to tell planing by")
    return _economy_at(side, name, "no planing step both ways has fuel flow")


def _economy_at(side: Side, name: str, why_not: str) -> Reading:
    step = side.step(name)
    if step is None:
        return Reading(lacks=why_not if side.both_ways() else side.no_step())
    return Reading(mean=step.economy.per_volume_m, at=step.name, basis=flow_told(side))


def flow_told(side: Side) -> str:
    """Where a trial's fuel flow comes from: two sources are not held against each other."""
    told = FLOW_TOLD[side.sheet.fuel_flow_from]
    return told if side.flow_factor == 1.0 else f"{told}, put right by a filled tank"


def _lowest_planing(side: Side) -> Reading:
    if side.results.set_up.mass is None:
        return Reading(lacks="no mass in the sheet to tell planing by")
    planing = {more.name for more in side.results.set_up.steps if more.planes}
    steps = [step for step in side.both_ways() if step.name in planing]
    if not steps:
        return Reading(lacks="no planing step both ways" if side.both_ways() else side.no_step())
    lowest = min(steps, key=lambda step: step.speed.value)
    return Reading(mean=lowest.speed, at=lowest.name)


def _time_to_plane(side: Side) -> Reading:
    return _of_launches(side, "time to plane", {a.launch: a.plane_s for a in _attitudes(side)})


def _bow_rise(side: Side) -> Reading:
    return _of_launches(side, "bow rise", {a.launch: a.bow_rise for a in _attitudes(side)})


def _roll_on(side: Side) -> Reading:
    """From the lowest to the highest speed of the ladder; where a launch began does not matter."""
    ends = {}
    for one in side.results.launches:
        longest = one.roll_on[-1] if one.roll_on else None
        whole = longest is not None and not one.missed
        ends[one.name] = longest.time_s if longest is not None and whole else NONE
    return _of_launches(side, "roll-on", ends, or_else="not all of the ladder was run through")


def _attitudes(side: Side) -> Sequence[LaunchAttitude]:
    return side.results.attitudes


def _of_launches(
    side: Side, what: str, values: dict[str, Mean], or_else: str = "known in one direction only"
) -> Reading:
    """A figure of the launches in the headline, the two directions counted alike.

    Its doubt is no less than one launch's own: a sensor errs alike in all of them. Where they
    scatter by more, that counts.
    """
    launches = _headline(side)
    if not launches:
        return Reading(lacks=_no_headline(side))
    ways = _by_way(launches)
    known = [[values[one.name] for one in way if values[one.name].known] for way in ways]
    if not all(known):
        return Reading(lacks=_reason(side, what) or or_else)
    means = [float(np.mean([mean.value for mean in way])) for way in known]
    scatter = 0.5 * math.hypot(*(_of_mean(way) for way in known))
    own = float(np.max([mean.sd for way in known for mean in way]))
    return Reading(
        mean=Mean(value=float(np.mean(means)), sd=max(own, scatter)),
        basis=f"from {_events(launches)}" if what == "time to plane" else "",
        repeats=tuple(tuple(mean.value for mean in way) for way in known),
    )


def _of_mean(means: Sequence[Mean]) -> float:
    """The deviation of a mean by how its parts differ; nothing where there is one."""
    if len(means) < 2:
        return 0.0
    return float(np.std([mean.value for mean in means], ddof=1)) / math.sqrt(len(means))


def _headline(side: Side) -> list[Launch]:
    """The launches that the mean both ways is of."""
    names = {name for time in side.results.both_ways.times for name in time.launches}
    return [one for one in side.results.launches if one.name in names]


def _by_way(launches: Sequence[Launch]) -> tuple[list[Launch], list[Launch]]:
    first = launches[0].course_rad
    there = [one for one in launches if math.cos(one.course_rad - first) > 0]
    return there, [one for one in launches if one not in there]


def _no_headline(side: Side) -> str:
    """Why there is no mean of launches both ways."""
    launches = side.results.launches
    if not launches:
        return NO_LAUNCH
    left_out = side.results.both_ways.left_out
    if len(left_out) == len(launches):
        return f"no launch to be averaged: {left_out[0][1]}"
    return ONE_WAY


def _reason(side: Side, what: str) -> str:
    """What the results say of a figure of attitude that they lack."""
    told = [why for one in _attitudes(side) for why in one.missing if why.startswith(f"{what}: ")]
    return told[0].removeprefix(f"{what}: ") if told else ""


def _events(launches: Sequence[Launch]) -> str:
    """What the launches are timed from: `throttle`, `engine speed`, or several."""
    return " and ".join(sorted({one.start.event.replace("_", " ") for one in launches}))


ROWS: tuple[Row, ...] = (
    Row(
        key="full_throttle_rpm",
        section="speed",
        title="full throttle",
        quantity="rotation",
        better="neither",
        read=_full_throttle,
    ),
    Row(
        key="top_speed",
        section="speed",
        title="top speed, both ways",
        quantity="speed",
        better="more",
        read=_top_speed,
    ),
    Row(
        key="roll_on",
        section="launches, both ways",
        title="lowest to highest speed of the ladder",
        quantity="time",
        better="less",
        read=_roll_on,
    ),
    Row(
        key="time_to_plane",
        section="launches, both ways",
        title="time to plane",
        quantity="time",
        better="less",
        read=_time_to_plane,
    ),
    Row(
        key="bow_rise",
        section="launches, both ways",
        title="bow rise",
        quantity="angle",
        better="less",
        read=_bow_rise,
    ),
    Row(
        key="lowest_planing",
        section="speed",
        title="lowest planing step",
        quantity="speed",
        better="neither",
        read=_lowest_planing,
    ),
    Row(
        key="best_economy",
        section="economy",
        title="best of all",
        quantity="economy",
        better="more",
        read=_best,
    ),
    Row(
        key="best_planing_economy",
        section="economy",
        title="best on the plane",
        quantity="economy",
        better="more",
        read=_best_planing,
    ),
)
"""The figures of a trial as a whole. The lowest planing step is the lowest of those that the crew
chose to run, so that neither way is better."""


def figures(sides: Sequence[Side]) -> list[Figures]:
    """All of them, read from every trial."""
    return [
        Figures(
            key=row.key,
            section=row.section,
            title=row.title,
            quantity=row.quantity,
            better=row.better,
            readings=tuple(row.read(side) for side in sides),
        )
        for row in ROWS
    ]


def launch_figures(sides: Sequence[Side]) -> list[Figures]:
    """A row for each speed of the ladder."""
    ladder = sides[0].sheet.ladder_speeds()
    labels = [f"{speed:g} {ladder.unit}" for speed in ladder.speeds]
    return [
        Figures(
            key=f"launch_to_{label.replace(' ', '_').replace('/', '')}",
            section="launches, both ways",
            title=f"time to {label}",
            quantity="time",
            better="less",
            readings=tuple(_launch_time(side, label) for side in sides),
        )
        for label in labels
    ]


def _launch_time(side: Side, label: str) -> Reading:
    row = next((one for one in side.results.both_ways.times if one.label == label), None)
    if row is not None:
        within = [one for one in side.results.launches if one.name in row.launches]
        return Reading(
            mean=row.time_s,
            basis=f"from {_events(within)}",
            repeats=tuple(_times(way, label) for way in _by_way(within)),
        )
    if not _headline(side):
        return Reading(lacks=_no_headline(side))
    missed = [why for one in _headline(side) for name, why in one.missed if name == label]
    return Reading(lacks=missed[0] if missed else "not reached both ways")


def _times(launches: Sequence[Launch], label: str) -> tuple[float, ...]:
    return tuple(row.time_s for one in launches for row in one.ladder if row.label == label)
