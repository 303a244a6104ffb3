"""What is heard of an engine: for each kind that it may be, the places where its note fits."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from sync.clock import Span
from sync.clues.note.search import Place, Source
from sync.clues.note.sound import Note, Spectra, note_of
from sync.log import Channel

MOST_CYLINDERS = 12

LEAST_SHARED_S = 15.0
"""Least that sound and log must share (own choice: a launch takes about that)."""

RANKED = 3
RANK_EVERY = 4
"""Where the engine is not known, only so many kinds of it are tried on all frames, the best of
all on each fourth."""


Search = Callable[[Note, Source, Sequence[Span], float], tuple[Place, ...]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """One kind of engine: its ignitions a revolution, what was heard, and the best places."""

    firing: float
    note: Note
    places: tuple[Place, ...]

    def source(self, engine: Channel) -> Source:
        """What is heard at the best place."""
        return Source(engine=engine, firing=self.firing, way=self.places[0].way)

    def late_s(self, t_s: float) -> float:
        """How much later than at first the sound arrives at an instant of the best place."""
        way = self.places[0].way
        return 0.0 if way is None else float(way.late_s(np.array([t_s]))[0])

    @property
    def score(self) -> float:
        """That of the best place."""
        return self.places[0].score if self.places else -math.inf


def firings_of(cylinders: int | None, strokes: int | None) -> tuple[float, ...]:
    """Ignitions a revolution that the engine may have."""
    counts = range(1, MOST_CYLINDERS + 1) if cylinders is None else (cylinders,)
    turns = (2.0, 1.0) if strokes is None else (strokes / 2.0,)
    # A two-stroke fires like a four-stroke of twice the cylinders: beyond the most that a
    # four-stroke is taken to have, only one whose strokes are known is looked for.
    most = MOST_CYLINDERS / 2 if cylinders is None and strokes is None else math.inf
    return tuple(sorted({n / turn for n in counts for turn in turns if n / turn <= most}))


def hear(
    spectra: Spectra,
    engine: Channel,
    firings: tuple[float, ...],
    windows: tuple[Span, ...],
    search: Search,
) -> list[Heard]:
    """The kinds of engine that were tried and heard somewhere, the best first."""
    if len(firings) > RANKED:
        coarse = Spectra(
            start_s=spectra.start_s,
            hop_s=spectra.hop_s * RANK_EVERY,
            whitened=spectra.whitened[::RANK_EVERY],
        )
        ranked = sorted(
            (_hear_one(coarse, engine, firing, windows, search) for firing in firings),
            key=lambda one: one.score,
            reverse=True,
        )
        firings = tuple(one.firing for one in ranked[:RANKED])
    heard = [_hear_one(spectra, engine, firing, windows, search) for firing in firings]
    return sorted((one for one in heard if one.places), key=lambda one: one.score, reverse=True)


def _hear_one(
    spectra: Spectra,
    engine: Channel,
    firing: float,
    windows: tuple[Span, ...],
    search: Search,
) -> Heard:
    running = engine.values[np.isfinite(engine.values) & (engine.values > 0)] * firing
    low, high = np.percentile(running, (0.5, 99.9))
    note = note_of(spectra, float(low) * 0.87, float(high) * 1.15)
    return Heard(
        firing=firing,
        note=note,
        places=search(note, Source(engine=engine, firing=firing), windows, LEAST_SHARED_S),
    )
