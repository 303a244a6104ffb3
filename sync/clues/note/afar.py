"""The engine's note heard from another boat: place and way of the sound found together.

Every block of sound may be a little higher or lower than it was logged while all offsets are
searched. At the best of them the steady pieces of a second tell how fast the boats part, as
`note.way` has it; what that does to the delay is taken out, the place is looked for again,
and so on until both stand still.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sync.arrays import Floats
from sync.clock import Span
from sync.clues.note.coarse import Look, likely_shifts
from sync.clues.note.fit import MOVING
from sync.clues.note.search import (
    Path,
    Place,
    Source,
    kept_frames,
    path_at,
    place_at,
    read,
    shared_table,
)
from sync.clues.note.sound import Note
from sync.clues.note.way import SPEEDS, Way, columns_of, likeliest, steady_way

AFAR_LOOK = Look(step_s=0.05, places=24, higher=tuple(columns_of(SPEEDS[1::4]).tolist()))
"""The search of all offsets tries every fourth of the speeds."""

SETTLED = 6
"""Of all places that the coarse look finds, each gets a way of its own once; so many of the best
are looked at until place and way stand still."""

PIECE_S = 1.0
ROUNDS = 3
STEPS = (np.arange(-0.15, 0.151, 0.025), np.arange(-0.02, 0.021, 0.005))
"""How far a place may move in each round, first in long steps."""


def best_places_afar(
    note: Note, source: Source, windows: Sequence[Span], least_s: float
) -> tuple[Place, ...]:
    """The best places for a camera that is not aboard, each with its way, the best first.

    The shift holds for the first instant of the sound: what the way grows by later is in it.
    """
    near = likely_shifts(note, source, windows, least_s, AFAR_LOOK)
    noise = kept_frames(note)
    found = [_once(note, source, one.shift_s, noise) for one in near]
    found.sort(key=lambda place: place.score, reverse=True)
    for _ in range(ROUNDS):
        for i, place in enumerate(found[:SETTLED]):
            found[i] = _once(note, replace(source, way=place.way), place.shift_s, noise)
    return tuple(sorted(found, key=lambda place: place.score, reverse=True))


def _once(note: Note, source: Source, shift_s: float, noise: float) -> Place:
    """The way where the sound lies near a shift, and the place that follows from it."""
    t = note.t_s
    if source.way is None:
        source = replace(source, way=steady_way(float(t[0]), float(t[-1])))
    source = replace(source, way=_way_at(note, source, shift_s, noise))
    coarse, fine = STEPS
    place = place_at(note, source, shift_s, shift_s + coarse, noise)
    return place_at(note, source, place.shift_s, place.shift_s + fine, noise)


def _way_at(note: Note, source: Source, shift_s: float, noise: float) -> Way:
    """The likeliest way where the sound lies at a shift, by its steady pieces.

    A piece in which the note moves cannot tell higher from earlier, and is not asked.
    """
    assert source.way is not None
    t = note.t_s
    path = path_at(note, source, t, shift_s)
    base = path.column - source.way.columns(t)
    steady = path.known & (np.abs(np.nan_to_num(path.chirp)) < MOVING)
    table = shared_table(note, np.arange(t.size))
    along = np.arange(t.size)
    curves = np.array(
        [
            np.where(steady, read(table, along, _in_table(base + c, path.chirp, note)), 0.0)
            for c in columns_of(SPEEDS)
        ]
    )
    length = max(round(PIECE_S / note.hop_s), 1)
    starts = np.arange(0, t.size, length)
    sums = np.add.reduceat(curves, starts, axis=1).T
    counts = np.add.reduceat(steady.astype(np.float64), starts)
    middles = np.array([float(np.mean(t[i : i + length])) for i in starts])
    return likeliest(middles, _worth(sums, counts * noise))


def _in_table(column: Floats, chirp: Floats, note: Note) -> Path:
    inside = (column >= 0) & (column <= note.table.shape[2] - 1.001)
    return Path(column=np.where(inside, column, np.nan), chirp=chirp)


def _worth(sums: Floats, variance: Floats) -> Floats:
    """Sums of noisy cells as logarithms of a likelihood, noughts where nothing was summed.

    A piece that comes to P at its best speed comes to P at the true one, give or take its
    noise σ: ln L = P s / σ² and what does not depend on the speed.
    """
    top = np.maximum(sums.max(axis=1) - np.median(sums, axis=1), 0.0)
    worth = sums * (top / np.maximum(variance, 1e-9))[:, None]
    return np.asarray(np.where(variance[:, None] > 0, worth, 0.0))
