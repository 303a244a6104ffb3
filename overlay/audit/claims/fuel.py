"""The usable fuel that a film's figures imply.

It follows from what is said of any one speed,

::

    usable · (1 − reserve) = range · flow / speed = range / economy = endurance · flow

and is the same at all of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from overlay.audit.claims.figure import Figure
from overlay.audit.claims.judged import Clash
from overlay.audit.claims.side import Side
from overlay.audit.claims.stated import Stated, Stretch, meet
from overlay.audit.claims.words import both
from overlay.figures import unit_for
from overlay.sheet.said import unit_said

DEVIATIONS = 2.0
"""How far a result that no claim states may be out, in standard deviations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Implied:
    """Fuel used of a full tank, as something implies it [m³]: by which claims, and how."""

    claims: tuple[int, ...]
    of: str
    fuel: Stretch


def fuel_clashes(
    stated: Sequence[Stated], sides: Sequence[Side], reserve: float | None
) -> Iterator[Clash]:
    """Pairs of what is said of one trial that imply different fuel."""
    for side in sides:
        mine = [one for one in stated if one.trial == side.trial]
        kept = _reserve(mine, reserve)
        implied = list(_implied(mine, side, kept))
        for one, other in combinations(implied, 2):
            if not meet(one.fuel, other.fuel):
                yield _fuel_clash(one, other, side, kept)


def _reserve(stated: Sequence[Stated], reserve: float | None) -> Stretch | None:
    """What is kept back: as the film says, else as the sheet has it."""
    said = next((one.said.bounds_si() for one in stated if one.measure == "reserve"), None)
    if said is not None:
        return said
    return None if reserve is None else (reserve, reserve)


def _implied(stated: Sequence[Stated], side: Side, reserve: Stretch | None) -> Iterator[Implied]:
    """What the film's claims imply run by run, what it says outright, and what the results were
    worked out with."""
    for run in dict.fromkeys(one.run for one in stated):
        at = {one.measure: one for one in stated if one.run == run}
        yield from _of_run(run, at, side)
    if reserve is not None and reserve[1] < 1:
        for one in stated:
            if one.measure == "usable fuel":
                low, high = one.said.bounds_si()
                used = low * (1 - reserve[1]), high * (1 - reserve[0])
                yield Implied(claims=(one.number,), of="usable fuel", fuel=used)
    worked_out = _of_results(side)
    if worked_out is not None:
        yield worked_out


def _of_run(run: str, at: Mapping[str, Stated], side: Side) -> Iterator[Implied]:
    """What the figures at one speed imply: at least one that the film states, the rest as measured.

    ::

        range / economy,  range · flow / speed,  endurance · flow
    """
    for head, factors in (
        ("range", (("economy", -1),)),
        ("range", (("fuel flow", 1), ("speed", -1))),
        ("endurance", (("fuel flow", 1),)),
    ):
        if head not in at or (len(factors) == 2 and "economy" in at):
            continue
        if factors == (("economy", -1),) and "economy" not in at:
            continue
        numbers = [at[head].number]
        fuel = _positive(at[head].said.bounds_si())
        for name, power in factors:
            found = _of_claim(at.get(name)) or _of_figure(side, run, name)
            if name in at:
                numbers.append(at[name].number)
            fuel = _times(fuel, found, power)
        if fuel is not None:
            yield Implied(claims=tuple(sorted(numbers)), of=run, fuel=fuel)


def _of_claim(one: Stated | None) -> Stretch | None:
    if one is None:
        return None
    low, high = one.said.bounds_si()
    if one.said.quantity == "consumption":
        return _positive((1 / high, 1 / low)) if low > 0 else None
    return _positive((low, high))


def _of_figure(side: Side, run: str, measure: str) -> Stretch | None:
    figure = next(
        (one for one in side.figures if (one.run, one.measure.name) == (run, measure)), None
    )
    return None if figure is None else _around(figure)


def _around(figure: Figure) -> Stretch | None:
    if not (math.isfinite(figure.value) and math.isfinite(figure.sd)):
        return None
    return _positive((figure.value - DEVIATIONS * figure.sd, figure.value + DEVIATIONS * figure.sd))


def _positive(stretch: Stretch) -> Stretch | None:
    return stretch if stretch[0] > 0 else None


def _times(one: Stretch | None, other: Stretch | None, power: int) -> Stretch | None:
    """The product of two stretches of positive numbers, or their quotient."""
    if one is None or other is None:
        return None
    return (
        (one[0] * other[0], one[1] * other[1])
        if power > 0
        else (one[0] / other[1], one[1] / other[0])
    )


def _of_results(side: Side) -> Implied | None:
    """The fuel that the trial's own ranges were worked out with."""
    for figure in side.figures:
        if figure.measure.name != "endurance" or not math.isfinite(figure.value):
            continue
        flow = next(
            (
                one
                for one in side.figures
                if (one.run, one.measure.name) == (figure.run, "fuel flow")
            ),
            None,
        )
        if flow is not None and math.isfinite(flow.value):
            fuel = figure.value * flow.value
            return Implied(claims=(), of="", fuel=(fuel, fuel))
    return None


def _fuel_clash(one: Implied, other: Implied, side: Side, reserve: Stretch | None) -> Clash:
    share = 1.0 if reserve is None else 1 - (reserve[0] + reserve[1]) / 2
    unit = unit_said(unit_for("volume", side.units))
    ends = [
        f"{_who(each)} {_three_digits(sum(each.fuel) / 2 / share / unit.factor)} {unit.sign}"
        for each in (one, other)
    ]
    what = "fuel that range is worked out with" if reserve is None else "usable fuel"
    return Clash(
        kind="usable fuel",
        claims=tuple(sorted({*one.claims, *other.claims})),
        sentence=f"The {what} has two values: {ends[0]}, {ends[1]}.",
    )


def _three_digits(value: float) -> str:
    return f"{value:.0f}" if value >= 100 else f"{value:.1f}"


def _who(implied: Implied) -> str:
    if not implied.claims:
        return "the results were worked out with"
    several = len(implied.claims) > 1
    who = f"claim{'s' if several else ''} {both(map(str, implied.claims))}"
    if implied.of == "usable fuel":
        return f"{who} states"
    return f"{who} ({implied.of}) {'imply' if several else 'implies'}"
