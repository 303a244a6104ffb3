"""The search for a row of prints among those of all sources: roughly, over everything.

The sources lie one behind the other on one grid of instants, ten a second. Some pictures of a
shot are held against all of them at once, as normalised correlations of their cells, and the
correlations are added up along every straight line that a speed stands for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.sources import Source
from overlay.ledger.prints import CELLS, COLUMNS, ROWS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Cells = NDArray[np.float32]

GRID_HZ = 10.0
WINDOW_S = 4.0
"""So much of a shot is looked for at first: longer, and speeds would have to be tried closer."""

MOST_PICTURES = 16
LIKELIEST = 4000
"""Lines are tried through so many places, those that the picture in the middle is likest to: more
than six minutes of sources."""

SPEEDS = (0.2, 4.0)
SPEED_STEP = 1.08
"""At the ends of the window that is 0.08 s off at the most, less than the grid's step."""

FLOOR_CODES = 2.0
"""Cells that differ by less than this say nothing, and their noise is not to be made large."""

BLOCK_ROWS = 512
"""Prints that are multiplied at once (OpenBLAS keeps to one thread up to 2^18 products)."""

APART_S = 0.7
PEAKS = 6
"""Of each way of leaving cells out, so many places are looked at closer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Where a shot may lie: the source's instant is `at_s + speed * (t - zero_s)`."""

    source: int
    zero_s: float
    at_s: float
    speed: float

    def along(self, t_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Instants of the source for instants of the film."""
        return self.at_s + self.speed * (t_s - self.zero_s)


@dataclass(slots=True, eq=False)
class Haystack:
    """All sources of one shape on one grid; `number` and `t_s` are each grid place's source and
    instant, the former -1 between sources."""

    sources: Sequence[Source]
    members: Sequence[int]
    cells: Cells = field(init=False)
    number: NDArray[np.int64] = field(init=False)
    t_s: NDArray[np.float64] = field(init=False)
    _known: dict[bytes, Cells] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        gap = round(WINDOW_S * SPEEDS[1] * GRID_HZ)
        nothing = np.zeros((gap, CELLS), np.float32)
        rows, numbers, instants = [nothing], [np.full(gap, -1)], [np.zeros(gap)]
        for member in self.members:
            source = self.sources[member]
            t = np.arange(source.times_s[0], source.stops_s()[-1], 1 / GRID_HZ)
            rows += [source.cells[source.frames_at(t)].astype(np.float32), nothing]
            numbers += [np.full(len(t), member), np.full(gap, -1)]
            instants += [t, np.zeros(gap)]
        self.cells = np.concatenate(rows)
        self.number = np.concatenate(numbers)
        self.t_s = np.concatenate(instants)

    def normalised(self, used: NDArray[np.bool_]) -> Cells:
        """Every print, of some cells, with mean 0 and length 1; between sources nothing."""
        key = used.tobytes()
        if key not in self._known:
            if len(self._known) > 24:
                self._known.clear()
            rows = normalised(self.cells[:, used])
            rows[self.number < 0] = 0.0
            self._known[key] = rows
        return self._known[key]


def normalised(cells: Cells) -> Cells:
    """Rows less their mean, over their length, which is floored."""
    level = cells - cells.mean(axis=1, keepdims=True)
    length = np.sqrt(np.square(level).sum(axis=1, keepdims=True))
    out: Cells = level / np.maximum(length, FLOOR_CODES * np.sqrt(cells.shape[1]))
    return out


def places(
    haystack: Haystack,
    t_s: NDArray[np.float64],
    cells: Cells,
    seen: NDArray[np.bool_],
    *,
    thorough: bool,
) -> list[Line]:
    """Where a window of a film may lie.

    Parameters
    ----------
    t_s, cells
        Instants and prints of the window's pictures.
    seen
        Which cells show the source at all.
    thorough
        Whether to leave out parts of the picture by turns, where a logo or a caption may stand.
    """
    chosen = np.unique(np.linspace(0, len(t_s) - 1, MOST_PICTURES).round().astype(int))
    zero_s = float(t_s[chosen].mean())
    after = t_s[chosen] - zero_s
    found: list[Line] = []
    for used in _subsets(seen) if thorough else (seen,):
        near = _products(normalised(cells[chosen][:, used]), haystack.normalised(used))
        found += _peaks(haystack, near, after, zero_s)
    return found


def _products(rows: Cells, others: Cells) -> Cells:
    """Every row times every other [shape=(k, n)], in pieces for which no library starts threads:
    these would spend more time waiting for each other than all the rest takes."""
    out = np.empty((len(rows), len(others)), np.float32)
    for start in range(0, len(others), BLOCK_ROWS):
        part = slice(start, start + BLOCK_ROWS)
        np.matmul(rows, others[part].T, out=out[:, part])
    return out


def _subsets(seen: NDArray[np.bool_]) -> Iterator[NDArray[np.bool_]]:
    """All cells that can be seen; and without a corner, or the lowest row, where a logo or a
    caption may stand."""
    grid = seen.reshape(ROWS, COLUMNS)
    left_out: list[tuple[slice, slice]] = [
        (rows, columns)
        for rows in (slice(0, 1), slice(ROWS - 1, ROWS))
        for columns in (slice(0, 3), slice(COLUMNS - 3, COLUMNS))
    ]
    left_out.append((slice(ROWS - 1, ROWS), slice(0, COLUMNS)))
    yield seen
    for rows, columns in left_out:
        used = grid.copy()
        used[rows, columns] = False
        if used.sum() >= CELLS // 4:
            yield used.reshape(-1)


def speeds() -> tuple[float, ...]:
    """The speeds that are tried at first."""
    down = int(np.floor(np.log(SPEEDS[0]) / np.log(SPEED_STEP)))
    up = int(np.ceil(np.log(SPEEDS[1]) / np.log(SPEED_STEP)))
    return tuple(float(SPEED_STEP**n) for n in range(down, up + 1))


def _peaks(
    haystack: Haystack, near: Cells, after: NDArray[np.float64], zero_s: float
) -> list[Line]:
    length = near.shape[1]
    middle = np.where(haystack.number < 0, -1.0, near[len(near) // 2])
    at = np.arange(length)
    if length > LIKELIEST:
        at = np.argpartition(middle, -LIKELIEST)[-LIKELIEST:]
    at = np.sort(at[haystack.number[at] >= 0])
    likest, speed_at = np.full(len(at), -1.0, np.float32), np.ones(len(at))
    tried: set[bytes] = set()
    for speed in sorted(speeds(), key=lambda one: abs(np.log(one))):
        shifts = np.rint(speed * after * GRID_HZ).astype(int)
        if shifts.tobytes() in tried:
            continue
        tried.add(shifts.tobytes())
        total = np.zeros(len(at), np.float32)
        for row, shift in zip(near, shifts, strict=True):
            total += row[at + shift]
        total /= len(shifts)
        better = total > likest
        likest[better] = total[better]
        speed_at[better] = speed
    best, speed_of = np.full(length, -1.0, np.float32), np.ones(length)
    best[at], speed_of[at] = likest, speed_at
    found = []
    apart = round(APART_S * GRID_HZ)
    for _ in range(PEAKS):
        top = int(best.argmax())
        if best[top] <= 0:
            break
        found.append(
            Line(
                source=int(haystack.number[top]),
                zero_s=zero_s,
                at_s=float(haystack.t_s[top]),
                speed=float(speed_of[top]),
            )
        )
        best[max(0, top - apart) : top + apart + 1] = -1.0
    return found
