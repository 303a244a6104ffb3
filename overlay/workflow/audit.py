"""`trialreel audit`: what a finished film shows, held against its ledger and the logs."""

from __future__ import annotations

import math
from datetime import UTC as UTC_ZONE
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.audit.verdict import Piece, Verdict
from overlay.errors import AuditError, WishError
from overlay.trial import read_material
from overlay.workflow.auditing.film import Cut, audit_cut
from overlay.workflow.auditing.independent import check_tie
from overlay.workflow.auditing.inputs import standing_ties
from overlay.workflow.auditing.job import AS_USUAL, AuditWish, Job
from overlay.workflow.auditing.outcome import AuditOutcome, kept, places_for
from overlay.workflow.auditing.piece import Watched, piece_of
from overlay.workflow.auditing.rendered import frames_as_rendered, open_render
from overlay.workflow.auditing.said import Figures, figures_of, held_results, judged
from overlay.workflow.auditing.same_film import other_pictures
from overlay.workflow.clip_facts import made_by
from overlay.workflow.locate import find_sheet
from overlay.workflow.outputs import ledger_of
from overlay.workflow.progress import Progress, nobody
from sync.media import frame_times, probe
from sync.units import parse_quantity

if TYPE_CHECKING:
    from sync.media import Footage


def every_s(text: str) -> float:
    """How long lies between two frames that are looked at, from a text such as `0.5 s`.

    Raises
    ------
    UnitError
        Where it is no time.
    WishError
        Where it is not above nothing.
    """
    given = parse_quantity(text, "time")
    if not 0 < given < math.inf:
        raise WishError(f"a frame every {text} cannot be looked at", advice="write 0.5s")
    return given


def audit_film(
    film: Path,
    against: Path | None = None,
    *,
    wish: AuditWish = AS_USUAL,
    report: Path | None = None,
    mark: bool = False,
    progress: Progress = nobody,
) -> AuditOutcome:
    """Audit a film and write the report; see `audit` and `kept`.

    Raises
    ------
    WishError
        Where a clip is to be marked of which not every frame is looked at.
    """
    if mark and wish.every_s is not None:
        raise WishError(
            "a mark says that every frame was read", advice="leave out --every, or --mark"
        )
    places = places_for(film, report, wish.claims)
    return kept(audit(film, against, wish=wish, progress=progress), places, mark=mark)


def audit(
    film: Path,
    against: Path | None = None,
    *,
    wish: AuditWish = AS_USUAL,
    progress: Progress = nobody,
) -> Verdict:
    """Audit a clip that is as it was rendered, or a film that was cut from such clips.

    Parameters
    ----------
    film
        With its ledger beside it it is taken for a clip as it was rendered.
    against
        The sheet or the folder of the trial that a film was cut from; of a clip the sheet, where it
        does not lie in the clip's folder or the one above.

    Raises
    ------
    AuditError
        Where a clip has no ledger beside it that can be used, or a film nothing to come from.
    SheetError
        Where there is no sheet.
    FootageError
        Where the film cannot be decoded.
    """
    footage = probe(film)
    ledger_path = ledger_of(film)
    rendered = ledger_path.is_file()
    if against is None and not rendered:
        raise AuditError(
            "this film has no ledger beside it",
            path=film,
            advice="name the trial that it was cut from with --against",
        )
    sheet_path = _sheet_of(ledger_path) if against is None else find_sheet(against)
    material = read_material(sheet_path)
    ties, warnings = standing_ties(material)
    job = Job(material=material, ties=ties, wish=wish, progress=progress)
    figures = figures_of(material, job.ties)
    if rendered:
        cut = Cut(pieces=(_whole(footage, ledger_path, job, figures),))
    else:
        cut = audit_cut(footage, job)
    return Verdict(
        film=film,
        sheet=material.sheet_path,
        trial=material.sheet.name,
        software=made_by(),
        made_utc=datetime.now(UTC_ZONE).isoformat(timespec="seconds"),
        readers=job.readers,
        pieces=cut.pieces,
        shots=cut.shots,
        claims=judged(wish.claims, material, figures),
        results=held_results(figures),
        warnings=(*warnings, *cut.warnings, *_not_done(figures)),
    )


def _sheet_of(ledger_path: Path) -> Path:
    """The sheet that a ledger names, looked for where clips lie below it."""
    from overlay.ledger import read_ledger

    try:
        name = str(read_ledger(ledger_path).facts.get("sheet", "trial.toml"))
    except (OSError, ValueError) as error:
        raise AuditError(
            f"this is no ledger that can be read ({error})", path=ledger_path, advice="render again"
        ) from error
    folder = ledger_path.resolve().parent
    for place in (folder, *folder.parents[:2]):
        if (place / name).is_file():
            return place / name
    raise AuditError(
        f"this ledger was made with the sheet {name}, which is neither here nor above",
        path=ledger_path,
        advice="name it with --against",
    )


def _not_done(figures: Figures) -> tuple[str, ...]:
    """What of the day was not worked out a second time, in a sentence."""
    if not figures.why:
        return ()
    return (f"The day's results were not worked out a second time: {figures.why}.",)


def _whole(film: Footage, ledger_path: Path, job: Job, figures: Figures) -> Piece:
    """A clip as it was rendered."""
    render = open_render(ledger_path, job.material.sheet_path, figures.document)
    times = frame_times(film)
    base = float(Fraction(str(render.facts.get("time_base", times.time_base))))
    frames, wrong = frames_as_rendered(times.seconds(), render, base)
    watched = Watched(
        name=film.path.name,
        found=job.read(film, render.layout, frames, film.path.name),
        frames=frames,
        span_s=(times.span.start_s, times.span.stop_s),
        more=(*wrong, *other_pictures(film, ledger_path, frames)),
    )
    middle = frames.number.size // 2
    tie_check = check_tie(
        job.material,
        job.ties,
        str(render.facts.get("recording", "")),
        film,
        t_film_s=float(frames.t_film_s[middle]),
        t_utc_s=float(frames.t_utc_s[middle]),
    )
    return piece_of(watched, render, job, tie_check)
