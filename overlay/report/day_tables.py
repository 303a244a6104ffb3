"""The day as a time line, the definitions used, the delays taken out: as tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from overlay.report.columns import Column, Heading, Table, make_table, plain_number, words
from overlay.report.words import time_of_day
from sync.clock import utc_text

if TYPE_CHECKING:
    from overlay.analysis.day import Stretch
    from overlay.delays import Delay

WORDS = {"way": "under way", "hole": "no speed logged", "named": "as named"}
"""Kinds of stretches that are called something else than in the document."""


def what_of(one: Stretch) -> str:
    """What a stretch is called."""
    return one.name or WORDS.get(one.kind, one.kind)


def day_table(line: Sequence[Stretch], time_zone: str) -> tuple[Table, ...]:
    """What was found from the beginning of the day to its end, and what was left out."""
    if not line:
        return ()
    columns: list[Column[Stretch]] = [
        Column(
            heading=Heading(text="from", kind="number"),
            text=lambda one: time_of_day(one.span.start_s, time_zone),
            raw=(("start_utc", lambda one: utc_text(one.span.start_s)),),
        ),
        plain_number("for", "s", lambda one: one.span.length_s, key="for", step="1",
                     quantity="time"),
        Column(
            heading=Heading(text="what", kind="name"),
            text=what_of,
            raw=(("kind", lambda one: one.kind), ("name", lambda one: one.name)),
        ),
        words("left out, and why", lambda one: one.left_out, key="left_out", kind="prose"),
    ]  # fmt: skip
    return (make_table("day", "the day, in the trial's own time", line, columns),)


def definition_table(used: Sequence[tuple[str, str, str]]) -> Table:
    """The definitions that the results follow, each with its source."""
    columns: list[Column[tuple[str, str, str]]] = [
        words("of", lambda one: one[0]),
        words("definition", lambda one: one[1], kind="prose"),
        words("source", lambda one: one[2], kind="prose"),
    ]
    return make_table("definitions", "definitions", used, columns, listed=True)


_ORIGINS = {
    "stated": "the sheet",
    "estimated": "the clues together",
    "unstated": "nobody, so it is doubted",
}


def delay_table(delays: Mapping[str, Delay], sources: Mapping[str, str]) -> tuple[Table, ...]:
    """How late each channel stood in its log, which has been taken out."""
    told = [
        (key, sources[key], late)
        for key, late in delays.items()
        if late.origin != "unstated" or late.sd_s > 0
    ]
    if not told:
        return ()
    columns: list[Column[tuple[str, str, Delay]]] = [
        words("channel", lambda one: one[0]),
        words("log", lambda one: one[1], kind="name"),
        plain_number("late by", "s", lambda one: one[2].delay_s, key="delay", step="0.01",
                     quantity="time"),
        plain_number("±", "s", lambda one: one[2].sd_s, key="delay_sd", step="0.01",
                     quantity="time"),
        words("says", lambda one: _ORIGINS[one[2].origin], key="origin"),
    ]  # fmt: skip
    return (make_table("delays", "delays taken out", told, columns),)


def law_table(laws: Sequence[tuple[str, str]]) -> tuple[Table, ...]:
    """How the value of a channel at an instant follows from its samples, each law once."""
    by_text: dict[str, list[str]] = {}
    for key, text in laws:
        by_text.setdefault(text, []).append(key)
    if not by_text:
        return ()
    columns: list[Column[tuple[str, list[str]]]] = [
        words("channels", lambda one: ", ".join(one[1]), kind="prose"),
        words("value at t", lambda one: one[0], key="law", kind="prose"),
    ]
    title = "how a value follows from its samples"
    return (make_table("laws", title, list(by_text.items()), columns, listed=True),)
