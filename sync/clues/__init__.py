"""Clues on how clocks lie to each other: one file a kind, and `CLUES`, the one table of them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from sync.clue import Clue, ClueKind, Doubt, Finding, delay_name
from sync.clues.clap import Scene, audible, clap_clues, sound_speed
from sync.clues.engine_note import engine_note_clues
from sync.clues.gnss_time import SourceTime, gnss_time_clues, source_times
from sync.clues.lamp import Watch, lamp_clues, visible
from sync.clues.linear_timecode import find_code
from sync.clues.marks.impulses import Impulse, find_impulses
from sync.clues.marks.spikes import spike_marks
from sync.clues.picture.curves import Curves, curves
from sync.clues.picture.watching import Watched, watched
from sync.clues.picture_motion import picture_motion_clues, turning_channels
from sync.clues.shared_marks import shared_mark_clues
from sync.clues.shared_motion import shared_motion_clues
from sync.clues.shared_sound import shared_sound_clues
from sync.clues.sound.places import Heard
from sync.clues.stamps import Stamp, stamp_clues
from sync.clues.timecode import (
    GENERATOR_SD_S,
    Labels,
    Setting,
    TrialDay,
    code_labels,
    container_labels,
    timecode_clues,
    together_clues,
)
from sync.clues.typed import step_of, typed_clue

__all__ = [
    "CLUES",
    "GENERATOR_SD_S",
    "Clue",
    "ClueKind",
    "Curves",
    "Doubt",
    "Finding",
    "Heard",
    "Impulse",
    "Labels",
    "Scene",
    "Setting",
    "SourceTime",
    "Stamp",
    "TrialDay",
    "Watch",
    "Watched",
    "audible",
    "clap_clues",
    "code_labels",
    "container_labels",
    "curves",
    "delay_name",
    "engine_note_clues",
    "find_code",
    "find_impulses",
    "gnss_time_clues",
    "lamp_clues",
    "picture_motion_clues",
    "shared_mark_clues",
    "shared_motion_clues",
    "shared_sound_clues",
    "sound_speed",
    "source_times",
    "spike_marks",
    "stamp_clues",
    "step_of",
    "timecode_clues",
    "together_clues",
    "turning_channels",
    "typed_clue",
    "visible",
    "watched",
]

CLUES: Mapping[str, ClueKind] = MappingProxyType(
    {
        kind.key: kind
        for kind in (
            ClueKind(key="stamps", text="when the container says it was made"),
            ClueKind(key="clap", text="a clap in the sound, held against tie marks"),
            ClueKind(key="lamp", text="a lamp that flashes in the picture, held against tie marks"),
            ClueKind(key="engine_note", text="the engine's note, held against its logged speed"),
            ClueKind(
                key="picture_motion", text="the picture's own turning, held against the boat's"
            ),
            ClueKind(key="timecode", text="the timecode that the container states"),
            ClueKind(key="linear_timecode", text="timecode heard on a sound channel"),
            ClueKind(key="shared_sound", text="sound that two recordings heard"),
            ClueKind(key="typed", text="a frame and its time, written down by a person"),
            ClueKind(key="gnss_time", text="the time that receivers in a log state"),
            ClueKind(key="shared_marks", text="marks of one label in two logs"),
            ClueKind(key="shared_motion", text="motion that two logs felt"),
        )
    }
)
"""Every kind of evidence, by its key."""
