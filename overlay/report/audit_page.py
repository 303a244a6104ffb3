"""The report of an audit: one HTML file that needs nothing beside it, for whoever signs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from overlay.audit.claims.judged import Judged
from overlay.audit.verdict import Disagreement, Input, Piece, Verdict
from overlay.report import audit_words
from overlay.report.audit_document import audit_document
from overlay.report.audit_pictures import NO_PICTURES, Pictures, Which, address
from overlay.report.audit_timeline import NAMED, timeline_svg
from overlay.report.furniture import furnished

__all__ = ["audit_document", "audit_html", "shown_whole"]

MOST_WHOLE = 16
"""So many disagreements are shown with their picture and the logs around them."""

MOST_ROWS = 400
"""So many more are listed; beyond, the page says how many the document has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A disagreement with its number on the page and the address of its crop, if there is one."""

    number: int
    piece: str
    of: Disagreement
    picture: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What the template prints: disagreements that are shown whole, those that are rows, how many
    are left to the document, and all else as the verdict has it."""

    verdict: Verdict
    pictures: Pictures
    line: str
    timeline: str
    whole: tuple[Shown, ...]
    rows: tuple[Shown, ...]
    left: int
    inputs: tuple[Input, ...]
    claims: tuple[tuple[str, tuple[Judged, ...]], ...]
    film_sha256: str

    @property
    def edited(self) -> bool:
        """Whether the film has several pieces, so that each must be named."""
        return len(self.verdict.pieces) > 1


def shown_whole(verdict: Verdict) -> tuple[Which, ...]:
    """Which disagreements the page shows with a crop, in the order of the film.

    The first of every thing that disagrees comes before the second of any, so that a hundred
    wrong speeds do not hide one wrong label.
    """
    everyone = [
        (piece, index, one)
        for piece, part in enumerate(verdict.pieces)
        for index, one in enumerate(part.disagreements)
    ]
    seen: dict[tuple[str, str, str], int] = {}
    ranked = []
    for order, (piece, index, one) in enumerate(everyone):
        kind = (one.sort, one.instrument, one.item)
        seen[kind] = seen.get(kind, 0) + 1
        ranked.append((seen[kind], order, (piece, index)))
    chosen = sorted(ranked)[:MOST_WHOLE]
    return tuple(which for _, _, which in sorted(chosen, key=lambda entry: entry[1]))


def audit_html(verdict: Verdict, pictures: Pictures = NO_PICTURES, *, film_sha256: str = "") -> str:
    """The audit as one HTML page: pictures inline, no script, nothing from elsewhere.

    Parameters
    ----------
    film_sha256
        Of the film's file, so that a signature is for that one and no other.
    """
    facts = {"page": _page(verdict, pictures, film_sha256), "words": audit_words, "named": NAMED}
    return furnished("audit.html.j2", ("page.css.j2", "audit.css.j2"), facts)


def _page(verdict: Verdict, pictures: Pictures, film_sha256: str) -> Page:
    chosen = set(shown_whole(verdict))
    whole: list[Shown] = []
    rows: list[Shown] = []
    number = 0
    for at, piece in enumerate(verdict.pieces):
        for index, one in enumerate(piece.disagreements):
            number += 1
            data = pictures.crops.get((at, index))
            shown = Shown(
                number=number,
                piece=piece.name,
                of=one,
                picture="" if data is None else address(data),
            )
            (whole if (at, index) in chosen else rows).append(shown)
    return Page(
        verdict=verdict,
        pictures=pictures,
        line=audit_words.verdict_line(verdict),
        timeline=timeline_svg(verdict.pieces),
        whole=tuple(whole),
        rows=tuple(rows[:MOST_ROWS]),
        left=max(0, len(rows) - MOST_ROWS),
        inputs=_inputs(verdict.pieces),
        claims=_by_kind(verdict.claims),
        film_sha256=film_sha256,
    )


def _inputs(pieces: Sequence[Piece]) -> tuple[Input, ...]:
    """Every input once, those that are no longer what they were first."""
    known = dict.fromkeys(one for piece in pieces for one in piece.inputs)
    order = {"changed": 0, "missing": 1, "same": 2}
    return tuple(sorted(known, key=lambda one: order[one.state]))


def _by_kind(claims: Sequence[Judged]) -> tuple[tuple[str, tuple[Judged, ...]], ...]:
    """The claims of each kind, in the order in which kinds are explained."""
    titles = {
        "measured": "Measured",
        "comparison": "Comparisons",
        "maker's data": "Maker's data",
        "opinion": "Opinions",
    }
    found = (
        (title, tuple(one for one in claims if one.claim.kind == kind))
        for kind, title in titles.items()
    )
    return tuple((title, group) for title, group in found if group)
