"""What is heard in a recording: the engine's note, and claps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.sheet.recording import Recording
from overlay.trial import Material, footage_clock
from overlay.workflow.evidence.places import on_utc, windows_on
from overlay.workflow.evidence.ways import (
    aboard,
    air_k,
    air_sd_k,
    clap_away,
    engine_away,
)
from sync.clock import Span
from sync.clue import Clue, Finding
from sync.clues import Scene, clap_clues, engine_note_clues, find_impulses, sound_speed
from sync.errors import FootageError

if TYPE_CHECKING:
    from overlay.workflow.evidence.logs import Logged
    from sync.media import Footage, Sound

STAMP_ELSEWHERE = "falls on"
"""Words of a remark on a stamp that speaks of a time from which there is no log."""


def heard_clues(
    material: Material, entry: Recording, footage: Footage, written: Finding, logged: Logged
) -> Finding:
    """What the engine's note and claps say, near where what is written has the footage."""
    if not logged.claps and logged.engine is None:
        remark = f"{entry.name}: no log has a mark that can be heard, nor an engine's speed"
        return Finding(remarks=(remark,))
    if entry.slow_motion is not None:
        remark = f"{entry.name} plays in slow motion, so its sound is not that of the moment"
        return Finding(remarks=(remark,))
    try:
        sound = logged.senses.heard(footage)
    except FootageError as error:
        return Finding(remarks=(f"{entry.name} {error.what}, so nothing can be heard",))
    note = _note(material, entry, sound, written, logged)
    carried = tuple(on for clue in note.clues for on in on_utc(clue, logged.ties))
    claps = _claps(material, entry, sound, written.clues + carried, logged)
    return told(note, claps)


def told(*findings: Finding) -> Finding:
    """All findings, without the reasons why one failed where another did not."""
    clues = tuple(clue for found in findings for clue in found.clues)
    settled = any(not clue.hint for clue in clues)
    remarks = (found.remarks for found in findings if found.clues or not settled)
    return Finding(clues=clues, remarks=tuple(remark for some in remarks for remark in some))


def _note(
    material: Material, entry: Recording, sound: Sound, written: Finding, logged: Logged
) -> Finding:
    """What the engine's note says.

    A stamp that falls on no log speaks of another day, on which a launch may sound alike: then
    nothing is looked for.
    """
    engine = logged.engine
    if engine is None or elsewhere(written):
        return Finding()
    motor = material.sheet.engines[0] if material.sheet.engines else None
    away, away_sd = engine_away(entry)
    speed = sound_speed(air_k(material))
    return engine_note_clues(
        clock=footage_clock(entry.name),
        samples=sound.samples,
        rate_hz=sound.rate_hz,
        start_s=sound.start_s,
        channel=engine,
        cylinders=None if motor is None else motor.cylinders,
        strokes=None if motor is None else motor.strokes,
        windows=windows_on(written.clues, engine.clock, logged.ties),
        sound_delay_s=away / speed,
        sound_delay_sd_s=away_sd / speed,
        afar=not aboard(entry),
    )


def elsewhere(written: Finding) -> bool:
    """Whether all that is written of a recording is a time from which there is no log."""
    return not written.clues and any(STAMP_ELSEWHERE in remark for remark in written.remarks)


def _claps(
    material: Material,
    entry: Recording,
    sound: Sound,
    clues: tuple[Clue, ...],
    logged: Logged,
) -> Finding:
    """What claps say, where the other clues may lead to one of them."""
    if not logged.claps:
        return Finding()
    scene, remarks = _scene(material, entry, sound)
    impulses = find_impulses(sound.samples, sound.rate_hz, sound.start_s)
    hints = [clue for clue in clues if clue.hint]
    leads = [clue for clue in clues if not clue.hint]
    found = clap_clues(scene, impulses, logged.claps, hints, leads)
    return Finding(remarks=remarks if found.clues else ()) + found


def _scene(material: Material, entry: Recording, sound: Sound) -> tuple[Scene, tuple[str, ...]]:
    """Where the camera was; what is not known of that, in words."""
    away, away_sd = clap_away(entry)
    scene = Scene(
        clock=footage_clock(entry.name),
        span=Span(start_s=sound.start_s, stop_s=sound.stop_s),
        distance_m=away,
        distance_sd_m=away_sd,
        air_temperature_k=air_k(material),
        air_temperature_sd_k=air_sd_k(material),
        clap_at_s=entry.clap_at,
    )
    if entry.clap_distance is not None:
        return scene, ()
    remark = (
        f"{entry.name}: the sheet does not say how far the clap was from the microphone "
        f"(clap_distance), so it is taken for {away:g} m, give or take as much"
    )
    return scene, (remark,)
