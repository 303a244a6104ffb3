"""Which instants of one clock are which of another, where only their spacing can tell.

Every pairing of one instant with another is a hypothesis of the offset. Under it, instants
that fall together count for it by their weight, and instants that ought to have a partner and
have none count against it. The best hypothesis is of use only with a clear lead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.clock import Span

WITHIN_SDS = 4.0
WITHIN_S = 0.005
"""Instants fall together within four standard deviations of theirs, or 5 ms if that is more."""

DRIFT_SD = 20e-6
"""How fast two clocks may run apart, seconds a second as one standard deviation (crystals without
temperature control; common practice, no published source)."""

SAME_S = 0.02
"""Hypotheses nearer to each other than this are one, read off another pair."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Instants:
    """Times on one clock [shape=(n,), s], their deviations, and their weights."""

    t_s: Floats
    sd_s: Floats
    weight: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """An offset (`t_to = t_from + offset_s`), its pairs (from, to), and its score."""

    offset_s: float
    sd_s: float
    score: float
    pairs: tuple[tuple[int, int], ...]
    worst_s: float


def hypotheses(
    of: Instants,
    to: Instants,
    windows: tuple[Span, ...] | None,
    span: Span | None,
    missing: float,
    drift: float = 0.0,
) -> list[Hypothesis]:
    """All offsets that join at least one pair, the best first, neighbours merged.

    Parameters
    ----------
    of, to
        Instants on the two clocks. A pair counts by the weight of its `of` side.
    windows
        Where the offset may lie; None for anywhere.
    span
        The stretch of the `of` clock on which a partner of each `to` must be found.
    missing
        What an instant of `to` without a partner in the span costs.
    drift
        How fast the two clocks may run apart, seconds a second as one standard deviation:
        the further a pair lies from the one that the offset was read off, the more it may miss.
    """
    found: list[Hypothesis] = []
    for i in range(of.t_s.size):
        for k in range(to.t_s.size):
            offset = float(to.t_s[k] - of.t_s[i])
            if windows is None or any(w.start_s <= offset <= w.stop_s for w in windows):
                found.append(_score(of, to, k, offset, span, missing, drift))
    found.sort(key=lambda one: one.score, reverse=True)
    apart: list[Hypothesis] = []
    for one in found:
        if all(abs(one.offset_s - other.offset_s) > SAME_S for other in apart[:50]):
            apart.append(one)
    return apart


def _score(
    of: Instants,
    to: Instants,
    anchor: int,
    offset_s: float,
    span: Span | None,
    missing: float,
    drift: float,
) -> Hypothesis:
    pairs: list[tuple[int, int]] = []
    score = 0.0
    for k in range(to.t_s.size):
        wanted = float(to.t_s[k]) - offset_s
        miss = np.abs(of.t_s - wanted)
        run_apart = drift * (to.t_s[k] - to.t_s[anchor])
        sd = np.hypot(np.hypot(of.sd_s, to.sd_s[k]), run_apart)
        # What is near enough to be a pair is no strong word against it either.
        sd = np.maximum(sd, WITHIN_S / WITHIN_SDS)
        near = np.flatnonzero(miss <= WITHIN_SDS * sd)
        taken = {i for i, _ in pairs}
        free = [i for i in near.tolist() if i not in taken]
        if free:
            best = min(free, key=lambda i: miss[i] / sd[i])
            pairs.append((best, k))
            score += float(of.weight[best]) - float(miss[best] / sd[best]) ** 2 / 2
        elif span is None or span.holds(wanted):
            score -= missing
    return _fitted(of, to, pairs, offset_s, score)


def _fitted(
    of: Instants, to: Instants, pairs: list[tuple[int, int]], offset_s: float, score: float
) -> Hypothesis:
    """The offset as the weighted mean over its pairs."""
    if not pairs:
        return Hypothesis(offset_s=offset_s, sd_s=np.inf, score=score, pairs=(), worst_s=0.0)
    offsets = np.array([to.t_s[k] - of.t_s[i] for i, k in pairs])
    sds = np.array([np.hypot(of.sd_s[i], to.sd_s[k]) for i, k in pairs])
    weights = 1.0 / sds**2
    mean = float(offsets[0] + np.sum(weights * (offsets - offsets[0])) / np.sum(weights))
    return Hypothesis(
        offset_s=mean,
        sd_s=float(np.sum(weights) ** -0.5),
        score=score,
        pairs=tuple(pairs),
        worst_s=float(np.max(np.abs(offsets - mean))),
    )
