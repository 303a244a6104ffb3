"""Turns and stops as tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from overlay.figures import figure, unit_for
from overlay.report.columns import Column, Table, make_table, measured, plain_number, words

if TYPE_CHECKING:
    from overlay.analysis.stopping import Stop
    from overlay.analysis.turning import Turn

OF_TURNS = (
    "Single turns. The stream is taken out of a diameter where 430° and more were held, else "
    "current and wind are in it. Heel to the side that she turns to is positive."
)


def turn_table(turns: Sequence[Turn], units: str, boat_m: float | None) -> tuple[Table, ...]:
    """A row for each turn of half a circle and more."""
    held = [turn for turn in turns if turn.held is not None]
    if not held:
        return ()
    short, speed = unit_for("short_distance", units), figure("speed", units)
    pull = figure("acceleration", units)
    pace = str(speed.step)
    lengths = math.nan if boat_m is None else boat_m
    columns: list[Column[Turn]] = [
        words("to", lambda one: one.to),
        plain_number("swept", "°", lambda one: one.swept_rad, key="swept", step="1",
                     quantity="angle"),
        plain_number("entry", speed.unit, lambda one: one.entry_mps, key="entry_speed", step=pace,
                     quantity="speed"),
        plain_number("least", speed.unit, lambda one: one.least_mps, key="least_speed", step=pace,
                     quantity="speed"),
        measured("diameter", short, lambda one: one.diameter_m, key="diameter",
                 quantity="length"),
        plain_number("boat lengths", "", lambda one: one.diameter_m.value / lengths,
                     key="boat_lengths", step="0.1"),
        plain_number("heel", "°", lambda one: one.heel.value, key="heel", step="1",
                     quantity="angle"),
        plain_number("sideways", pull.unit, lambda one: one.centripetal.value, key="sideways",
                     step=str(pull.step), quantity="acceleration"),
        words("stream", lambda one: "taken out" if one.stream_removed else "in it"),
    ]  # fmt: skip
    notes = [OF_TURNS]
    if any(one.aired for one in held):
        notes.append("In at least one of them the propeller drew air; see the day.")
    return (make_table("turns", "turns", held, columns, notes=notes),)


def stop_table(stops: Sequence[Stop], units: str) -> tuple[Table, ...]:
    """A row for each stop."""
    if not stops:
        return ()
    short, speed = unit_for("short_distance", units), figure("speed", units)
    columns: list[Column[tuple[int, Stop]]] = [
        words("stop", lambda one: f"stop {one[0]}"),
        measured("from", speed.unit, lambda one: one[1].entry, key="entry_speed",
                 quantity="speed"),
        measured("time", "s", lambda one: one[1].time_s, key="time", quantity="time"),
        measured("distance", short, lambda one: one[1].distance_m, key="distance",
                 quantity="length"),
        words("gear", lambda one: one[1].gear),
    ]  # fmt: skip
    notes = ["Single stops, until the way is off (2 kn over ground): current and wind are in them."]
    return (make_table("stops", "stops", list(enumerate(stops, start=1)), columns, notes=notes),)
