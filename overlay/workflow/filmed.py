"""The runs that a clip may film, by the names that results give them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from overlay.analysis.launches import Launch
from overlay.analysis.results import Results
from overlay.analysis.steps import Step, StepPass
from overlay.analysis.stopping import Stop
from overlay.analysis.turning import Turn
from overlay.errors import SheetError
from overlay.sheet.model import Clip
from sync.clock import ClockMap, Span

FilmedKind = Literal["launch", "step", "top speed", "turn", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmedPass:
    """One pass of a step: its number among all of them, how many there are, and itself."""

    number: int
    of: int
    run: StepPass


@dataclass(frozen=True, slots=True, kw_only=True)
class Filmed:
    """A run that can be filmed.

    `span` is what there is to see of it, the last mark of a launch included. Of `launch`, `step`,
    `turn` and `stop` one is there; of a step `passes` are those that are to be filmed.
    """

    name: str
    kind: FilmedKind
    span: Span
    launch: Launch | None = None
    step: Step | None = None
    passes: tuple[FilmedPass, ...] = ()
    turn: Turn | None = None
    stop: Stop | None = None


def runs_of(results: Results) -> tuple[Filmed, ...]:
    """All runs that can be filmed: launches first, then steps with their passes, turns, stops."""
    return (
        *(_launch(launch) for launch in results.launches),
        *(run for step in results.steps for run in _steps(step, results.set_up.top)),
        *_turns(results),
        *(
            Filmed(name=f"stop {number}", kind="stop", span=stop.span, stop=stop)
            for number, stop in enumerate(results.stops, start=1)
        ),
    )


def run_called(results: Results, name: str) -> Filmed | None:
    """The run of a name."""
    return next((run for run in runs_of(results) if run.name == name), None)


def first_launch(results: Results, film: Span) -> Filmed | None:
    """The first launch of which a film has something."""
    inside = (launch for launch in results.launches if launch.span.overlap(film))
    return next((_launch(launch) for launch in inside), None)


def in_film(run: Filmed, film: Span) -> Filmed | None:
    """What of a run a film has, if it has any: of a step those passes of which it has something,
    and not the way between them."""
    if not run.passes:
        return run if run.span.overlap(film) else None
    passes = tuple(one for one in run.passes if one.run.span.overlap(film))
    if not passes:
        return None
    return _of_passes(run.name, run.kind, run.step, passes)


def cut_of(clip: Clip, run: Filmed | None, to_utc: ClockMap, whole: Span) -> Span | None:
    """The stretch of footage that the clip shows; None for all of it.

    Raises
    ------
    SheetError
        Where there would be nothing of it.
    """
    to_film = to_utc.inverse()
    start, stop = whole.start_s, whole.stop_s
    if not clip.whole and run is not None and clip.run is not None:
        start = to_film.carry(run.span.start_s) - clip.lead_in
        stop = to_film.carry(run.span.stop_s) + clip.lead_out
    if clip.start is not None:
        start = clip.start
    if clip.stop is not None:
        stop = clip.stop
    start, stop = max(start, whole.start_s), min(stop, whole.stop_s)
    if stop <= start:
        raise SheetError(
            f"the clip {clip.name!r} would end ({stop:.3f} s) before it begins ({start:.3f} s)",
            key="clips",
            advice=f"the footage runs from {whole.start_s:.3f} s to {whole.stop_s:.3f} s",
        )
    return (
        None if (start, stop) == (whole.start_s, whole.stop_s) else Span(start_s=start, stop_s=stop)
    )


def _launch(launch: Launch) -> Filmed:
    last = max([launch.stop_s, *(row.t_s for row in launch.ladder)])
    span = Span(start_s=launch.start.t_s, stop_s=last)
    return Filmed(name=launch.name, kind="launch", span=span, launch=launch)


def _steps(step: Step, top: str) -> Iterator[Filmed]:
    """A step with all its passes, and each pass by itself."""
    kind: FilmedKind = "top speed" if step.name == top else "step"
    passes = tuple(
        FilmedPass(number=number, of=len(step.passes), run=run)
        for number, run in enumerate(step.passes, start=1)
    )
    yield _of_passes(step.name, kind, step, passes)
    for one in passes:
        yield _of_passes(f"{step.name}, pass {one.number}", kind, step, (one,))


def _of_passes(
    name: str, kind: FilmedKind, step: Step | None, passes: tuple[FilmedPass, ...]
) -> Filmed:
    ordered = tuple(sorted(passes, key=lambda one: one.run.span.start_s))
    span = Span(start_s=ordered[0].run.span.start_s, stop_s=ordered[-1].run.span.stop_s)
    return Filmed(name=name, kind=kind, span=span, step=step, passes=ordered)


def _turns(results: Results) -> Iterator[Filmed]:
    for number, turn in enumerate(results.turns, start=1):
        if turn.held is not None and not turn.broken:
            name = f"turn {number} to {turn.to}"
            yield Filmed(name=name, kind="turn", span=turn.span, turn=turn)
