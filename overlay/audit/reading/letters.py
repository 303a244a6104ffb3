"""The letters of a font's file as a viewer's eye knows them, drawn anew for every size.

A letter is drawn with its origin on a whole pixel of its baseline, and takes as many whole pixels
as its rounded advance, as `overlay.ledger.layout.Lettered` has it. What is matched is its cell: all
rows that any letter of the alphabet may blacken, and the columns of its advance. Ground and light
of a picture are free to lie a little higher or lower, so every cell has its mean taken out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.reading.drawing import Drawn, classes_of, drawn_letters, font_of
from overlay.audit.reading.products import Floats, product

if TYPE_CHECKING:
    from numpy.typing import NDArray

MARGIN_PX = 1
"""Rows above the highest letter or numeral that belong to a cell. Below, it ends with the comma and
the lowest letter. What brackets have beyond that is cut off: other things may stand there."""

MOST_OVER = 1.5
"""What a letter leaves unexplained may be at most so many times what it explains where it stands
clean, or the square that `MOST_LEFT` allows: brackets and water are not taken for letters."""

MOST_LEFT = 0.26
"""A letter of which more than this is left over (root mean square of coverage) is unread."""

PRICE = 0.02
"""What each letter of a chain costs, in shares of the mean worth of the alphabet's letters: of two
chains that explain the same, the shorter one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """Letters of one advance, as what their cells are matched with.

    Parameters
    ----------
    cells : [shape=(n, rows, advance)]
        How far each letter covers the pixels of its cell, 0 to 1.
    centred : [shape=(rows * advance, n)]
        The same with the mean taken out.
    energy : [shape=(n,)]
        The squared length of `centred`.
    apart : [shape=(n, n)]
        The squared distance of two letters.
    """

    advance_px: int
    letters: tuple[str, ...]
    cells: Floats
    centred: Floats
    energy: Floats
    apart: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """All letters of an alphabet as one matrix, each in a cell of the widest advance.

    Parameters
    ----------
    centred : [shape=(rows * widest, n)]
        With the mean taken out of each letter's own cell, and nothing beside it.
    energy, most_over : [shape=(n,)]
        The squared length of each letter, and how much it may leave unexplained.
    group, first
        The group of each letter, and the first letter of each group and the end of the last.
    advances
        Of the groups.
    price
        Of a letter in a chain.
    blank
        Which letter is the blank, None where there is none.
    """

    centred: Floats
    energy: Floats
    most_over: Floats
    group: NDArray[np.intp]
    first: NDArray[np.intp]
    advances: NDArray[np.intp]
    price: float
    blank: int | None


class Alphabet:
    """Some letters of a font at a size.

    Parameters
    ----------
    path, size_px
        The font's file and size.
    letters
        Those that may occur; what the font has not is left out.
    tracking_px
        What is added to each advance.
    scale
        How large a layout pixel is on the film, across and down: a letter that was shrunk and is
        brought back to its size is as blurred as the picture that it is held against.
    """

    def __init__(
        self,
        path: Path,
        size_px: int,
        letters: str,
        *,
        tracking_px: int = 0,
        scale: tuple[float, float] = (1.0, 1.0),
    ) -> None:
        self.size_px = size_px
        font = font_of(path, size_px)
        drawn = drawn_letters(font, letters)
        self.classes = classes_of(drawn)
        kept = {letter: drawn[letter] for letter in self.classes}
        inked = {letter: one for letter, one in kept.items() if one.ink.any()}
        reaching = [one for letter, one in inked.items() if letter.isalnum()] or [*inked.values()]
        tops = [one.top for one in reaching]
        feet = [one.foot for one in reaching] + [one.foot for c, one in inked.items() if c == ","]
        self.above_px = -min(tops) + MARGIN_PX
        self.below_px = max(feet)
        self.groups = tuple(self._groups(kept, tracking_px, scale))
        self.blank_px = next((one.advance_px for one in kept.values() if not one.ink.any()), 0)

    @cached_property
    def places(self) -> Mapping[str, tuple[int, int]]:
        """The group and the place in it of each letter."""
        return {
            letter: (g, n)
            for g, group in enumerate(self.groups)
            for n, letter in enumerate(group.letters)
        }

    def table(self, *, leftward: bool) -> Table:
        """All letters as one matrix, their cells flush right or flush left."""
        return self._leftward if leftward else self._rightward

    @cached_property
    def _leftward(self) -> Table:
        return _table(self.groups, self.widest_px, leftward=True)

    @cached_property
    def _rightward(self) -> Table:
        return _table(self.groups, self.widest_px, leftward=False)

    @property
    def rows(self) -> int:
        """Rows of a cell."""
        return self.above_px + self.below_px

    @cached_property
    def widest_px(self) -> int:
        """The greatest advance."""
        return max(group.advance_px for group in self.groups)

    def _groups(
        self, kept: Mapping[str, Drawn], tracking_px: int, scale: tuple[float, float]
    ) -> Iterable[Group]:
        by_advance: dict[int, list[str]] = {}
        for letter, one in kept.items():
            by_advance.setdefault(one.advance_px + tracking_px, []).append(letter)
        for advance, letters in sorted(by_advance.items()):
            if advance > 0:
                cells = [
                    kept[letter].cell(self.above_px, self.below_px, advance, scale)
                    for letter in letters
                ]
                yield _group(advance, letters, np.stack(cells))


def _group(advance: int, letters: Sequence[str], cells: Floats) -> Group:
    flat = cells.reshape(len(letters), -1)
    centred = flat - flat.mean(axis=1, keepdims=True)
    energy = np.einsum("ij,ij->i", centred, centred)
    apart = energy[:, None] + energy[None, :] - 2 * product(centred, centred.T)
    return Group(
        advance_px=advance,
        letters=tuple(letters),
        cells=cells,
        centred=np.ascontiguousarray(centred.T),
        energy=energy,
        apart=np.maximum(apart, 0.0),
    )


def _table(groups: Sequence[Group], widest: int, *, leftward: bool) -> Table:
    rows = groups[0].cells.shape[1]
    parts = []
    for group in groups:
        advance = group.advance_px
        wide = np.zeros((rows, widest, len(group.letters)), np.float32)
        own = slice(widest - advance, widest) if leftward else slice(0, advance)
        wide[:, own] = group.centred.reshape(rows, advance, -1)
        parts.append(wide.reshape(rows * widest, -1))
    advances = np.array([group.advance_px for group in groups], np.intp)
    counts = [len(group.letters) for group in groups]
    letters = [letter for group in groups for letter in group.letters]
    energy = np.concatenate([group.energy for group in groups])
    number = np.repeat(np.arange(len(groups)), counts)
    allowed = np.maximum(energy, MOST_LEFT**2 * rows * advances[number])
    return Table(
        centred=np.ascontiguousarray(np.concatenate(parts, axis=1)),
        energy=energy,
        most_over=(MOST_OVER * allowed).astype(np.float32),
        group=number,
        first=np.concatenate([[0], np.cumsum(counts)]).astype(np.intp),
        advances=advances,
        price=PRICE * float(energy.mean()),
        blank=letters.index(" ") if " " in letters else None,
    )
