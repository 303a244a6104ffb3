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
from overlay.workflow.auditing.mark import mark_audited
from overlay.workflow.auditing.pictures import pictures_of
from overlay.workflow.files import write_whole
from overlay.workflow.hashes import sha256_of
from sync.media import probe

if TYPE_CHECKING:
    from typing import Any

PAGE_END, DOCUMENT_END = ".audit.html", ".audit.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditOutcome:
    """A verdict, where it is written, and what was done to the clip."""

    verdict: Verdict
    page: Path
    document: Path
    marked: str = ""


def kept(verdict: Verdict, page: Path | None, *, mark: bool) -> AuditOutcome:
    """Write the report and the document of an audit, and mark the clip where all agrees.

    Parameters
    ----------
    page
        Where the report goes; beside the film without it.

    Raises
    ------
    AuditError
        Where the report would take the place of an input.
    OutputError
        Where something cannot be written.
    """
    film = verdict.film
    page = page or film.with_name(f"{film.stem}{PAGE_END}")
    stem = page.name.removesuffix(page.suffix).removesuffix(".audit")
    document = page.with_name(f"{stem}{DOCUMENT_END}")
    _must_be_free(page, document, verdict)
    marked = ""
    if mark:
        marked = mark_audited(film) if verdict.outcome == "agrees" else _unmarked(verdict)
    facts: dict[str, Any] = {**audit_document(verdict), "film_sha256": sha256_of(film)}
    pictures = pictures_of(probe(film), verdict)
    write_whole(page, audit_html(verdict, pictures, film_sha256=facts["film_sha256"]).encode())
    write_whole(document, (json.dumps(facts, indent=1, ensure_ascii=False) + "\n").encode())
    return AuditOutcome(verdict=verdict, page=page, document=document, marked=marked)


def _unmarked(verdict: Verdict) -> str:
    return f"{verdict.film.name} is not marked, since not all of it agrees."


def _must_be_free(page: Path, document: Path, verdict: Verdict) -> None:
    inputs = {verdict.film, verdict.sheet, *(piece.ledger_path for piece in verdict.pieces)}
    inputs |= {one.path for piece in verdict.pieces for one in piece.inputs if one.path}
    taken = {path.resolve() for path in inputs}
    for place in (page, document):
        if place.resolve() in taken:
            raise AuditError(
                "the report would take the place of what it is about",
                path=place,
                advice="name another file with --report",
            )
    if page.suffix.lower() not in (".html", ".htm"):
        raise AuditError("the report is a page", path=page, advice="give it the ending .html")
