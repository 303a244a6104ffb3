"""What gets a marker in the lined-up day: runs, marks, results and tie marks.

Every text is one that stands on the screen or in the tables already (`faces`, `report`); none is
made here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from overlay.analysis.results import Results
from overlay.exchange.lineup import Noted, RunSpan
from overlay.figures import NO_VALUE
from overlay.report.asked_tables import timed_table
from overlay.report.words import one_line
from overlay.trial import Trial
from overlay.workflow.faces import face_of
from overlay.workflow.filmed import Filmed, runs_of
from sync.clock import UTC
from sync.log import Mark

SAME_MARK_S = 0.5
"""Marks of one name in several logs that lie nearer than this are one: a person's button, and
clocks that are tied to milliseconds (own choice)."""


def notes_of(trial: Trial, results: Results) -> tuple[Noted, ...]:
    """Everything that gets a marker, in order of time."""
    notes = [
        *(note for run in whole_runs(results) for note in _of_run(trial, run)),
        *_timed(trial, results),
        *_tie_marks(trial),
    ]
    return tuple(sorted(notes, key=lambda one: (one.start_utc_s, one.name)))


def whole_runs(results: Results) -> list[Filmed]:
    """All runs, a step with its passes as one."""
    return [run for run in runs_of(results) if run.step is None or run.name == run.step.name]


def run_spans(results: Results) -> tuple[RunSpan, ...]:
    """What a cut list has an event for, in order of time: of a step each pass, not the way
    between them."""
    runs = [run for run in runs_of(results) if run.step is None or run.name != run.step.name]
    ordered = sorted(runs, key=lambda run: run.span.start_s)
    return tuple(RunSpan(name=one_line(run.name), span=run.span) for run in ordered)


def _of_run(trial: Trial, run: Filmed) -> Iterator[Noted]:
    """A run, or each pass of a step, and all its marks with their figures.

    The way between two passes belongs to neither, and with it a step may take half the day.
    """
    face = face_of(trial, run, run.span)
    spans = [(run.name, run.span.start_s, run.span.stop_s)]
    if len(face.tabs) > 1:
        spans = [(tab.text, tab.t_utc_s, tab.stop_utc_s) for tab in face.tabs]
    told = [face.origin] if face.origin else []
    told += [f"{mark.label}: {mark.text}" for mark in face.marks]
    for name, start_s, stop_s in spans:
        yield Noted(
            kind="run",
            name=one_line(name),
            text=one_line("; ".join(told)),
            start_utc_s=start_s,
            stop_utc_s=stop_s,
        )
    for mark in face.marks:
        yield Noted(
            # A flag of a launch stands where a speed is passed; others tell what a stretch came to.
            kind="mark" if run.launch is not None else "result",
            name=one_line(f"{run.name}, {mark.label}"),
            text=one_line(mark.text),
            start_utc_s=mark.t_utc_s,
        )


def _timed(trial: Trial, results: Results) -> Iterator[Noted]:
    """What the crew asked for by name, where it is known when it began."""
    for table in timed_table(results.timed, trial.sheet.time_zone or UTC.upper()):
        places = {heading.text: place for place, heading in enumerate(table.headings)}
        for one, row in zip(results.timed, table.rows, strict=True):
            told = row[places["time"]] if "time" in places else NO_VALUE
            if math.isfinite(one.start_s):
                yield Noted(
                    kind="result",
                    name=one_line(one.name),
                    text=f"{told} s; {row[places['how it was had']]}",
                    start_utc_s=one.start_s,
                )


def _tie_marks(trial: Trial) -> Iterator[Noted]:
    """Claps, lamps and buttons, each once, where a log that has them is on UTC."""
    known: list[tuple[str, float]] = []
    for mark in sorted(trial.material.marks(), key=lambda one: one.clock != UTC):
        t_s = _utc_of(trial, mark)
        if t_s is None or any(
            name == mark.label and abs(t_s - other) <= SAME_MARK_S for name, other in known
        ):
            continue
        known.append((mark.label, t_s))
        yield Noted(
            kind="tie mark",
            name=one_line(mark.label),
            text=one_line(f"tie mark from {mark.source}"),
            start_utc_s=t_s,
        )


def _utc_of(trial: Trial, mark: Mark) -> float | None:
    if mark.clock == UTC:
        return mark.t_s
    tie = trial.ties.by_clock.get(mark.clock)
    return None if tie is None else tie.map.carry(mark.t_s)
