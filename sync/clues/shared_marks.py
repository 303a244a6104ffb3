"""Marks that two logs on different clocks share: equal labels are one instant.

How it can mislead: a label used several times can be paired wrongly, and a mark can be made
late on one of the two. Several shared marks must agree; a label that both logs have once is
taken alone; one that either has more than once needs at least two pairs of equal spacing.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from sync.clue import Clue, Finding
from sync.clues.marks.matching import DRIFT_SD, Hypothesis, Instants, hypotheses
from sync.log import Mark

Pair = tuple[Mark, Mark]

WITHIN_SDS = 4.0

DRIFT = 50e-6
"""How far two clocks may run apart, seconds a second (crystals without temperature control;
common practice, no published source)."""


def shared_mark_clues(marks: Sequence[Mark]) -> Finding:
    """A clue for every mark that two clocks share, where their marks agree.

    Parameters
    ----------
    marks
        Tie marks of all logs.
    """
    by_clock: dict[str, list[Mark]] = defaultdict(list)
    for mark in marks:
        by_clock[mark.clock].append(mark)
    finding = Finding()
    for one, other in combinations(sorted(by_clock, key=lambda c: (c == "utc", c)), 2):
        finding += _between(by_clock[one], by_clock[other])
    return finding


def _between(ours: list[Mark], theirs: list[Mark]) -> Finding:
    """What the marks of two clocks say about each other."""
    clocks = f"{ours[0].clock} and {theirs[0].clock}"
    mine, other = _by_label(ours), _by_label(theirs)
    pairs: list[Pair] = []
    remarks: list[str] = []
    for label in sorted(mine.keys() & other.keys()):
        if len(mine[label]) == len(other[label]) == 1:
            pairs.append((mine[label][0], other[label][0]))
            continue
        found = _repeated(mine[label], other[label])
        pairs.extend(found)
        if not found:
            remarks.append(
                f"{clocks}: the mark {label!r} stands {len(mine[label])} and "
                f"{len(other[label])} times, and which is which cannot be told; give each mark "
                "a label of its own"
            )
    if not pairs:
        return Finding(remarks=tuple(remarks))
    return _agreed(pairs, clocks, remarks)


def _by_label(marks: list[Mark]) -> dict[str, list[Mark]]:
    found: dict[str, list[Mark]] = defaultdict(list)
    for mark in marks:
        found[" ".join(mark.label.split()).casefold()].append(mark)
    return found


def _repeated(ours: list[Mark], theirs: list[Mark]) -> list[Pair]:
    """Pairs of marks of one label, by their spacing; none where two ways are as good."""
    of, to = _instants(ours), _instants(theirs)
    found = hypotheses(of, to, None, None, missing=1.0, drift=DRIFT_SD)
    if not found or len(found[0].pairs) < 2:
        return []
    if len(found) > 1 and _as_good(found[0], found[1]):
        return []
    return [(ours[i], theirs[k]) for i, k in found[0].pairs]


def _as_good(best: Hypothesis, second: Hypothesis) -> bool:
    return len(second.pairs) >= len(best.pairs) and len(second.pairs) > 1


def _instants(marks: list[Mark]) -> Instants:
    return Instants(
        t_s=np.array([mark.t_s for mark in marks]),
        sd_s=np.array([mark.sd_s for mark in marks]),
        weight=np.full(len(marks), 10.0),
    )


def _agreed(pairs: list[Pair], clocks: str, remarks: list[str]) -> Finding:
    """A clue from every pair at its instant, unless they contradict each other.

    Two clocks whose marks lie far apart may have run apart in between; how much, the clues
    tell together.
    """
    offsets = np.array([b.t_s - a.t_s for a, b in pairs])
    sds = np.array([math.hypot(a.sd_s, b.sd_s) for a, b in pairs])
    weights = 1.0 / sds**2
    mean = float(offsets[0] + np.sum(weights * (offsets - offsets[0])) / np.sum(weights))
    misses = np.abs(offsets - mean)
    length = max(b.t_s for _, b in pairs) - min(b.t_s for _, b in pairs)
    allowed = WITHIN_SDS * sds + DRIFT * length
    if np.any(misses > allowed):
        low, high = int(np.argmin(offsets)), int(np.argmax(offsets))
        remarks.append(
            f"{clocks}: the marks {pairs[low][0].label!r} and {pairs[high][0].label!r} disagree "
            f"by {offsets[high] - offsets[low]:.3f} s; leave the wrong one out, or type a third"
        )
        return Finding(remarks=tuple(remarks))
    return Finding(clues=tuple(_clue(a, b) for a, b in pairs), remarks=tuple(remarks))


def _clue(ours: Mark, theirs: Mark) -> Clue:
    return Clue(
        kind="shared_marks",
        from_clock=ours.clock,
        to_clock=theirs.clock,
        offset_s=theirs.t_s - ours.t_s,
        sd_s=math.hypot(ours.sd_s, theirs.sd_s),
        typed=ours.typed or theirs.typed,
        text=f"shared mark {ours.label!r}",
        at_s=ours.t_s,
    )
