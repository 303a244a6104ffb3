"""What a clip shows of a trial: its signals, and the run with its marks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from overlay.analysis.ladder import LadderTime
from overlay.analysis.launches import Launch
from overlay.analysis.signals import Signal, signal_of
from overlay.analysis.start import rest_before
from overlay.figures import seconds
from overlay.graphics.subject import RunFace, RunMark, Subject
from overlay.trial import Trial
from sync.clock import Span
from sync.log import Channel

REST_LEAST_SAMPLES = 10


def subject_of(trial: Trial, launch: Launch | None, shown: Span) -> Subject:
    """The subject of one clip.

    Parameters
    ----------
    launch
        The run that is filmed; None for a clip of the day without one.
    shown
        The stretch of UTC that the clip covers.
    """
    marks = () if launch is None else tuple(_mark(row) for row in launch.ladder)
    instants = tuple(mark.t_utc_s for mark in marks)
    return Subject(
        signals={
            key: signal_of(levelled, trial.channels, instants if channel.name == "speed" else ())
            for key, channel in trial.channels.items()
            if (levelled := _levelled(channel, trial, launch)) is not None
        },
        units=trial.sheet.units,
        run=_face(launch, marks, shown),
        bands=_bands(trial),
    )


def _mark(row: LadderTime) -> RunMark:
    return RunMark(
        t_utc_s=row.t_s,
        label=row.label,
        text=seconds(row.time_s, row.sd_s),
        value_s=row.time_s,
        sd_s=row.sd_s,
    )


def _face(launch: Launch | None, marks: tuple[RunMark, ...], shown: Span) -> RunFace:
    if launch is None:
        return RunFace(
            kind="span",
            title="",
            origin="",
            start_utc_s=shown.start_s,
            stop_utc_s=shown.stop_s,
            shown_from_utc_s=shown.start_s,
            shown_to_utc_s=shown.stop_s,
        )
    # The axis ends with the last mark: a clock that runs on past it would be read as a time.
    last = max([launch.start.t_s + 1.0, *(mark.t_utc_s for mark in marks)])
    return RunFace(
        kind="launch",
        title=launch.name,
        start_utc_s=launch.start.t_s,
        stop_utc_s=last if marks else launch.stop_s,
        shown_from_utc_s=shown.start_s,
        shown_to_utc_s=shown.stop_s,
        marks=marks,
        origin="from rest" if launch.start.state.startswith("at rest") else "from idle",
    )


def _levelled(channel: Channel, trial: Trial, launch: Launch | None) -> Channel | None:
    """Pitch less its mean over the rest before the launch, as `bow_angle` is defined; None
    where there is no rest to take it from, for pitch as logged has the mounting in it."""
    if channel.name != "pitch":
        return channel
    if launch is None:
        return None
    rest = channel.cut(rest_before(trial.channels, launch.start.t_s)).values
    rest = rest[np.isfinite(rest)]
    if rest.size < REST_LEAST_SAMPLES:
        return None
    return replace(channel, values=channel.values - float(np.mean(rest)))


def _bands(trial: Trial) -> dict[str, tuple[float, float]]:
    bands = {}
    for i, engine in enumerate(trial.sheet.engines):
        if engine.rated_rpm is not None:
            low, high = engine.rated_rpm
            bands["engine_speed" if i == 0 else f"engine_speed.{i}"] = (low / 60, high / 60)
    return bands


def signals_shown(subject: Subject) -> dict[str, dict[str, float | str]]:
    """Law, grid and delay doubt of each signal, for the ledger's facts."""
    return {key: _signal_facts(signal) for key, signal in subject.signals.items()}


def _signal_facts(signal: Signal) -> dict[str, float | str]:
    sd = signal.channel.delay_sd_s
    aid = {} if signal.law.aid is None else {"aided_by": signal.law.aid.key}
    return {
        **aid,
        "law": signal.law.name,
        "text": signal.law.text,
        "grid_hz": signal.grid_hz,
        "delay_sd_s": sd if math.isfinite(sd) else 0.0,
    }
