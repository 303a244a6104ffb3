"""`trialreel transparent`: the instruments of each run on nothing, on log time."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from overlay.analysis.results import Results, compute_results
from overlay.errors import OutputError, SheetError
from overlay.exchange.grid import counted_at, grid_from, most_common_rate
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.plan import compile_plan
from overlay.ledger import LEDGER_END, LedgerWriter, read_ledger
from overlay.render.forms import FORMS, Alpha, LogTimes, Transparent
from overlay.render.place import check_room
from overlay.render.transparent import draw_transparent
from overlay.render.transparent_files import is_picture_of
from overlay.sheet.fields import safe_name
from overlay.trial import Material, Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.clip_facts import comment, faceplate_told, facts_of, sources_shown
from overlay.workflow.clip_run import faceplate_for
from overlay.workflow.files import staged
from overlay.workflow.filmed import Filmed, run_called, runs_of
from overlay.workflow.hashes import log_hashes, sha256_of
from overlay.workflow.locate import find_sheet
from overlay.workflow.outputs import told_of
from overlay.workflow.progress import Progress, nobody
from overlay.workflow.results import in_units
from overlay.workflow.subject import subject_of
from overlay.workflow.wishes import Units
from sync.clock import Span
from sync.timecode import TimecodeRate

HANDLES_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TransparentWish:
    """How transparent renders are wanted.

    Parameters
    ----------
    form
        A key of `FORMS`.
    alpha
        Whether colours are straight or premultiplied with their coverage.
    size_px
        Width and height.
    rate_hz
        Frames a second of the edit; None for those of most recordings.
    handles_s
        How much there is before and after each run.
    faceplate
        By name or file; None for the one that suits the run.
    units
        For readers of this set of units, with its usual ladder; None for the sheet's own.
    """

    form: str = "prores"
    alpha: Alpha = "straight"
    size_px: tuple[int, int] = (1920, 1080)
    rate_hz: Fraction | None = None
    handles_s: float = HANDLES_S
    faceplate: str | None = None
    units: Units | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TransparentClip:
    """One finished transparent render and its ledger."""

    run: str
    path: Path
    ledger_path: Path
    frames: int
    rate: str
    timecode: str
    alpha: Alpha
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TransparentOutcome:
    """All that were made, and whose time of day their timecodes are."""

    clips: tuple[TransparentClip, ...]
    time_zone: str


def transparent(
    sheet: Path,
    run: str | None = None,
    *,
    wish: TransparentWish | None = None,
    progress: Progress = nobody,
) -> TransparentOutcome:
    """Draw the instruments of one run, or of each, on nothing.

    Raises
    ------
    SheetError
        Where there is no such run, or none at all.
    TimecodeError
        Where no timecode counts at the rate.
    RenderError, OutputError
        Where it cannot be made.
    """
    wish = wish or TransparentWish()
    material = read_material(find_sheet(sheet))
    if wish.units == material.sheet.units:
        wish = replace(wish, units=None)
    material = in_units(material, wish.units)
    trial = build_trial(material, ties_for(material))
    results = compute_results(trial)
    rate = _rate(wish, material)
    made = [
        _draw_one(trial, results, one, wish, rate, progress)
        for one in _runs(results, run, material.sheet_path)
    ]
    return TransparentOutcome(clips=tuple(made), time_zone=trial.sheet.time_zone or "UTC")


def _rate(wish: TransparentWish, material: Material) -> TimecodeRate:
    if wish.rate_hz is not None:
        return counted_at(wish.rate_hz)
    return most_common_rate(film.average_rate_hz for film in material.footage.values())


def _runs(results: Results, name: str | None, path: Path) -> list[Filmed]:
    """The run of a name; without one all runs, of a step each pass by itself, since minutes may
    lie between them."""
    runs = runs_of(results)
    if name is None:
        each = [run for run in runs if run.step is None or len(run.passes) == 1]
        by_span = {(run.span.start_s, run.span.stop_s): run for run in each}
        if not by_span:
            raise SheetError(
                "there is no run to draw the instruments of",
                path=path,
                advice="`trialreel results` says what is missing and why",
            )
        return list(by_span.values())
    run = run_called(results, name)
    if run is None:
        raise SheetError(
            f"there is no run called {name!r}",
            path=path,
            allowed=tuple(one.name for one in runs),
            advice="`trialreel results` lists the runs, and what is missing and why",
        )
    return [run]


def _draw_one(
    trial: Trial,
    results: Results,
    run: Filmed,
    wish: TransparentWish,
    rate: TimecodeRate,
    progress: Progress,
) -> TransparentClip:
    times = log_times(run.span, rate, wish.handles_s, trial.sheet.time_zone)
    job = Transparent(form=FORMS[wish.form], size_px=wish.size_px, alpha=wish.alpha, times=times)
    shown = Span(start_s=times.instant_s(0), stop_s=times.instant_s(times.frames))
    subject = subject_of(trial, run, shown)
    folder = trial.material.folder
    name = wish.faceplate or faceplate_for(subject)
    faceplate = load_faceplate(folder / name if name.endswith(".toml") else name)
    plan = compile_plan(faceplate, picture=job.picture, subject=subject)
    # In the name stands what one run may well be wanted in twice.
    width, height = job.size_px
    stem = f"{safe_name(run.name)}-transparent-{job.form.name}-{width}x{height}"
    stem += f"-{wish.units}" if wish.units else ""
    output = folder / "clips" / f"{stem}{job.form.ending}"
    ledger_path = output.with_name(f"{stem}{LEDGER_END}")
    _must_be_ours(output, ledger_path, trial.material.sheet_path.name)
    check_room(_nearest(output), round(job.form.bits_a_pixel * width * height * times.frames / 8))
    facts = facts_of(trial, results, run.name, subject, plan) | {
        "transparent": _told(job, run),
        "faceplate": faceplate_told(faceplate, folder),
        "inputs": log_hashes(trial.material)
        | ({"faceplate": sha256_of(faceplate.path)} if faceplate.path else {}),
    }
    with (
        staged(output, ledger_path, folder_first=not job.form.ending) as (part, ledger_part),
        told_of(part, output),
        LedgerWriter(ledger_part, facts, sources_shown(trial, faceplate, subject)) as ledger,
    ):
        warnings = draw_transparent(
            plan,
            part,
            job,
            record=ledger.record,
            progress=lambda done, total: progress(f"draw {run.name}", done, total),
            tags={"comment": f"{comment()}; {wish.alpha} alpha", "title": run.name},
        )
    return TransparentClip(
        run=run.name,
        path=output,
        ledger_path=ledger_path,
        frames=times.frames,
        rate=rate.key,
        timecode=times.timecode,
        alpha=wish.alpha,
        warnings=(*warnings, *plan.remarks),
    )


def _nearest(place: Path) -> Path:
    """A place in the nearest folder that is there, for its disk."""
    folder = next(one for one in place.absolute().parents if one.is_dir())
    return folder / place.name


def _must_be_ours(output: Path, ledger_path: Path, sheet_name: str) -> None:
    """Refuse to take the place of what no transparent render of this sheet wrote."""
    if not output.exists():
        return
    told = "there is something already, and it is no transparent render of this sheet"
    mine = _is_of(ledger_path, sheet_name)
    if output.is_dir():
        mine = mine and all(
            is_picture_of(output.name, path.name) or path.name.startswith(".")
            for path in output.iterdir()
        )
    if not mine:
        raise OutputError(told, path=output, advice="move it away")


def _is_of(ledger_path: Path, sheet_name: str) -> bool:
    try:
        facts = read_ledger(ledger_path).facts
        return "transparent" in facts and facts.get("sheet") == sheet_name
    except (OSError, ValueError, TypeError, AttributeError):
        return False


def _told(job: Transparent, run: Filmed) -> dict[str, str | float | int]:
    """What whoever lays the render over footage has to know."""
    times = job.times
    return {
        "run": run.name,
        "start_utc_s": times.instant_s(0),
        "rate_hz": str(times.rate_hz),
        "frames": times.frames,
        "timecode": times.timecode,
        "alpha": job.alpha,
        "form": job.form.name,
    }


def log_times(run: Span, rate: TimecodeRate, handles_s: float, time_zone: str | None) -> LogTimes:
    """The frames from some handles before a run to as much after it, on the frames of the day."""
    start_s, stop_s = run.start_s - handles_s, run.stop_s + handles_s
    grid = grid_from(start_s, rate, time_zone or "UTC")
    first = grid.frame_at(start_s)
    last = max(first + 1, math.ceil(grid.place_of(stop_s)))
    return LogTimes(
        start_utc_s=grid.zero_utc_s + first / rate.rate_hz,
        rate_hz=rate.rate_hz,
        frames=last - first,
        timecode=grid.label(first),
    )
