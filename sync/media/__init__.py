"""The only place that opens footage: its description, its frames' times, its sound.

`probe` reads what a file says of itself, `frame_times` when each frame is shown,
`decoded_frames` the frames, `pictures` single ones in RGB, and `load_sound` the samples.
Only plain files in four container families are ever opened (`sync.media.opening`).
"""

from __future__ import annotations

from sync.media.colour import ColourTags
from sync.media.decoding import Decoded, decoded_frames
from sync.media.frame_times import FrameTimes
from sync.media.frames import frame_times
from sync.media.pictures import pictures
from sync.media.probe import Footage, SoundTrack, probe
from sync.media.sound import Sound, load_sound

__all__ = [
    "ColourTags",
    "Decoded",
    "Footage",
    "FrameTimes",
    "Sound",
    "SoundTrack",
    "decoded_frames",
    "frame_times",
    "load_sound",
    "pictures",
    "probe",
]
