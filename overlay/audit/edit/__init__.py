"""Which piece of which footage each shot of an edited film is."""

from __future__ import annotations

from overlay.audit.edit.covers import Cover, cover_of
from overlay.audit.edit.find import find_shots
from overlay.audit.edit.framing import Framing
from overlay.audit.edit.shot import Resemblance, Shot
from overlay.audit.edit.sources import Source, clip_source, recording_source

__all__ = [
    "Cover",
    "Framing",
    "Resemblance",
    "Shot",
    "Source",
    "clip_source",
    "cover_of",
    "find_shots",
    "recording_source",
]
