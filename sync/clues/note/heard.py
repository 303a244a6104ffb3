"""What is heard of an engine: for each kind that it may be, the places where its note fits."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sync.clock import Span
from sync.clues.note.coarse import Look, likely_shifts
from sync.clues.note.curve import Curve
from sync.clues.note.search import Place, Source, kept_frames
from sync.clues.note.sound import Note, Spectra, note_of

MOST_CYLINDERS = 12

LEAST_SHARED_S = 15.0
"""Least that sound and log must share (own choice: a launch takes about that)."""

RANKED = 2
RANK_HOP_S = 0.3
RANK_STEP_S = 0.1
"""Where the engine is not known, only so many kinds of it are tried on all frames: the best of
all on frames this far apart, at offsets this far apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ear:
    """How a camera hears: the coarse look at all offsets, and what finds the places."""

    look: Look
    places: Callable[[Note, Source, Sequence[Span], float], tuple[Place, ...]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """One kind of engine: its ignitions a revolution, what was heard, and the best places."""

    firing: float
    note: Note
    places: tuple[Place, ...]

    def source(self, curve: Curve) -> Source:
        """What is heard at the best place."""
        return Source(curve=curve, firing=self.firing, way=self.places[0].way)

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
    spectra: Spectra, curve: Curve, firings: tuple[float, ...], windows: tuple[Span, ...], ear: Ear
) -> list[Heard]:
    """The kinds of engine that were tried and heard somewhere, the best first."""
    if len(firings) > RANKED:
        every = max(round(RANK_HOP_S / spectra.hop_s), 1)
        few = Spectra(
            start_s=spectra.start_s,
            hop_s=spectra.hop_s * every,
            whitened=spectra.whitened[::every],
        )
        rank = {firing: _rank(few, curve, firing, windows, ear) for firing in firings}
        firings = tuple(sorted(firings, key=lambda firing: rank[firing], reverse=True)[:RANKED])
    heard = []
    for firing in firings:
        note, source = _note(spectra, curve, firing), Source(curve=curve, firing=firing)
        places = ear.places(note, source, windows, LEAST_SHARED_S)
        heard.append(Heard(firing=firing, note=note, places=places))
    return sorted((one for one in heard if one.places), key=lambda one: one.score, reverse=True)


def _rank(
    spectra: Spectra, curve: Curve, firing: float, windows: tuple[Span, ...], ear: Ear
) -> float:
    """What a kind of engine comes to at its best by the coarse look."""
    note = _note(spectra, curve, firing)
    source = Source(curve=curve, firing=firing)
    look = replace(ear.look, step_s=RANK_STEP_S)
    likely = likely_shifts(note, source, windows, LEAST_SHARED_S, look)
    return likely[0].worth / math.sqrt(kept_frames(note)) if likely else -math.inf


def _note(spectra: Spectra, curve: Curve, firing: float) -> Note:
    """What is heard of an engine as fast as the log ever has it, and a little beyond."""
    low, high = np.exp(np.nanpercentile(curve.values, (0.5, 99.9))) * firing
    return note_of(spectra, float(low) * 0.87, float(high) * 1.15)
