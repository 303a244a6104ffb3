"""Looking for clues between recordings: sound that both heard, timecodes set together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from itertools import combinations

from overlay.sheet.recording import Recording
from overlay.trial import Material, footage_clock, life_s
from overlay.workflow.evidence.senses import Senses
from overlay.workflow.evidence.ways import air_k
from overlay.workflow.evidence.written import timecode_labels
from sync.clock import UTC, Span
from sync.clue import Finding
from sync.clues import Heard, shared_sound_clues, together_clues
from sync.errors import FootageError
from sync.media import frame_times
from sync.tie import Ties, solve

APART_M = 3.0
"""How far apart microphones are on a small boat."""

SDS = 3.0
"""Recordings may meet where they do so within so many deviations of what is known of them."""

LEAST_TOGETHER_S = 10.0
"""Less sound than this in common is not looked for."""


def between_recordings(
    material: Material, findings: Mapping[str, Finding], senses: Senses
) -> dict[str, Finding]:
    """What recordings say of each other, by the clock of the first of each pair.

    Parameters
    ----------
    findings
        What is known of each by itself: recordings that cannot have met are not compared.
    """
    ties = solve(findings, [clue for found in findings.values() for clue in found.clues], {})
    found: dict[str, Finding] = defaultdict(Finding)
    entries = [e for e in material.sheet.recordings if e.name in material.footage]
    for one, other in combinations(entries, 2):
        mine, theirs = (_when(material, entry, ties, findings) for entry in (one, other))
        if _may_meet(mine, theirs):
            clock = footage_clock(one.name)
            found[clock] += _shared_sound(material, one, other, ties, senses)
    together = [e for e in entries if e.timecode == "together"]
    if len(together) > 1:
        labels = [timecode_labels(e, material.footage[e.name], senses)[0] for e in together]
        clock = footage_clock(together[0].name)
        found[clock] += together_clues([one for some in labels for one in some])
    return dict(found)


def _when(
    material: Material, entry: Recording, ties: Ties, findings: Mapping[str, Finding]
) -> tuple[Span, ...] | None:
    """The stretches of UTC in which a recording may lie; None for anywhere."""
    span = frame_times(material.footage[entry.name]).span
    start, stop = life_s(entry, span.start_s), life_s(entry, span.stop_s)
    clock = footage_clock(entry.name)
    if clock in ties.by_clock:
        to_utc = ties.to_utc(clock)
        return (Span(start_s=to_utc.carry(start), stop_s=to_utc.carry(stop)),)
    hints = [clue for clue in findings[clock].clues if clue.to_clock == UTC]
    return (
        tuple(
            Span(
                start_s=start + clue.offset_s - SDS * clue.sd_s,
                stop_s=stop + clue.offset_s + SDS * clue.sd_s,
            )
            for clue in hints
        )
        or None
    )


def _may_meet(ones: tuple[Span, ...] | None, others: tuple[Span, ...] | None) -> bool:
    if ones is None or others is None:
        return True
    return any(
        (both := one.overlap(other)) is not None and both.length_s >= LEAST_TOGETHER_S
        for one in ones
        for other in others
    )


def _shared_sound(
    material: Material, one: Recording, other: Recording, ties: Ties, senses: Senses
) -> Finding:
    """What both heard; why nothing can be said only where one of them is not tied yet."""
    if one.slow_motion is not None or other.slow_motion is not None:
        return Finding()
    try:
        mine, theirs = (_heard(material, entry, senses) for entry in (one, other))
    except FootageError:
        return Finding()  # said already, where it was looked at by itself
    found = shared_sound_clues(
        footage_clock(one.name),
        mine,
        footage_clock(other.name),
        theirs,
        apart_m=max(APART_M, sum(entry.engine_distance or 0.0 for entry in (one, other))),
        air_temperature_k=air_k(material),
    )
    tied = all(footage_clock(entry.name) in ties.by_clock for entry in (one, other))
    return Finding(clues=found.clues) if tied else found


def _heard(material: Material, entry: Recording, senses: Senses) -> Heard:
    sound = senses.heard_small(material.footage[entry.name])
    return Heard(samples=sound.samples, rate_hz=sound.rate_hz, start_s=sound.start_s)
