"""At which offset does a logged engine speed explain a sound best, and how well.

Every offset is a path through the table of `note.sound`: at each frame the firing frequency
and its rate of change that the log has there. All offsets on the frames' grid are added up;
the best few are looked at again between the grid's steps, with the mean over just those
frames taken off that sound and log share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.clock import Span
from sync.clues.note.sound import CHIRPS, FRAME_S, RATIO, Note, Table
from sync.clues.note.way import Way
from sync.log import Channel, Floats

if TYPE_CHECKING:
    from numpy.typing import NDArray

APART_S = 2.0
"""Places nearer than this are one (own choice: a launch's flanks are narrower)."""

PLACES = 12
"""How many of the best places are looked at again."""

SLOPE_S = 0.1
"""Half of what the rate of change is read over: about a frame."""

FINE_S = 0.005
"""Step of the second look, which reaches a frame's hop either way."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Source:
    """What is listened for: an engine's speed without its delay, the ignitions in a revolution,
    and how the sound's way changes; `way` is None where the camera is aboard."""

    engine: Channel
    firing: float
    way: Way | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """One offset, ``t_log = t_sound + shift_s``: its score over the frames that both share, in
    standard deviations of what the noise alone would come to, how long that is, and the way
    that the sound would have come."""

    shift_s: float
    score: float
    shared_s: float
    way: Way | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """Where a log's curve runs through a table: columns (with fractions) and rates of change
    (of the logarithm, a second), NaN where the log has no value [shape=(n,)]."""

    column: Floats
    chirp: Floats

    @property
    def known(self) -> NDArray[np.bool_]:
        """Where the log has a value."""
        return np.isfinite(self.column) & np.isfinite(self.chirp)


def path_at(note: Note, source: Source, t_s: Floats, shift_s: float) -> Path:
    """Where a source would be heard in a sound that lies `shift_s` before its log.

    `t_s` are instants on the clock of the sound.
    """
    way = source.way
    there = t_s + shift_s - (0.0 if way is None else way.late_s(t_s))
    before, now, after = (_log_hz(source, there + d) for d in (-SLOPE_S, 0.0, SLOPE_S))
    column = (now - np.log(note.lowest_hz)) / np.log(RATIO)
    if way is not None:
        column = column + way.columns(t_s)
    inside = (column >= 0) & (column <= note.table.shape[2] - 1.001)
    chirp = (after - before) / (2 * SLOPE_S)
    return Path(column=np.where(inside, column, np.nan), chirp=chirp)


def _log_hz(source: Source, t_s: Floats) -> Floats:
    revolutions = source.engine.at(t_s)
    return np.log(np.where(revolutions > 0, revolutions, np.nan) * source.firing)


def cells(path: Path, note: Note) -> NDArray[np.int64]:
    """The nearest cell of each point in a frame's flattened table; one past it where none is."""
    _, chirps, columns = note.table.shape
    chirp = np.abs(np.nan_to_num(path.chirp)[:, None] - CHIRPS).argmin(axis=1)
    column = np.round(np.nan_to_num(path.column)).astype(np.int64)
    return np.asarray(np.where(path.known, chirp * columns + column, chirps * columns))


def read(table: Table, rows: NDArray[np.int64], path: Path) -> Floats:
    """The table along a path, on straight lines between columns and between rates."""
    column = np.nan_to_num(path.column)
    whole = np.clip(column.astype(np.int64), 0, table.shape[2] - 2)
    share = column - whole
    rate = np.interp(np.nan_to_num(path.chirp), CHIRPS, np.arange(CHIRPS.size))
    low = np.minimum(rate.astype(np.int64), CHIRPS.size - 2)
    part = rate - low
    steady = table[rows, low, whole] * (1 - share) + table[rows, low, whole + 1] * share
    moving = table[rows, low + 1, whole] * (1 - share) + table[rows, low + 1, whole + 1] * share
    return np.where(path.known, steady * (1 - part) + moving * part, 0.0)


def kept_frames(note: Note) -> float:
    """How many frames in a row hold as much noise as one: the sum of the noise's correlation."""
    some = note.table[:, CHIRPS.size // 2, ::7]
    reach = int(np.ceil(FRAME_S / note.hop_s))
    power = float(np.mean(some**2)) or 1.0
    total = 1.0
    for lag in range(1, min(reach, some.shape[0] - 1) + 1):
        total += 2 * max(float(np.mean(some[lag:] * some[:-lag])) / power, 0.0)
    return total


def best_places(
    note: Note, source: Source, windows: Sequence[Span], least_s: float
) -> tuple[Place, ...]:
    """The best places for a camera aboard, no two of them near each other, the best first.

    Parameters
    ----------
    windows
        Where `shift_s` may lie; anywhere where there is none.
    least_s
        How much sound and log must share.
    """
    noise = kept_frames(note)
    found = [_again(note, source, s, noise) for s in likely_shifts(note, source, windows, least_s)]
    return tuple(sorted(found, key=lambda place: place.score, reverse=True))


def likely_shifts(
    note: Note,
    source: Source,
    windows: Sequence[Span],
    least_s: float,
    *,
    higher: Sequence[float] = (0.0,),
    block_s: float | None = None,
) -> list[float]:
    """The shifts on the frames' grid at which a source is heard best, the best first.

    Parameters
    ----------
    higher, block_s
        By how many columns the note may be higher than it was logged, in each block of so
        much sound for itself; the whole sound is one block where `block_s` is None.
    """
    span = source.engine.span
    if span is None:
        return []
    first, last = span.start_s, span.stop_s
    if windows:
        first = max(first, min(w.start_s for w in windows) + note.start_s)
        last = min(last, max(w.stop_s for w in windows) + float(note.t_s[-1]))
    grid = np.arange(first, last, note.hop_s)
    if grid.size == 0:
        return []
    path = path_at(note, source, grid, 0.0)
    frames = note.table.shape[0]
    length = frames if block_s is None else max(round(block_s / note.hop_s), 1)
    scores = np.zeros(grid.size + frames - 1)
    for start in range(0, frames, length):
        block = slice(start, min(start + length, frames))
        ways = [_scores(note, cells(_raised(path, c, note), note), block) for c in higher]
        scores += np.max(ways, axis=0)
    shared = _shared(path.known, frames)
    shifts = grid[0] - note.start_s + note.hop_s * (np.arange(scores.size) - (frames - 1))
    good = shared * note.hop_s >= least_s
    if windows:
        good &= np.any([(shifts >= w.start_s) & (shifts <= w.stop_s) for w in windows], axis=0)
    worth = np.where(good, scores / np.sqrt(np.maximum(shared, 1.0)), -np.inf)
    found: list[float] = []
    while len(found) < PLACES and np.isfinite(worth[k := int(np.argmax(worth))]):
        found.append(float(shifts[k]))
        worth[np.abs(shifts - shifts[k]) < APART_S] = -np.inf
    return found


def _raised(path: Path, columns: float, note: Note) -> Path:
    """A path so many columns higher, where that is still in the table."""
    column = path.column + columns
    inside = (column >= 0) & (column <= note.table.shape[2] - 1.001)
    return Path(column=np.where(inside, column, np.nan), chirp=path.chirp)


def _scores(note: Note, where: NDArray[np.int64], block: slice) -> Floats:
    """The sum along the path over a block of frames, for every offset of grid to frames."""
    frames = note.table.shape[0]
    flat = np.zeros(note.table[0].size + 1, dtype=np.float32)
    scores = np.zeros(where.size + frames - 1, dtype=np.float32)
    for i in range(block.start, block.stop):
        flat[:-1] = note.table[i].ravel()
        first = frames - 1 - i
        scores[first : first + where.size] += flat.take(where)
    return scores.astype(np.float64)


def _shared(known: NDArray[np.bool_], frames: int) -> Floats:
    """How many frames sound and log share at every offset of grid to frames."""
    total = np.concatenate([np.zeros(frames), np.cumsum(known), np.full(frames - 1, known.sum())])
    shared = total[frames:] - total[: total.size - frames]
    return np.asarray(shared[: known.size + frames - 1], dtype=np.float64)


def _again(note: Note, source: Source, near_s: float, noise: float) -> Place:
    """A place between the grid's steps."""
    shifts = near_s + np.arange(-note.hop_s, note.hop_s * 1.01, FINE_S)
    return place_at(note, source, near_s, shifts, noise)


def place_at(note: Note, source: Source, near_s: float, shifts: Floats, noise: float) -> Place:
    """The best of some shifts about a place, scored over what sound and log share and no more."""
    t = note.t_s
    rows = np.flatnonzero(path_at(note, source, t, near_s).known)
    table = shared_table(note, rows)
    along = np.arange(rows.size)
    sums = [float(np.sum(read(table, along, path_at(note, source, t[rows], s)))) for s in shifts]
    best = int(np.argmax(sums))
    return Place(
        shift_s=float(shifts[best]),
        score=sums[best] / float(np.sqrt(max(rows.size, 1) * noise)),
        shared_s=rows.size * note.hop_s,
        way=source.way,
    )


def shared_table(note: Note, rows: NDArray[np.int64]) -> Table:
    """The table of some frames, less their mean: whatever speed stays the same scores nought."""
    if rows.size == note.table.shape[0]:
        return note.table
    part = note.table[rows]
    return np.asarray(part - part.mean(axis=0))
