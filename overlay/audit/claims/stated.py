"""The values that a film's measured claims give, each with all that is rounded to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from overlay.audit.claims.measured import said_of, wrong_dimension
from overlay.audit.claims.naming import Named, run_in
from overlay.audit.claims.side import Side, side_called
from overlay.sheet.claims import Claim
from overlay.sheet.said import Said

Stretch = tuple[float, float]
"""Least and greatest."""

TOUCH = 1e-9
"""Stretches that end within this share of each other have a point in common."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """One value that the film gives: the claim's number, what it is of, and what is said."""

    number: int
    trial: str
    named: Named
    said: Said

    @property
    def run(self) -> str:
        """The run that it is of, for what is held together run by run."""
        figure = self.named.figure
        return figure.root[0] if figure is not None else run_in(self.named.key)

    @property
    def measure(self) -> str:
        """The name of what it measures."""
        if self.named.figure is not None:
            return self.named.figure.root[1]
        return "" if self.named.measure is None else self.named.measure.name


def stated_in(claims: Sequence[Claim], sides: Sequence[Side]) -> Iterator[Stated]:
    """The values that measured claims give, those of a wrong dimension left out."""
    for number, claim in enumerate(claims, start=1):
        if claim.kind != "measured" or claim.quantity is None:
            continue
        side = sides[0] if claim.trial is None else side_called(claim.trial, sides)
        said, found = said_of(claim), (side or sides[0]).named(claim.quantity)
        if wrong_dimension(said, found):
            continue
        trial = claim.trial if side is None else side.trial
        yield Stated(number=number, trial=str(trial), named=found, said=said)


def meet(one: Stretch, other: Stretch) -> bool:
    """Whether two stretches have a point in common."""
    slack = TOUCH * max(map(abs, (*one, *other)))
    return one[0] <= other[1] + slack and other[0] <= one[1] + slack
