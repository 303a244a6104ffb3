"""What an audit leaves behind: the report, the same as a document, and the mark on the clip."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.audit.verdict import Verdict
from overlay.errors import AuditError
from overlay.report.audit_document import audit_document
from overlay.report.audit_page import audit_html
from overlay.workflow.auditing.mark import mark_audited, take_back
from overlay.workflow.auditing.pictures import pictures_of
from overlay.workflow.files import staged
from overlay.workflow.hashes import sha256_of
from overlay.workflow.outputs import ledger_of
from sync.media import probe

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any

PAGE_END, DOCUMENT_END = ".audit.html", ".audit.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditOutcome:
    """A verdict, where it is written, and what was done to the clip."""

    verdict: Verdict
    page: Path
    document: Path
    marked: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where the report and its document go."""

    page: Path
    document: Path


def places_for(film: Path, page: Path | None, claims: Path | None) -> Places:
    """Where they go, before anything is looked at.

    Raises
    ------
    AuditError
        Where the report would take the place of an input, or is no page.
    """
    page = page or film.with_name(f"{film.stem}{PAGE_END}")
    stem = page.name.removesuffix(page.suffix).removesuffix(".audit")
    document = page.with_name(f"{stem}{DOCUMENT_END}")
    if page.suffix.lower() not in (".html", ".htm"):
        raise AuditError("the report is a page", path=page, advice="give it the ending .html")
    if page.is_dir():
        raise AuditError("there is a folder in the way", path=page, advice="move it away")
    places = Places(page=page, document=document)
    _must_be_free(places, {film, ledger_of(film), *((claims,) if claims else ())})
    return places


def kept(verdict: Verdict, places: Places, *, mark: bool) -> AuditOutcome:
    """Write the report and the document of an audit, and mark the clip where all agrees.

    Raises
    ------
    AuditError
        Where the report would take the place of an input.
    OutputError
        Where something cannot be written; the clip has no mark then.
    """
    inputs = {verdict.sheet, *(piece.ledger_path for piece in verdict.pieces)}
    inputs |= {one.path for piece in verdict.pieces for one in piece.inputs if one.path}
    _must_be_free(places, inputs)
    film = verdict.film
    pictures = pictures_of(probe(film), verdict)
    agrees = verdict.outcome == "agrees"
    marked = ""
    if mark:
        unmarked = f"{film.name} is not marked, since not all of it agrees."
        marked = mark_audited(film) if agrees else unmarked
    try:
        facts: dict[str, Any] = {**audit_document(verdict), "film_sha256": sha256_of(film)}
        page = audit_html(verdict, pictures, film_sha256=facts["film_sha256"])
        with staged(places.page, places.document) as (page_part, document_part):
            page_part.write_text(page, encoding="utf-8")
            text = json.dumps(facts, indent=1, ensure_ascii=False)
            document_part.write_text(f"{text}\n", encoding="utf-8")
    except BaseException:
        if mark and agrees:
            take_back(film)
        raise
    return AuditOutcome(verdict=verdict, page=places.page, document=places.document, marked=marked)


def _must_be_free(places: Places, inputs: Iterable[Path]) -> None:
    taken = {path.resolve() for path in inputs}
    for place in (places.page, places.document):
        if place.resolve() in taken:
            raise AuditError(
                "the report would take the place of what it is about",
                path=place,
                advice="name another file with --report",
            )
