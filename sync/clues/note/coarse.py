"""Where in a whole log a note may lie: all offsets, at the price of a coarse look.

Frames overlap, and those next to each other say nearly the same. So a few are added up to one,
each moved by what the note's rate of change makes of the time between them; the offsets that
are tried lie closer than the frames. What is found is looked at again frame by frame.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.clock import Span
from sync.clues.note.search import Path, Source, path_at
from sync.clues.note.sound import CHIRPS, RATIO, Note, Table

if TYPE_CHECKING:
    from numpy.typing import NDArray

APART_S = 2.0
"""Places nearer than this are one (own choice: a launch's flanks are narrower)."""

TOGETHER_S = 0.1
"""So long a stretch of frames is added up to one."""

BLOCK_S = 4.0
"""Length of the pieces of sound that may each be higher by an amount of their own."""

MOST_THREADS = 4
"""Pieces that are looked at side by side: past this the memory is the slower one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How coarse the look at all offsets is.

    Parameters
    ----------
    step_s
        At least how far apart offsets are tried.
    places
        How many of the best are given back.
    higher
        By how many columns the note may be higher than it was logged, in each block of
        `BLOCK_S` for itself; one value leaves nothing open.
    """

    step_s: float
    places: int
    higher: tuple[float, ...] = (0.0,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Likely:
    """A shift at which a source may lie, and what it comes to by the coarse look: a mean over
    the square root of the frames, good for comparing only."""

    shift_s: float
    worth: float


def likely_shifts(
    note: Note, source: Source, windows: Sequence[Span], least_s: float, look: Look
) -> list[Likely]:
    """The shifts at which a source is heard best, the best first.

    Parameters
    ----------
    windows
        Where the shift may lie; anywhere where there is none.
    least_s
        How much sound and log must share.
    """
    few = thinned(note)
    count = few.table.shape[0]
    parts = max(int(few.hop_s / look.step_s + 0.01), 1)
    step = few.hop_s / parts
    first, last = source.curve.start_s, source.curve.stop_s
    if windows:
        first = max(first, min(w.start_s for w in windows) + few.start_s)
        last = min(last, max(w.stop_s for w in windows) + float(few.t_s[-1]))
    grid = np.arange(first, last, step)
    if grid.size == 0:
        return []
    path = path_at(few, source, grid, 0.0)
    scores = _scores(few, path, parts, look.higher)
    shared = _shared(path.known, (count - 1) * parts + 1)
    shifts = grid[0] - few.start_s + step * (np.arange(scores.size) - (count - 1) * parts)
    good = shared * step >= least_s
    if windows:
        good &= np.any([(shifts >= w.start_s) & (shifts <= w.stop_s) for w in windows], axis=0)
    worth = np.where(good, scores / np.sqrt(np.maximum(shared, 1.0)), -np.inf)
    worth *= math.sqrt(parts)
    found: list[Likely] = []
    while len(found) < look.places and np.isfinite(worth[k := int(np.argmax(worth))]):
        found.append(Likely(shift_s=float(shifts[k]), worth=float(worth[k])))
        worth[np.abs(shifts - shifts[k]) < APART_S] = -np.inf
    return found


def thinned(note: Note) -> Note:
    """A note whose frames are sums of a few of another's."""
    together = math.ceil(TOGETHER_S / note.hop_s - 0.01)
    count = note.table.shape[0] // together
    if together == 1 or count < 2:
        return note
    table = np.zeros((count, *note.table.shape[1:]), dtype=np.float32)
    for part in range(together):
        since_s = (part - (together - 1) / 2) * note.hop_s
        frames = note.table[part : count * together : together]
        for k, chirp in enumerate(CHIRPS):
            _add_moved(table[:, k], frames[:, k], round(float(chirp) * since_s / np.log(RATIO)))
    return Note(
        start_s=note.start_s + (together - 1) / 2 * note.hop_s,
        hop_s=together * note.hop_s,
        lowest_hz=note.lowest_hz,
        table=table,
    )


def _add_moved(total: Table, frames: Table, up: int) -> None:
    """Add what frames have so many columns up."""
    columns = total.shape[1]
    if abs(up) < columns:
        total[:, max(-up, 0) : columns - max(up, 0)] += frames[:, max(up, 0) : columns + min(up, 0)]


def cells(path: Path, higher: float, note: Note) -> NDArray[np.int64]:
    """The nearest cell of each point, so many columns higher, in a frame's flattened table; one
    past its end where there is none."""
    _, chirps, columns = note.table.shape
    between = (CHIRPS[1:] + CHIRPS[:-1]) / 2
    chirp = np.searchsorted(between, np.nan_to_num(path.chirp))
    column = np.rint(np.nan_to_num(path.column, nan=-1e9) + higher).astype(np.int64)
    inside = path.known & (column >= 0) & (column < columns)
    return np.asarray(np.where(inside, chirp * columns + column, chirps * columns))


def _scores(note: Note, path: Path, parts: int, higher: Sequence[float]) -> Floats:
    """The sum along the path for every offset of the path's grid, of which `parts` make up a
    frame's hop, to the frames; in each block at the height that suits it best."""
    frames, size = note.table.shape[0], path.column.size
    length = max(round(BLOCK_S / note.hop_s), 1)
    where = [cells(path, up, note) for up in higher]
    scores = np.zeros(size + (frames - 1) * parts, dtype=np.float32)

    def block(start: int) -> tuple[int, Table]:
        tables = note.table[start : start + length]
        best = _sum_along(tables, where[0], parts)
        for cell in where[1:]:
            np.maximum(best, _sum_along(tables, cell, parts), out=best)
        return (frames - start - len(tables)) * parts, best

    # NumPy lets go of the interpreter's lock while it takes and adds, which is nearly all here.
    with ThreadPoolExecutor(max_workers=min(MOST_THREADS, os.cpu_count() or 1)) as pool:
        for first, best in pool.map(block, range(0, frames, length)):
            scores[first : first + best.size] += best
    return scores.astype(np.float64)


def _sum_along(tables: Table, cell: NDArray[np.int64], parts: int) -> Table:
    """The sum of what some frames hold in the cells of a path, for every offset of the path."""
    frames, size = tables.shape[0], cell.size
    flat = np.zeros(tables[0].size + 1, dtype=np.float32)
    some = np.empty(size, dtype=np.float32)
    total = np.zeros(size + (frames - 1) * parts, dtype=np.float32)
    for i, table in enumerate(tables):
        flat[:-1] = table.ravel()
        first = (frames - 1 - i) * parts
        total[first : first + size] += np.take(flat, cell, out=some, mode="clip")
    return total


def _shared(known: NDArray[np.bool_], reach: int) -> Floats:
    """How many points of the grid sound and log share at every offset."""
    total = np.concatenate([np.zeros(reach), np.cumsum(known), np.full(reach - 1, known.sum())])
    shared = total[reach:] - total[: total.size - reach]
    return np.asarray(shared[: known.size + reach - 1], dtype=np.float64)
