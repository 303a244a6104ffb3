"""A picture for each recording that is tied, by which a person sees whether the tie is right."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from overlay.graphics.theme import load_theme
from overlay.report.tie_panels import Expected
from overlay.report.tie_picture import tie_picture
from overlay.sheet.recording import Recording
from overlay.trial import Material, footage_clock
from overlay.workflow.evidence.logs import late_channels, marks_on_utc, turning_of
from overlay.workflow.evidence.senses import Senses
from overlay.workflow.evidence.ways import way_of_clap_s, way_of_note_s
from overlay.workflow.files import write_whole
from overlay.workflow.locate import checks_folder
from sync.channel import Channel
from sync.clock import UTC, Span
from sync.clues import Curves, audible, curves
from sync.tie import Ties

if TYPE_CHECKING:
    from sync.media import Sound

STEP_S = 0.02
"""Between the instants at which the logged engine speed is drawn."""


def tie_pictures(material: Material, ties: Ties, senses: Senses) -> tuple[Path, ...]:
    """Draw every tied recording with what its tie would have in it.

    The picture's turning is drawn where the tie rests on it. A recording that has neither that
    nor sound, or plays in slow motion, has no picture.
    """
    engine = _engine(material, ties)
    made = []
    for entry in material.sheet.recordings:
        footage = material.footage.get(entry.name)
        clock = footage_clock(entry.name)
        if footage is None or entry.slow_motion is not None or clock not in ties.by_clock:
            continue
        sound = senses.heard(footage) if footage.sound else None
        turned = _turned(material, ties, entry, senses)
        if sound is None and turned is None:
            continue
        path = checks_folder(material.sheet_path) / f"{entry.name}-tie.png"
        expected = _expected(material, ties, entry, engine, sound)
        picture = tie_picture(
            title=f"{entry.name}: what is heard and seen, and what its tie "
            f"(± {ties.by_clock[clock].sd_s * 1000:.0f} ms) would have there",
            sound=sound,
            expected=expected,
            turned=turned,
            colours=load_theme("chart").colours,
        )
        write_whole(path, picture)
        made.append(path)
    return tuple(made)


def _expected(
    material: Material, ties: Ties, entry: Recording, engine: Channel | None, sound: Sound | None
) -> Expected:
    """What the tie would have in the sound: the engine's note, and claps."""
    if sound is None:
        return Expected(t_s=np.empty(0), firing_hz=np.empty(0), claps_s=())
    to_utc = ties.to_utc(footage_clock(entry.name))
    span = Span(start_s=sound.start_s, stop_s=sound.stop_s)
    t = np.arange(span.start_s, span.stop_s, STEP_S)
    firing = np.full(t.size, np.nan)
    if engine is not None:
        sounded = to_utc.carry(t - way_of_note_s(material, entry))
        firing = engine.at(sounded) * _ignitions(material)
    to_film = to_utc.inverse()
    marks = [m for m in marks_on_utc(material.marks(), ties) if m.clock == UTC]
    claps = [to_film.carry(m.t_s) + way_of_clap_s(material, entry) for m in audible(marks)]
    return Expected(t_s=t, firing_hz=firing, claps_s=tuple(at for at in claps if span.holds(at)))


def _turned(material: Material, ties: Ties, entry: Recording, senses: Senses) -> Curves | None:
    """How the picture turned and how the log would have it, if the tie rests on that."""
    clock = footage_clock(entry.name)
    clue = next((c for c in ties.by_clock[clock].clues if c.kind == "picture_motion"), None)
    if clue is None:
        return None
    turning = turning_of(late_channels(material, ties))
    mine = next((some for some in turning if some[0].clock == clue.to_clock), ())
    at = clue.at_s or 0.0
    there = ties.to_utc(clue.to_clock).inverse().carry(ties.to_utc(clock).carry(at))
    return curves(senses.seen(material.footage[entry.name]).turning, mine, there - at)


def _engine(material: Material, ties: Ties) -> Channel | None:
    """The first engine's speed on UTC, its delay taken out; None where none is tied."""
    for late in late_channels(material, ties):
        if late.name == "engine_speed" and (late.clock == UTC or late.clock in ties.by_clock):
            return late.on(ties.to_utc(late.clock)).timely()
    return None


def _ignitions(material: Material) -> float:
    """Ignitions in a revolution, or 1 where the sheet does not tell: the turns themselves."""
    motor = material.sheet.engines[0] if material.sheet.engines else None
    if motor is None or motor.cylinders is None or motor.strokes is None:
        return 1.0
    return motor.cylinders / (motor.strokes / 2.0)
