"""The verdict on a comparison: whether both sides were measured, and differ as it says."""

from __future__ import annotations

import math
from collections.abc import Sequence

from overlay.audit.claims.digits import shown
from overlay.audit.claims.figure import Figure
from overlay.audit.claims.judged import Judged, Verdict, Why
from overlay.audit.claims.measures import usual_unit
from overlay.audit.claims.naming import folded
from overlay.audit.claims.side import Side, side_called
from overlay.audit.claims.words import either, quoted, sentence, where
from overlay.sheet.claims import Claim
from overlay.sheet.said import unit_said

CLEAR_OF_DOUBT = 1.96
"""Two results differ where they are further apart than this many deviations of the difference."""


_TOO_CLOSE = ", which do not differ beyond their doubt"

Told = tuple[Verdict, Why, str]
"""A verdict, what it follows from, and the same as a clause."""

End = tuple[Side, Figure]
"""One side of a comparison: a trial, and the figure of it."""


def judge_comparison(number: int, claim: Claim, sides: Sequence[Side]) -> Judged:
    """Whether both sides of a comparison were measured, and whether they differ as it says."""
    ends: list[End] = []
    told = _two(claim, sides) or _find(claim, sides, ends) or _weighed(claim, ends)
    verdict, why, text = told
    whole = ends if len(ends) == 2 else []
    places = tuple(place for side, figure in whole for place in side.places(figure))
    return Judged(
        number=number,
        claim=claim,
        verdict=verdict,
        why=why,
        figure=" against ".join(figure.name for _, figure in whole),
        places=places,
        sentence=sentence(f"{quoted(claim)}: {text}", where(places)),
    )


def _two(claim: Claim, sides: Sequence[Side]) -> Told | None:
    """What is wrong where a claim does not name two things to compare, or None."""
    if claim.quantity is None:
        text = "it is not said which quantity is compared, so that nothing can be held against it"
        return "cannot say", "no such quantity", text
    for name in (claim.trial, claim.than_trial):
        if name is not None and side_called(name, sides) is None:
            text = f"the results of the trial “{name}” are not at hand, so that one side is unknown"
            return "cannot say", "no such trial", text
    same_trial = _side(claim.trial, sides) is _side(claim.than_trial, sides)
    if same_trial and folded(claim.than or claim.quantity) == folded(claim.quantity):
        text = "it is not said what it is compared with: name `than` or `than_trial`"
        return "cannot say", "one side only", text
    return None


def _side(name: str | None, sides: Sequence[Side]) -> Side | None:
    return sides[0] if name is None else side_called(name, sides)


def _find(claim: Claim, sides: Sequence[Side], ends: list[End]) -> Told | None:
    """Put both figures into `ends`; what is wrong where one cannot be had, or None."""
    for name, text in (
        (claim.trial, claim.quantity),
        (claim.than_trial, claim.than or claim.quantity),
    ):
        side = _side(name, sides)
        assert side is not None
        assert text is not None
        found = side.named(text)
        if found.figure is None:
            near = either(side.nearest(found))
            told = f"the results of “{side.trial}” have no “{text}”; the nearest are {near}"
            return "cannot say", "no such quantity", told
        if not math.isfinite(found.figure.value):
            told = f"the results of “{side.trial}” have no value for {found.figure.name}"
            return "cannot say", "one side only", told
        ends.append((side, found.figure))
    return None


def _weighed(claim: Claim, ends: Sequence[End]) -> Told:
    """Two figures against each other."""
    (side, one), (other_side, other) = ends
    if one.measure.quantity != other.measure.quantity:
        told = f"{one.name} and {other.name} are not of one dimension"
        return "not supported", "wrong dimension", told
    apart, sd = one.value - other.value, math.hypot(one.sd, other.sd)
    unit = unit_said(usual_unit(one.measure, side.units))
    names = [
        f"{figure.name}{'' if side is other_side else f' of “{whose.trial}”'}"
        for whose, figure in ends
    ]
    hand = (
        f"both sides are at hand: {names[0]} is {shown(one, unit)}, "
        f"{names[1]} is {shown(other, unit)}"
    )
    if claim.relation is None:
        return "cannot say", "no relation", f"{hand}; say in `relation` which is more"
    if not math.isfinite(sd):
        return "cannot say", "no uncertainty", f"{hand}, but no uncertainty is stated for them"
    clear = abs(apart) > CLEAR_OF_DOUBT * sd
    actual = "same" if not clear else "more" if apart > 0 else "less"
    found = f"; the first is {actual}, beyond their doubt" if clear else _TOO_CLOSE
    hand = f"{hand}{found}"
    if actual == claim.relation:
        return "supported", "agrees", hand
    return "not supported", "differs" if clear else "too close", hand
