"""A picture for each recording that is tied, by which a person sees whether the tie is right."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from overlay.delays import delay_of, with_delay
from overlay.graphics.theme import load_theme
from overlay.report.tie_picture import Expected, tie_picture
from overlay.sheet.model import Recording
from overlay.trial import Material, footage_clock
from overlay.workflow.clue_search import marks_on_utc
from overlay.workflow.files import write_whole
from overlay.workflow.footage_clues import Sounds, way_of_clap_s, way_of_note_s
from overlay.workflow.locate import checks_folder
from sync.clock import UTC, Span
from sync.clues import audible
from sync.log import Channel
from sync.tie import Ties

STEP_S = 0.02
"""Between the instants at which the logged engine speed is drawn."""


def tie_pictures(material: Material, ties: Ties, sounds: Sounds) -> tuple[Path, ...]:
    """Draw the sound of every tied recording with what its tie would have in it.

    A recording without sound, or in slow motion, has no picture.
    """
    engine = _engine(material, ties)
    made = []
    for entry in material.sheet.recordings:
        footage = material.footage.get(entry.name)
        if footage is None or not footage.sound or entry.slow_motion is not None:
            continue
        if footage_clock(entry.name) not in ties.by_clock:
            continue
        path = checks_folder(material.sheet_path) / f"{entry.name}-tie.png"
        write_whole(path, _drawn(material, ties, entry, engine, sounds))
        made.append(path)
    return tuple(made)


def _drawn(
    material: Material, ties: Ties, entry: Recording, engine: Channel | None, sounds: Sounds
) -> bytes:
    sound = sounds.of(material.footage[entry.name])
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
    tie = ties.by_clock[footage_clock(entry.name)]
    return tie_picture(
        title=f"{entry.name}: what is heard, and what its tie (± {tie.sd_s * 1000:.0f} ms) "
        "would have there",
        samples=sound.samples,
        rate_hz=sound.rate_hz,
        start_s=sound.start_s,
        expected=Expected(
            t_s=t, firing_hz=firing, claps_s=tuple(at for at in claps if span.holds(at))
        ),
        colours=load_theme("chart").colours,
    )


def _engine(material: Material, ties: Ties) -> Channel | None:
    """The first engine's speed on UTC, its delay taken out; None where none is tied."""
    for log in material.logs.values():
        channel = log.channels.get("engine_speed")
        if channel is not None and (log.clock == UTC or log.clock in ties.by_clock):
            late = delay_of(channel, log.name, material.sheet, ties)
            return with_delay(channel, late).on(ties.to_utc(log.clock)).timely()
    return None


def _ignitions(material: Material) -> float:
    """Ignitions in a revolution, or 1 where the sheet does not tell: the turns themselves."""
    motor = material.sheet.engines[0] if material.sheet.engines else None
    if motor is None or motor.cylinders is None or motor.strokes is None:
        return 1.0
    return motor.cylinders / (motor.strokes / 2.0)
