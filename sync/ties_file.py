"""Ties as the sidecar file beside a trial sheet keeps them, and how older ones are read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from types import MappingProxyType
from typing import Any

from sync.clock import UTC, ClockMap
from sync.clue import Clue, Doubt
from sync.network import RATE_SD
from sync.tie import Loop, Settled, Tie, Ties

SCHEMA = "ties/3"


def document(ties: Ties) -> dict[str, Any]:
    """The ties as the sidecar file holds them."""
    return {
        "schema": SCHEMA,
        "ties": {
            clock: {
                "offset_s": tie.map.offset_s,
                "rate": tie.map.rate,
                "sd_s": tie.sd_s,
                "pivot_s": tie.pivot_s,
                "rate_sd": tie.rate_sd,
                "clues": [asdict(clue) for clue in tie.clues],
                "hints": [asdict(clue) for clue in tie.hints],
                "set_aside": [asdict(clue) for clue in tie.set_aside],
            }
            for clock, tie in ties.by_clock.items()
        },
        "refused": dict(ties.refused),
        "loops": [asdict(loop) for loop in ties.loops],
        "doubts": {name: asdict(one) for name, one in ties.doubts.items()},
    }


def from_document(given: Mapping[str, Any]) -> Ties:
    """The ties from their sidecar's document, of this version or one before.

    Raises
    ------
    ValueError
        Where it is of a version that is not known here.
    """
    known = dict(given)
    while known.get("schema") != SCHEMA:
        upgrade = UPGRADES.get(str(known.get("schema")))
        if upgrade is None:
            message = f"these are ties of version {known.get('schema')!r}, not {SCHEMA!r}"
            raise ValueError(message)
        known = upgrade(known)
    ties = {clock: _tie_of(clock, row) for clock, row in known["ties"].items()}
    return Ties(
        by_clock=MappingProxyType(ties),
        refused=MappingProxyType(known["refused"]),
        loops=tuple(
            Loop(**{**row, "clocks": tuple(row["clocks"]), "kinds": tuple(row["kinds"])})
            for row in known["loops"]
        ),
        doubts=MappingProxyType({n: Settled(**row) for n, row in known["doubts"].items()}),
    )


def _tie_of(clock: str, row: Mapping[str, Any]) -> Tie:
    return Tie(
        map=ClockMap(from_clock=clock, to_clock=UTC, offset_s=row["offset_s"], rate=row["rate"]),
        sd_s=row["sd_s"],
        pivot_s=row["pivot_s"],
        rate_sd=row["rate_sd"],
        clues=tuple(_clue_of(clue) for clue in row["clues"]),
        hints=tuple(_clue_of(clue) for clue in row["hints"]),
        set_aside=tuple(_clue_of(clue) for clue in row["set_aside"]),
    )


def _clue_of(row: Mapping[str, Any]) -> Clue:
    doubts = tuple(Doubt(**doubt) for doubt in row.get("doubts", ()))
    return Clue(**{**row, "doubts": doubts})


def _from_ties_1(given: Mapping[str, Any]) -> dict[str, Any]:
    """Version 1 took every rate as 1 and knew neither instants nor loops."""
    ties = {
        clock: {**row, "pivot_s": None, "rate_sd": RATE_SD} for clock, row in given["ties"].items()
    }
    return {**given, "schema": "ties/2", "ties": ties, "loops": []}


def _from_ties_2(given: Mapping[str, Any]) -> dict[str, Any]:
    """Version 2 held every clue for a witness of its own."""
    return {**given, "schema": "ties/3", "doubts": {}}


UPGRADES: Mapping[str, Callable[[Mapping[str, Any]], dict[str, Any]]] = MappingProxyType(
    {"ties/1": _from_ties_1, "ties/2": _from_ties_2}
)
"""For each version before this one, what makes the next of it."""
