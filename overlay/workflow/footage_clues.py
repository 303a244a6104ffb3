"""Looking for clues in one recording: its stamp, what was typed, and what is heard in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.sheet.model import Recording, TypedTie
from overlay.trial import Material, footage_clock, life_s
from sync.clock import UTC, Span, utc_text
from sync.clues import (
    GENERATOR_SD_S,
    Clue,
    Finding,
    Labels,
    Scene,
    Setting,
    Stamp,
    TrialDay,
    clap_clues,
    code_labels,
    container_labels,
    engine_note_clues,
    find_code,
    find_impulses,
    sound_speed,
    stamp_clues,
    timecode_clues,
    typed_clue,
)
from sync.errors import FootageError
from sync.log import Channel, Mark
from sync.media import frame_times, load_sound
from sync.timecode import TimecodeError

if TYPE_CHECKING:
    from sync.media import Footage, Sound
    from sync.tie import Ties

CLAP_AWAY_M = 3.0
ENGINE_AWAY_M = 4.0
"""Distances from clap and engine to the microphone where nobody states them, and their
deviations where the same: aboard a small boat."""

ABOARD_M = 15.0
"""A camera further from the engine than this is on another boat, or ashore."""

STATED_SD_M = 0.5
STATED_SHARE = 0.1
"""Deviation of a distance that the sheet states: half a metre, or a tenth of it if that is
more, since a chase boat does not keep its place."""

AIR_K = 288.15
"""Air temperature where nobody states it, 15 °C: ten degrees are 2 % of a sound's way."""

STAMP_SDS = 3.0
"""The sheet's `clock_within` is taken for so many standard deviations."""


class Sounds:
    """The sounds of recordings, each decoded once for all who want to hear it."""

    def __init__(self) -> None:
        self._known: dict[Path, Sound] = {}

    def of(self, footage: Footage) -> Sound:
        """A recording's first sound track.

        Raises
        ------
        FootageError
            Where it has none that can be decoded.
        """
        if footage.path not in self._known:
            self._known[footage.path] = load_sound(footage)
        return self._known[footage.path]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """What of the logs can be heard in a recording, and how the logs lie to UTC.

    `marks` are on UTC where their log is tied; `engine` is an engine's logged speed on its
    log's own clock, with its delay.
    """

    marks: tuple[Mark, ...]
    engine: Channel | None
    log_ties: Ties
    sounds: Sounds


def footage_clues(material: Material, entry: Recording, footage: Footage, heard: Heard) -> Finding:
    """Everything that one recording tells about its clock."""
    span = frame_times(footage).span
    length_s = life_s(entry, span.stop_s) - life_s(entry, span.start_s)
    stamps = _stamps(material, entry, footage, length_s)
    found = stamps + Finding(clues=tuple(_typed(entry, footage, tie) for tie in entry.ties))
    found += time_of_day(material, entry, timecode_labels(entry, footage, heard.sounds))
    if not heard.marks and heard.engine is None:
        remark = f"{entry.name}: no log has a mark that can be heard, nor an engine's speed"
        return found + Finding(remarks=(remark,))
    if entry.slow_motion is not None:
        remark = f"{entry.name} plays in slow motion, so its sound is not that of the moment"
        return found + Finding(remarks=(remark,))
    try:
        sound = heard.sounds.of(footage)
    except FootageError as error:
        return found + Finding(remarks=(f"{entry.name} {error.what}, so nothing can be heard",))
    note = _note(material, entry, sound, found, heard)
    carried = tuple(on_utc for clue in note.clues for on_utc in _on_utc(clue, heard.log_ties))
    claps = _claps(material, entry, sound, found.clues + carried, heard.marks)
    return found + told(note, claps)


def told(note: Finding, claps: Finding) -> Finding:
    """Both findings, without the reasons why the one failed where the other did not."""
    settled = any(not clue.hint for clue in (*note.clues, *claps.clues))
    return Finding(
        clues=note.clues + claps.clues,
        remarks=tuple(
            remark
            for found in (note, claps)
            if found.clues or not settled
            for remark in found.remarks
        ),
    )


def _note(
    material: Material, entry: Recording, sound: Sound, found: Finding, heard: Heard
) -> Finding:
    """What the engine's note says, near where stamps and typed ties have the footage.

    A stamp that falls on no log speaks of another day, on which a launch may sound alike: then
    nothing is looked for.
    """
    engine = heard.engine
    if engine is None:
        return Finding()
    if not found.clues and any("falls on" in remark for remark in found.remarks):
        return Finding()
    motor = material.sheet.engines[0] if material.sheet.engines else None
    away, away_sd = _away(entry.engine_distance, ENGINE_AWAY_M)
    speed = sound_speed(_air(material))
    return engine_note_clues(
        clock=footage_clock(entry.name),
        samples=sound.samples,
        rate_hz=sound.rate_hz,
        start_s=sound.start_s,
        channel=engine,
        cylinders=None if motor is None else motor.cylinders,
        strokes=None if motor is None else motor.strokes,
        windows=_windows(found.clues, engine.clock, heard.log_ties),
        sound_delay_s=away / speed,
        sound_delay_sd_s=away_sd / speed,
        afar=away > ABOARD_M,
    )


def _windows(clues: tuple[Clue, ...], clock: str, ties: Ties) -> tuple[Span, ...]:
    """Where the offset to a log's clock may lie by the clues to UTC; anywhere where the log is
    not tied."""
    if clock != UTC and clock not in ties.by_clock:
        return ()
    to_log = ties.to_utc(clock).inverse()
    spans = []
    for clue in clues:
        at = clue.at_s or 0.0
        middle = to_log.carry(at + clue.offset_s) - at
        reach = STAMP_SDS * clue.sd_s + 1.0
        spans.append(Span(start_s=middle - reach, stop_s=middle + reach))
    return tuple(spans)


def _on_utc(clue: Clue, ties: Ties) -> tuple[Clue, ...]:
    """A clue to a log's clock as one to UTC, if that log is tied."""
    if clue.to_clock == UTC:
        return (clue,)
    if clue.to_clock not in ties.by_clock:
        return ()
    tie = ties.by_clock[clue.to_clock]
    at = clue.at_s or 0.0
    there = at + clue.offset_s
    return (
        replace(
            clue,
            to_clock=UTC,
            offset_s=tie.map.carry(there) - at,
            sd_s=math.hypot(clue.sd_s, tie.sd_at(there)),
        ),
    )


def _claps(
    material: Material,
    entry: Recording,
    sound: Sound,
    clues: tuple[Clue, ...],
    marks: tuple[Mark, ...],
) -> Finding:
    """What claps say, where the other clues may lead to one of them."""
    if not marks:
        return Finding()
    scene, remarks = _scene(material, entry, sound)
    impulses = find_impulses(sound.samples, sound.rate_hz, sound.start_s)
    hints = [clue for clue in clues if clue.hint]
    leads = [clue for clue in clues if not clue.hint]
    found = clap_clues(scene, impulses, marks, hints, leads)
    return Finding(remarks=remarks if found.clues else ()) + found


def _scene(material: Material, entry: Recording, sound: Sound) -> tuple[Scene, tuple[str, ...]]:
    """Where the camera was; what is not known of that, in words."""
    away, away_sd = _away(entry.clap_distance, CLAP_AWAY_M)
    scene = Scene(
        clock=footage_clock(entry.name),
        span=Span(start_s=sound.start_s, stop_s=sound.stop_s),
        distance_m=away,
        distance_sd_m=away_sd,
        air_temperature_k=_air(material),
        clap_at_s=entry.clap_at,
    )
    if entry.clap_distance is not None:
        return scene, ()
    remark = (
        f"{entry.name}: the sheet does not say how far the clap was from the microphone "
        f"(clap_distance), so it is taken for {away:g} m, give or take as much"
    )
    return scene, (remark,)


def _away(stated: float | None, usual: float) -> tuple[float, float]:
    """A distance from the microphone, and one standard deviation of it."""
    if stated is None:
        return usual, usual
    return stated, max(STATED_SD_M, STATED_SHARE * stated)


def way_of_note_s(material: Material, entry: Recording) -> float:
    """How long the engine's sound is taken to need to the microphone."""
    return _away(entry.engine_distance, ENGINE_AWAY_M)[0] / sound_speed(_air(material))


def way_of_clap_s(material: Material, entry: Recording) -> float:
    """How long a clap is taken to need to the microphone."""
    return _away(entry.clap_distance, CLAP_AWAY_M)[0] / sound_speed(_air(material))


def _air(material: Material) -> float:
    air = material.sheet.conditions.air_temperature
    return AIR_K if air is None else air


def _logged(material: Material) -> Span | None:
    """The stretch of UTC that the logs cover which are on it."""
    spans = [
        log.span for log in material.logs.values() if log.clock == UTC and log.span is not None
    ]
    if not spans:
        return None
    return Span(start_s=min(one.start_s for one in spans), stop_s=max(one.stop_s for one in spans))


def timecode_labels(
    entry: Recording, footage: Footage, sounds: Sounds
) -> tuple[tuple[Labels, ...], tuple[str, ...]]:
    """The labels of a recording's timecode, and what there is to say of them.

    In slow motion labels count film and not life, so there are none. Code in the sound is
    looked for where the sheet says what it is, since the search takes its time.
    """
    if entry.slow_motion is not None:
        return (), ()
    clock, span = footage_clock(entry.name), frame_times(footage).span
    labels: list[Labels] = []
    remarks: list[str] = []
    if footage.timecode is not None and footage.average_rate_hz is not None:
        try:
            rate = footage.average_rate_hz
            labels.append(container_labels(clock, footage.timecode, rate, span.start_s, span))
        except TimecodeError as error:
            remarks.append(f"{entry.name}: {error}")
    if entry.timecode is not None and footage.sound:
        sound = sounds.of(footage)
        code = find_code(sound.samples[None, :], sound.rate_hz, sound.start_s)
        heard, said = code_labels(clock, code)
        labels += heard
        remarks += said if heard or not labels else ()
    if entry.timecode is not None and not labels:
        remarks.append(f"{entry.name}: it has no timecode, neither in its container nor its sound")
    return tuple(labels), tuple(remarks)


def time_of_day(
    material: Material,
    entry: Recording,
    found: tuple[tuple[Labels, ...], tuple[str, ...]],
) -> Finding:
    """What a timecode says of the time of day; nothing where it was only set with others."""
    labels, remarks = found
    finding = Finding(remarks=remarks)
    if entry.timecode == "together":
        return finding
    within = entry.timecode_within
    setting = Setting(
        meaning=entry.timecode,
        set_utc_s=None if entry.timecode_set is None else entry.timecode_set.timestamp(),
        sd_s=GENERATOR_SD_S if within is None else within / STAMP_SDS,
    )
    day = TrialDay(
        date=material.sheet.date, time_zone=material.sheet.time_zone, logs=_logged(material)
    )
    return finding + timecode_clues(labels, setting, day)


def _stamps(material: Material, entry: Recording, footage: Footage, length_s: float) -> Finding:
    if footage.created is None:
        return Finding(remarks=(f"{entry.name}: its container states no time of creation",))
    logs = _logged(material)
    return stamp_clues(
        Stamp(
            clock=footage_clock(entry.name),
            created_utc_s=footage.created.timestamp(),
            length_s=length_s,
        ),
        logs=logs,
        time_zone=material.sheet.time_zone,
        sd_s=max(entry.clock_within / STAMP_SDS, 1e-3),
    )


def _typed(entry: Recording, footage: Footage, tie: TypedTie) -> Clue:
    times = frame_times(footage)
    if tie.frame >= len(times.pts):
        raise FootageError(
            f"the sheet types a tie for frame {tie.frame}, and the last is {len(times.pts) - 1}",
            path=footage.path,
        )
    frame_s = life_s(entry, float(times.duration_pts(tie.frame) * times.time_base))
    clue = typed_clue(
        from_clock=footage_clock(entry.name),
        t_from_s=life_s(entry, times.time_s(tie.frame)),
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
