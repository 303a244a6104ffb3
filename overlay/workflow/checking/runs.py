"""The runs of the day, which recording has how much of each, and which clip shows it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from overlay.analysis.results import Results
from overlay.analysis.steady import Steady, find_steady, mean_course
from overlay.errors import SheetError
from overlay.sheet.model import Clip
from overlay.trial import Trial, footage_clock
from overlay.workflow.checking.model import Coverage, RunKind, RunReport
from overlay.workflow.filmed import cut_of, in_film, run_called
from sync.channel import Channel
from sync.clock import ClockMap, Span, utc_seconds
from sync.media import frame_times

NEARLY_S = 0.05
"""So much of a run may be missing from a recording that has the whole of it: a frame or two."""

Films = Mapping[str, tuple[ClockMap, Span]]
"""By recording, the map from film time to UTC and the film's span; only those that are tied."""


def films_of(trial: Trial) -> Films:
    """When every tied recording was shot."""
    return {
        name: (trial.footage_to_utc(name), frame_times(footage).span)
        for name, footage in trial.material.footage.items()
        if footage_clock(name) in trial.ties.by_clock
    }


def shot(film: tuple[ClockMap, Span]) -> Span:
    """The stretch of UTC that a recording has."""
    to_utc, span = film
    return Span(start_s=to_utc.carry(span.start_s), stop_s=to_utc.carry(span.stop_s))


def run_reports(trial: Trial, results: Results, films: Films) -> tuple[RunReport, ...]:
    """Launches, steady stretches under way, turns, stops, and the stretches that the sheet names,
    in order."""
    rows = [
        _row(trial, films, results, launch.name, "launch", launch.span, launch.course_rad)
        for launch in results.launches
    ]
    rows += [
        _row(trial, films, results, _called(steady), steady.kind, steady.span, steady.course_rad)
        for steady in find_steady(trial.channels)
        if steady.kind != "rest"
    ]
    # As the day has them, for it names them.
    rows += [
        _row(trial, films, results, one.name, one.kind, one.span, math.nan)
        for one in results.day
        if one.kind in ("turn", "stop")
    ]
    rows += [
        _row(trial, films, results, run.name, "span", span, math.nan)
        for run in trial.sheet.runs
        if run.kind == "span"
        for span in [Span(start_s=utc_seconds(run.start), stop_s=utc_seconds(run.stop))]
    ]
    return tuple(sorted(rows, key=lambda row: row.span.start_s))


def _called(steady: Steady) -> str:
    astern = "astern " if steady.kind == "astern" else ""
    if not math.isfinite(steady.engine_speed_rps):
        return f"{astern}steady"
    return f"{astern}{round(steady.engine_speed_rps * 6) * 10} rpm"


def _row(
    trial: Trial,
    films: Films,
    results: Results,
    name: str,
    kind: RunKind,
    span: Span,
    course_rad: float,
) -> RunReport:
    engines = [c for c in trial.channels.values() if c.name == "engine_speed"]
    turning = [_mean(channel, span) for channel in engines]
    return RunReport(
        name=name,
        kind=kind,
        span=span,
        engine_speed_rps=float(np.mean(turning)) if turning else math.nan,
        speed_mps=_mean(trial.channels.get("speed"), span),
        course_rad=(
            mean_course(trial.channels.get("course"), span) if kind == "span" else course_rad
        ),
        coverage=tuple(
            _covered(entry.name, span, films.get(entry.name)) for entry in trial.sheet.recordings
        ),
        clips=tuple(
            clip.name
            for clip in trial.sheet.clips
            if clip.recording in films and _shows(clip, name, span, results, films[clip.recording])
        ),
    )


def _mean(channel: Channel | None, span: Span) -> float:
    if channel is None:
        return math.nan
    values = channel.cut(span).values
    values = values[np.isfinite(values)]
    return float(np.mean(values)) if values.size else math.nan


def _covered(recording: str, run: Span, film: tuple[ClockMap, Span] | None) -> Coverage:
    none = Coverage(
        recording=recording, part="none", from_s=math.nan, to_s=math.nan, film_s=math.nan
    )
    if film is None:
        return none
    both = shot(film).overlap(run)
    if both is None:
        return none
    whole = both.length_s >= run.length_s - NEARLY_S
    return Coverage(
        recording=recording,
        part="whole" if whole else "part",
        from_s=both.start_s - run.start_s,
        to_s=both.stop_s - run.start_s,
        film_s=film[0].inverse().carry(both.start_s),
    )


def _shows(clip: Clip, name: str, run: Span, results: Results, film: tuple[ClockMap, Span]) -> bool:
    """Whether a clip shows a run: the one that it names, or one that lies in what it cuts out."""
    if clip.run == name:
        return shot(film).overlap(run) is not None
    cut = clip_span(clip, results, film)
    both = None if cut is None else cut.overlap(run)
    return both is not None and both.length_s >= run.length_s - NEARLY_S


def clip_span(clip: Clip, results: Results, film: tuple[ClockMap, Span]) -> Span | None:
    """The stretch of UTC that a clip shows; None where its run is not there."""
    to_utc, whole = film
    run = None
    if clip.run is not None:
        run = run_called(results, clip.run)
        if run is None:
            return None
        run = in_film(run, shot(film))
        if run is None:
            return None
    try:
        cut = cut_of(clip, run, to_utc, whole) or whole
    except SheetError:
        return None
    return Span(start_s=to_utc.carry(cut.start_s), stop_s=to_utc.carry(cut.stop_s))


def whole_in_none(runs: Sequence[RunReport]) -> list[RunReport]:
    """Launches of which no recording has the whole."""
    return [
        run
        for run in runs
        if run.kind == "launch" and all(one.part != "whole" for one in run.coverage)
    ]
