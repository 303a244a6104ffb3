"""`trialreel render`: the clips of a sheet, each with its ledger."""

from __future__ import annotations

import logging
import os
from dataclasses import asdict, dataclass
from pathlib import Path

from overlay.analysis.results import Results, compute_results
from overlay.errors import AnalysisError, SheetError
from overlay.graphics.faceplate import Faceplate, load_faceplate
from overlay.graphics.plan import compile_plan
from overlay.graphics.subject import Subject
from overlay.ledger import LedgerWriter
from overlay.render import Burned, burn, surface_of
from overlay.render.tags import clip_tags
from overlay.sheet.model import Clip
from overlay.trial import Material, Trial, build_trial, log_span, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.chapters import chapters_of
from overlay.workflow.clip_facts import (
    comment,
    faceplate_told,
    facts_of,
    sources_shown,
    tie_facts,
)
from overlay.workflow.files import staged
from overlay.workflow.filmed import Filmed, cut_of, first_launch, in_film, run_called, runs_of
from overlay.workflow.hashes import hashing, input_hashes, sha256_of
from overlay.workflow.locate import find_sheet
from overlay.workflow.outputs import faceplate_name, ledger_of, output_path, told_of
from overlay.workflow.progress import Progress, nobody
from overlay.workflow.subject import subject_of
from overlay.workflow.wanted import placed_by, wanted
from overlay.workflow.wishes import Wish
from sync.clock import ClockMap, Span, utc_text
from sync.media import frame_times, on_proxy

_log = logging.getLogger(__name__)

AS_THE_SHEET = Wish()


@dataclass(frozen=True, slots=True, kw_only=True)
class RenderedClip:
    """One finished clip and its ledger."""

    name: str
    path: Path
    ledger_path: Path
    frames: int
    length_s: float
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RenderOutcome:
    """All clips that were made."""

    clips: tuple[RenderedClip, ...]


def render(
    sheet: Path, clip: str | None = None, *, wish: Wish = AS_THE_SHEET, progress: Progress = nobody
) -> RenderOutcome:
    """Render one clip of a sheet, or all of them, or a recording as a whole.

    Parameters
    ----------
    clip
        A clip of the sheet, or a recording of it.

    Raises
    ------
    SheetError
        Where the sheet has no such clip, or no clip at all.
    TieRefused
        Where the recording of a clip is not tied to the logs.
    AnalysisError
        Where the run that a clip shows was not found, or lies outside the footage.
    RenderError, OutputError
        Where the clip cannot be made.
    """
    return render_of(read_material(find_sheet(sheet)), clip, wish=wish, progress=progress)


def render_of(
    material: Material,
    clip: str | None = None,
    *,
    wish: Wish = AS_THE_SHEET,
    progress: Progress = nobody,
) -> RenderOutcome:
    """The same for what has been read already."""
    clips = wanted(material, clip, wish)
    for entry in clips:
        if entry.recording in material.unreadable:
            raise material.unreadable[entry.recording]
    trial = build_trial(material, ties_for(material))
    results = compute_results(trial)
    for entry in clips:
        _output(entry, material, wish)
    made = [_render_one(trial, results, entry, wish, progress) for entry in clips]
    return RenderOutcome(clips=tuple(made))


def _render_one(
    trial: Trial, results: Results, clip: Clip, wish: Wish, progress: Progress
) -> RenderedClip:
    material, footage = trial.material, trial.material.footage[clip.recording]
    if wish.proxy:
        footage = on_proxy(footage)
    recipe = wish.recipe_for(footage)
    to_utc, times = trial.footage_to_utc(clip.recording), frame_times(footage)
    must_meet(trial, clip, to_utc, times.span)
    clip = placed_by(wish, clip, footage, times, to_utc, trial.sheet.time_zone)
    run = run_of(trial, results, clip, to_utc, times.span)
    cut = cut_of(clip, run, to_utc, times.span)
    seen = cut or times.span
    shown = Span(start_s=to_utc.carry(seen.start_s), stop_s=to_utc.carry(seen.stop_s))
    subject = subject_of(trial, run, shown)
    faceplate = load_faceplate(faceplate_name(clip, material.folder, faceplate_for(subject)))
    plan = compile_plan(faceplate, picture=surface_of(footage, recipe).picture, subject=subject)
    output = _output(clip, material, wish)
    ledger_path = ledger_of(output)
    facts = facts_of(trial, results, clip.name, subject, plan) | {
        "tie": tie_facts(trial.ties.by_clock[f"footage:{clip.recording}"]),
        "recipe": asdict(recipe),
        "codec": recipe.codec,
        "strip_location": wish.strip_location,
        "recording": clip.recording,
        "faceplate": faceplate_told(faceplate, material.folder),
        **_sheet_from(wish, material),
    }
    _log.info("render %s to %s", clip.name, output)
    with (
        staged(output, ledger_path) as (film_part, ledger_part),
        told_of(film_part, output),
        LedgerWriter(ledger_part, facts, sources_shown(trial, faceplate, subject)) as ledger,
        hashing(lambda: _inputs(material, clip.recording, faceplate)) as hashes,
    ):
        burned = burn(
            footage,
            film_part,
            plan=plan,
            clock_map=to_utc,
            span=cut,
            recipe=recipe,
            record=ledger.record,
            keep_print=ledger.keep_print,
            progress=lambda done, total: progress(f"render {clip.name}", done, total),
            tags=clip_tags(footage, comment(), strip_location=wish.strip_location),
            chapters=chapters_of(subject.run, results, to_utc, seen),
        )
        ledger.add_facts({"inputs": hashes.result(), "time_base": str(burned.time_base)})
    return _rendered(clip, output, ledger_path, burned, plan.remarks)


def _output(clip: Clip, material: Material, wish: Wish) -> Path:
    if wish.place is not None:
        return wish.place
    output = output_path(clip, material)
    return output.with_stem(f"{output.stem}-proxy") if wish.proxy else output


def _sheet_from(wish: Wish, material: Material) -> dict[str, str]:
    """Where the sheet lies from a clip that is put elsewhere, for whoever audits it."""
    if wish.place is None:
        return {}
    return {"sheet": os.path.relpath(material.sheet_path, wish.place.parent)}


def _inputs(material: Material, recording: str, faceplate: Faceplate) -> dict[str, str]:
    """Hashes of all that a clip is made from."""
    own = {"faceplate": sha256_of(faceplate.path)} if faceplate.path else {}
    return {**input_hashes(material, recording), **own}


def _rendered(
    clip: Clip, output: Path, ledger_path: Path, burned: Burned, remarks: tuple[str, ...]
) -> RenderedClip:
    return RenderedClip(
        name=clip.name,
        path=output,
        ledger_path=ledger_path,
        frames=burned.frames,
        length_s=burned.seconds,
        warnings=(*burned.warnings, *remarks),
    )


def must_meet(trial: Trial, clip: Clip, to_utc: ClockMap, whole: Span) -> None:
    """See that the logs say something of a recording, whose whole span is given on its clock.

    Raises
    ------
    AnalysisError
        Where they do not.
    """
    logs = log_span(trial)
    film = Span(start_s=to_utc.carry(whole.start_s), stop_s=to_utc.carry(whole.stop_s))
    if logs is None:
        raise AnalysisError("no log of this trial has a value", path=trial.material.sheet_path)
    if logs.overlap(film) is None:
        order = "end before" if logs.stop_s <= film.start_s else "begin after"
        raise AnalysisError(
            f"the logs ({utc_text(logs.start_s, 0)} to {utc_text(logs.stop_s, 0)}) {order} the "
            f"footage of {clip.recording!r} ({utc_text(film.start_s, 0)} to "
            f"{utc_text(film.stop_s, 0)})",
            path=trial.material.sheet_path,
            key=f"clips, {clip.name}",
            advice="check the tie of the recording and the day of the logs",
        )


def run_of(
    trial: Trial, results: Results, clip: Clip, to_utc: ClockMap, whole: Span
) -> Filmed | None:
    """The run that a clip shows, as far as its recording has it.

    Raises
    ------
    SheetError
        Where the sheet names a run that was not found.
    AnalysisError
        Where it is not in the footage.
    """
    film = Span(start_s=to_utc.carry(whole.start_s), stop_s=to_utc.carry(whole.stop_s))
    if clip.run is None:
        return first_launch(results, film)
    run = run_called(results, clip.run)
    if run is None:
        raise SheetError(
            f"there is no run called {clip.run!r}",
            path=trial.material.sheet_path,
            key=f"clips, {clip.name}",
            allowed=tuple(found.name for found in runs_of(results)),
            advice="`trialreel results` lists the runs, and what is missing and why",
        )
    filmed = in_film(run, film)
    if filmed is None:
        raise AnalysisError(
            f"{clip.run} ({utc_text(run.span.start_s, 0)}) is not in the footage of "
            f"{clip.recording!r} ({utc_text(film.start_s, 0)} to {utc_text(film.stop_s, 0)})",
            path=trial.material.sheet_path,
            key=f"clips, {clip.name}",
        )
    return filmed


def faceplate_for(subject: Subject) -> str:
    """The faceplate that suits a run where the sheet names none."""
    kind = subject.run.kind
    if kind == "launch" and "engine_speed.1" in subject.signals:
        return "twin"
    return {"top speed": "top_speed", "stop": "launch", "span": "quiet"}.get(kind, kind)
