"""`trialreel render`: the clips of a sheet, each with its ledger."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from overlay.analysis.results import Results, compute_results
from overlay.errors import AnalysisError, SheetError
from overlay.graphics.faceplate import Faceplate, load_faceplate
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.plan import compile_plan
from overlay.graphics.subject import Subject
from overlay.ledger import LedgerWriter, Source
from overlay.render import Burned, Recipe, burn, surface_of
from overlay.render.tags import clip_tags
from overlay.sheet.model import Clip
from overlay.trial import Material, Trial, build_trial, log_span, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.faces import turning_key
from overlay.workflow.files import staged
from overlay.workflow.filmed import Filmed, cut_of, first_launch, in_film, run_called, runs_of
from overlay.workflow.hashes import input_hashes, sha256_of
from overlay.workflow.locate import find_sheet
from overlay.workflow.outputs import faceplate_name, ledger_of, output_path, told_of
from overlay.workflow.progress import Progress, nobody
from overlay.workflow.subject import signals_shown, subject_of
from sync.clock import ClockMap, Span, utc_text
from sync.media import frame_times, on_proxy
from sync.tie import Tie

_log = logging.getLogger(__name__)

NOT_AUDITED = "not yet audited"


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
    sheet: Path,
    clip: str | None = None,
    *,
    recipe: Recipe | None = None,
    progress: Progress = nobody,
    proxy: bool = False,
) -> RenderOutcome:
    """Render one clip of a sheet, or all of them.

    With `proxy` the low-resolution twins of the recordings are rendered on, for a quick look,
    and the clips' names say so.

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
    material = read_material(find_sheet(sheet))
    return render_of(material, clip, recipe=recipe, progress=progress, proxy=proxy)


def render_of(
    material: Material,
    clip: str | None = None,
    *,
    recipe: Recipe | None = None,
    progress: Progress = nobody,
    proxy: bool = False,
) -> RenderOutcome:
    """The same for what has been read already."""
    clips = _wanted(material.sheet.clips, clip, material.sheet_path)
    for entry in clips:
        if entry.recording in material.unreadable:
            raise material.unreadable[entry.recording]
    trial = build_trial(material, ties_for(material))
    results = compute_results(trial)
    for entry in clips:
        output_path(entry, material)
    made = [
        _render_one(trial, results, entry, recipe or Recipe(), progress, proxy=proxy)
        for entry in clips
    ]
    return RenderOutcome(clips=tuple(made))


def _wanted(clips: list[Clip], name: str | None, path: Path) -> list[Clip]:
    if not clips:
        raise SheetError("the sheet lists no clips", path=path, advice="add one under [[clips]]")
    if name is None:
        return clips
    for entry in clips:
        if entry.name == name:
            return [entry]
    raise SheetError(
        f"there is no clip called {name!r}",
        path=path,
        key="clips",
        allowed=tuple(entry.name for entry in clips),
    )


def _render_one(
    trial: Trial,
    results: Results,
    clip: Clip,
    recipe: Recipe,
    progress: Progress,
    *,
    proxy: bool,
) -> RenderedClip:
    footage = trial.material.footage[clip.recording]
    if proxy:
        footage = on_proxy(footage)
    to_utc = trial.footage_to_utc(clip.recording)
    whole = frame_times(footage).span
    _must_meet(trial, clip, to_utc, whole)
    run = _run_of(trial, results, clip, to_utc, whole)
    cut = cut_of(clip, run, to_utc, whole)
    shown = Span(
        start_s=to_utc.carry((cut or whole).start_s), stop_s=to_utc.carry((cut or whole).stop_s)
    )
    subject = subject_of(trial, run, shown)
    faceplate = load_faceplate(faceplate_name(clip, trial.material.folder, faceplate_for(subject)))
    plan = compile_plan(faceplate, picture=surface_of(footage, recipe).picture, subject=subject)
    output = output_path(clip, trial.material)
    if proxy:
        output = output.with_stem(f"{output.stem}-proxy")
    ledger_path = ledger_of(output)
    facts = _facts(trial, results, clip, subject, recipe, faceplate.path)
    _log.info("render %s to %s", clip.name, output)
    with (
        staged(output, ledger_path) as (film_part, ledger_part),
        told_of(film_part, output),
        LedgerWriter(ledger_part, facts, _sources(trial, faceplate, subject)) as ledger,
    ):
        burned = burn(
            footage,
            film_part,
            plan=plan,
            clock_map=to_utc,
            span=cut,
            recipe=recipe,
            record=ledger.record,
            progress=lambda done, total: progress(f"render {clip.name}", done, total),
            tags=clip_tags(footage, f"trialreel {version('trialreel')}; {NOT_AUDITED}"),
        )
    return _rendered(clip, output, ledger_path, burned, plan.remarks)


def _sources(trial: Trial, faceplate: Faceplate, subject: Subject) -> dict[Source, tuple[str, str]]:
    """By instrument, or by its item, the channel that its numbers follow from and the log that
    this comes from."""
    channels: dict[Source, str] = {}
    for spec in faceplate.instruments:
        kind = INSTRUMENTS[spec.kind]
        channels[spec.name] = spec.channel or turning_key(trial, kind.follows_from)
        if spec.kind == "neatline":
            channels |= {(spec.name, mark.label): mark.channel for mark in subject.run.marks}
        if kind.twin:
            name = spec.channel.partition(".")[0]
            for item, engine in zip(("port", "starboard"), subject.sides, strict=True):
                channels[spec.name, item] = name if engine == 0 else f"{name}.{engine}"
    return {place: (key, trial.sources.get(key, "")) for place, key in channels.items()}


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


def _must_meet(trial: Trial, clip: Clip, to_utc: ClockMap, whole: Span) -> None:
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


def _run_of(
    trial: Trial, results: Results, clip: Clip, to_utc: ClockMap, whole: Span
) -> Filmed | None:
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


def _facts(
    trial: Trial,
    results: Results,
    clip: Clip,
    subject: Subject,
    recipe: Recipe,
    faceplate: Path | None,
) -> dict[str, Any]:
    """What holds for the whole clip, for whoever audits it."""
    from dataclasses import asdict

    return {
        "clip": clip.name,
        "trial": trial.sheet.name,
        "software": f"trialreel {version('trialreel')}",
        "audit": NOT_AUDITED,
        "units": trial.sheet.units,
        "inputs": {
            **input_hashes(trial.material, clip.recording),
            **({"faceplate": sha256_of(faceplate)} if faceplate else {}),
        },
        "tie": _tie_facts(trial.ties.by_clock[f"footage:{clip.recording}"]),
        "log_ties": {
            clock: _tie_facts(other)
            for clock, other in trial.ties.by_clock.items()
            if clock.startswith("log:")
        },
        "signals": signals_shown(subject),
        "sources": dict(trial.sources),
        "delays": {
            key: {"log": trial.sources[key], **asdict(late)} for key, late in trial.delays.items()
        },
        "definitions": [list(row) for row in results.definitions],
        "recipe": asdict(recipe),
        "run": asdict(subject.run),
    }


def _tie_facts(tie: Tie) -> dict[str, float | None]:
    """A tie's straight line, its pivot, and how sure offset and rate are there."""
    return {
        "offset_s": tie.map.offset_s,
        "rate": tie.map.rate,
        "sd_s": tie.sd_s,
        "pivot_s": tie.pivot_s,
        "rate_sd": tie.rate_sd,
    }
