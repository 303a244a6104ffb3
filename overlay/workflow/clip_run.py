"""Which run a clip shows, and whether the logs say anything of its film."""

from __future__ import annotations

from overlay.analysis.results import Results
from overlay.errors import AnalysisError, SheetError
from overlay.graphics.subject import Subject
from overlay.sheet.model import Clip
from overlay.trial import Trial, log_span
from overlay.workflow.filmed import Filmed, first_launch, in_film, run_called, runs_of
from sync.clock import ClockMap, Span, utc_text


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
