"""Which flashes are the lamp's: the marks' own pattern of times, at one place in the picture.

A lamp stays near its place, so each flash is tried with those around it alone. An answer is worth
as much as it is seldom by chance: flashes as strong as those that it joins are counted at their
place, around it, and all over the picture.

::

    chance = tried · C(marks - 1, pairs - 1) · (rate · 2 within) ^ (pairs - 1)
    score  = -10 log10 chance - lost · (marks without a flash) - Σ (miss / sd)² / 2    [dB]
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats
from sync.clock import Span
from sync.clues.marks.matching import DRIFT_SD, WITHIN_S, WITHIN_SDS, Hypothesis
from sync.clues.picture.flashes import Flash
from sync.log import Mark

Ints = NDArray[np.intp]
Pairs = tuple[tuple[int, int], ...]

PLACE = (0.045, 0.06)
"""A lamp stays so near its place from one flash to the next, as shares of the picture's width and
height: it is aboard, and so is the camera, or both keep still; a hand sways (own choice)."""

EVERYWHERE = 4 * PLACE[0] * PLACE[1]
"""What share of all flashes falls on one place, if none is more likely than another."""

LOST_DB = 8.0
"""What a mark in the footage costs that has no flash: about one in six is not found (own choice,
held in tests/bench/accuracy_sync.py)."""

TIGHT = 0.3
"""What does not move is found to so much of a place: two pixels of the small copy."""

AS_STRONG_DB = 2.0
"""Flashes that fall short by no more than this are as strong."""

LEAST_OTHERS = 0.3
"""Flashes of another making that are expected at a place where there are none."""


class Company:
    """The flashes of a recording, and how often each kind comes about by chance."""

    def __init__(self, seen: Sequence[Flash], length_s: float) -> None:
        self._length_s = max(length_s, 1.0)
        self.t_s = np.array([one.t_s for one in seen])
        self.sd_s = np.array([one.sd_s for one in seen])
        self._rise = np.array([one.rise_db for one in seen])
        self.frame_s = float(np.median([one.frame_s for one in seen]))
        at = np.array([(one.across, one.down) for one in seen])
        self._at = at / PLACE

    def answers(
        self, marks: Sequence[Mark], windows: Sequence[Span], span: Span
    ) -> list[Hypothesis]:
        """All offsets that join a flash to a mark, the best first, each told once.

        Parameters
        ----------
        windows
            Where the offset may lie; anywhere where there is none.
        span
            The stretch of the footage in which each mark's flash must be found.
        """
        times, sds = (np.array([getattr(m, n) for m in marks]) for n in ("t_s", "sd_s"))
        offsets = times[None] - self.t_s[:, None]
        allowed = np.ones(offsets.shape, dtype=np.bool_)
        if windows:
            allowed = np.any(
                [(offsets >= w.start_s) & (offsets <= w.stop_s) for w in windows], axis=0
            )
        tried = int(np.count_nonzero(allowed))
        best: dict[Pairs, float] = {}
        for i in np.flatnonzero(np.any(allowed, axis=1)).tolist():
            kinds = np.flatnonzero(allowed[i])
            for pairs, lost in self._joined(i, kinds, (times, sds), span):
                best[pairs] = min(lost, best.get(pairs, math.inf))
        found = []
        for pairs, lost in best.items():
            chance = self._chance([i for i, _ in pairs], len(marks), tried)
            found.append(self._fitted(pairs, (times, sds), -10 * math.log10(chance) - lost))
        return self._told_once(found)

    def _apart(self, i: int) -> Floats:
        """How far all flashes are from one, as shares of a place."""
        return np.asarray(np.max(np.abs(self._at - self._at[i]), axis=1))

    def _chance(self, pairs: Sequence[int], marks: int, tried: int) -> float:
        """How many answers as good chance would make among so many that are tried."""
        if len(pairs) == 1:
            return tried
        within = max(WITHIN_S, WITHIN_SDS * float(np.max(self.sd_s[pairs])))
        places = self._at[pairs]
        spread = max(float(np.max(np.abs(places - np.median(places, axis=0)))), TIGHT)
        shares = [min(self._rate(i, pairs, spread) * 2 * within, 1.0) for i in pairs]
        usual = math.exp(math.fsum(math.log(one) for one in shares) / len(shares))
        return tried * math.comb(marks - 1, len(pairs) - 1) * usual ** (len(pairs) - 1)

    def _rate(self, i: int, pairs: Sequence[int], spread: float) -> float:
        """How many flashes as strong as one come about by chance in a second, as near to it as
        the pairs are to each other (as a share of a place)."""
        strong = self._rise >= self._rise[i] - AS_STRONG_DB
        strong[pairs] = False
        apart = self._apart(i)[strong]
        here = np.count_nonzero(apart <= spread)
        around = max(np.count_nonzero(apart <= 1), np.count_nonzero(apart <= 3) / 9)
        even = max(around, apart.size * EVERYWHERE) * spread**2
        return float(max(here, even, LEAST_OTHERS)) / self._length_s

    def _joined(
        self, i: int, anchors: Ints, marks: tuple[Floats, Floats], span: Span
    ) -> Iterator[tuple[Pairs, float]]:
        """The pairs that a flash makes with its company if it is each of some marks, and what
        that loses."""
        times, sds = marks
        mine = np.flatnonzero(self._apart(i) <= 1)
        mine = mine[np.argsort(self.t_s[mine])]
        away = times[None] - times[anchors, None]
        wanted = self.t_s[i] + away
        after = np.searchsorted(self.t_s[mine], wanted).clip(0, mine.size - 1)
        first, second = mine[(after - 1).clip(0)], mine[after]
        misses = np.abs(self.t_s[first] - wanted), np.abs(self.t_s[second] - wanted)
        nearest = np.where(misses[0] < misses[1], first, second)
        miss = np.minimum(*misses)
        sd = np.hypot(self.sd_s[nearest], sds) + DRIFT_SD * np.abs(away)
        close = miss <= np.maximum(WITHIN_SDS * sd, WITHIN_S)
        inside = np.count_nonzero((wanted >= span.start_s) & (wanted < span.stop_s), axis=1)
        misfits = (miss / sd) ** 2 / 2
        for row, there in enumerate(close):
            pairs: dict[int, int] = {}
            for k in np.flatnonzero(there).tolist():
                pairs.setdefault(int(nearest[row, k]), k)
            lost = LOST_DB * max(int(inside[row]) - len(pairs), 0)
            yield tuple(pairs.items()), lost + math.fsum(misfits[row, k] for k in pairs.values())

    def _fitted(self, pairs: Pairs, marks: tuple[Floats, Floats], score: float) -> Hypothesis:
        """The offset as the weighted mean over its pairs."""
        times, sds = marks
        if len(pairs) == 1:
            ((i, k),) = pairs
            return Hypothesis(
                offset_s=float(times[k] - self.t_s[i]),
                sd_s=math.hypot(self.sd_s[i], sds[k]),
                score=score,
                pairs=pairs,
                worst_s=0.0,
            )
        of, to = (np.array(one) for one in zip(*pairs, strict=True))
        offsets = times[to] - self.t_s[of]
        weights = 1 / (self.sd_s[of] ** 2 + sds[to] ** 2)
        mean = float(offsets[0] + np.average(offsets - offsets[0], weights=weights))
        return Hypothesis(
            offset_s=mean,
            sd_s=float(np.sum(weights) ** -0.5),
            score=score,
            pairs=pairs,
            worst_s=float(np.max(np.abs(offsets - mean))),
        )

    def _told_once(self, found: list[Hypothesis]) -> list[Hypothesis]:
        """Answers that lie within a frame of a better one are the same, read off another frame."""
        best: list[Hypothesis] = []
        for one in sorted(found, key=lambda one: -one.score):
            if all(abs(one.offset_s - other.offset_s) > self.frame_s for other in best[:50]):
                best.append(one)
        return best
