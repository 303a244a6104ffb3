"""Looking for clues in everything that a crew brought home."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from overlay.sheet.model import Recording, TypedTie
from overlay.trial import Material, footage_clock
from sync.clock import UTC, Span, utc_text
from sync.clues import (
    Clue,
    Finding,
    Scene,
    Stamp,
    audible,
    clap_clues,
    find_impulses,
    gnss_time_clues,
    shared_mark_clues,
    spike_marks,
    stamp_clues,
    typed_clue,
)
from sync.errors import FootageError
from sync.log import Mark
from sync.media import frame_times, load_sound
from sync.tie import Ties, solve

if TYPE_CHECKING:
    from sync.media import Footage, Sound

SAME_MARK_S = 0.05
"""Marks of one label nearer than this, each in its own log, are one instant."""

UNKNOWN_M = 3.0
"""Distance of a clap from the microphone where nobody states it, and its deviation: aboard a
small boat."""

KNOWN_SD_M = 0.5

STAMP_SDS = 3.0
"""The sheet's `clock_within` is taken for so many standard deviations."""


def find_clues(material: Material) -> dict[str, Finding]:
    """All findings by the clock that they speak of."""
    marks = material.marks()
    findings = _for_logs(material, marks)
    ties = solve(findings, [clue for found in findings.values() for clue in found.clues], {})
    heard = audible(marks_on_utc(marks, ties)) or _knocks(material)
    for entry in material.sheet.recordings:
        if entry.name in material.footage:
            found = _for_footage(material, entry, material.footage[entry.name], heard)
            findings[footage_clock(entry.name)] = found
    return findings


def _for_logs(material: Material, marks: tuple[Mark, ...]) -> dict[str, Finding]:
    """Findings for the logs that do not count in UTC: marks that they share with other logs,
    and the time that receivers in them state."""
    own = [log for log in material.logs.values() if log.clock != UTC]
    shared = shared_mark_clues(marks) if own else Finding()
    findings = {}
    for log in own:
        clues = tuple(clue for clue in shared.clues if clue.from_clock == log.clock)
        stated = gnss_time_clues(log)
        firm = clues or any(not clue.hint for clue in stated.clues)
        found = Finding(clues=clues, remarks=() if firm else shared.remarks)
        findings[log.clock] = found + stated
    return findings


def marks_on_utc(marks: tuple[Mark, ...], ties: Ties) -> tuple[Mark, ...]:
    """The marks of all logs that are tied, on UTC, each instant once."""
    kept = [mark for mark in marks if mark.clock == UTC]
    for mark in marks:
        if mark.clock == UTC or mark.clock not in ties.by_clock:
            continue
        tie = ties.by_clock[mark.clock]
        carried = replace(
            mark,
            clock=UTC,
            t_s=tie.map.carry(mark.t_s),
            sd_s=math.hypot(mark.sd_s, tie.sd_s),
        )
        if not any(_same(carried, other) for other in kept):
            kept.append(carried)
    return tuple(sorted(kept, key=lambda mark: mark.t_s))


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


def _for_footage(
    material: Material, entry: Recording, footage: Footage, marks: tuple[Mark, ...]
) -> Finding:
    clock = footage_clock(entry.name)
    found = _stamps(material, entry, footage, frame_times(footage).span)
    found += Finding(clues=tuple(_typed(clock, footage, tie) for tie in entry.ties))
    if not marks:
        remark = f"{entry.name}: no log has a mark that can be heard, such as a clap or a knock"
        return found + Finding(remarks=(remark,))
    try:
        sound = load_sound(footage)
    except FootageError as error:
        return found + Finding(remarks=(f"{entry.name} {error.what}, so no clap can be heard",))
    scene, remarks = _scene(material, entry, clock, sound)
    impulses = find_impulses(sound.samples, sound.rate_hz, sound.start_s)
    hints = [clue for clue in found.clues if clue.hint]
    leads = [clue for clue in found.clues if not clue.hint]
    return found + Finding(remarks=remarks) + clap_clues(scene, impulses, marks, hints, leads)


def _scene(
    material: Material, entry: Recording, clock: str, sound: Sound
) -> tuple[Scene, tuple[str, ...]]:
    """Where the camera was; what is not known of that, in words."""
    air = material.sheet.conditions.air_temperature
    known = entry.clap_distance is not None
    scene = Scene(
        clock=clock,
        span=Span(start_s=sound.start_s, stop_s=sound.stop_s),
        distance_m=entry.clap_distance if entry.clap_distance is not None else UNKNOWN_M,
        distance_sd_m=KNOWN_SD_M if known else UNKNOWN_M,
        air_temperature_k=288.15 if air is None else air,
        clap_at_s=entry.clap_at,
    )
    if known:
        return scene, ()
    remark = (
        f"{entry.name}: the sheet does not say how far the clap was from the microphone "
        f"(clap_distance), so it is taken for {UNKNOWN_M:g} m, give or take as much"
    )
    return scene, (remark,)


def _stamps(material: Material, entry: Recording, footage: Footage, span: Span) -> Finding:
    if footage.created is None:
        return Finding(remarks=(f"{entry.name}: its container states no time of creation",))
    spans = [
        log.span for log in material.logs.values() if log.clock == UTC and log.span is not None
    ]
    logs = None
    if spans:
        logs = Span(
            start_s=min(one.start_s for one in spans), stop_s=max(one.stop_s for one in spans)
        )
    stamp = Stamp(
        clock=footage_clock(entry.name),
        created_utc_s=footage.created.timestamp(),
        length_s=span.length_s,
    )
    return stamp_clues(
        stamp,
        logs=logs,
        time_zone=material.sheet.time_zone,
        sd_s=max(entry.clock_within / STAMP_SDS, 1e-3),
    )


def _typed(clock: str, footage: Footage, tie: TypedTie) -> Clue:
    times = frame_times(footage)
    if tie.frame >= len(times.pts):
        raise FootageError(
            f"the sheet types a tie for frame {tie.frame}, and the last is {len(times.pts) - 1}",
            path=footage.path,
        )
    frame_s = float(times.duration_pts(tie.frame) * times.time_base)
    clue = typed_clue(
        from_clock=clock,
        t_from_s=times.time_s(tie.frame),
        frame_s=frame_s,
        to_clock=UTC,
        t_to_s=tie.utc.timestamp(),
        step_s=_last_digit_s(tie),
    )
    text = f"frame {tie.frame} is {utc_text(tie.utc.timestamp())}, typed"
    if tie.sd is None:
        return replace(clue, text=text)
    return replace(clue, text=text, sd_s=math.hypot(tie.sd, frame_s / math.sqrt(12)))


def _last_digit_s(tie: TypedTie) -> float:
    """What the last digit of a typed time is worth: TOML does not keep trailing noughts."""
    digits = f"{tie.utc.microsecond:06d}".rstrip("0")
    return 10.0 ** -len(digits)
