"""The arithmetic of a network of clocks: offsets and rates by weighted least squares.

Every clock that a chain of clues joins to UTC has an offset, and a rate where the instants of
its clues are known. Offsets hold at a pivot amid those instants and rates are counted in
units of what is expected of them, so that the numbers stay well conditioned. What several
clues share and nobody knows, such as how late a channel is, is an unknown of its own.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.clock import UTC
from sync.clue import Clue

RATE_SD = 20e-6
"""How far from true a clock is expected to run, seconds a second, as one standard deviation:
cheap crystals are sold as good to 20 to 50 parts in a million (common practice, no published
source). Rates start from 0 ± this, so that only evidence moves them."""

LEAST_GAIN = 0.7
"""Clues narrow a doubt where they leave less than this share of it."""

LEAST_SPARE = 0.5
"""Clues that are used up by offsets and rates but for less than this show no scatter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """How one clock lies to UTC.

    ::

        t_utc = t + offset + rate_off (t − pivot)
        sd(t) = √(sd² + rate_sd² (t − pivot)²)

    The pivot is the instant at which offset and rate are uncorrelated, and so the one at which
    the tie is best; None where the instant of no clue is known, and then the rate is 1.
    """

    offset_s: float
    sd_s: float
    rate_off: float
    rate_sd: float
    pivot_s: float | None

    def offset_at(self, t_s: float | None) -> float:
        """What to add to a time on the clock to have UTC; at the pivot where `t_s` is None."""
        if t_s is None or self.pivot_s is None:
            return self.offset_s
        return self.offset_s + self.rate_off * (t_s - self.pivot_s)

    def sd_at(self, t_s: float | None) -> float:
        """One standard deviation of that."""
        if t_s is None or self.pivot_s is None:
            return self.sd_s
        return math.hypot(self.sd_s, self.rate_sd * (t_s - self.pivot_s))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """The equations of the clues that a chain joins to UTC, and their solution.

    ::

        x_a − x_b + r_a (t − p_a) − r_b (t + offset − p_b) + Σ ± d = offset ± own sd
                               for each clue
        r = 0 ± RATE_SD        for each rate
        d = 0 ± its sd         for each doubt that clues share

    with a the from-clock, b the to-clock, t the clue's instant and p the pivots. The columns
    of `design` [shape=(clues + rates + doubts, clocks + rates + doubts)] are corrections to
    `start_s`, and rates and doubts in units of what is expected of them; its rows are divided
    by their deviations.
    """

    clues: tuple[Clue, ...]
    clocks: tuple[str, ...]
    rated: tuple[str, ...]
    doubts: Mapping[str, float]
    start_s: Mapping[str, float]
    pivot_s: Mapping[str, float]
    design: Floats
    solved: Floats
    covariance: Floats
    residual: Floats

    @property
    def expected(self) -> int:
        """Rows and columns from here on are those of doubts."""
        return len(self.clocks) + len(self.rated)

    @property
    def chi_squared(self) -> float:
        """Sum of the squared weighted residuals, those of what is expected with them."""
        return float(np.sum(np.square(self.residual)))

    @property
    def spare(self) -> Floats:
        """How much of each clue's variance the others check [shape=(clues,)]."""
        rows = self.design[: len(self.clues)]
        return np.asarray(1.0 - np.einsum("ij,jk,ik->i", rows, self.covariance, rows))


def blocks(clues: tuple[Clue, ...]) -> list[tuple[Clue, ...]]:
    """The clues by the parts of the graph that meet in UTC alone and share nothing else."""
    names: dict[str, str] = {}

    def head(clock: str) -> str:
        while names.setdefault(clock, clock) != clock:
            clock = names[clock]
        return clock

    for clue in clues:
        ends = [c for c in (clue.from_clock, clue.to_clock) if c != UTC]
        for other in (*ends[1:], *(doubt.name for doubt in clue.doubts)):
            names[head(ends[0])] = head(other)
    found: dict[str, list[Clue]] = defaultdict(list)
    for clue in clues:
        end = clue.from_clock if clue.from_clock != UTC else clue.to_clock
        found[head(end)].append(clue)
    return [tuple(part) for part in found.values()]


def starts(clues: tuple[Clue, ...]) -> dict[str, float]:
    """A first offset for every clock that a chain of clues joins to UTC, UTC's own with them."""
    known = {UTC: 0.0}
    grew = True
    while grew:
        grew = False
        for clue in sorted(clues, key=lambda one: one.sd_s):
            a, b = clue.from_clock, clue.to_clock
            if (a in known) != (b in known):
                if a in known:
                    known[b] = known[a] - clue.offset_s
                else:
                    known[a] = known[b] + clue.offset_s
                grew = True
    return known


def _pivots(clues: tuple[Clue, ...]) -> dict[str, float]:
    """For every clock but UTC the middle of the instants at which clues speak of it."""
    instants: dict[str, list[float]] = defaultdict(list)
    for clue in clues:
        if clue.at_s is not None:
            instants[clue.from_clock].append(clue.at_s)
            instants[clue.to_clock].append(clue.at_s + clue.offset_s)
    return {
        clock: times[0] + math.fsum(t - times[0] for t in times) / len(times)
        for clock, times in instants.items()
        if clock != UTC
    }


def network(clues: tuple[Clue, ...]) -> Network | None:
    """The equations and their least-squares solution; None where nothing is joined to UTC."""
    start = starts(clues)
    clocks = tuple(sorted(start.keys() - {UTC}))
    if not clocks:
        return None
    # The order in which the clues come must not move the last digit.
    rows = tuple(
        sorted(
            (clue for clue in clues if clue.from_clock in start),
            key=lambda c: (c.from_clock, c.to_clock, c.kind, c.offset_s, c.sd_s, c.at_s or 0.0),
        )
    )
    pivot = _pivots(rows)
    rated = tuple(clock for clock in clocks if clock in pivot)
    doubts = _doubts(rows)
    design, right = _equations(rows, clocks, rated, doubts, start, pivot)
    solved = np.linalg.lstsq(design, right, rcond=None)[0]
    return Network(
        clues=rows,
        clocks=clocks,
        rated=rated,
        doubts=doubts,
        start_s=start,
        pivot_s=pivot,
        design=design,
        solved=np.asarray(solved, dtype=np.float64),
        covariance=np.asarray(np.linalg.inv(design.T @ design), dtype=np.float64),
        residual=right - design @ solved,
    )


def _doubts(clues: tuple[Clue, ...]) -> dict[str, float]:
    """What clues have in common and nobody knows, with the deviation that is expected of it."""
    found: dict[str, float] = {}
    for doubt in (doubt for clue in clues for doubt in clue.doubts):
        found[doubt.name] = max(doubt.sd_s, found.get(doubt.name, 0.0))
    return dict(sorted(found.items()))


def _equations(
    rows: tuple[Clue, ...],
    clocks: tuple[str, ...],
    rated: tuple[str, ...],
    doubts: Mapping[str, float],
    start: Mapping[str, float],
    pivot: Mapping[str, float],
) -> tuple[Floats, Floats]:
    """The left and the right side of a network's equations (see `Network`)."""
    names = tuple(doubts)
    after = len(clocks) + len(rated)
    design = np.zeros((len(rows) + len(rated) + len(doubts), after + len(doubts)))
    right = np.zeros(design.shape[0])
    for i, clue in enumerate(rows):
        sd = clue.own_sd_s
        for clock, sign, shift in (
            (clue.from_clock, 1.0, 0.0),
            (clue.to_clock, -1.0, clue.offset_s),
        ):
            if clock == UTC:
                continue
            design[i, clocks.index(clock)] = sign / sd
            if clue.at_s is not None:
                since = clue.at_s + shift - pivot[clock]
                design[i, len(clocks) + rated.index(clock)] = sign * since * RATE_SD / sd
        for doubt in clue.doubts:
            design[i, after + names.index(doubt.name)] = doubt.sign * doubts[doubt.name] / sd
        expected = start[clue.from_clock] - start[clue.to_clock]
        right[i] = (clue.offset_s - expected) / sd
    for k in range(len(rated) + len(doubts)):
        design[len(rows) + k, len(clocks) + k] = 1.0
    return design, right


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What a doubt comes to, `expected_sd_s` being what was known of it before."""

    value_s: float
    sd_s: float
    expected_sd_s: float

    @property
    def narrowed(self) -> bool:
        """Whether the clues leave clearly less of the doubt than there was."""
        return self.sd_s < LEAST_GAIN * self.expected_sd_s

    @property
    def odds(self) -> float:
        """How many deviations the clues move it from what was expected."""
        moved = math.sqrt(max(self.expected_sd_s**2 - self.sd_s**2, 1e-24))
        return abs(self.value_s) / moved


def settled(clues: tuple[Clue, ...]) -> dict[str, Settled]:
    """What the clues say of the doubts that they share, by name."""
    found: dict[str, Settled] = {}
    for part in blocks(clues):
        net = network(part)
        for k, (name, sd) in enumerate(net.doubts.items() if net else ()):
            assert net is not None
            at = net.expected + k
            found[name] = Settled(
                value_s=float(net.solved[at]) * sd,
                sd_s=math.sqrt(float(net.covariance[at, at])) * sd,
                expected_sd_s=sd,
            )
    return found


def estimates(clues: tuple[Clue, ...]) -> dict[str, Estimate]:
    """Offset and rate of every clock that the clues join to UTC, by clock."""
    found: dict[str, Estimate] = {}
    for part in blocks(clues):
        net = network(part)
        if net is None:
            continue
        # Clues that scatter more than they say make the tie as doubtful as they are.
        spare = float(np.sum(net.spare))
        left = float(np.sum(np.square(net.residual[: len(net.clues)])))
        scatter = max(1.0, math.sqrt(left / spare)) if spare > LEAST_SPARE else 1.0
        for i, clock in enumerate(net.clocks):
            found[clock] = _estimate(net, i, clock, scatter)
    return found


def _estimate(net: Network, i: int, clock: str, scatter: float) -> Estimate:
    offset = net.start_s[clock] + float(net.solved[i])
    variance = float(net.covariance[i, i])
    if clock not in net.rated:
        return Estimate(
            offset_s=offset,
            sd_s=scatter * math.sqrt(variance),
            rate_off=0.0,
            rate_sd=RATE_SD,
            pivot_s=None,
        )
    k = len(net.clocks) + net.rated.index(clock)
    of_rate, both = float(net.covariance[k, k]), float(net.covariance[i, k])
    rate = float(net.solved[k]) * RATE_SD
    # From the middle of the instants to where offset and rate no longer move together.
    shift = -both / (of_rate * RATE_SD)
    return Estimate(
        offset_s=offset + rate * shift,
        sd_s=scatter * math.sqrt(max(variance - both * both / of_rate, 1e-24)),
        rate_off=rate,
        rate_sd=scatter * math.sqrt(of_rate) * RATE_SD,
        pivot_s=net.pivot_s[clock] + shift,
    )
