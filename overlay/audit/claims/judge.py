"""All claims of a film, held against the results of its trial and against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from overlay.audit.claims.clashes import clashes_among
from overlay.audit.claims.comparison import judge_comparison
from overlay.audit.claims.judged import Clash, Judged
from overlay.audit.claims.measured import judge_measured
from overlay.audit.claims.others import judge_makers, judge_opinion
from overlay.audit.claims.side import LinesOf, Side, side_of
from overlay.audit.claims.standing import Document
from overlay.audit.claims.words import sentence
from overlay.sheet.claims import Claim


def judge(
    claims: Sequence[Claim],
    results_document: Document,
    *,
    others: Sequence[Document] = (),
    reserve: float | None = None,
    lines_of: LinesOf | None = None,
) -> tuple[Judged, ...]:
    """The verdict on each claim, in their order.

    Parameters
    ----------
    claims
        As `load_claims` has them, or the sheet.
    results_document
        The trial's results, as its JSON is (`results/1`).
    others
        Results of other trials that the film speaks of.
    reserve
        The share of the usable tank that range keeps back, as the sheet states it.
    lines_of
        Tells the lines of a log's file between two instants, where the log is still at hand.

    Raises
    ------
    AnalysisError
        Where a document is no results document, or not whole.
    """
    sides = (side_of(results_document, lines_of), *(side_of(one) for one in others))
    clashes = clashes_among(claims, sides, reserve)
    return tuple(
        _with_clashes(_one(number, claim, sides), clashes)
        for number, claim in enumerate(claims, start=1)
    )


def _one(number: int, claim: Claim, sides: Sequence[Side]) -> Judged:
    if claim.kind == "measured":
        return judge_measured(number, claim, sides)
    if claim.kind == "maker's data":
        return judge_makers(number, claim, sides)
    if claim.kind == "comparison":
        return judge_comparison(number, claim, sides)
    return judge_opinion(number, claim)


def _with_clashes(judged: Judged, clashes: Sequence[Clash]) -> Judged:
    """The verdict with the contradictions that the claim is part of.

    What the results can say stands; where they cannot, a film that contradicts itself is wrong at
    one of the two places, and neither is supported.
    """
    mine = tuple(clash for clash in clashes if judged.number in clash.claims)
    if not mine:
        return judged
    told = sentence(judged.sentence, *(clash.sentence for clash in mine))
    made = replace(judged, clashes=mine, sentence=told)
    if judged.verdict != "cannot say":
        return made
    return replace(made, verdict="not supported", why="contradicts itself")
