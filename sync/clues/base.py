"""What a clue is, and how to add a kind of evidence.

1. Write `sync/clues/<kind>.py` with functions that take plain arrays and frozen values and
   return a `Finding`; open it with what the evidence is and how it can mislead.
2. State every offset so that `t_to = t_from + offset_s`, with one standard deviation that a
   test has held against known truth.
3. Where the evidence allows two readings that are nearly as good as each other, return no
   clue but a remark that names both and says what would settle it.
4. Add the kind to `CLUES` in `sync/clues/__init__.py`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ClueKind:
    """One kind of evidence: its key, and what it is in words."""

    key: str
    text: str


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

    def __post_init__(self) -> None:
        if not self.sd_s > 0:
            raise ValueError(f"a clue's standard deviation cannot be {self.sd_s}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a search for clues came to: the clues, and remarks on what was ambiguous or amiss."""

    clues: tuple[Clue, ...] = ()
    remarks: tuple[str, ...] = ()

    def __add__(self, other: Finding) -> Finding:
        return Finding(clues=self.clues + other.clues, remarks=self.remarks + other.remarks)
