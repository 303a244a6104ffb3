"""The sound's way from an engine to a camera that is not aboard: how it grows and shrinks.

A camera on another boat hears the engine late by the distance, and by how fast that changes
higher or lower. Both follow from one speed of parting v(t):

::

    heard at t is what sounded at t - (D + ∫ v dt) / c,    its frequency times 1 - v(t) / c

Steady stretches of the note tell v, and with it how the delay changes over the footage. The
distance at its beginning, D, moves all of it alike and cannot be heard: it has to be known.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sync.arrays import Floats
from sync.clues.note.sound import RATIO

SOUND_MPS = 340.0
"""Speed of sound at 15 °C; ten degrees move what follows by 2 % of it."""

MOST_MPS = 25.0
"""Fastest that two boats are taken to part or to close (own choice: 49 kn)."""

SPEED_SD_MPS = 10.0
CHANGE_SD_MPS2 = 1.5
"""What is expected of the speed of parting and of its change, as standard deviations (own
choice: boats that film keep off or go along)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """A speed of parting [shape=(k,), m/s] at instants on the clock of the sound, with straight
    lines between them."""

    t_s: Floats
    parting_mps: Floats

    def late_s(self, t_s: Floats) -> Floats:
        """How much later than at the first instant sound arrives [shape=(n,)]."""
        mean = (self.parting_mps[1:] + self.parting_mps[:-1]) / 2
        grown = np.concatenate([[0.0], np.cumsum(mean * np.diff(self.t_s))])
        i = np.clip(np.searchsorted(self.t_s, t_s, side="right") - 1, 0, self.t_s.size - 2)
        since = t_s - self.t_s[i]
        slope = (self.parting_mps[i + 1] - self.parting_mps[i]) / (self.t_s[i + 1] - self.t_s[i])
        metres = grown[i] + self.parting_mps[i] * since + slope * since**2 / 2
        return np.asarray(metres / SOUND_MPS)

    def columns(self, t_s: Floats) -> Floats:
        """By how many columns of the note's table it sounds higher [shape=(n,)]."""
        return columns_of(np.interp(t_s, self.t_s, self.parting_mps))


def columns_of(parting_mps: Floats) -> Floats:
    """A speed of parting in columns of the note's table."""
    return np.asarray(np.log1p(-parting_mps / SOUND_MPS) / np.log(RATIO))


def steady_way(start_s: float, stop_s: float, parting_mps: float = 0.0) -> Way:
    """A way that grows evenly, or not at all."""
    return Way(t_s=np.array([start_s, stop_s]), parting_mps=np.full(2, parting_mps))


SPEEDS = np.arange(-MOST_MPS, MOST_MPS + 0.5, 1.0)
"""Speeds of parting that are tried."""


def likeliest(t_s: Floats, worth: Floats) -> Way:
    """The likeliest speeds of parting at instants, each free to change as boats do.

    Parameters
    ----------
    t_s : [shape=(k,)]
        Instants, k > 1.
    worth : [shape=(k, speeds)]
        Logarithm of the likelihood of each of `SPEEDS` at each instant; noughts where
        nothing is heard.
    """
    best = worth[0] - (SPEEDS / SPEED_SD_MPS) ** 2 / 2
    steps = SPEEDS[:, None] - SPEEDS[None, :]
    came = []
    for (before, now), row in zip(pairwise(t_s.tolist()), worth[1:], strict=True):
        ways = best[None, :] - (steps / (CHANGE_SD_MPS2 * max(now - before, 1e-3))) ** 2 / 2
        came.append(ways.argmax(axis=1))
        best = ways.max(axis=1) + row
    at = [int(best.argmax())]
    for step in reversed(came):
        at.append(int(step[at[-1]]))
    return Way(t_s=np.asarray(t_s, dtype=np.float64), parting_mps=SPEEDS[at[::-1]])
