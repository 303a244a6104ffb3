"""What the crew asked for by name, and which engine is which, as tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from overlay.figures import NO_VALUE
from overlay.report.columns import Column, Heading, Table, make_table, measured, plain_number, words
from overlay.report.words import sentence, time_of_day
from sync.clock import utc_text

if TYPE_CHECKING:
    from overlay.analysis.sides import OneEngine, Sides
    from overlay.analysis.timed import TimedRun


def timed_table(timed: Sequence[TimedRun], time_zone: str) -> tuple[Table, ...]:
    """A row for each time, whether read from a channel or counted on film."""
    if not timed:
        return ()
    columns: list[Column[TimedRun]] = [
        words("what", lambda one: one.name, kind="name"),
        Column(
            heading=Heading(text="at", kind="number"),
            text=lambda one: time_of_day(one.start_s, time_zone) if _tied(one) else NO_VALUE,
            raw=(("start_utc", lambda one: utc_text(one.start_s) if _tied(one) else ""),),
        ),
        measured("time", "s", lambda one: one.time, key="time", quantity="time", doubt=True),
        words("how it was had", lambda one: one.how, key="how", kind="prose"),
    ]
    notes = ["± is one standard deviation; of what was counted on film it is one frame."]
    return (make_table("timed", "times from mark to mark", timed, columns, notes=notes),)


def _tied(one: TimedRun) -> bool:
    return math.isfinite(one.start_s)


def sides_table(sides: Sides | None, time_zone: str) -> tuple[Table, ...]:
    """A row for each stretch on one engine alone, with what they come to."""
    if sides is None or not sides.stretches:
        return ()
    columns: list[Column[OneEngine]] = [
        words("engine", lambda one: one.engine),
        Column(
            heading=Heading(text="from", kind="number"),
            text=lambda one: time_of_day(one.span.start_s, time_zone),
            raw=(("start_utc", lambda one: utc_text(one.span.start_s)),),
        ),
        plain_number("for", "s", lambda one: one.span.length_s, key="for", step="1",
                     quantity="time"),
        words("turned to", _turned),
        measured("at", "°/s", lambda one: one.turn, key="turn", quantity="turn_rate", doubt=True),
        words("left out, and why", lambda one: one.why_not, key="left_out", kind="prose"),
    ]  # fmt: skip
    notes = [f"{sentence(sides.verdict)[:-1]}: {sides.why}."]
    return (
        make_table("sides", "on one engine: which is which", sides.stretches, columns, notes=notes),
    )


def _turned(one: OneEngine) -> str:
    if not one.turn.known:
        return NO_VALUE
    return "starboard" if one.turn.value > 0 else "port"
