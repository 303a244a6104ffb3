"""Trials side by side: what differs by more than its uncertainty, and whether that may be judged.

Each trial after the first is held against the first. A difference is marked where it is more than
its 95 % uncertainty,

::

    |d| > 1.96 · √( sd₁² + sd₂² + apart² )

with `apart` what two readings may differ by for not having been taken at the same engine speed;
launches are held against each other by how they scatter, where that is more.
One figure in twenty that do not differ is marked by chance. Where load, fuel, wind, air or bottom
differ beyond the limits, no trial is called better: the differences stand, but what made them
cannot be told.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from overlay.analysis.comparing.limits import Likeness, likenesses
from overlay.analysis.comparing.repeats import repeat_sd
from overlay.analysis.comparing.rows import figures, launch_figures
from overlay.analysis.comparing.side import Better, Figures, Reading, Side
from overlay.analysis.comparing.steps import at_equal_engine_speed, at_equal_speed
from overlay.analysis.means import NONE, Mean

SCHEMA = "compare/1"

COVERAGE = 1.96
"""So many standard deviations hold 95 of 100 of a normal distribution."""

Says = Literal[
    "higher", "lower", "within uncertainty", "uncertainty not known", "not alike",
    "too few repeats", "",
]  # fmt: skip
Verdict = Literal["better", "worse", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A reading less the first trial's.

    Parameters
    ----------
    value
        The difference and one standard deviation of it, in SI; none where either is lacking.
    says
        `higher` or `lower` where it exceeds its uncertainty; `not alike` where the two were not
        had in the same way; `too few repeats` where no launch was repeated, so that nobody knows
        what doing it again would bring; empty where there is nothing to compare.
    verdict
        Whether that is better or worse, where it may be said.
    """

    value: Mean
    says: Says
    verdict: Verdict

    @property
    def exceeds(self) -> bool:
        """Whether it is more than its 95 % uncertainty."""
        return self.says in ("higher", "lower")


NOTHING = Difference(value=NONE, says="", verdict="none")


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One figure of all trials; the first trial's difference is nothing."""

    figures: Figures
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Trials side by side, the first being the one that the others are held against."""

    likenesses: tuple[Likeness, ...]
    rows: tuple[Compared, ...]

    def hindrances(self, place: int) -> tuple[Likeness, ...]:
        """The limits that forbid to call a trial better or worse than the first."""
        return tuple(one for one in self.likenesses if one.states[place] != "alike")

    def common(self, place: int) -> int:
        """How many figures a trial and the first both have."""
        return sum(row.differences[place].value.known for row in self.rows)


def compare(sides: Sequence[Side]) -> Comparison:
    """Hold trials against the first of them.

    Parameters
    ----------
    sides
        Two and more, worked out with one ladder and one set of definitions.
    """
    alike = likenesses(sides)
    judged = [all(one.states[i] == "alike" for one in alike) for i in range(len(sides))]
    rows = (
        *figures(sides),
        *launch_figures(sides),
        *at_equal_engine_speed(sides),
        *at_equal_speed(sides),
    )
    order = list(dict.fromkeys(row.section for row in rows))
    return Comparison(
        likenesses=alike,
        rows=tuple(_row(row, judged) for row in sorted(rows, key=lambda r: order.index(r.section))),
    )


def _row(row: Figures, judged: Sequence[bool]) -> Compared:
    first, *others = row.readings
    held = [
        difference(first, other, row.better, judged=may)
        for other, may in zip(others, judged[1:], strict=True)
    ]
    return Compared(figures=row, differences=(NOTHING, *held))


def difference(first: Reading, other: Reading, better: Better, *, judged: bool) -> Difference:
    """A reading less the first trial's, and what may be said of it."""
    if not (first.mean.known and other.mean.known):
        return NOTHING
    off = other.mean.value - first.mean.value
    apart = math.hypot(first.apart_sd, other.apart_sd)
    measured = math.hypot(first.mean.sd, other.mean.sd, apart)
    repeated = bool(first.repeats and other.repeats)
    again = repeat_sd(first.repeats, other.repeats) if repeated else 0.0
    value = Mean(value=off, sd=measured if math.isnan(again) else max(measured, again))
    says: Says
    if first.basis != other.basis:
        says = "not alike"
    elif math.isnan(again):
        says = "too few repeats"
    elif not math.isfinite(value.sd):
        says = "uncertainty not known"
    elif abs(off) <= COVERAGE * value.sd:
        says = "within uncertainty"
    else:
        says = "higher" if off > 0 else "lower"
    verdict: Verdict = "none"
    if judged and better != "neither" and says in ("higher", "lower"):
        verdict = "better" if (says == "higher") == (better == "more") else "worse"
    return Difference(value=value, says=says, verdict=verdict)


def document(comparison: Comparison, trials: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The comparison for a program to read: SI throughout, a list's places are the trials'.

    Parameters
    ----------
    trials
        What identifies each of them.
    """
    return {
        "schema": SCHEMA,
        "trials": [
            {**trial, "judged": not comparison.hindrances(place)}
            for place, trial in enumerate(trials)
        ],
        "limits": [_limit(one) for one in comparison.likenesses],
        "figures": [_figure(row) for row in comparison.rows],
    }


def _limit(one: Likeness) -> dict[str, Any]:
    return {
        "key": one.limit.key,
        "title": one.limit.title,
        "text": one.limit.text,
        "most": one.limit.most,
        "of_the_greater": one.limit.share,
        "source": one.limit.source,
        "stated": [asdict(stated) for stated in one.stated],
        "states": list(one.states),
        "by": list(one.by),
    }


def _figure(row: Compared) -> dict[str, Any]:
    return {
        "key": row.figures.key,
        "section": row.figures.section,
        "title": row.figures.title,
        "quantity": row.figures.quantity,
        "better": row.figures.better,
        "readings": [asdict(reading) for reading in row.figures.readings],
        "differences": [
            {**asdict(one), "exceeds": one.exceeds} if place else None
            for place, one in enumerate(row.differences)
        ],
    }
