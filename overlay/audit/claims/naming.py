"""From the words of a claim to the figure that it is about."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from overlay.audit.claims.figure import Figure
from overlay.audit.claims.measures import Measure, measure_in

_BLANKS = re.compile(r"\s+")
_FROM_REST = re.compile(r"^(?:from )?0(?: \S+)?(?: to |-|–)(?=\d)")
_BETWEEN = re.compile(r"(?<=\d)[-–](?=\d)")

_RPM = re.compile(r"(\d+(?:\.\d+)?) ?rpm")

MOST_NEAR = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What a claim's quantity was found to be.

    `key` is the same for all names of one result. `figure` is None where the results know no such
    name; `measure` is what it speaks of, as far as that can be told without a figure.
    """

    key: str
    figure: Figure | None
    measure: Measure | None


def folded(text: str) -> str:
    """A quantity's name as it is compared: small letters, single blanks, `0 to` for from rest."""
    small = _BLANKS.sub(" ", text.strip().casefold()).replace(" :", ":")
    run, colon, what = small.rpartition(": ")
    what = _FROM_REST.sub("time to ", what)
    what = _BETWEEN.sub(" to ", what)
    if re.match(r"\d+(\.\d+)? to \d", what):
        what = f"time from {what}"
    return f"{run}{colon}{what}"


def run_in(key: str) -> str:
    """The run that a folded name speaks of: what stands before its colon, or behind its `at`."""
    run, colon, _ = key.rpartition(":")
    return run if colon else key.partition(" at ")[2]


def spellings(figure: Figure) -> Iterable[str]:
    """Every name that a figure goes by."""
    measure = figure.measure
    whats = [f"{name} {figure.label}".strip() for name in (measure.name, *measure.also)]
    if measure.name == "time to" and figure.label:
        whats.append(f"time from rest to {figure.label}")
    runs = [run for run in (figure.run, *figure.runs_too) if run]
    if not figure.run:
        yield from (folded(what) for what in whats)
    for run in runs:
        for what in whats:
            yield folded(f"{run}: {what}")
            yield from (folded(f"{what} {joint} {run}") for joint in ("at", "of", "in"))
            yield folded(f"{run} {what}")
            yield folded(f"{run}, {what}")


def book_of(figures: Sequence[Figure]) -> Mapping[str, Figure]:
    """All names with their figures; the first of two figures keeps a name that both have."""
    book: dict[str, Figure] = {}
    for figure in figures:
        for name in spellings(figure):
            book.setdefault(name, figure)
    return book


def named(text: str, book: Mapping[str, Figure]) -> Named:
    """The figure that a text names, if there is one."""
    key = folded(text)
    figure = book.get(key)
    if figure is not None:
        return Named(key=figure.identity, figure=figure, measure=figure.measure)
    return Named(key=key, figure=None, measure=measure_in(key))


def nearest(found: Named, book: Mapping[str, Figure]) -> tuple[str, ...]:
    """Names that exist, the likest first: of the same measure where there are such, and by engine
    speed where one is named."""
    key, measure = found.key, found.measure
    same = {
        name: figure
        for name, figure in book.items()
        if measure is None or figure.measure.name == measure.name
    }
    pool = same or dict(book)
    likest = sorted(pool, key=lambda name: (_rpm_apart(key, name), -_likeness(key, name)))
    return tuple(dict.fromkeys(_told(pool[name]) for name in likest))[:MOST_NEAR]


def _likeness(key: str, name: str) -> float:
    return difflib.SequenceMatcher(None, key, name).ratio()


def _rpm_apart(key: str, name: str) -> float:
    """By how much two names' engine speeds differ; nothing where the first names none."""
    wanted, found = _RPM.search(key), _RPM.search(name)
    if wanted is None:
        return 0.0
    return math.inf if found is None else abs(float(wanted[1]) - float(found[1]))


def _told(figure: Figure) -> str:
    """A name in quotes, with the engine speed that a numbered step was run at."""
    speed = next((run for run in figure.runs_too if _RPM.match(run)), "")
    return f"“{figure.name}”{f' ({speed})' if speed else ''}"
