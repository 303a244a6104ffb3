"""From clues to ties: one graph of all clocks, solved at once.

Every clock is a node and every clue an edge, an offset with its uncertainty. The offsets of
all clocks to UTC follow by weighted least squares. A clue at odds with the rest is named and
left out; where two ways of leaving one out are about as good as each other, or where nothing
but hints leads to a clock, that clock has no tie, and the refusal says what would settle it.

Rates are taken as one: a camera's clock runs true to some 20 parts in a million (common
practice, no published source), which is a millisecond over a minute of film.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from sync.clock import UTC, ClockMap
from sync.clues.base import Clue
from sync.errors import TieRefused

SCHEMA = "ties/1"

MOST_SD = 4.0
"""How many standard deviations a clue may lie off the rest before it counts as at odds."""

NEARLY_AS_GOOD = 9.0
"""Least lead in chi-squared that one way of leaving a clue out must have over the next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """How one clock lies to UTC.

    `sd_s` is one standard deviation of the offset; `clues` are those that it rests on,
    `hints` those that agree with it but were not needed, `set_aside` those at odds with it.
    """

    map: ClockMap
    sd_s: float
    clues: tuple[Clue, ...] = ()
    hints: tuple[Clue, ...] = ()
    set_aside: tuple[Clue, ...] = ()

    @property
    def typed(self) -> bool:
        """Whether it rests on nothing but what a person wrote down."""
        return bool(self.clues) and all(clue.typed for clue in self.clues)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ties:
    """All ties of a trial by clock, and for the other clocks why there is none."""

    by_clock: Mapping[str, Tie]
    refused: Mapping[str, str]

    def to_utc(self, clock: str) -> ClockMap:
        """The map from a clock to UTC.

        Raises
        ------
        TieRefused
            Where the clock is not tied; the message says why.
        """
        if clock == UTC:
            return ClockMap(from_clock=UTC, to_clock=UTC, offset_s=0.0)
        if clock in self.by_clock:
            return self.by_clock[clock].map
        why = self.refused.get(clock, "nothing was found that ties it to another clock")
        raise TieRefused(f"{clock_text(clock)} has no tie: {why}")


def clock_text(clock: str) -> str:
    """A clock as a sentence calls it."""
    kind, _, name = clock.partition(":")
    if kind == "footage":
        return f"the recording {name!r}"
    return f"the log {name!r}" if kind == "log" else "UTC"


def solve(clocks: Iterable[str], clues: Iterable[Clue], remarks: Mapping[str, str]) -> Ties:
    """Tie every clock to UTC that can be tied.

    Parameters
    ----------
    clocks
        The clocks that want a tie.
    clues
        All clues. Hints take no part in the solution; they are only held against it.
    remarks
        By clock, what the search for clues has to say where it found none.
    """
    wanted = [clock for clock in dict.fromkeys(clocks) if clock != UTC]
    given = tuple(clues)
    firm = tuple(clue for clue in given if not clue.hint)
    kept, doubtful = _consistent(firm)
    out = tuple(clue for clue in firm if clue not in kept)
    offsets, sds = _offsets(kept)
    ties: dict[str, Tie] = {}
    refused: dict[str, str] = {}
    for clock in wanted:
        if clock in doubtful:
            refused[clock] = doubtful[clock]
        elif clock in offsets:
            tied = ClockMap(from_clock=clock, to_clock=UTC, offset_s=offsets[clock])
            hints = [c for c in given if c.hint and clock in (c.from_clock, c.to_clock)]
            agree = [c for c in hints if _agrees(c, offsets, sds)]
            ties[clock] = Tie(
                map=tied,
                sd_s=sds[clock],
                clues=tuple(c for c in kept if clock in (c.from_clock, c.to_clock)),
                hints=tuple(agree),
                # Stamps come as several readings of one stamp: one that agrees is enough.
                set_aside=(
                    *(c for c in out if clock in (c.from_clock, c.to_clock)),
                    *(() if agree else hints),
                ),
            )
        else:
            refused[clock] = _settled_by(remarks.get(clock, "")) or _nothing_firm(clock, given)
    return Ties(by_clock=MappingProxyType(ties), refused=MappingProxyType(refused))


def _settled_by(remark: str) -> str:
    """A remark on why there is no tie, ending in what would settle it."""
    if not remark or "settle" in remark:
        return remark
    return f"{remark}; a clap against a tie mark, or a typed frame and time, would settle it"


def _nothing_firm(clock: str, clues: tuple[Clue, ...]) -> str:
    if any(clock in (clue.from_clock, clue.to_clock) for clue in clues):
        return (
            "its stamps alone are never trusted within a second; "
            "a clap against a tie mark or a typed frame and time would settle it"
        )
    return (
        "no clue ties it to another clock; "
        "a shared tie mark or a typed frame and time would settle it"
    )


def _agrees(clue: Clue, offsets: Mapping[str, float], sds: Mapping[str, float]) -> bool:
    known = {UTC: 0.0, **offsets}
    if clue.from_clock not in known or clue.to_clock not in known:
        return False
    miss = known[clue.from_clock] - known[clue.to_clock] - clue.offset_s
    doubt = math.hypot(clue.sd_s, sds.get(clue.from_clock, 0.0), sds.get(clue.to_clock, 0.0))
    return abs(miss) <= MOST_SD * doubt


def _consistent(clues: tuple[Clue, ...]) -> tuple[tuple[Clue, ...], dict[str, str]]:
    """The clues that agree, and for clocks where two answers are as good, what they are."""
    kept = clues
    while (worst := _worst_miss(kept)) > MOST_SD:
        ways = sorted((_chi_squared(kept[:i] + kept[i + 1 :]), i) for i in range(len(kept)))
        best, index = ways[0]
        rivals = [i for chi, i in ways[1:] if chi - best < NEARLY_AS_GOOD]
        if rivals:
            pair = (kept[index], kept[rivals[0]])
            return _without(kept, pair, worst)
        kept = kept[:index] + kept[index + 1 :]
    return kept, {}


def _without(
    kept: tuple[Clue, ...], pair: tuple[Clue, Clue], worst: float
) -> tuple[tuple[Clue, ...], dict[str, str]]:
    """Leave both of two clues out that contradict each other with nothing to decide."""
    first, second = pair
    message = (
        f"two clues are at odds by {worst:.0f} standard deviations and nothing decides between "
        f"them: {first.text or first.kind} (offset {first.offset_s:.3f} s) and "
        f"{second.text or second.kind} (offset {second.offset_s:.3f} s); "
        "take the wrong one out of the sheet, or add a third"
    )
    clocks = {first.from_clock, first.to_clock} & {second.from_clock, second.to_clock}
    rest = tuple(clue for clue in kept if clue not in pair)
    still, doubtful = _consistent(rest)
    tied, _ = _offsets(still)
    return still, doubtful | {c: message for c in clocks if c != UTC and c not in tied}


def _solve(clues: tuple[Clue, ...]) -> tuple[list[str], Any, Any]:
    """Weighted least squares over all clocks that a chain of clues joins to UTC.

    ::

        x_from − x_to = offset ± sd     for each clue, with x_utc = 0
    """
    joined = {UTC}
    grew = True
    while grew:
        grew = False
        for clue in clues:
            ends = {clue.from_clock, clue.to_clock}
            if ends & joined and not ends <= joined:
                joined |= ends
                grew = True
    clocks = sorted(joined - {UTC})
    rows = [clue for clue in clues if clue.from_clock in joined]
    design = np.zeros((len(rows), len(clocks)))
    right = np.zeros(len(rows))
    for i, clue in enumerate(rows):
        for clock, sign in ((clue.from_clock, 1.0), (clue.to_clock, -1.0)):
            if clock != UTC:
                design[i, clocks.index(clock)] = sign / clue.sd_s
        right[i] = clue.offset_s / clue.sd_s
    return clocks, design, right


def _offsets(clues: tuple[Clue, ...]) -> tuple[dict[str, float], dict[str, float]]:
    clocks, design, right = _solve(clues)
    if not clocks:
        return {}, {}
    solved = np.linalg.lstsq(design, right, rcond=None)[0]
    covariance = np.linalg.inv(design.T @ design)
    sds = np.sqrt(np.diag(covariance))
    # Clues that scatter more than they say make the tie as doubtful as they are.
    spare = len(right) - len(clocks)
    if spare > 0:
        sds = sds * max(1.0, math.sqrt(_sum_of_squares(design @ solved - right) / spare))
    return (
        dict(zip(clocks, solved.tolist(), strict=True)),
        dict(zip(clocks, sds.tolist(), strict=True)),
    )


def _sum_of_squares(values: Any) -> float:
    return float(np.sum(np.square(values)))


def _chi_squared(clues: tuple[Clue, ...]) -> float:
    clocks, design, right = _solve(clues)
    if not clocks:
        return 0.0
    return _sum_of_squares(design @ np.linalg.lstsq(design, right, rcond=None)[0] - right)


def _worst_miss(clues: tuple[Clue, ...]) -> float:
    """The largest distance of a clue from the rest, in standard deviations.

    ::

        max |r| / sqrt(1 − h)      r: weighted residual, h: the clue's leverage
    """
    clocks, design, right = _solve(clues)
    if not clocks:
        return 0.0
    hat = design @ np.linalg.pinv(design)
    residual = hat @ right - right
    spare = 1.0 - np.diag(hat)
    checked = spare > 1e-9  # a clue that nothing else speaks to cannot be at odds
    if not np.any(checked):
        return 0.0
    return float(np.max(np.abs(residual[checked]) / np.sqrt(spare[checked])))


def document(ties: Ties) -> dict[str, Any]:
    """The ties as the sidecar file holds them."""

    def clue_row(clue: Clue) -> dict[str, Any]:
        return {name: getattr(clue, name) for name in _CLUE_FIELDS}

    return {
        "schema": SCHEMA,
        "ties": {
            clock: {
                "offset_s": tie.map.offset_s,
                "rate": tie.map.rate,
                "sd_s": tie.sd_s,
                "clues": [clue_row(clue) for clue in tie.clues],
                "hints": [clue_row(clue) for clue in tie.hints],
                "set_aside": [clue_row(clue) for clue in tie.set_aside],
            }
            for clock, tie in ties.by_clock.items()
        },
        "refused": dict(ties.refused),
    }


def from_document(given: Mapping[str, Any]) -> Ties:
    """The ties from their sidecar's document.

    Raises
    ------
    ValueError
        Where it is of a version that is not known here.
    """
    if given.get("schema") != SCHEMA:
        message = f"these are ties of version {given.get('schema')!r}, not {SCHEMA!r}"
        raise ValueError(message)
    ties = {
        clock: Tie(
            map=ClockMap(
                from_clock=clock, to_clock=UTC, offset_s=row["offset_s"], rate=row["rate"]
            ),
            sd_s=row["sd_s"],
            clues=tuple(Clue(**clue) for clue in row["clues"]),
            hints=tuple(Clue(**clue) for clue in row["hints"]),
            set_aside=tuple(Clue(**clue) for clue in row["set_aside"]),
        )
        for clock, row in given["ties"].items()
    }
    return Ties(by_clock=MappingProxyType(ties), refused=MappingProxyType(given["refused"]))


_CLUE_FIELDS = ("kind", "from_clock", "to_clock", "offset_s", "sd_s", "hint", "typed", "text")
