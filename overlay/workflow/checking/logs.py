"""The logs: what is in them, how well it came through, and what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from overlay.delays import delay_of
from overlay.trial import Trial
from overlay.workflow.checking.model import ChannelReport, LogReport
from sync.channel import Channel
from sync.clock import UTC, ClockMap, Span
from sync.health import Ailment, joint_ailments, log_ailments
from sync.log import Log

LEFT_OUT: Mapping[str, str] = MappingProxyType(
    {
        "spikes": "out of range",
        "not_available": "not available",
        "unreadable": "unreadable",
        "repeated": "repeated",
    }
)
"""What readers count of single channels, and what that is called here."""


def log_reports(trial: Trial) -> tuple[LogReport, ...]:
    """A report for every log, its spans in UTC where it is tied."""
    together = _together(trial)
    return tuple(_report(log, trial, together) for log in trial.material.logs.values())


def _together(trial: Trial) -> dict[tuple[str, str], list[Ailment]]:
    """What channels say against each other, by log and key.

    A channel that another log has too is looked at in the company of the rest of the trial;
    logs that nothing ties have only their own.
    """
    found: dict[tuple[str, str], list[Ailment]] = {}

    def take(ailments: tuple[Ailment, ...], log: str | None) -> None:
        for one in ailments:
            found.setdefault((log or trial.sources[one.channel], one.channel), []).append(one)

    take(joint_ailments(trial.channels), None)
    for log in trial.material.logs.values():
        left = {key: c for key, c in log.channels.items() if trial.sources.get(key) != log.name}
        if not left:
            continue
        to_utc = _to_utc(log, trial)
        if to_utc is None:
            take(joint_ailments(log.channels), log.name)
            continue
        mine = {key: channel.on(to_utc) for key, channel in left.items()}
        others = {key: c for key, c in trial.channels.items() if key not in mine}
        told = joint_ailments({**others, **mine})
        take(tuple(one for one in told if one.channel in mine), log.name)
    return found


def _to_utc(log: Log, trial: Trial) -> ClockMap | None:
    if log.clock != UTC and log.clock not in trial.ties.by_clock:
        return None
    return trial.ties.to_utc(log.clock)


def _report(log: Log, trial: Trial, together: dict[tuple[str, str], list[Ailment]]) -> LogReport:
    to_utc = _to_utc(log, trial)
    alone = log_ailments(log)
    return LogReport(
        name=log.name,
        path=log.path,
        format=log.format,
        clock=log.clock,
        tied=to_utc is not None,
        span=_carried(log.span, to_utc),
        channels=tuple(
            _channel(channel, log, trial, to_utc, alone, tuple(together.get((log.name, key), ())))
            for key, channel in log.channels.items()
        ),
        marks=tuple(mark.label for mark in log.marks),
        counts=tuple(sorted(log.counts.items())),
        warnings=log.warnings,
    )


def _channel(
    channel: Channel,
    log: Log,
    trial: Trial,
    to_utc: ClockMap | None,
    alone: tuple[Ailment, ...],
    together: tuple[Ailment, ...],
) -> ChannelReport:
    samples = int(np.sum(np.isfinite(channel.values)))
    period = channel.period_s
    late = delay_of(channel, log.name, trial.sheet, trial.ties)
    mine = tuple(
        replace(one, span=_carried(one.span, to_utc)) for one in alone if one.channel == channel.key
    )
    return ChannelReport(
        key=channel.key,
        source=channel.source,
        means=channel.means,
        rate_hz=1 / period if math.isfinite(period) else math.nan,
        samples=samples,
        without_value=int(channel.values.size - samples),
        left_out=tuple(
            (words, log.counts[f"{what}:{channel.key}"])
            for what, words in LEFT_OUT.items()
            if log.counts.get(f"{what}:{channel.key}")
        ),
        holes=tuple(span for hole in channel.holes() if (span := _carried(hole, to_utc))),
        delay_s=late.delay_s,
        delay_sd_s=late.sd_s,
        delay_origin=late.origin,
        ailments=(*mine, *together),
    )


def _carried(span: Span | None, to_utc: ClockMap | None) -> Span | None:
    if span is None or to_utc is None:
        return span
    return Span(start_s=to_utc.carry(span.start_s), stop_s=to_utc.carry(span.stop_s))
