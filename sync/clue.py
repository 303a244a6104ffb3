"""What a clue is, and how to add a kind of evidence.

1. Write `sync/clues/<kind>.py` with functions that take plain arrays and frozen values and
   return a `Finding`; open it with what the evidence is and how it can mislead.
2. State every offset so that `t_to = t_from + offset_s`, with one standard deviation that a
   test has held against known truth.
3. Where the evidence allows two readings that are nearly as good as each other, return no
   clue but a remark that names both and says what would settle it.
4. Add the kind to `CLUES` in `sync/clues/__init__.py`, and its page, for the people who use it,
   to `sync/clues/pages` under the headings that the others have.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sync.channel import Channel


@dataclass(frozen=True, slots=True, kw_only=True)
class ClueKind:
    """One kind of evidence: its key, and what it is in words."""

    key: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Something unknown that several clues may share, such as how late a channel is.

    ::

        t_to = t_from + offset - sign · b,    b = 0 ± sd_s, one b for all that name it

    Clues that share a doubt do not check each other about it; where others do, what it comes
    to is an answer in itself.
    """

    name: str
    sd_s: float
    sign: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """One piece of evidence on how two clocks lie to each other.

    Parameters
    ----------
    kind
        Key of `CLUES`.
    from_clock, to_clock
        Names of the clocks, such as `footage:bow`, `log:engine` and `utc`.
    offset_s, sd_s
        ``t_to = t_from + offset_s``, with one standard deviation of it.
    at_s
        The instant on the from-clock at which the offset holds; None where none is known,
        and then the clue says nothing about how fast the two clocks run.
    hint
        Never trusted alone: it can be wrong by more than its deviation says.
    typed
        A person wrote it down.
    text
        One line for the table that the person reads.
    doubts
        What of the deviation is not this clue's own; `sd_s` has it already.
    """

    kind: str
    from_clock: str
    to_clock: str
    offset_s: float
    sd_s: float
    hint: bool = False
    typed: bool = False
    text: str = ""
    at_s: float | None = None
    doubts: tuple[Doubt, ...] = ()

    def __post_init__(self) -> None:
        if not self.own_sd_s > 0:
            raise ValueError(
                f"a clue's standard deviation cannot be {self.sd_s} with doubts of "
                f"{[doubt.sd_s for doubt in self.doubts]}"
            )

    @property
    def own_sd_s(self) -> float:
        """One standard deviation of what is this clue's alone: its doubts taken out."""
        if not self.sd_s > 0:
            return 0.0
        shared = sum(doubt.sd_s**2 for doubt in self.doubts)
        return math.sqrt(max(self.sd_s**2 - shared, 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a search for clues came to: the clues, and remarks on what was ambiguous or amiss."""

    clues: tuple[Clue, ...] = ()
    remarks: tuple[str, ...] = ()

    def __add__(self, other: Finding) -> Finding:
        return Finding(clues=self.clues + other.clues, remarks=self.remarks + other.remarks)


def delay_doubt(channel: Channel, sign: float) -> tuple[Doubt, ...]:
    """The doubt about how late a channel is, for a clue that has its delay taken out.

    Parameters
    ----------
    sign
        1 for a channel on the clue's to-clock, -1 for one on its from-clock.
    """
    if not channel.delay_sd_s > 0:
        return ()
    return (Doubt(name=delay_name(channel.clock, channel.key), sd_s=channel.delay_sd_s, sign=sign),)


def delay_name(clock: str, key: str) -> str:
    """What the doubt about a channel's delay is called; one key has one channel on a clock."""
    return f"delay of {key} on {clock}"
