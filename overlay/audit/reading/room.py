"""How far two pictures may differ that must read the same, so that one of them need not be read.

A share (see `judge`) is linear in what is seen: where the pixels of a picture differ by d from
those of one that was read, every share changes by 2 d·(t - u) / |t - u|², which is 2 |d| / |t - u|
at most (Cauchy and Schwarz). So a letter that was sure stays above `LEAST_CONFIDENCE` as long as

::

    |d| <= (confidence - LEAST_CONFIDENCE) · |t - u| / 2

for the letter u that is nearest to it, and one digit for another in a single picture is |t - u|
itself. What may be left over is bounded alike, and so is a sign that was not there before.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from overlay.audit.reading.judge import LEAST_CONFIDENCE, nearest
from overlay.audit.reading.letters import MOST_LEFT, Alphabet
from overlay.audit.reading.products import Floats
from overlay.audit.reading.rows import Chain, Row

CAREFUL = 1.25
"""A picture's own contrast, which shares are measured by, changes with it: a little less is allowed
than for contrast that stays (own choice)."""

NEW = 0.25
"""Share of the smallest sign's squared coverage by which a picture may differ: half that sign."""


def room(row: Row, chain: Chain, sure: Floats, left: Floats, gain: Floats) -> Floats:
    """How far a picture may differ from each of these, by what each letter allows.

    Returns
    -------
    Squared coverage, summed over the picture [shape=(n, letters)].
    """
    groups, alphabet = row.alphabet.groups, row.alphabet
    free = np.empty_like(sure)
    for n, (group, place, _) in enumerate(chain):
        apart = nearest(alphabet, group, row.leftward)[place]
        pixels = groups[group].centred.shape[0]
        by_share = np.maximum(sure[:, n] - LEAST_CONFIDENCE, 0) * np.sqrt(apart) / (2 * CAREFUL)
        by_rest = np.maximum(MOST_LEFT - left[:, n], 0) * np.sqrt(pixels) / CAREFUL
        free[:, n] = (np.minimum(by_share, by_rest) * gain) ** 2
    least: Floats = np.minimum(free, np.float32(room_of_nothing(row)) * gain[:, None] ** 2)
    return least


def room_of_nothing(row: Row) -> float:
    """How far a picture may differ before there could be a sign where there was none."""
    return NEW * _smallest(row.alphabet)


@lru_cache(maxsize=256)
def _smallest(alphabet: Alphabet) -> float:
    energies = np.concatenate([group.energy for group in alphabet.groups])
    return float(energies[energies > 0].min())
