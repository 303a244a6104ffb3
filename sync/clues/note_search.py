"""At which offset does a logged engine speed explain a sound best, and how well.

Every offset is a path through the table of `note_sound`: at each frame the firing frequency
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
from sync.clues.note_sound import CHIRPS, FRAME_S, RATIO, Note, Table
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One offset, ``t_log = t_sound + shift_s``: its score over the frames that both share, in
    standard deviations of what the noise alone would come to, and how long that is."""

    shift_s: float
    score: float
    shared_s: float


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


def path_at(note: Note, engine: Channel, firing: float, t_s: Floats) -> Path:
    """The path of an engine's speed, its delay taken out already, at times of its clock.

    `firing` is the number of ignitions in a revolution.
    """
    before, now, after = (_log_hz(engine, firing, t_s + d) for d in (-SLOPE_S, 0.0, SLOPE_S))
    column = (now - np.log(note.lowest_hz)) / np.log(RATIO)
    inside = (column >= 0) & (column <= note.table.shape[2] - 1.001)
    chirp = (after - before) / (2 * SLOPE_S)
    return Path(column=np.where(inside, column, np.nan), chirp=chirp)


def _log_hz(engine: Channel, firing: float, t_s: Floats) -> Floats:
    revolutions = engine.at(t_s)
    return np.log(np.where(revolutions > 0, revolutions, np.nan) * firing)


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
    note: Note, engine: Channel, firing: float, windows: Sequence[Span], least_s: float
) -> tuple[Place, ...]:
    """The best places, no two of them near each other, the best first.

    Parameters
    ----------
    engine
        Engine speed without its delay.
    windows
        Where `shift_s` may lie; anywhere where there is none.
    least_s
        How much sound and log must share.
    """
    span = engine.span
    if span is None:
        return ()
    grid = np.arange(span.start_s, span.stop_s, note.hop_s)
    path = path_at(note, engine, firing, grid)
    scores, shared = _all_scores(note, cells(path, note), path.known)
    shifts = grid[0] - note.start_s + note.hop_s * (np.arange(scores.size) - (len(note.table) - 1))
    good = shared * note.hop_s >= least_s
    if windows:
        good &= np.any([(shifts >= w.start_s) & (shifts <= w.stop_s) for w in windows], axis=0)
    worth = np.where(good, scores / np.sqrt(np.maximum(shared, 1.0)), -np.inf)
    noise = kept_frames(note)
    found = []
    for _ in range(PLACES):
        k = int(np.argmax(worth))
        if not np.isfinite(worth[k]):
            break
        found.append(_again(note, engine, firing, float(shifts[k]), noise))
        worth[np.abs(shifts - shifts[k]) < APART_S] = -np.inf
    return tuple(sorted(found, key=lambda place: place.score, reverse=True))


def _all_scores(
    note: Note, where: NDArray[np.int64], known: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """The sum along the path, and how many frames it has, for every offset of grid to frames."""
    frames = note.table.shape[0]
    flat = np.zeros((frames, note.table[0].size + 1), dtype=np.float32)
    flat[:, :-1] = note.table.reshape(frames, -1)
    scores = np.zeros(where.size + frames - 1, dtype=np.float32)
    for i in range(frames):
        first = frames - 1 - i
        scores[first : first + where.size] += flat[i].take(where)
    total = np.concatenate([np.zeros(frames), np.cumsum(known), np.full(frames - 1, known.sum())])
    shared = total[frames:] - total[: total.size - frames]
    return scores.astype(np.float64), shared[: scores.size].astype(np.float64)


def _again(note: Note, engine: Channel, firing: float, near_s: float, noise: float) -> Place:
    """A place between the grid's steps, scored over what sound and log share and no more."""
    t = note.t_s
    known = path_at(note, engine, firing, t + near_s).known
    rows = np.flatnonzero(known)
    table = shared_table(note, rows)
    shifts = near_s + np.arange(-note.hop_s, note.hop_s * 1.01, FINE_S)
    along = np.arange(rows.size)
    sums = [
        float(np.sum(read(table, along, path_at(note, engine, firing, t[rows] + s))))
        for s in shifts
    ]
    best = int(np.argmax(sums))
    return Place(
        shift_s=float(shifts[best]),
        score=sums[best] / float(np.sqrt(max(rows.size, 1) * noise)),
        shared_s=rows.size * note.hop_s,
    )


def shared_table(note: Note, rows: NDArray[np.int64]) -> Table:
    """The table of some frames, less their mean: whatever speed stays the same scores nought."""
    if rows.size == note.table.shape[0]:
        return note.table
    part = note.table[rows]
    return np.asarray(part - part.mean(axis=0))
