"""The verdict on claims that no result supports: maker's data and opinions."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from overlay.audit.claims.digits import held, with_deviation
from overlay.audit.claims.judged import Judged, Verdict, Why
from overlay.audit.claims.measured import said_of, wrong_dimension
from overlay.audit.claims.side import Side, side_called
from overlay.audit.claims.words import quoted, sentence
from overlay.sheet.claims import Claim

_AS_MEASURED = re.compile(
    r"\b(?:we|our|us|i)\b[^.;]{0,40}\b(?:measured|timed|clocked|logged|recorded|tested|weighed|saw|"
    r"got|reached|hit|averaged|figures?|tests?|trials?|numbers?|results?)\b"
    r"|\b(?:measured|timed|clocked|logged|as tested|on test|on trial|in our)\b",
    re.IGNORECASE,
)
"""Words by which a film says that it measured something itself."""

_AS_THE_MAKERS = re.compile(
    r"\b(?:makers?|builders?|manufacturers?|yards?|brochures?|data sheets?|specifications?|"
    r"(?:they|it is|are|is) (?:said|claim|claims|claimed|state|states|stated|quote|quoted|rated)|"
    r"claims?|claimed|stated|quoted|rated|according to|published|official)\b",
    re.IGNORECASE,
)
"""Words by which it says that somebody else did."""


def judge_makers(number: int, claim: Claim, sides: Sequence[Side]) -> Judged:
    """Whether a maker's figure has its source and is not passed off as measured."""

    def made(verdict: Verdict, why: Why, told: str) -> Judged:
        return Judged(
            number=number,
            claim=claim,
            verdict=verdict,
            why=why,
            sentence=sentence(f"{quoted(claim)}: {told}", _beside(claim, sides)),
        )

    wrong = _wrong(claim, sides)
    if wrong:
        return made("not supported", "wrong dimension", wrong)
    if claim.source is None:
        return made("not supported", "no source", "the maker's figure is given without its source")
    credit = f"{claim.text or ''}. {claim.credit or ''}"
    own = None if claim.text is None else _AS_MEASURED.search(claim.text)
    if own is not None and not _AS_THE_MAKERS.search(credit):
        told = (
            f"the maker's figure is passed off as measured (“{own[0]}”); its source is "
            f"{claim.source}"
        )
        return made("not supported", "passed off as measured", told)
    if claim.credit is None and not _AS_THE_MAKERS.search(credit):
        told = (
            f"the maker's figure, from {claim.source}; nothing listed shows that the film says "
            "whose it is: say how in `credit`"
        )
        return made("cannot say", "not credited", told)
    told = f"the maker's figure, from {claim.source}, and the film says so; it was not checked"
    return made("supported", "credited", told)


def _wrong(claim: Claim, sides: Sequence[Side]) -> str:
    if claim.quantity is None or claim.value is None:
        return ""
    return wrong_dimension(said_of(claim), sides[0].named(claim.quantity))


def _beside(claim: Claim, sides: Sequence[Side]) -> str:
    """What the trial's own results have for the same quantity, since viewers will hold the two
    against each other."""
    side = sides[0] if claim.trial is None else side_called(claim.trial, sides)
    if side is None or claim.quantity is None or claim.value is None:
        return ""
    said, found = said_of(claim), side.named(claim.quantity)
    if found.figure is None or not math.isfinite(found.figure.value):
        return ""
    if found.figure.measure.quantity != said.quantity:
        return ""
    return f"This trial measured {with_deviation(said, held(said, found.figure))}"


def judge_opinion(number: int, claim: Claim) -> Judged:
    """An opinion is listed, so that whoever signs has seen it."""
    return Judged(
        number=number,
        claim=claim,
        verdict="listed",
        why="opinion",
        sentence=sentence(f"{quoted(claim)}: an opinion, which no log supports or denies"),
    )
