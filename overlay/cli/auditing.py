"""`trialreel audit`: its options, and what it prints."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from overlay.cli.options import AsJson

if TYPE_CHECKING:
    from collections.abc import Iterator

    from overlay.audit.verdict import Verdict
    from overlay.workflow.auditing.outcome import AuditOutcome

Reader = Literal["glyphs", "tesseract", "both"]

MOST_LINES = 12
"""So many disagreements are printed; the report has all."""


def audit(
    film: Annotated[
        Path, typer.Argument(metavar="FILM", help="A clip as it was rendered, or an edited film.")
    ],
    against: Annotated[
        Path | None,
        typer.Option(
            "--against",
            metavar="SHEET",
            help="The trial that a film was cut from; a clip has its ledger beside it.",
        ),
    ] = None,
    every: Annotated[
        str | None,
        typer.Option(
            "--every", metavar="TIME", help="A frame every 0.5s, say; each of them without it."
        ),
    ] = None,
    reader: Annotated[
        Reader,
        typer.Option("--reader", help="By the font's own letters, by Tesseract, or both by turns."),
    ] = "glyphs",
    claims: Annotated[
        Path | None,
        typer.Option("--claims", metavar="FILE", help="What the film's script says, as claims."),
    ] = None,
    report: Annotated[
        Path | None,
        typer.Option("--report", metavar="PAGE", help="Where the report goes; beside the film."),
    ] = None,
    mark: Annotated[
        bool, typer.Option("--mark", help="Write into the clip that it was audited, if it agrees.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Read the digits off a film and hold them against the logs.

    Picture, ledger and logs are held against each other, and the tie against a clue that it does
    not rest on. The report is a page to sign, and a document for programs. The exit code is 0 where
    all agrees, 1 where something disagrees, and 3 where too little could be read to say.
    """
    from overlay.cli import console
    from overlay.workflow.audit import audit_film, every_s
    from overlay.workflow.auditing.job import AuditWish

    wish = AuditWish(
        every_s=None if every is None else every_s(every), reader=reader, claims=claims
    )
    with console.progress(quiet=as_json) as bar:
        outcome = audit_film(film, against, wish=wish, report=report, mark=mark, progress=bar)
    code = tell(outcome, as_json=as_json)
    if code:
        raise typer.Exit(code)


def tell(outcome: AuditOutcome, *, as_json: bool) -> int:
    """Print the verdict; returns the exit code."""
    from overlay.cli.console import OUT, as_document
    from overlay.cli.show_table import paragraph
    from overlay.report.audit_document import audit_document
    from overlay.report.audit_words import verdict_line

    verdict = outcome.verdict
    if as_json:
        as_document({**audit_document(verdict), "report": str(outcome.page)})
        return _code(verdict)
    paragraph(verdict_line(verdict))
    for label, text in _rows(verdict):
        paragraph(text, indent="  ", mark=f"{label:<8}")
    for label, path in (("report", outcome.page), ("data", outcome.document)):
        OUT.print(f"  {label:<8}{path}", soft_wrap=True)  # a path that is broken is of no use
    if outcome.marked:
        paragraph(outcome.marked, indent="  ", mark="mark    ")
    return _code(verdict)


def _rows(verdict: Verdict) -> Iterator[tuple[str, str]]:
    """What is printed of a verdict: what it is about, and a sentence."""
    from overlay.report.audit_words import results_text

    counts, wrong = verdict.counts, [d for piece in verdict.pieces for d in piece.disagreements]
    read = f"{counts.characters - counts.unread:,} of {counts.characters:,} characters"
    yield "read", f"{read} on {counts.frames_read:,} of {counts.frames:,} frames"
    yield from (("wrong", one.sentence) for one in wrong[:MOST_LINES])
    if len(wrong) > MOST_LINES:
        yield "", f"and {len(wrong) - MOST_LINES} more, which the report has"
    inputs = {one.name: one for piece in verdict.pieces for one in piece.inputs}
    for one in inputs.values():
        if one.state != "same":
            what = "has changed" if one.state == "changed" else "is gone"
            yield "input", f"{one.name} {what} since the render"
    unheld = {f"{one.what}: {one.why}" for piece in verdict.pieces for one in piece.unheld}
    yield from (("unheld", one) for one in sorted(unheld))
    yield from (("tie", one) for one in {piece.tie_check.sentence for piece in verdict.pieces})
    if verdict.results:
        yield "results", results_text(verdict)
    yield from (("shot", shot.sentence) for shot in verdict.shots)
    yield from (("claim", claim.sentence) for claim in verdict.claims)
    notes = {note for piece in verdict.pieces for note in piece.notes}
    yield from (("note", note) for note in (*verdict.warnings, *sorted(notes)))


def _code(verdict: Verdict) -> int:
    from overlay.cli.exit_codes import CANNOT_SAY, DONE, FAILED

    return {"agrees": DONE, "disagrees": FAILED, "cannot say": CANNOT_SAY}[verdict.outcome]
