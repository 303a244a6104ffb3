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

from sync.clock import Span
from sync.clues.note.fit import MOVING
from sync.clues.note.search import (
    FINE_S,
    Path,
    Place,
    Source,
    kept_frames,
    likely_shifts,
    path_at,
    place_at,
    read,
    shared_table,
)
from sync.clues.note.sound import Note
from sync.clues.note.way import SPEEDS, Way, columns_of, likeliest, steady_way
from sync.log import Floats

BLOCK_S = 4.0
COARSE = 3
"""Length of a block in the search of all offsets, and every which of the speeds it tries."""

TRIED = 5
"""How many of the places are looked at with a way of their own."""

PIECE_S = 1.0
ROUNDS = 4
REACH_S = 0.15
"""How far a place may move in each round."""


def best_places_afar(
    note: Note, source: Source, windows: Sequence[Span], least_s: float
) -> tuple[Place, ...]:
    """The best places for a camera that is not aboard, each with its way, the best first.

    The shift holds for the first instant of the sound: what the way grows by later is in it.
    """
    coarse = columns_of(SPEEDS[::COARSE]).tolist()
    shifts = likely_shifts(note, source, windows, least_s, higher=coarse, block_s=BLOCK_S)
    noise = kept_frames(note)
    found = [_settled(note, source, shift, noise) for shift in shifts[:TRIED]]
    return tuple(sorted(found, key=lambda place: place.score, reverse=True))


def _settled(note: Note, source: Source, near_s: float, noise: float) -> Place:
    """A place with its way, found in turn."""
    t = note.t_s
    shift, way = near_s, steady_way(float(t[0]), float(t[-1]))
    steps = np.arange(-REACH_S, REACH_S + FINE_S / 2, FINE_S)
    place = None
    for _ in range(ROUNDS):
        way = _way_at(note, replace(source, way=way), shift, noise)
        place = place_at(note, replace(source, way=way), shift, shift + steps, noise)
        shift = place.shift_s
    assert place is not None
    return place


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
