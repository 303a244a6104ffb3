"""What logs say of each other's clocks, and what of them recordings can be held against."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from overlay.delays import delay_of, stated_delay, with_delay
from overlay.trial import Material
from overlay.workflow.evidence.senses import Senses
from sync.channel import Channel
from sync.clock import UTC
from sync.clue import Finding
from sync.clues import (
    audible,
    gnss_time_clues,
    shared_mark_clues,
    shared_motion_clues,
    spike_marks,
    turning_channels,
)
from sync.log import Log, Mark
from sync.tie import Ties

SAME_MARK_S = 0.05
"""Marks of one label nearer than this, each in its own log, are one instant."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Logged:
    """What recordings can be held against, and how the logs lie to UTC.

    `marks` and, of those or of knocks, the `claps` are on UTC where their log is tied; `engine`
    is an engine's logged speed and `turning` the channels of each log that felt the boat turn,
    on their logs' own clocks and with their delays.
    """

    marks: tuple[Mark, ...]
    claps: tuple[Mark, ...]
    engine: Channel | None
    turning: tuple[tuple[Channel, ...], ...]
    ties: Ties
    senses: Senses


def logged(material: Material, ties: Ties, senses: Senses) -> Logged:
    """What recordings can be held against, by ties of the logs alone."""
    marks = marks_on_utc(material.marks(), ties)
    channels = late_channels(material)
    return Logged(
        marks=marks,
        claps=audible(marks) or _knocks(material),
        engine=_first(channels, "engine_speed"),
        turning=turning_of(channels),
        ties=ties,
        senses=senses,
    )


def turning_of(channels: Iterable[Channel]) -> tuple[tuple[Channel, ...], ...]:
    """The channels that felt the boat turn, for each clock that has some."""
    by_clock: dict[str, list[Channel]] = {}
    for channel in channels:
        by_clock.setdefault(channel.clock, []).append(channel)
    chosen = (tuple(turning_channels(some)) for some in by_clock.values())
    return tuple(some for some in chosen if some)


def log_clues(material: Material) -> dict[str, Finding]:
    """What there is on the logs' clocks: marks that they share, the motion that they felt
    together, and the time that receivers in them state."""
    marks, channels = material.marks(), late_channels(material)
    own = [log for log in material.logs.values() if log.clock != UTC]
    shared = shared_mark_clues(marks) if own else Finding()
    findings = {
        log.clock: _for_log(log, shared, _motion_of(log.clock, channels, own)) for log in own
    }
    contradicted = tuple(
        remark
        for log in material.logs.values()
        if log.clock == UTC
        for remark in gnss_time_clues(log).remarks
    )
    return {**findings, **({UTC: Finding(remarks=contradicted)} if contradicted else {})}


def _for_log(log: Log, shared: Finding, motion: Finding) -> Finding:
    """What there is on one clock; what failed is told only where nothing else is firm."""
    marks = tuple(clue for clue in shared.clues if clue.from_clock == log.clock)
    stated = gnss_time_clues(log)
    firm = (*marks, *motion.clues, *(clue for clue in stated.clues if not clue.hint))
    remarks = () if firm else (*shared.remarks, *motion.remarks)
    return Finding(clues=(*marks, *motion.clues), remarks=remarks) + stated


def _motion_of(clock: str, channels: tuple[Channel, ...], own: list[Log]) -> Finding:
    """What the motion in one log says of its clock and UTC, and those of the logs before it."""
    finding = Finding()
    before = [log.clock for log in own[: [log.clock for log in own].index(clock)]]
    for other in (UTC, *before):
        finding += shared_motion_clues([c for c in channels if c.clock in (clock, other)])
    return finding


def late_channels(material: Material, ties: Ties | None = None) -> tuple[Channel, ...]:
    """The channels of all logs on their own clocks, each with the delay that the sheet has, or
    that ties have settled.

    Of logs on one clock that have the same channel the first in the sheet counts, as in a
    `Trial`.
    """
    found: dict[tuple[str, str], Channel] = {}
    for log in material.logs.values():
        for channel in log.channels.values():
            late = (
                stated_delay(channel.key, log.name, material.sheet)
                if ties is None
                else delay_of(channel, log.name, material.sheet, ties)
            )
            found.setdefault((channel.clock, channel.key), with_delay(channel, late))
    return tuple(found.values())


def _first(channels: Iterable[Channel], name: str) -> Channel | None:
    """The first channel of a name that has values."""
    return next((c for c in channels if c.name == name and c.span is not None), None)


def marks_on_utc(marks: tuple[Mark, ...], ties: Ties) -> tuple[Mark, ...]:
    """The marks of all logs that are tied, on UTC, each instant once; those of the other logs
    stay on their own clocks."""
    kept = [mark for mark in marks if mark.clock == UTC]
    loose = []
    for mark in marks:
        if mark.clock == UTC:
            continue
        if mark.clock not in ties.by_clock:
            loose.append(mark)
            continue
        tie = ties.by_clock[mark.clock]
        carried = replace(
            mark,
            clock=UTC,
            t_s=tie.map.carry(mark.t_s),
            sd_s=math.hypot(mark.sd_s, tie.sd_at(mark.t_s)),
        )
        if not any(_same(carried, other) for other in kept):
            kept.append(carried)
    return (*sorted(kept, key=lambda mark: mark.t_s), *loose)


def _same(one: Mark, other: Mark) -> bool:
    return one.label == other.label and abs(one.t_s - other.t_s) < SAME_MARK_S


def _knocks(material: Material) -> tuple[Mark, ...]:
    """Knocks on an accelerometer, for a crew that marked nothing else."""
    return tuple(
        mark
        for log in material.logs.values()
        if log.clock == UTC and "acceleration" in log.channels
        for mark in spike_marks(log.channels["acceleration"])
    )
