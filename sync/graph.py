"""What clues say of each other: which of them are at odds, and how the loops they form close."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sync.clock import UTC
from sync.clue import Clue
from sync.network import RATE_SD, Network, blocks, network, starts

MOST_SD = 4.0
"""How many standard deviations a clue may lie off the rest before it counts as at odds."""

NEARLY_AS_GOOD = 9.0
"""Least lead in chi-squared that one way of leaving a clue out must have over the next."""

MOST_NAMED = 4
"""Clues at odds that a sentence names."""

BRIDGE = 1e-9
"""A clue with less of its variance than this to spare is one that nothing else speaks to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """Clocks that clues join in a ring, and by how much the ring fails to close.

    `kinds` are those of the clues from each clock to the next, the last leading back to the
    first; `misclosure_s` is the sum of the offsets on the way around, less what the solved
    rates account for, and `sd_s` its expected standard deviation.
    """

    clocks: tuple[str, ...]
    kinds: tuple[str, ...]
    misclosure_s: float
    sd_s: float


def consistent(clues: tuple[Clue, ...]) -> tuple[tuple[Clue, ...], dict[str, str]]:
    """The clues that agree, and for clocks where two answers are as good, what they are."""
    kept: list[Clue] = []
    doubtful: dict[str, str] = {}
    for part in blocks(clues):
        good, doubts = _consistent(part)
        kept.extend(good)
        doubtful |= doubts
    return tuple(kept), doubtful


def _consistent(clues: tuple[Clue, ...]) -> tuple[tuple[Clue, ...], dict[str, str]]:
    kept = clues
    while True:
        worst, checked = _worst_miss(kept)
        if worst <= MOST_SD:
            return kept, {}
        ways = sorted((_chi_squared(_less(kept, c)), i) for i, c in enumerate(kept) if c in checked)
        best, index = ways[0]
        near = [kept[i] for chi, i in ways if chi - best < NEARLY_AS_GOOD]
        if not all(_same_story(clue, kept[index]) for clue in near):
            return _without(kept, near, worst)
        kept = _less(kept, kept[index])


def _less(clues: tuple[Clue, ...], gone: Clue) -> tuple[Clue, ...]:
    """All clues but one."""
    return tuple(clue for clue in clues if clue is not gone)


def _same_story(one: Clue, other: Clue) -> bool:
    """Whether two clues say the same of the same two clocks, so that both may go or stay."""
    if {one.from_clock, one.to_clock} != {other.from_clock, other.to_clock}:
        return False
    sign = 1.0 if one.from_clock == other.from_clock else -1.0
    drift = 0.0
    if one.at_s is not None and other.at_s is not None:
        at = other.at_s if sign > 0 else other.at_s + other.offset_s
        drift = RATE_SD * (one.at_s - at)
    doubt = math.hypot(one.sd_s, other.sd_s, drift)
    return abs(one.offset_s - sign * other.offset_s) <= MOST_SD * doubt


def _without(
    kept: tuple[Clue, ...], near: list[Clue], worst: float
) -> tuple[tuple[Clue, ...], dict[str, str]]:
    """Leave out all of some clues that contradict each other with nothing to decide."""
    told = [f"{clue.text or clue.kind} (offset {clue.offset_s:.3f} s)" for clue in near]
    if len(told) > MOST_NAMED:
        told = [*told[: MOST_NAMED - 1], f"{len(told) - MOST_NAMED + 1} more"]
    message = (
        f"{_count(len(near))} clues are at odds by {worst:.0f} standard deviations and nothing "
        f"decides between them: {', '.join(told[:-1])} and {told[-1]}; "
        "take the wrong one out of the sheet, or add another"
    )
    ends = {end for clue in near for end in (clue.from_clock, clue.to_clock)}
    still, doubtful = _consistent(tuple(clue for clue in kept if clue not in near))
    tied = starts(still)
    return still, {c: message for c in ends if c not in tied} | doubtful


def _count(number: int) -> str:
    return {2: "two", 3: "three", 4: "four"}.get(number, str(number))


def _chi_squared(clues: tuple[Clue, ...]) -> float:
    net = network(clues)
    return 0.0 if net is None else net.chi_squared


def _worst_miss(clues: tuple[Clue, ...]) -> tuple[float, tuple[Clue, ...]]:
    """The largest distance of a clue from the rest, in deviations, and the clues it holds for.

    ::

        max |r| / √(1 − h)      r: weighted residual, h: the clue's leverage
    """
    net = network(clues)
    if net is None:
        return 0.0, ()
    spare = net.spare
    checked = spare > BRIDGE
    if not np.any(checked):
        return 0.0, ()
    misses = np.abs(net.residual[: len(net.clues)][checked]) / np.sqrt(spare[checked])
    return float(np.max(misses)), tuple(
        c for c, told in zip(net.clues, checked, strict=True) if told
    )


def loops(clues: tuple[Clue, ...]) -> tuple[Loop, ...]:
    """How every independent loop of the graph closes.

    Clues of one kind between the same two clocks count as one side of a loop, weighted by
    their deviations. With c what the loop takes of each clue, e the clues' residuals, D their
    variances, A the design and C the covariance of the solution,

    ::

        misclosure = Σ c (e + B d),    sd² = cᵀ (D + B Bᵀ − A C Aᵀ) c

    where the offsets fall out of A on the way around, and the rates alone are left; B has the
    doubts that clues share and d what they come to, which are part of a loop's error.
    """
    found: list[Loop] = []
    for part in blocks(clues):
        net = network(part)
        if net is not None:
            found.extend(_closed(net, *way) for way in _rings(net.clues))
    return tuple(found)


Side = tuple[str, str, str]
"""Two clocks in the order of their names, and a kind of clue between them."""


def _side(clue: Clue) -> Side:
    low, high = sorted((clue.from_clock, clue.to_clock))
    return low, high, clue.kind


def _rings(clues: tuple[Clue, ...]) -> list[tuple[tuple[str, ...], tuple[Side, ...]]]:
    """One ring for every side that a tree of shortest ways from UTC does not need."""
    sides = sorted({_side(clue) for clue in clues})
    way: dict[str, list[tuple[str, Side]]] = {UTC: []}
    queue = [UTC]
    used: set[Side] = set()
    while queue:
        here = queue.pop(0)
        for side in sides:
            if here not in side[:2]:
                continue
            there = side[1] if side[0] == here else side[0]
            if there not in way:
                way[there] = [*way[here], (here, side)]
                used.add(side)
                queue.append(there)
    found = []
    for side in (one for one in sides if one not in used):
        low, high = [*way[side[0]], (side[0], side)], [*way[side[1]], (side[1], side)]
        while len(low) > 1 and len(high) > 1 and low[0] == high[0]:
            low, high = low[1:], high[1:]
        # Down to one end of the side, across it, and back up from the other.
        clocks = [clock for clock, _ in low] + [clock for clock, _ in reversed(high[1:])]
        taken = [one for _, one in low] + [one for _, one in reversed(high[:-1])]
        found.append((tuple(clocks), tuple(taken)))
    return found


def _closed(net: Network, clocks: tuple[str, ...], sides: tuple[Side, ...]) -> Loop:
    sds = np.array([clue.own_sd_s for clue in net.clues])
    share = np.zeros(len(net.clues))
    for k, side in enumerate(sides):
        mine = np.array([_side(clue) == side for clue in net.clues])
        weights = np.where(mine, sds**-2.0, 0.0)
        ahead = np.array([1.0 if clue.from_clock == clocks[k] else -1.0 for clue in net.clues])
        share += ahead * weights / np.sum(weights)
    taken = share * sds  # the design's rows are divided by their deviations
    rows = net.design[: len(net.clues)]
    moved, doubted = taken @ rows, taken @ rows[:, net.expected :]
    moved[net.expected :] = 0.0
    variance = float(np.sum(taken**2) + np.sum(doubted**2) - moved @ net.covariance @ moved)
    return Loop(
        clocks=clocks,
        kinds=tuple(side[2] for side in sides),
        misclosure_s=float(
            taken @ net.residual[: len(net.clues)] + doubted @ net.solved[net.expected :]
        ),
        sd_s=math.sqrt(max(variance, 1e-24)),
    )
