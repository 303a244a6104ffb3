"""The engine's note heard aboard: the way of its sound stays the same."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sync.clock import Span
from sync.clues.note.coarse import Look, likely_shifts
from sync.clues.note.search import Place, Source, kept_frames, place_at
from sync.clues.note.sound import Note

ABOARD_LOOK = Look(step_s=0.025, places=12)
FINE_S = 0.005
"""Step of the second look, which reaches a step of the first either way."""


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
    reach = max(ABOARD_LOOK.step_s, note.hop_s)
    steps = np.arange(-reach, reach * 1.01, FINE_S)
    near = [one.shift_s for one in likely_shifts(note, source, windows, least_s, ABOARD_LOOK)]
    found = [place_at(note, source, shift, shift + steps, noise) for shift in near]
    return tuple(sorted(found, key=lambda place: place.score, reverse=True))
