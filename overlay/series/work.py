"""One job, in a process of its own: `python -m overlay.series.work FOLDER`, the job on its input.

The job is the first line of its standard input, as JSON. It tells how far it is in lines of JSON on
its standard output, and writes one report at the end, which is there whole or not at all. What it
makes lies in a folder of its own until it is whole; the parent, or whoever takes the key up next,
removes that folder where the process was killed. When its standard input ends, its parent is gone,
and it stops.

The exit code is 0 where the report was written, whatever it says, 75 where somebody else works on
the key, 74 where no report could be written, with the sentence on the error stream, and 130 where
it was stopped.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import RenderError, SheetError
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job, job_from
from overlay.series.locks import LockedError, locked
from overlay.series.machine import peak_bytes_here
from overlay.series.outcome import AuditTold, JobReport, Output
from sync.errors import TrialReelError

if TYPE_CHECKING:
    from overlay.sheet.model import Clip
    from overlay.trial import Material
    from overlay.workflow.progress import Progress

TOLD_EVERY_S = 0.5
WRITTEN, NO_REPORT, BUSY, STOPPED = 0, 74, 75, 130

Clock = time.monotonic


class Teller:
    """Writes progress to the parent, seldom enough to cost nothing."""

    def __init__(self) -> None:
        self._told_s = -TOLD_EVERY_S
        self._stage = ""

    def __call__(self, stage: str, done: float, total: float) -> None:
        """Tell of a stage, unless it was just told of."""
        now, word = Clock(), stage.partition(" ")[0]
        if word == self._stage and now - self._told_s < TOLD_EVERY_S and done < total:
            return
        self._told_s, self._stage = now, word
        row = {"stage": word, "done": int(done), "of": int(total)}
        try:
            sys.stdout.write(json.dumps(row) + "\n")
            sys.stdout.flush()
        except OSError:
            os.kill(os.getpid(), signal.SIGTERM)  # nobody listens: the parent is gone


def do(job: Job, folder: SeriesFolder, progress: Progress) -> JobReport:
    """Do a job and say how it ended; an error that can be explained is an outcome.

    Raises
    ------
    LockedError
        Where somebody else works on the same key.
    """
    began = Clock()
    with locked(folder.lock(job.key)):
        known = folder.report_of(job)
        if folder.up_to_date(job):  # whoever held the lock before has done it
            return known or JobReport(job=job, outcome="done")
        folder.sweep(job)
        folder.drop_damaged(job)
        try:
            report = _tied(job, progress) if job.kind == "tie" else _made(job, folder, progress)
        except (TrialReelError, OSError, MemoryError) as error:
            report = JobReport(job=job, outcome="failed", sentence=_sentence(error))
        finally:
            folder.sweep(job)
        report = replace(
            report,
            seconds=round(Clock() - began, 3),
            peak_bytes=peak_bytes_here(),
            ended_utc=datetime.now(UTC).isoformat(timespec="seconds"),
        )
        _keep(report, folder)
        return report


def _sentence(error: BaseException) -> str:
    if isinstance(error, MemoryError):
        return "the machine has no memory left for this job."
    return " ".join(str(error).split())


def _keep(report: JobReport, folder: SeriesFolder) -> None:
    from overlay.workflow.files import write_json

    write_json(folder.report(report.key), report.as_document())


def _tied(job: Job, progress: Progress) -> JobReport:
    from overlay.trial import read_material
    from overlay.workflow.align import ties_for

    progress("tie", 0, 1)
    ties_for(read_material(Path(job.sheet)))
    progress("tie", 1, 1)
    return JobReport(job=job, outcome="done")


def _made(job: Job, folder: SeriesFolder, progress: Progress) -> JobReport:
    """Render a clip or a piece unless it is there, and audit a clip in its place."""
    began, rendered, frames = Clock(), 0.0, job.guess.frames
    warnings: tuple[str, ...] = ()
    if not folder.rendered(job):
        frames, warnings = _rendered(job, folder, progress)
        warnings = (*_of_pieces(job, folder), *warnings)
        rendered = Clock() - began
    folder.drop_pieces(job)
    audited = job.settings.audit and job.kind == "clip"
    audit = _audited(job, folder, progress) if audited else None
    names = [*job.output_names, *((audit.page, audit.document) if audit and audit.page else ())]
    return JobReport(
        job=job,
        outcome="done",
        render_s=round(rendered, 3),
        audit_s=round(Clock() - began - rendered, 3) if audit else 0.0,
        frames=frames,
        outputs={name: _output(folder.home(job) / name) for name in names},
        audit=audit,
        warnings=warnings,
    )


def _rendered(job: Job, folder: SeriesFolder, progress: Progress) -> tuple[int, tuple[str, ...]]:
    """Render a clip beside its place and move it there: its ledger first, so that a clip that is
    there has one."""
    from overlay.render import Recipe
    from overlay.series.inputs import take_over
    from overlay.series.wish import in_variant, wish_of, with_settings
    from overlay.trial import read_material
    from overlay.workflow.render import join_clip, render_of, render_piece

    material = in_variant(with_settings(read_material(Path(job.sheet)), job.settings), job.variant)
    clip = next(entry for entry in material.sheet.clips if entry.name == job.clip)
    if clip.recording in material.footage:
        take_over(job.inputs, job.stamps, material, clip)
    _refuse_change(job, material, clip)
    making = folder.making(job.key)
    making.mkdir()
    film, ledger = job.output_names
    wish = wish_of(clip, job.settings, job.variant, making / film)
    if job.recipe is not None:
        wish = replace(wish, recipe=Recipe(**job.recipe))
    if job.piece is not None:
        made = render_piece(material, job.clip, range(*job.piece), wish=wish, progress=progress)
    elif job.cuts:
        pieces = [folder.pieces / piece.output_names[0] for piece in job.pieces]
        try:
            made = join_clip(material, job.clip, pieces, wish=wish, progress=progress)
        except RenderError:
            folder.drop_unjoinable(job)
            raise
    else:
        made = render_of(material, job.clip, wish=wish, progress=progress).clips[0]
    _refuse_change(job, material, clip)
    for name in (ledger, film):
        (making / name).replace(folder.home(job) / name)
    return made.frames, made.warnings


def _of_pieces(job: Job, folder: SeriesFolder) -> tuple[str, ...]:
    """What was to be said of pieces, each with its frames."""
    told = []
    for piece in job.pieces:
        report = folder.report_of(piece)
        assert piece.piece is not None
        of = f"frames {piece.piece[0]} to {piece.piece[1]}"
        told += [f"{of}: {warning}" for warning in (report.warnings if report else ())]
    return tuple(told)


def _refuse_change(job: Job, material: Material, clip: Clip) -> None:
    """See that a clip is made from what it was planned from: its key says so.

    The hashes come from those that are kept, and the ledger's come from these.

    Raises
    ------
    SheetError
        Where something is another by now.
    """
    from overlay.series.inputs import changed_since, clip_inputs
    from overlay.workflow.align import kept_ties

    if clip.recording in material.unreadable:
        raise material.unreadable[clip.recording]
    changed = changed_since(job.inputs, clip_inputs(material, kept_ties(material), clip))
    if changed:
        raise SheetError(
            f"{changed} changed since this clip was planned",
            path=job.sheet,
            advice="run the series again",
        )


def _audited(job: Job, folder: SeriesFolder, progress: Progress) -> AuditTold:
    from overlay.report.audit_words import verdict_line
    from overlay.workflow.audit import audit_film

    outcome = audit_film(folder.clips / job.output_names[0], progress=progress)
    return AuditTold(
        outcome=outcome.verdict.outcome,
        sentence=verdict_line(outcome.verdict),
        page=outcome.page.name,
        document=outcome.document.name,
    )


def _output(path: Path) -> Output:
    from overlay.workflow.hashes import sha256_of

    return Output(sha256=sha256_of(path), size_bytes=path.stat().st_size)


def _stop_with_parent() -> None:
    """Stop when standard input ends: the kernel closes it, however the parent dies."""

    def wait() -> None:
        while os.read(0, 4096):
            pass
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=wait, name="trialreel-parent", daemon=True).start()


def _stopped(_number: int, _frame: object) -> None:
    raise KeyboardInterrupt


def _order() -> bytes:
    """The first line of standard input, all of it or what came before it ended.

    Not through `sys.stdin`: its lock would be held as the interpreter shuts down.
    """
    line = b""
    while not line.endswith(b"\n"):
        some = os.read(0, 65536)
        if not some:
            break
        line += some
    return line


def main(folder: Path) -> int:
    """Do the job that standard input names; returns the exit code."""
    try:
        signal.signal(signal.SIGTERM, _stopped)
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to answer
        code = _answer(folder)
        signal.signal(signal.SIGTERM, signal.SIG_IGN)  # it is over, and there is nothing to stop
    except KeyboardInterrupt:
        return STOPPED
    return code


def _answer(folder: Path) -> int:
    try:
        job = job_from(json.loads(_order()))
        _stop_with_parent()
        do(job, SeriesFolder(path=folder), Teller())
    except LockedError:
        return BUSY
    except (TrialReelError, OSError, ValueError, KeyError, TypeError) as error:
        sys.stderr.write(f"{_sentence(error)}\n")
        return NO_REPORT
    return WRITTEN


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
