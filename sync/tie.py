"""From clues to ties: one graph of all clocks, solved at once.

Every clock is a node and every clue an edge, an offset with its uncertainty. The offsets of
all clocks to UTC follow by weighted least squares, and with them their rates, where clues
that know their instants span time enough to tell. A clue at odds with the rest is named and
left out; where two ways of leaving one out are about as good as each other, or where nothing
but hints leads to a clock, that clock has no tie, and the refusal says what would settle it.
`sync.network` does the arithmetic, `sync.graph` weighs the clues against each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from sync.clock import UTC, ClockMap
from sync.clue import Clue
from sync.errors import TieRefused
from sync.graph import MOST_SD, Loop, consistent, loops
from sync.network import RATE_SD, Estimate, Settled, estimates, settled

__all__ = ["Loop", "Settled", "Tie", "Ties", "clock_text", "solve"]


MOST_RATE_DOUBT = 0.5
"""Share of what is expected of any crystal above which a clock's rate is not worth telling."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """How one clock lies to UTC.

    Parameters
    ----------
    map
        The straight line to UTC.
    sd_s
        One standard deviation of what the map carries to, at the pivot.
    pivot_s
        The instant on the clock at which the tie is best, and at which offset and rate are
        uncorrelated; None where no clue knows its instant, and then the rate is 1.
    rate_sd
        One standard deviation of the map's rate, seconds a second.
    clues, hints, set_aside
        The clues that it rests on, the hints that agree with it but were not needed, and what
        was at odds with it.
    """

    map: ClockMap
    sd_s: float
    pivot_s: float | None = None
    rate_sd: float = RATE_SD
    clues: tuple[Clue, ...] = ()
    hints: tuple[Clue, ...] = ()
    set_aside: tuple[Clue, ...] = ()

    @property
    def rate_known(self) -> bool:
        """Whether the clues tell more of the rate than one expects of any crystal."""
        return self.pivot_s is not None and self.rate_sd <= MOST_RATE_DOUBT * RATE_SD

    @property
    def typed(self) -> bool:
        """Whether it rests on nothing but what a person wrote down."""
        return bool(self.clues) and all(clue.typed for clue in self.clues)

    def sd_at(self, t_s: float) -> float:
        """One standard deviation of the UTC of an instant on the clock.

        ::

            sd(t) = √(sd² + rate_sd² (t − pivot)²)

        Without a pivot it is `sd_s` at any time: where the clues hold is not known, and so not
        how far from them an instant lies.
        """
        if self.pivot_s is None:
            return self.sd_s
        return math.hypot(self.sd_s, self.rate_sd * (t_s - self.pivot_s))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ties:
    """All ties of a trial by clock, and for the other clocks why there is none.

    `doubts` are what the clues together say of what each alone could not know, such as how
    late a channel is.
    """

    by_clock: Mapping[str, Tie]
    refused: Mapping[str, str]
    loops: tuple[Loop, ...] = ()
    doubts: Mapping[str, Settled] = field(default_factory=lambda: MappingProxyType({}))

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
        All clues; one that is given twice counts once. Hints take no part in the solution;
        they are only held against it.
    remarks
        By clock, what the search for clues has to say where it found none.
    """
    wanted = [clock for clock in dict.fromkeys(clocks) if clock != UTC]
    given = tuple(dict.fromkeys(clues))
    firm = tuple(clue for clue in given if not clue.hint)
    agreed, doubtful = consistent(firm)
    kept = tuple(clue for clue in firm if clue in agreed)
    out = tuple(clue for clue in firm if clue not in agreed)
    found = estimates(kept)
    ties: dict[str, Tie] = {}
    refused: dict[str, str] = {}
    for clock in wanted:
        if clock in doubtful:
            refused[clock] = doubtful[clock]
        elif clock in found:
            hints = tuple(c for c in given if c.hint and _speaks_of(c, clock))
            ties[clock] = _tie(clock, found, kept, out, hints)
        else:
            refused[clock] = _settled_by(remarks.get(clock, "")) or _nothing_firm(clock, given)
    return Ties(
        by_clock=MappingProxyType(ties),
        refused=MappingProxyType(refused),
        loops=loops(kept),
        doubts=MappingProxyType(settled(kept)),
    )


def _speaks_of(clue: Clue, clock: str) -> bool:
    return clock in (clue.from_clock, clue.to_clock)


def _tie(
    clock: str,
    found: Mapping[str, Estimate],
    kept: tuple[Clue, ...],
    out: tuple[Clue, ...],
    hints: tuple[Clue, ...],
) -> Tie:
    """The tie of one clock, with what speaks for it and against it."""
    known = found[clock]
    pivot = known.pivot_s or 0.0
    rate = 1.0 + known.rate_off
    agree = tuple(hint for hint in hints if _agrees(hint, found))
    return Tie(
        # With the rate as it was rounded, so that the pivot is carried to the microsecond.
        map=ClockMap(
            from_clock=clock,
            to_clock=UTC,
            offset_s=known.offset_s + (pivot - rate * pivot),
            rate=rate,
        ),
        sd_s=known.sd_s,
        pivot_s=known.pivot_s,
        rate_sd=known.rate_sd,
        clues=tuple(c for c in kept if _speaks_of(c, clock)),
        hints=agree,
        # Stamps come as several readings of one stamp: one that agrees is enough.
        set_aside=(*(c for c in out if _speaks_of(c, clock)), *(() if agree else hints)),
    )


def _agrees(clue: Clue, found: Mapping[str, Estimate]) -> bool:
    """Whether a hint lies where the ties of its two clocks put it."""
    still = Estimate(offset_s=0.0, sd_s=0.0, rate_off=0.0, rate_sd=0.0, pivot_s=None)
    ends = {UTC: still, **found}
    if clue.from_clock not in ends or clue.to_clock not in ends:
        return False
    one, other = ends[clue.from_clock], ends[clue.to_clock]
    at_other = None if clue.at_s is None else clue.at_s + clue.offset_s
    miss = one.offset_at(clue.at_s) - other.offset_at(at_other) - clue.offset_s
    return abs(miss) <= MOST_SD * math.hypot(clue.sd_s, one.sd_at(clue.at_s), other.sd_at(at_other))


def _settled_by(remark: str) -> str:
    """A remark on why there is no tie, ending in what would settle it."""
    if not remark or "settle" in remark:
        return remark
    return f"{remark}; a clap against a tie mark, or a typed frame and time, would settle it"


def _nothing_firm(clock: str, clues: tuple[Clue, ...]) -> str:
    mine = [clue for clue in clues if _speaks_of(clue, clock)]
    firm = [clue for clue in mine if not clue.hint]
    if firm:
        ends = {c for clue in firm for c in (clue.from_clock, clue.to_clock)} - {clock, UTC}
        names = " and ".join(clock_text(end) for end in sorted(ends)) or "another clock"
        return (
            f"it is tied to {names}, but nothing ties either to UTC; "
            "a shared tie mark or a typed frame and time would settle it"
        )
    if mine:
        return (
            "its stamps alone are never trusted within a second; "
            "a clap against a tie mark or a typed frame and time would settle it"
        )
    return (
        "no clue ties it to another clock; "
        "a shared tie mark or a typed frame and time would settle it"
    )
