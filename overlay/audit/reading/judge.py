"""How sure each letter of a chain is, and what is read where it is not.

For a letter t and any other u that might stand in its cell, c being what is seen::

    share = (|c - u|² - |c - t|²) / |t - u|²

is 1 where the picture shows t, 0 halfway to u, and less beyond. A letter's confidence is the least
share over all others and over nothing at all. Besides, what is left once the letter is taken away
must be small: a hand before a number may be nearer to an 8 than to anything else, and is none.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from overlay.audit.reading.letters import Alphabet
from overlay.audit.reading.products import Floats, product
from overlay.audit.reading.rows import Chain, Row

LEAST_CONFIDENCE = 0.35
"""A letter that is less sure is unread. Measured, see tests/bench/read_back.py."""


def judge(crops: Floats, row: Row, chain: Chain) -> tuple[Floats, Floats, Floats]:
    """How sure each letter of one chain is in each of several pictures.

    Returns
    -------
    Confidence and what is left over [shape=(n, letters)], and the gain [shape=(n,)].
    """
    groups = row.alphabet.groups
    seen = [_cells(crops, low, groups[group].advance_px) for group, _, low in chain]
    energy = sum(float(groups[group].energy[place]) for group, place, _ in chain)
    dots = [
        product(cells, groups[group].centred[:, place])
        for cells, (group, place, _) in zip(seen, chain, strict=True)
    ]
    total = np.sum(dots, axis=0) / energy if energy else np.ones(len(crops))
    gain = np.maximum(total, 1e-3).astype(np.float32)
    sure: list[Floats] = []
    left: list[Floats] = []
    for cells, (group, place, low) in zip(seen, chain, strict=True):
        sure.append(_share(crops, cells / gain[:, None], row, (group, place, low), gain))
        rest = cells / gain[:, None] - groups[group].centred[:, place]
        left.append(np.sqrt(np.mean(rest * rest, axis=1)))
    return np.stack(sure, axis=1), np.stack(left, axis=1), gain


def _cells(crops: Floats, low: int, advance: int) -> Floats:
    cells = crops[:, :, low : low + advance].reshape(len(crops), -1)
    centred: Floats = cells - cells.mean(axis=1, keepdims=True)
    return centred


def _share(
    crops: Floats, cells: Floats, row: Row, link: tuple[int, int, int], gain: Floats
) -> Floats:
    """The least share over the other letters of the same advance, nothing, and, of a number, over
    letters of other advances in the columns that both have."""
    number, place, _ = link
    group = row.alphabet.groups[number]
    worth = 2 * product(cells, group.centred) - group.energy
    own = worth[:, place]
    apart = group.apart[place].copy()
    apart[place] = np.inf
    shares = (own[:, None] - worth) / np.maximum(apart, 1e-6)
    shares[:, place] = np.inf
    least = shares.min(axis=1)
    if group.energy[place] > 0:
        least = np.minimum(least, own / group.energy[place])
    if row.leftward:
        for other in range(len(row.alphabet.groups)):
            if other != number:
                least = np.minimum(least, _across(crops, row, link, other, gain))
    return np.asarray(np.clip(least, 0.0, 1.0), dtype=np.float32)


def _across(
    crops: Floats, row: Row, link: tuple[int, int, int], other: int, gain: Floats
) -> Floats:
    number, place, low = link
    both = _shared(row.alphabet, number, other)
    high = low + row.alphabet.groups[number].advance_px
    cells = crops[:, :, high - both.advance_px : high].reshape(len(crops), -1)
    worths = 2 * product(cells, both.others) / gain[:, None] - both.others_energy
    own = 2 * product(cells, both.own[:, place]) / gain - both.own_energy[place]
    shares: Floats = (own[:, None] - worths) / np.maximum(both.apart[place], 1e-6)
    return np.asarray(shares.min(axis=1), dtype=np.float32)


@lru_cache(maxsize=1024)
def nearest(alphabet: Alphabet, number: int, leftward: bool) -> Floats:
    """The squared distance of each letter of a group from whatever else it is held against, which
    is nothing at all, or the letter that is most like it."""
    group = alphabet.groups[number]
    apart = group.apart.copy()
    np.fill_diagonal(apart, np.inf)
    least = np.minimum(apart.min(axis=1), np.where(group.energy > 0, group.energy, np.inf))
    if leftward:
        for other in range(len(alphabet.groups)):
            if other != number:
                least = np.minimum(least, _shared(alphabet, number, other).apart.min(axis=1))
    return np.asarray(least, dtype=np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Shared:
    """The letters of two advances in the columns on the right that both have, without mean."""

    advance_px: int
    own: Floats
    others: Floats
    own_energy: Floats
    others_energy: Floats
    apart: Floats


@lru_cache(maxsize=1024)
def _shared(alphabet: Alphabet, one: int, other: int) -> _Shared:
    advance = min(alphabet.groups[one].advance_px, alphabet.groups[other].advance_px)
    parts: list[Floats] = []
    for group in (alphabet.groups[one], alphabet.groups[other]):
        cells = group.cells[:, :, group.advance_px - advance :].reshape(len(group.letters), -1)
        parts.append(np.ascontiguousarray((cells - cells.mean(axis=1, keepdims=True)).T))
    own, others = parts
    own_energy, others_energy = np.sum(own * own, axis=0), np.sum(others * others, axis=0)
    return _Shared(
        advance_px=advance,
        own=own,
        others=others,
        own_energy=own_energy,
        others_energy=others_energy,
        apart=own_energy[:, None] + others_energy[None, :] - 2 * product(own.T, others),
    )
