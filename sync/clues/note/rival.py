"""Whether a sound may as well be from another place of the log.

Steady stretches of one engine fit each other in many places, and where the way of the sound may
change they fit nearly anywhere. Rises and falls do not: where the log at the one place moves as
the sound does, the log at another is a second early or a tenth too high, and nothing is heard
there. So two places are compared over the frames that move at the better one and that the log
knows at both; a hole leaves few of them, and then nothing is settled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sync.clues.note.fit import MOVING
from sync.clues.note.search import Source, kept_frames, path_at, read
from sync.clues.note.sound import Note

CLEAR_SDS = 5.0
MOST_SHARE = 0.5
"""A rival is ruled out where it comes to less than this share over the moving frames, by so many
deviations of the noise (launches copied within a day came to 0.8 and more of each other, measured
on simulated days)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """What two places come to over the frames that move at the first, and the noise of that."""

    best: float
    rival: float
    noise: float

    @property
    def settles(self) -> bool:
        """Whether it rules the rival out."""
        return (
            self.best - self.rival > CLEAR_SDS * math.sqrt(2.0) * self.noise
            and self.rival < MOST_SHARE * self.best
        )


def contrast(note: Note, best: tuple[Source, float], rival: tuple[Source, float]) -> Contrast:
    """Two places, each a source and its shift, held against each other."""
    t = note.t_s
    here, there = (path_at(note, source, t, shift) for source, shift in (best, rival))
    rows = np.flatnonzero(
        here.known & np.isfinite(there.chirp) & (np.abs(np.nan_to_num(here.chirp)) >= MOVING)
    )
    sums = []
    for source, shift in (best, rival):
        sums.append(float(np.sum(read(note.table, rows, path_at(note, source, t[rows], shift)))))
    return Contrast(
        best=sums[0], rival=sums[1], noise=math.sqrt(max(rows.size, 1) * kept_frames(note))
    )
