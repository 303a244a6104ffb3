"""What a clip shows of a trial: its signals, and the run with its marks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from overlay.analysis.signals import Signal, signal_of
from overlay.analysis.start import rest_before
from overlay.analysis.steady import (
    ENGINE_LEAST_RPS,
    ENGINE_SHARE,
    SPEED_LEAST_MPS,
    SPEED_SHARE,
    find_steady,
)
from overlay.analysis.trim import MOST_AGO_S
from overlay.graphics.subject import Subject
from overlay.report.facts import facts_of
from overlay.trial import Trial
from overlay.workflow.faces import face_of
from overlay.workflow.filmed import Filmed
from sync.channel import Channel
from sync.clock import Span

REST_LEAST_SAMPLES = 10
NO_REST = "there is no rest before it to level pitch by"


def subject_of(trial: Trial, run: Filmed | None, shown: Span) -> Subject:
    """The subject of one clip.

    Parameters
    ----------
    run
        The run that is filmed; None for a clip of the day without one.
    shown
        The stretch of UTC that the clip covers.
    """
    face = face_of(trial, run, shown)
    instants = tuple(mark.t_utc_s for mark in face.marks)
    rest = _rest(trial, run)
    return Subject(
        signals={
            key: signal_of(levelled, trial.channels, instants if channel.name == "speed" else ())
            for key, channel in trial.channels.items()
            if (levelled := _heeled(_levelled(channel, rest), run)) is not None
        },
        units=trial.sheet.units,
        decimal_sign=trial.sheet.decimal_sign,
        run=face,
        bands=_bands(trial),
        brackets={} if run is None else _brackets(trial, run),
        lacks={
            key: NO_REST
            for key, channel in trial.channels.items()
            if _levelled(channel, rest) is None
        },
        rest_utc_s=None if rest is None else (rest.start_s, rest.stop_s),
        facts={**facts_of(trial.sheet), **({"run": face.title} if face.title else {})},
    )


def _rest(trial: Trial, run: Filmed | None) -> Span | None:
    """The rest that a run's attitude is levelled by: just before a launch, else the last one."""
    if run is None:
        return None
    if run.launch is not None:
        return rest_before(trial.channels, run.launch.start.t_s)
    start = run.span.start_s
    before = [
        one.span
        for one in find_steady(trial.channels)
        if one.kind == "rest" and start - MOST_AGO_S <= one.span.stop_s <= start
    ]
    return before[-1] if before else None


def _levelled(channel: Channel, rest: Span | None) -> Channel | None:
    """Pitch less its mean over the rest before the run, as `bow_angle` is defined; None
    where there is no rest to take it from, for pitch as logged has the mounting in it."""
    if channel.name != "pitch":
        return channel
    if rest is None:
        return None
    values = channel.cut(rest).values
    values = values[np.isfinite(values)]
    if values.size < REST_LEAST_SAMPLES:
        return None
    return replace(channel, values=channel.values - float(np.mean(values)))


def _heeled(channel: Channel | None, run: Filmed | None) -> Channel | None:
    """Roll in a turn is heel: positive to the side that she turns to, as results have it."""
    if channel is None or channel.name != "roll" or run is None or run.turn is None:
        return channel
    return replace(channel, values=channel.values * (1.0 if run.turn.to == "starboard" else -1.0))


def _brackets(trial: Trial, run: Filmed) -> dict[str, tuple[tuple[float, float, float], ...]]:
    """Within what speed and each engine's speed count as steady: about the mean of each pass, which
    holds from the end of the pass before it on."""
    engines = [f"engine_speed.{n}" if n else "engine_speed" for n in range(len(trial.channels))]
    bands: dict[str, list[tuple[float, float, float]]] = {}
    since = run.span.start_s
    for one in run.passes:
        means = [("speed", one.run.speed, SPEED_SHARE, SPEED_LEAST_MPS)]
        means += [
            (key, mean, ENGINE_SHARE, ENGINE_LEAST_RPS)
            for key, mean in zip(engines, one.run.engines, strict=False)
        ]
        for key, mean, share, least in means:
            if mean.known:
                half = max(share * mean.value, least)
                bands.setdefault(key, []).append((since, mean.value - half, mean.value + half))
        since = one.run.span.stop_s
    return {key: tuple(rows) for key, rows in bands.items()}


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
