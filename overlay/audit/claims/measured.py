"""The verdict on a measured claim: what is said against what the results have."""

from __future__ import annotations

import math
from collections.abc import Sequence

from overlay.audit.claims.digits import Held, held, text_in, with_deviation
from overlay.audit.claims.figure import Figure
from overlay.audit.claims.judged import Judged, Verdict, Why
from overlay.audit.claims.naming import Named
from overlay.audit.claims.side import Side, side_called
from overlay.audit.claims.words import both, either, quoted, sentence, where
from overlay.sheet.claims import Claim
from overlay.sheet.said import Said, read_said

DIMENSION = {
    "rotation": "an engine speed",
    "volume_flow": "a fuel flow",
    "length": "a distance",
    "turn_rate": "a rate of turn",
    "level": "a sound level",
    "power_to_mass": "power to mass",
    "economy": "distance on fuel",
    "consumption": "fuel on distance",
    "volume": "a volume",
    "angle": "an angle",
    "time": "a time",
    "speed": "a speed",
    "power": "a power",
    "mass": "a mass",
    "ratio": "a share",
    "acceleration": "an acceleration",
    "temperature": "a temperature",
    "pressure": "a pressure",
    "voltage": "a voltage",
    "degrees": "a position",
}
"""How a dimension is called in a sentence."""

EITHER_WAY_UP = {"economy", "consumption"}


def said_of(claim: Claim) -> Said:
    """The value of a claim that has one."""
    assert claim.value is not None
    return read_said(claim.value, claim.rounded_to)


def judge_measured(number: int, claim: Claim, sides: Sequence[Side]) -> Judged:
    """Hold one measured claim against the results of its trial, the first side unless it says."""
    side = sides[0] if claim.trial is None else side_called(claim.trial, sides)
    if side is None:
        return _no_trial(number, claim, sides)
    assert claim.quantity is not None
    said, found = said_of(claim), side.named(claim.quantity)
    wrong = wrong_dimension(said, found)
    if wrong:
        return _plain(number, claim, "not supported", "wrong dimension", wrong)
    if found.figure is None:
        return _unknown(number, claim, found, side)
    figure = as_said(found.figure, said)
    if not math.isfinite(figure.value):
        why = side.why_not(figure)
        told = f"the results have no value for {figure.name}{f': {why}' if why else ''}"
        return _plain(number, claim, "cannot say", "no value", told, figure=figure.name)
    return _held(number, claim, said, figure, side)


def as_said(figure: Figure, said: Said) -> Figure:
    """The figure the way up that the unit has it: distance on fuel, or fuel on distance."""
    turn = figure.measure.quantity == "economy" and said.quantity == "consumption"
    return figure.turned_over() if turn else figure


def wrong_dimension(said: Said, found: Named) -> str:
    """What is wrong where a quantity cannot be in a unit, as a clause; or nothing."""
    measure = found.measure
    if measure is None or measure.quantity == said.quantity:
        return ""
    if {measure.quantity, said.quantity} <= EITHER_WAY_UP and measure.quantity == "economy":
        return ""
    told = DIMENSION.get(said.quantity, said.quantity)
    return f"{said} is {told}, and {measure.name} cannot be in {said.unit}"


def _plain(
    number: int, claim: Claim, verdict: Verdict, why: Why, told: str, figure: str = ""
) -> Judged:
    return Judged(
        number=number,
        claim=claim,
        verdict=verdict,
        why=why,
        figure=figure,
        sentence=sentence(f"{quoted(claim)}: {told}"),
    )


def _no_trial(number: int, claim: Claim, sides: Sequence[Side]) -> Judged:
    known = both(f"“{side.trial}”" for side in sides)
    told = f"the results of the trial “{claim.trial}” are not at hand; there are those of {known}"
    return _plain(number, claim, "cannot say", "no such trial", told)


def _unknown(number: int, claim: Claim, found: Named, side: Side) -> Judged:
    names = side.nearest(found)
    near = f"; the nearest are {either(names)}" if names else ""
    lacks = "" if found.measure is None else _missing(found, side)
    told = f"the results have no “{claim.quantity}”{near}{lacks}"
    return _plain(number, claim, "cannot say", "no such quantity", told)


def _missing(found: Named, side: Side) -> str:
    assert found.measure is not None
    told = side.missing_of(found.measure)
    return f". They say: {told}" if told else ""


def _held(number: int, claim: Claim, said: Said, figure: Figure, side: Side) -> Judged:
    against = held(said, figure)
    verdict, why = _verdict(against, figure)
    places = side.places(figure)
    supported = against.supported_text
    return Judged(
        number=number,
        claim=claim,
        verdict=verdict,
        why=why,
        figure=figure.name,
        result=with_deviation(said, against),
        result_si=figure.value,
        result_sd_si=figure.sd,
        supported_text=text_in(said.unit, against.value, against.step) if against.step else "",
        digits=against.digits if supported else None,
        rounded=against.rounded,
        places=places,
        sentence=sentence(
            f"{quoted(claim)}: {_told(said, against, figure, why)}",
            _other(said, figure, side) if why == "differs" else "",
            _beside(said, figure, side) if verdict == "supported" else "",
            where(places),
        ),
    )


def _verdict(against: Held, figure: Figure) -> tuple[Verdict, Why]:
    """The verdict, and what it follows from."""
    if against.fit == "agrees" and against.step is None and not figure.stated:
        return "cannot say", "no uncertainty"
    if against.fit == "agrees":
        return "supported", "agrees"
    if against.fit == "rounding" and against.rounded == "against the boat":
        sure = against.step is not None or figure.stated
        return ("supported", "rounding") if sure else ("cannot say", "no uncertainty")
    return "not supported", against.fit


def _told(said: Said, against: Held, figure: Figure, why: Why) -> str:
    """What the holding came to, as a clause."""
    has = f"{figure.name} is {with_deviation(said, against)}"
    if figure.stated:
        has += " in the results"
    if why == "agrees":
        if against.step is not None and against.step < said.step:
            more = f", and would bear {text_in(said.unit, against.value, against.step)}"
        else:
            more = ""
        return f"{has}, which is {said} as it is said{more}"
    if why == "no uncertainty":
        return (
            f"{has}, which fits {said}, but the results state no uncertainty for it, so that "
            "no digit can be vouched for"
        )
    if why == "too many digits":
        return f"{has}, which supports {against.rightly} and no further digit"
    if why == "rounding" and against.rounded == "against the boat":
        return f"{has}, {against.rightly} if rounded; {said} is rounded against the boat"
    if why == "rounding":
        tail = (
            " in the boat's favour"
            if against.rounded == "in the boat's favour"
            else " the wrong way"
        )
        return f"{has}, {against.rightly} if rounded; {said} is rounded{tail}"
    way = "" if against.rounded == "neither way" else f", {against.rounded}"
    return f"{has}, {against.rightly} if rounded, and not {said}{way}"


def _beside(said: Said, figure: Figure, side: Side) -> str:
    """What must be known beside a figure that is supported."""
    mean = side.book.get(figure.what) if figure.run and figure.label else None
    if mean is None or mean.run or not math.isfinite(mean.value):
        return figure.remark
    return f"{figure.remark}; the mean both ways is {with_deviation(said, held(said, mean))}"


def _other(said: Said, figure: Figure, side: Side) -> str:
    """A hint at another result that would be said so, since it may have been meant."""
    fitting = [
        one
        for one in side.figures
        if one.name != figure.name
        and one.measure.quantity == said.quantity
        and math.isfinite(one.value)
        and held(said, one).fit == "agrees"
    ]
    related = [
        one
        for one in fitting
        if one.what == figure.what or (one.run == figure.run and one.run) or _peak(one, figure)
    ]
    if not related:
        return ""
    first = related[0]
    tail = "; a peak is no top speed" if _peak(first, figure) else ""
    return f"It is what {first.name} comes to{tail}"


def _peak(one: Figure, figure: Figure) -> bool:
    return (one.measure.name, figure.measure.name) == ("peak speed", "top speed")
