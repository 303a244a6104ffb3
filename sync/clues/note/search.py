"""How well a logged engine speed explains a sound at an offset.

Every offset is a path through the table of `note.sound`: at each frame the firing frequency
and its rate of change that the log has there. What the table holds along it is added up, with
the mean over just those frames taken off that sound and log share.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.clues.note.curve import Curve
from sync.clues.note.sound import CHIRPS, FRAME_S, RATIO, Note, Table
from sync.clues.note.way import Way

if TYPE_CHECKING:
    from numpy.typing import NDArray

SLOPE_S = 0.1
"""Half of what the rate of change is read over: about a frame."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Source:
    """What is listened for: an engine's speed without its delay, the ignitions in a revolution,
    and how the sound's way changes; `way` is None where the camera is aboard."""

    curve: Curve
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
    return source.curve.at(t_s) + math.log(source.firing)


def read(table: Table, rows: NDArray[np.int64], path: Path) -> Floats:
    """The table along a path, on straight lines between columns and between rates."""
    _, chirps, columns = table.shape
    column = np.where(path.known, path.column, 0.0)
    whole = np.clip(column.astype(np.int64), 0, columns - 2)
    share = column - whole
    rate = np.interp(np.where(path.known, path.chirp, 0.0), CHIRPS, np.arange(chirps))
    low = np.minimum(rate.astype(np.int64), chirps - 2)
    part = rate - low
    flat = table.reshape(-1)
    place = (rows * chirps + low) * columns + whole
    steady = flat.take(place) * (1 - share) + flat.take(place + 1) * share
    place += columns
    moving = flat.take(place) * (1 - share) + flat.take(place + 1) * share
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
