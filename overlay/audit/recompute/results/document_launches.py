"""The launches of a document of results held against the logs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any

import numpy as np

from overlay.audit.recompute.day import Day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.recorded import Floats
from overlay.audit.recompute.results.attitude import bow_of, plane_of
from overlay.audit.recompute.results.held import ResultHeld, Row, held, it, mean_held, unheld
from overlay.audit.recompute.results.launches import LaunchAgain, launch_near
from overlay.audit.recompute.results.passes import counted_alike, pass_over, spans_of, ways_of
from overlay.audit.recompute.sheet import Sheet

PLANE_STEP_S = 0.005
"""In what steps the product looks for the instant at which a boat planes."""


def launches_held(sheet: Sheet, day: Day, document: Mapping[str, Any]) -> list[ResultHeld]:
    """All launches of a document with their attitudes, and their times both ways."""
    rows: list[ResultHeld] = []
    trim = _lowest_planing(day, document)
    launches = document.get("launches", ())
    again = {row["name"]: _again(day, sheet, row) for row in launches}
    for launch in launches:
        attitude = _named(document, launch["name"])
        rows += _launch(sheet, day, launch, again[launch["name"]], attitude, trim)
    return [*rows, *_times_both_ways(day, document, again)]


def _again(day: Day, sheet: Sheet, said: Row) -> LaunchAgain | str:
    """A launch of the document, or why it is not found again."""
    try:
        return launch_near(day, sheet, float(said["start"]["t_s"]))
    except CannotRecompute as error:
        return error.why


def _named(document: Mapping[str, Any], name: str) -> Row:
    """The attitude of a launch."""
    rows = document.get("attitudes") or ()
    return next((row for row in rows if row.get("launch") == name), {})


def _lowest_planing(day: Day, document: Mapping[str, Any]) -> float | None:
    """Pitch at the lowest step at which she planes, the two ways counted alike."""
    name = (document.get("set_up") or {}).get("lowest_planing")
    step = next((row for row in document.get("steps", ()) if row["name"] == name), None)
    if step is None:
        return None
    try:
        passes = [pass_over(day, spans_of(row)) for row in step["passes"]]
    except CannotRecompute:
        return None
    return counted_alike([one.pitch_rad for one in passes], ways_of(passes))


def _launch(
    sheet: Sheet,
    day: Day,
    said: Row,
    found: LaunchAgain | str,
    attitude: Row,
    trim: float | None,
) -> list[ResultHeld]:
    name, start = said["name"], said["start"]
    if isinstance(found, str):
        mean = {"value": start["t_s"], "sd": start["sd_s"]}
        return [unheld(f"{name}, start", mean, found)]
    rows = [*held(f"{name}, start", start["t_s"], start["sd_s"], lambda: found.start_s)]
    for rung in said["ladder"]:
        time_s = found.ladder[rung["label"]] - found.start_s
        rows += held(f"{name}, {rung['label']}", rung["time_s"], rung["sd_s"], partial(it, time_s))
    for what, value in (
        ("peak_acceleration", found.peak_mps2),
        ("mean_acceleration", found.mean_mps2),
        ("peak_speed_mps", found.peak_mps),
    ):
        told = what.removesuffix("_mps").replace("_", " ")
        rows += held(f"{name}, {told}", said[what], None, partial(it, value))
    return rows + _attitude(sheet, day, name, found, attitude, trim)


def _attitude(
    sheet: Sheet, day: Day, name: str, found: LaunchAgain, said: Row, trim: float | None
) -> list[ResultHeld]:
    def rise() -> float:
        return bow_of(day, sheet, found).rise_rad

    def above() -> float:
        return bow_of(day, sheet, found).above_s

    def plane() -> float:
        return plane_of(day, sheet, found, trim) - found.start_s

    told = said.get("plane_s") or {}
    if told.get("sd"):  # it is read off in steps, which its deviation does not have in it
        told = {**told, "sd": math.hypot(float(told["sd"]), PLANE_STEP_S)}
    return [
        *mean_held(f"{name}, bow rise", said.get("bow_rise"), rise),
        *mean_held(f"{name}, bow above its limit", said.get("above_s"), above),
        *mean_held(f"{name}, time to plane", told, plane),
    ]


def _times_both_ways(
    day: Day, document: Mapping[str, Any], again: Mapping[str, LaunchAgain | str]
) -> Iterator[ResultHeld]:
    """The mean of each direction's mean."""
    for time in (document.get("both_ways") or {}).get("times") or ():
        what = f"both ways, {time['label']}"
        launches = [again.get(name, f"there is no {name}") for name in time["launches"]]
        found = [one for one in launches if not isinstance(one, str)]
        if len(found) < len(launches):
            why = next(one for one in launches if isinstance(one, str))
            yield unheld(what, time["time_s"], why)
            continue
        yield from mean_held(what, time["time_s"], partial(_both, day, time["label"], found))


def _both(day: Day, label: str, launches: Sequence[LaunchAgain]) -> float:
    course = day.channels.get("course")
    if course is None:
        raise CannotRecompute("no course is logged")
    ways = [
        _direction(course.within((one.start_s + one.stop_s) / 2, one.stop_s).values)
        for one in launches
    ]
    times = [one.ladder[label] - one.start_s for one in launches]
    there = [time for time, way in zip(times, ways, strict=True) if math.cos(way - ways[0]) > 0]
    back = [time for time, way in zip(times, ways, strict=True) if math.cos(way - ways[0]) <= 0]
    if not back:
        raise CannotRecompute("the launches went one way only")
    return (sum(there) / len(there) + sum(back) / len(back)) / 2


def _direction(ways: Floats) -> float:
    return float(np.angle(np.mean(np.exp(1j * ways))))
