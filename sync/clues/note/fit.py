"""Whether the note that is heard is truly the one that was logged, and how sure the offset is.

Launches of one boat look alike on any day, and a place that is merely like the right one
scores high. What gives it away is detail: each piece of a rise or fall wants an offset of its
own, and each steady piece a speed of its own. So the sound is cut at the place in question
into pieces, and each is asked where it would lie on its own.

The deviation of the offset is that of the peak of a sum of noisy frames,

::

    sd² = Σ (c σ')² / (Σ h)²

with c the rate of change of the note's column at a frame, σ' the noise of the table's slope
across columns (as correlated from frame to frame as the table is) and h the curvature of the
score; or the scatter of the pieces about their mean, where that is more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.clues.note.search import Path, Source, kept_frames, path_at, read, shared_table
from sync.clues.note.sound import RATIO, Note, Table

if TYPE_CHECKING:
    from numpy.typing import NDArray

REACH_S = 0.4
STEP_S = 0.01
SHIFTS = STEP_S * np.arange(-round(REACH_S / STEP_S), round(REACH_S / STEP_S) + 1)
"""Offsets that each moving piece is tried at."""

COLUMNS = np.arange(-20, 21)
"""Columns off the log's that each steady piece is tried at: 12 per cent either way."""

MOVING = 0.10
"""From this rate of change of its logarithm a second a note is moving."""

MOVING_S, STEADY_S = 0.6, 1.0
LEAST_PIECE_S = 0.2
"""Longest pieces, and the shortest that is asked."""

HEARD_SDS = 4.0
"""A piece is heard where its peak stands this far out of the noise; of the places that it is
tried at, a good dozen tell apart, and chance alone seldom brings one of them there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Where a piece of the sound would lie on its own.

    `off` is a time in s for a moving piece and a share of the speed for a steady one, `sd`
    its deviation, `t_s` its middle on the clock of the sound, `hz` the log's firing frequency
    and `rate` the middling size of its change, of its logarithm a second.
    """

    moving: bool
    t_s: float
    hz: float
    rate: float
    off: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The offset to a fraction of a frame, what it rests on, and how sure it is.

    `share` is how much of what the pieces come to, each where it fits best, is there with all
    at one place.
    """

    shift_s: float
    sd_s: float
    middle_s: float
    share: float
    pieces: tuple[Piece, ...]

    @property
    def moving(self) -> tuple[Piece, ...]:
        """The pieces that tell of time."""
        return tuple(piece for piece in self.pieces if piece.moving)

    @property
    def steady(self) -> tuple[Piece, ...]:
        """The pieces that tell of speed."""
        return tuple(piece for piece in self.pieces if not piece.moving)


def fit_at(note: Note, source: Source, near_s: float) -> Fit | None:
    """The fit near a place; None where no piece tells of time."""
    t = note.t_s
    rows = np.flatnonzero(path_at(note, source, t, near_s).known)
    if rows.size == 0:
        return None
    table = shared_table(note, rows)
    shift, bend = _peak(note, table, rows, source, near_s)
    if not bend > 0:
        return None
    path = path_at(note, source, t[rows], shift)
    along = np.arange(rows.size)
    by_time = np.array(
        [read(table, along, path_at(note, source, t[rows], shift + s)) for s in SHIFTS]
    )
    by_column = np.array(
        [read(table, along, Path(column=path.column + c, chirp=path.chirp)) for c in COLUMNS]
    )
    noise = kept_frames(note)
    slope_noise = _slope_noise(note)
    pieces: list[Piece] = []
    here = best = 0.0
    for part, moving in _cut(path, note.hop_s, rows):
        curve = (by_time if moving else by_column)[:, part].sum(axis=1)
        top = int(np.argmax(curve))
        if curve[top] - np.median(curve) < HEARD_SDS * math.sqrt(part.size * noise):
            continue
        here += float(curve[curve.size // 2] - np.median(curve))
        best += float(curve[top] - np.median(curve))
        step = STEP_S if moving else math.log(RATIO)
        off, sharp = _vertex(curve, step)
        pull = path.chirp[part] / math.log(RATIO) if moving else np.full(part.size, 1 / step)
        spread = slope_noise * math.sqrt(noise * float(np.sum(pull**2)))
        pieces.append(
            Piece(
                moving=moving,
                t_s=float(np.mean(t[rows[part]])),
                hz=float(note.lowest_hz * RATIO ** np.mean(path.column[part])),
                rate=float(np.sqrt(np.mean(path.chirp[part] ** 2))),
                off=off,
                sd=spread / sharp if sharp > 0 else math.inf,
            )
        )
    told = np.nan_to_num(path.chirp) ** 2
    pull = np.nan_to_num(path.chirp) / math.log(RATIO)
    sd = slope_noise * math.sqrt(noise * float(np.sum(pull**2))) / bend
    return Fit(
        shift_s=shift,
        sd_s=max(sd, _scatter(pieces)),
        middle_s=float(np.sum(told * t[rows]) / max(np.sum(told), 1e-12)),
        share=here / best if best > 0 else 0.0,
        pieces=tuple(pieces),
    )


def _peak(
    note: Note, table: Table, rows: NDArray[np.int64], source: Source, near_s: float
) -> tuple[float, float]:
    """The best shift within a tenth of a second, and how sharply the score bends there."""
    step = STEP_S / 2
    shifts = near_s + step * np.arange(-20, 21)
    along, t = np.arange(rows.size), note.t_s[rows]
    curve = np.array([np.sum(read(table, along, path_at(note, source, t, s))) for s in shifts])
    off, bend = _vertex(curve, step)
    return near_s + off, bend


def _vertex(curve: Floats, step: float) -> tuple[float, float]:
    """Where a curve about nought has its highest point, and how sharply it bends there.

    By a parabola through what lies within three steps of the highest value.
    """
    middle = curve.size // 2
    top = min(max(int(np.argmax(curve)), 3), curve.size - 4)
    at = step * np.arange(-3, 4)
    a, b, _ = np.polyfit(at, curve[top - 3 : top + 4], 2)
    if a >= 0:
        return step * (int(np.argmax(curve)) - middle), 0.0
    off = min(max(-b / (2 * a), -3 * step), 3 * step)
    return float(step * (top - middle) + off), float(-2 * a)


def _slope_noise(note: Note) -> float:
    """Noise of the table's change from one column to the next; by the median, as a note's own
    flanks are no noise."""
    steps = np.abs(np.diff(note.table[::3, note.table.shape[1] // 2], axis=1))
    return 1.4826 * float(np.median(steps))


def _cut(path: Path, hop_s: float, rows: NDArray[np.int64]) -> list[tuple[NDArray[np.int64], bool]]:
    """The frames in pieces, each moving or steady, and each in one stretch of sound and log."""
    moving = np.abs(path.chirp) >= MOVING
    breaks = np.flatnonzero((np.diff(moving) != 0) | (np.diff(rows) != 1)) + 1
    out: list[tuple[NDArray[np.int64], bool]] = []
    for stretch in np.split(np.arange(rows.size), breaks):
        kind = bool(moving[stretch[0]])
        longest = max(round((MOVING_S if kind else STEADY_S) / hop_s), 1)
        parts = np.array_split(stretch, max(math.ceil(stretch.size / longest), 1))
        out += [(part, kind) for part in parts if part.size * hop_s >= LEAST_PIECE_S]
    return out


def _scatter(pieces: list[Piece]) -> float:
    """Deviation of the moving pieces' weighted mean by how they scatter about it, widened as
    Student's distribution is where they are few."""
    moving = [piece for piece in pieces if piece.moving and math.isfinite(piece.sd)]
    if len(moving) < 2:
        return 0.0
    weight = np.array([piece.sd**-2 for piece in moving])
    off = np.array([piece.off for piece in moving])
    weight /= weight.sum()
    mean = float(np.sum(weight * off))
    effective = max(1 / float(np.sum(weight**2)), 1.5)
    return math.sqrt(float(np.sum(weight**2 * (off - mean) ** 2)) * (1 + 1.5 / (effective - 0.5)))
