"""How a run is shown: what its time axis counts, and which marks and tabs stand on it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from overlay.analysis.ladder import LadderTime
from overlay.analysis.launches import Launch
from overlay.analysis.means import Mean
from overlay.analysis.stopping import Stop
from overlay.analysis.turning import Turn, turn_rate
from overlay.figures import figure, seconds, step_for, unit_for, with_doubt
from overlay.graphics.subject import RunAxis, RunFace, RunMark, RunTab
from overlay.report.words import course
from overlay.trial import Trial
from overlay.workflow.filmed import Filmed, FilmedPass
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span
from sync.units import from_si

TURNED_STEP_S = 0.1
ONSET_SD_S = 0.45
"""How far out the onset of a turn may be: it is told by a threshold on a mean over 0.9 s."""

QUARTER_RAD = math.pi / 2


def face_of(trial: Trial, run: Filmed | None, shown: Span) -> RunFace:
    """A run as it is shown within a stretch of UTC; without a run, the stretch itself."""
    face, sign = _face(trial, run, shown), trial.sheet.decimal_sign
    marks = (
        replace(mark, label=mark.label.replace(".", sign), text=mark.text.replace(".", sign))
        for mark in face.marks
    )
    return replace(face, marks=tuple(marks))


def _face(trial: Trial, run: Filmed | None, shown: Span) -> RunFace:
    if run is None:
        return _bare("span", "", shown, shown)
    if run.launch is not None:
        return _launch(run.launch, shown)
    if run.turn is not None:
        return _turn(trial, run.turn, run.name, shown)
    if run.stop is not None:
        return _stop(run.stop, run.name, shown)
    return _step(trial, run, shown)


def _bare(kind: str, title: str, run: Span, shown: Span) -> RunFace:
    return RunFace(
        kind=kind,
        title=title,
        origin="",
        start_utc_s=run.start_s,
        stop_utc_s=run.stop_s,
        shown_from_utc_s=shown.start_s,
        shown_to_utc_s=shown.stop_s,
    )


def _launch(launch: Launch, shown: Span) -> RunFace:
    marks = tuple(_of_ladder(row) for row in launch.ladder)
    # The axis ends with the last mark: a clock that runs on past it would be read as a time.
    last = max([launch.start.t_s + 1.0, *(mark.t_utc_s for mark in marks)])
    span = Span(start_s=launch.start.t_s, stop_s=last if marks else launch.stop_s)
    return replace(
        _bare("launch", launch.name, span, shown),
        marks=marks,
        origin="from rest" if launch.start.state.startswith("at rest") else "from idle",
    )


def _of_ladder(row: LadderTime) -> RunMark:
    return RunMark(
        t_utc_s=row.t_s,
        label=row.label,
        text=seconds(row.time_s, row.sd_s),
        value=row.time_s,
        sd=row.sd_s,
    )


def _step(trial: Trial, run: Filmed, shown: Span) -> RunFace:
    """The passes side by side, what lies between them left out; each ends with its mean over
    ground, and the last of the step with the mean both ways."""
    assert run.step is not None  # only steps have passes
    name = run.step.name
    knots: list[tuple[float, float]] = []
    tabs, marks, gone = [], [], 0.0
    for one in run.passes:
        span = one.run.span
        knots += [(span.start_s, gone), (span.stop_s, gone + span.length_s)]
        gone += span.length_s
        told = f"{name}, pass {one.number} of {one.of}, {course(one.run.course_rad)}"
        tabs.append(RunTab(t_utc_s=span.start_s, stop_utc_s=span.stop_s, text=told))
        marks.append(_of_pass(trial, run, one))
    return replace(
        _bare(run.kind, run.name, run.span, shown),
        axis=RunAxis(
            sign="s", t_utc_s=tuple(t for t, _ in knots), value=tuple(value for _, value in knots)
        ),
        tabs=tuple(tabs),
        marks=tuple(marks),
    )


def _of_pass(trial: Trial, run: Filmed, one: FilmedPass) -> RunMark:
    """A pass's own mean; where it is the last of its step, that of both ways: not before all
    passes are in."""
    assert run.step is not None  # only steps have passes
    last = max(each.span.stop_s for each in run.step.passes) <= one.run.span.stop_s
    if last and run.step.ways == "both":
        return _speed_mark(trial, one.run.span.stop_s, "both ways", run.step.speed)
    label = f"pass {one.number}" if one.of > 1 else "one way"
    return _speed_mark(trial, one.run.span.stop_s, label, one.run.speed)


def _speed_mark(trial: Trial, t_utc_s: float, label: str, mean: Mean) -> RunMark:
    unit = figure("speed", trial.sheet.units).unit
    value, sd = (from_si(part, unit, "speed") for part in (mean.value, mean.sd))
    return RunMark(
        t_utc_s=t_utc_s, label=label, text=with_doubt(value, sd, unit), value=mean.value, sd=mean.sd
    )


def _turn(trial: Trial, turn: Turn, name: str, shown: Span) -> RunFace:
    """The heading swept; the diameter once half the circle and the rest that was held are in."""
    t, swept = swept_of(trial.channels, turn)
    marks = [_entry(trial, turn)]
    key = turning_key(trial, "turn_rate")
    sd = math.hypot(ONSET_SD_S, trial.channels[key].period_s)
    for degrees in (90, 180):
        at = float(np.interp(math.radians(degrees), swept, t))
        if swept[-1] > math.radians(degrees):
            after = at - turn.span.start_s
            marks.append(
                RunMark(
                    t_utc_s=at, label=f"{degrees}°", text=seconds(after, sd),
                    value=after, sd=sd, channel=key,
                )
            )  # fmt: skip
    if turn.held is not None and turn.diameter_m.known:
        marks += _diameter(trial, turn, turn.held.stop_s)
    return replace(
        _bare("turn", name, turn.span, shown),
        axis=RunAxis(sign="°", t_utc_s=tuple(t.tolist()), value=tuple(np.degrees(swept).tolist())),
        marks=tuple(marks),
        to_port=turn.to == "port",
    )


def swept_of(channels: Mapping[str, Channel], turn: Turn) -> tuple[Floats, Floats]:
    """How far the heading had swept by instants of a turn [s, rad], never falling."""
    rate = turn_rate(channels)
    assert rate is not None  # without it there are no turns
    t = np.arange(turn.span.start_s, turn.span.stop_s + TURNED_STEP_S / 2, TURNED_STEP_S)
    way = 1.0 if turn.to == "starboard" else -1.0
    rates = np.clip(way * np.nan_to_num(rate.at(t)), 0.0, None)
    steps = (rates[1:] + rates[:-1]) / 2 * TURNED_STEP_S
    return t, np.concatenate([[0.0], np.cumsum(steps)])


def _entry(trial: Trial, turn: Turn) -> RunMark:
    how = figure("speed", trial.sheet.units)
    return RunMark(
        t_utc_s=turn.span.start_s,
        label="entry",
        text=f"{how.text(turn.entry_mps)} {how.unit}",
        value=turn.entry_mps,
        sd=None,
    )


def turning_key(trial: Trial, key: str) -> str:
    """The channel that stands for a key: where no rate of turn is logged it is the heading's."""
    return "heading" if key == "turn_rate" and key not in trial.channels else key


def _diameter(trial: Trial, turn: Turn, t_utc_s: float) -> list[RunMark]:
    """In boat lengths where the sheet states one, else as a length; nothing where it is so much in
    doubt that its first digit is."""
    mean, boat_m = turn.diameter_m, trial.sheet.boat.length
    unit, value, sd = "lengths", mean.value, mean.sd
    if boat_m:
        shown = (value, sd) = (mean.value / boat_m, mean.sd / boat_m)
    else:
        unit = unit_for("short_distance", trial.sheet.units)
        shown = (from_si(value, unit), from_si(sd, unit))
    if step_for(shown[1]) > abs(shown[0]):
        return []
    text = with_doubt(*shown, unit)
    return [
        RunMark(t_utc_s=t_utc_s, label="diameter", text=text, value=value, sd=sd,
                channel="latitude")
    ]  # fmt: skip


def _stop(stop: Stop, name: str, shown: Span) -> RunFace:
    way_off = RunMark(
        t_utc_s=stop.span.stop_s,
        label="way off",
        text=seconds(stop.time_s.value, stop.time_s.sd),
        value=stop.time_s.value,
        sd=stop.time_s.sd,
    )
    return replace(
        _bare("stop", name, stop.span, shown),
        origin="throttle closes" if stop.event == "throttle" else "slows down",
        marks=(way_off,),
    )
