"""The only place that opens footage: its description, its frames' times, its sound.

`probe` reads what a file says of itself, `frame_times` when each frame is shown,
`decoded_frames` the frames, `pictures` single ones in RGB, and `load_sound` the samples.
A recording in several files is put in a row by `join`, and its twins in small pictures beside
it by `with_proxies`; all of these then take it as they take a single file.
Only plain files in four container families are ever opened (`sync.media.opening`).
"""

from __future__ import annotations

from sync.media.chapters import looks_cut, suspected_slow
from sync.media.colour import ColourTags
from sync.media.decoding import Decoded, decoded_frames
from sync.media.footage import Footage, SoundTrack
from sync.media.frame_times import FrameTimes
from sync.media.joining import frame_times, join
from sync.media.pictures import pictures
from sync.media.probe import probe
from sync.media.small import SmallFrame, small_frames
from sync.media.sound import Sound, load_sound
from sync.media.twins import on_proxy, with_proxies

__all__ = [
    "ColourTags",
    "Decoded",
    "Footage",
    "FrameTimes",
    "SmallFrame",
    "Sound",
    "SoundTrack",
    "decoded_frames",
    "frame_times",
    "join",
    "load_sound",
    "looks_cut",
    "on_proxy",
    "pictures",
    "probe",
    "small_frames",
    "suspected_slow",
    "with_proxies",
]
