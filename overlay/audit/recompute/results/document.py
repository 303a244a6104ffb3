"""A document of results held against the logs: every figure by its definition, a second time."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from overlay.audit.recompute.day import Day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.results.document_launches import launches_held
from overlay.audit.recompute.results.held import ResultHeld, Row, held, it, mean_held, unheld
from overlay.audit.recompute.results.passes import (
    both_ways,
    counted_alike,
    pass_over,
    spans_of,
    unsteady,
    ways_of,
)
from overlay.audit.recompute.results.stops import stop_again
from overlay.audit.recompute.results.turns import diameter, onset, turn_again
from overlay.audit.recompute.sheet import Sheet

ONSET_SD_S, HALF_SD_S = 0.45, 0.2
"""How far the beginning of a turn and the end of its first half may be out: one is told by a
threshold, the other counts in steps of a tenth of a second from it."""


def compare_results(sheet: Sheet, day: Day, document: Mapping[str, Any]) -> tuple[ResultHeld, ...]:
    """Hold launches, steps, turns and stops of a document of results against the logs."""
    rows = launches_held(sheet, day, document)
    for step in (*document.get("steps", ()), *document.get("idling", ())):
        rows += _step(day, step)
    for number, turn in enumerate(document.get("turns", ()), start=1):
        rows += _turn(day, f"turn {number}", turn)
    for number, stop in enumerate(document.get("stops", ()), start=1):
        rows += _stop(day, f"stop {number}", stop)
    return tuple(rows)


def _step(day: Day, said: Row) -> list[ResultHeld]:
    """The means of a step, and whether its stretches are steady by their definition."""
    name = said["name"]
    spans = [spans_of(row) for row in said["passes"]]
    try:
        passes = [pass_over(day, one) for one in spans]
    except CannotRecompute as error:
        return [unheld(f"{name}, speed", said["speed"], error.why)]
    rows: list[ResultHeld] = []
    for number, (row, found) in enumerate(zip(said["passes"], passes, strict=True), start=1):
        rows += mean_held(f"{name}, pass {number}", row["speed"], partial(it, found.speed_mps))
    ways, sds = ways_of(passes), [float(row["speed"]["sd"]) for row in said["passes"]]
    both = both_ways(passes, sds) if said["ways"] == "both" else None

    def speed() -> float:
        if said["ways"] == "both" and both is None:
            raise CannotRecompute("the passes are not both ways")
        if both is not None:
            return both[0]
        return counted_alike([one.speed_mps for one in passes], ways)

    rows += mean_held(f"{name}, speed", said["speed"], speed)
    for what, values in (
        ("engine_speed", [one.engine_rps for one in passes]),
        ("flow", [one.flow_m3ps for one in passes]),
        ("pitch", [one.pitch_rad for one in passes]),
    ):
        mean = counted_alike(values, ways)
        rows += mean_held(f"{name}, {what.replace('_', ' ')}", said[what], partial(it, mean))
    return rows + _steady(day, name, spans)


def _steady(day: Day, name: str, spans: Sequence[Any]) -> list[ResultHeld]:
    """A row for each stretch that is not steady."""
    rows = []
    for number, one in enumerate(spans, start=1):
        for start, stop in one:
            why = unsteady(day, (start, stop))
            if why is not None:
                rows.append(
                    ResultHeld(
                        what=f"{name}, pass {number}: {why}",
                        said=1.0,
                        sd=0.0,
                        found=0.0,
                    )
                )
    return rows


def _turn(day: Day, name: str, said: Row) -> list[ResultHeld]:
    start, stop = float(said["span"]["start_s"]), float(said["span"]["stop_s"])
    port = said["to"] == "port"

    def began() -> float:
        return onset(day, start, stop, to_port=port)

    def turned() -> float:
        return float(turn_again(day, start, stop, to_port=port).swept_rad[-1])

    rows = [
        *held(f"{name}, onset", start, ONSET_SD_S, began),
        *held(f"{name}, swept", said["swept_rad"], None, turned),
    ]
    kept = said.get("held")
    if kept is not None:
        ends = (float(kept["start_s"]), float(kept["stop_s"]))
        half = turn_again(day, start, stop, to_port=port).when(math.pi)
        rows += mean_held(f"{name}, diameter", said["diameter_m"], lambda: diameter(day, *ends))
        rows += held(f"{name}, half done", ends[0], HALF_SD_S, lambda: half)
    return rows


def _stop(day: Day, name: str, said: Row) -> list[ResultHeld]:
    start, stop = float(said["span"]["start_s"]), float(said["span"]["stop_s"])
    try:
        found = stop_again(day, start, stop)
    except CannotRecompute as error:
        return [unheld(f"{name}, time", said["time_s"], error.why)]
    return [
        *mean_held(f"{name}, time", said["time_s"], lambda: found.time_s),
        *mean_held(f"{name}, distance", said["distance_m"], lambda: found.distance_m),
    ]
