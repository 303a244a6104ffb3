"""A row of pixels in which letters may stand, and a chain of letters in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from overlay.audit.reading.letters import Alphabet

RULE_EM = 0.03
"""A rule is no broader than this, in sizes of the font."""

STROKE_EM = 0.09
"""The breadth of a stroke, in sizes of the font."""

Chain = tuple[tuple[int, int, int], ...]
"""Group, place in the group, and first column of each letter, in the order of the search."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of pixels to be searched.

    Parameters
    ----------
    alphabet
        The letters that may stand in it.
    start
        The column where the chain begins.
    leftward
        Whether it goes to the left: of a number the end is known, of a label the beginning.
    clear_px
        How many blank columns end a chain.
    ends_at
        A column where a chain may end though something stands close behind it, or None.
    """

    alphabet: Alphabet
    start: int
    leftward: bool
    clear_px: int
    ends_at: int | None = None

    @property
    def stroke_px(self) -> int:
        """The breadth of a stroke."""
        return max(2, round(STROKE_EM * self.alphabet.size_px))

    @property
    def rule_px(self) -> int:
        """The greatest breadth of a rule."""
        return max(2, math.ceil(RULE_EM * self.alphabet.size_px))

    def near_end(self, pen: int) -> bool:
        """Whether a chain may end at a place though something stands close behind it."""
        return self.ends_at is not None and abs(pen - self.ends_at) <= self.clear_px // 2

    def cell(self, pen: int, advance: int) -> tuple[int, int]:
        """The columns of a letter that follows at a place."""
        return (pen - advance, pen) if self.leftward else (pen, pen + advance)


def pen_after(chain: Chain, row: Row) -> int:
    """Where a chain has come to."""
    if not chain:
        return row.start
    group, _, low = chain[-1]
    return low if row.leftward else low + row.alphabet.groups[group].advance_px
