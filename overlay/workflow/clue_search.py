"""Looking for clues in everything that a crew brought home."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from overlay.delays import stated_delay, with_delay
from overlay.trial import Material, footage_clock
from overlay.workflow.footage_clues import Heard, Sounds, footage_clues
from overlay.workflow.footage_pairs import between_recordings
from sync.clock import UTC
from sync.clues import (
    Clue,
    Finding,
    audible,
    gnss_time_clues,
    shared_mark_clues,
    shared_motion_clues,
    spike_marks,
)
from sync.log import Channel, Log, Mark
from sync.tie import Ties, solve

SAME_MARK_S = 0.05
"""Marks of one label nearer than this, each in its own log, are one instant."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Search:
    """What the search for clues found by the clock that it speaks of, and the ties that follow."""

    findings: Mapping[str, Finding]
    ties: Ties

    @property
    def clues(self) -> tuple[Clue, ...]:
        """All clues."""
        return tuple(clue for finding in self.findings.values() for clue in finding.clues)


def search(material: Material, sounds: Sounds | None = None) -> Search:
    """Look for all clues and solve for all ties; nothing is written."""
    findings = find_clues(material, sounds)
    for name, error in material.unreadable.items():
        findings[footage_clock(name)] = Finding(remarks=(str(error).rstrip("."),))
    clocks = [log.clock for log in material.logs.values()]
    clocks += [footage_clock(entry.name) for entry in material.sheet.recordings]
    clues = [clue for finding in findings.values() for clue in finding.clues]
    remarks = {clock: "; ".join(finding.remarks) for clock, finding in findings.items()}
    return Search(findings=findings, ties=solve(clocks, clues, remarks))


def find_clues(material: Material, sounds: Sounds | None = None) -> dict[str, Finding]:
    """All findings by the clock that they speak of.

    `sounds` keeps what was decoded for others who want to hear it.
    """
    marks = material.marks()
    channels = late_channels(material)
    findings = _for_logs(material, marks, channels)
    ties = solve(findings, [clue for found in findings.values() for clue in found.clues], {})
    heard = Heard(
        marks=audible(marks_on_utc(marks, ties)) or _knocks(material),
        engine=_first(channels, "engine_speed"),
        log_ties=ties,
        sounds=sounds or Sounds(),
    )
    for entry in material.sheet.recordings:
        if entry.name in material.footage:
            found = footage_clues(material, entry, material.footage[entry.name], heard)
            findings[footage_clock(entry.name)] = found
    for clock, found in between_recordings(material, findings, heard.sounds).items():
        findings[clock] += found
    return findings


def late_channels(material: Material) -> tuple[Channel, ...]:
    """The channels of all logs on their own clocks, each with the delay that the sheet has.

    Of logs on one clock that have the same channel the first in the sheet counts, as in a
    `Trial`.
    """
    found: dict[tuple[str, str], Channel] = {}
    for log in material.logs.values():
        for channel in log.channels.values():
            late = with_delay(channel, stated_delay(channel.key, log.name, material.sheet))
            found.setdefault((channel.clock, channel.key), late)
    return tuple(found.values())


def _first(channels: Iterable[Channel], name: str) -> Channel | None:
    """The first channel of a name that has values."""
    return next((c for c in channels if c.name == name and c.span is not None), None)


def _for_logs(
    material: Material, marks: tuple[Mark, ...], channels: tuple[Channel, ...]
) -> dict[str, Finding]:
    """Findings for the logs: the marks that they share, the motion that they felt together,
    and the time that receivers in them state."""
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
