"""Which letters stand in a row of pixels: the best chain of cells, for many pictures at once.

A chain begins where the layout says that a text begins (of a number: where it ends) and goes on by
whole advances. Each letter in it is worth what it explains::

    worth = |c|² - |c - t|² = 2 c·t - |t|²

with c the coverage seen in a cell and t that of the letter, both with their mean taken out: what
is left of the squared differences once the letter is taken to be there rather than nothing. The
chain of greatest worth that ends on blank ground is found by dynamic programming over places.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.reading.blank import blank, ends, straight
from overlay.audit.reading.products import Floats, product
from overlay.audit.reading.rows import Chain, Row

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_SHARE = 0.3
"""A letter may stand where it is worth at least so much of what it would be on a clean picture,
which is the case down to 65 % of its contrast."""

BEHIND = 1.5
"""A chain that explains less than another one that has come no further, by more than so many times
the greatest worth of a letter, is not followed."""


@dataclass(slots=True)
class _Node:
    """The best way to a place, for each picture."""

    worth: Floats
    before: NDArray[np.int32]
    group: NDArray[np.int16]
    place: NDArray[np.int16]

    def spaced(self, row: Row) -> NDArray[np.bool_]:
        """Whether the last letter was a blank."""
        group, place = row.alphabet.places.get(" ", (-1, -1))
        spaced: NDArray[np.bool_] = (self.group == group) & (self.place == place)
        return spaced & (self.before >= 0)


def search(crops: Floats, row: Row) -> tuple[list[Chain], NDArray[np.bool_]]:
    """The best chain in each picture.

    Parameters
    ----------
    crops : [shape=(n, rows, columns)]
        How far pixels are covered, up to a constant.

    Returns
    -------
    The chains, and whether each of them ends on blank ground.
    """
    count = len(crops)
    nodes = {row.start: _begin(count)}
    ended: dict[int, NDArray[np.bool_]] = {}
    sign = -1 if row.leftward else 1
    waiting = [sign * row.start]
    slack = BEHIND * max(float(group.energy.max()) for group in row.alphabet.groups)
    ahead = np.zeros(count, np.float32)
    while waiting:
        pen = sign * heapq.heappop(waiting)
        node = nodes[pen]
        ended[pen] = ends(crops, row, pen) & np.isfinite(node.worth)
        spaced = node.spaced(row)
        ended[pen] &= ~spaced
        ahead = np.maximum(ahead, node.worth)
        chosen = np.flatnonzero(node.worth >= ahead - slack)
        if not len(chosen):
            continue
        view = crops if len(chosen) == count else crops[chosen]
        for group, advance, place, worth in _following(view, row, pen, spaced[chosen]):
            stop = pen + sign * advance
            total = node.worth[chosen] + worth
            if not np.isfinite(worth).any():
                continue
            if stop not in nodes:
                nodes[stop] = _begin(count, float("-inf"))
                heapq.heappush(waiting, sign * stop)
            _improve(nodes[stop], chosen, total, pen, group, place)
    return _best(nodes, ended, row)


def goes_on(crops: Floats, row: Row, pen: int) -> NDArray[np.bool_]:
    """Whether a letter fits behind a place in each picture, or behind a blank there."""
    sign = -1 if row.leftward else 1
    found = np.zeros(len(crops), bool)
    for spaced in (False, True) if " " in row.alphabet.places else (False,):
        if spaced:
            number, _ = row.alphabet.places[" "]
            pen += sign * row.alphabet.groups[number].advance_px
        for number, _, place, worth in _following(crops, row, pen, np.full(len(crops), spaced)):
            inked = row.alphabet.groups[number].energy[place] > 0
            found |= np.isfinite(worth) & inked
    return found


def _begin(count: int, worth: float = 0.0) -> _Node:
    return _Node(
        worth=np.full(count, worth, np.float32),
        before=np.full(count, -1, np.int32),
        group=np.zeros(count, np.int16),
        place=np.zeros(count, np.int16),
    )


def _following(
    view: Floats, row: Row, pen: int, spaced: NDArray[np.bool_]
) -> Iterator[tuple[int, int, NDArray[np.intp], Floats]]:
    """For each advance the best letter in each picture and its worth, -inf where none fits; no two
    blanks follow each other."""
    table = row.alphabet.table(leftward=row.leftward)
    cells, room = _next_cells(view, row, pen)
    worths = 2 * product(cells.reshape(len(cells), -1), table.centred) - table.energy
    square = _squares(cells, table.advances, leftward=row.leftward)[:, table.group]
    fits = (worths >= LEAST_SHARE * table.energy) & (square - worths <= table.most_over)
    fits &= table.advances[table.group] <= room
    if not row.leftward:
        fits &= ~straight(cells, row)[:, table.advances[table.group] - 1]
    if table.blank is not None:
        low, high = row.cell(pen, row.alphabet.blank_px)
        fits[:, table.blank] = blank(view, low, high, row) & ~spaced
    worths = np.where(fits, worths - table.price, -np.inf)
    for number in np.unique(table.group[fits.any(axis=0)]):
        part = worths[:, table.first[number] : table.first[number + 1]]
        place = part.argmax(axis=1)
        yield int(number), int(table.advances[number]), place, part[np.arange(len(part)), place]


def _next_cells(view: Floats, row: Row, pen: int) -> tuple[Floats, int]:
    """The cells of the widest letter, filled with nothing outside, and how wide they are inside."""
    widest, width = row.alphabet.widest_px, view.shape[2]
    low, high = row.cell(pen, widest)
    inside = view[:, :, max(low, 0) : min(high, width)]
    if inside.shape[2] == widest:
        return inside, widest
    cells = np.zeros((*view.shape[:2], widest), np.float32)
    at = max(0, -low)
    cells[:, :, at : at + inside.shape[2]] = inside
    return cells, inside.shape[2]


def _squares(cells: Floats, advances: NDArray[np.intp], *, leftward: bool) -> Floats:
    """The squared length of the part of a cell that each advance takes, without its mean
    [shape=(n, advances)]."""
    sums, squares = cells.sum(axis=1), np.einsum("nij,nij->nj", cells, cells)
    if leftward:
        sums, squares = sums[:, ::-1], squares[:, ::-1]
    sums, squares = np.cumsum(sums, axis=1), np.cumsum(squares, axis=1)
    at = advances - 1
    found: Floats = squares[:, at] - sums[:, at] ** 2 / (cells.shape[1] * advances)
    return found.astype(np.float32)


def _improve(
    node: _Node,
    chosen: NDArray[np.intp],
    total: Floats,
    pen: int,
    group: int,
    place: NDArray[np.intp],
) -> None:
    better = total > node.worth[chosen]
    at = chosen[better]
    node.worth[at] = total[better]
    node.before[at] = pen
    node.group[at] = group
    node.place[at] = place[better]


def _best(
    nodes: dict[int, _Node], ended: dict[int, NDArray[np.bool_]], row: Row
) -> tuple[list[Chain], NDArray[np.bool_]]:
    """The chain of greatest worth that ends well in each picture, else of greatest worth at all."""
    pens = list(nodes)
    worth = np.stack([nodes[pen].worth for pen in pens])
    well = np.stack([ended[pen] for pen in pens])
    if row.ends_at is not None:
        close = np.array([row.near_end(pen) for pen in pens])
        well |= close[:, None] & np.isfinite(worth)
    any_well: NDArray[np.bool_] = np.any(well, axis=0)
    rank = np.where(well | ~any_well[None, :], worth, -np.inf)
    last = rank.argmax(axis=0)
    chains = [_back(nodes, pens[int(n)], picture) for picture, n in enumerate(last)]
    return chains, any_well


def _back(nodes: dict[int, _Node], pen: int, picture: int) -> Chain:
    links: list[tuple[int, int, int]] = []
    while True:
        node = nodes[pen]
        before = int(node.before[picture])
        if before < 0:
            return tuple(reversed(links))
        links.append((int(node.group[picture]), int(node.place[picture]), min(pen, before)))
        pen = before
