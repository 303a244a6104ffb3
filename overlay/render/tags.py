"""What a clip says of itself in its container: our own words, and the camera's.

Camera makers write their tags under names of their own. Those that tell where a film was shot can
be left out: whoever publishes a clip from a private mooring may not want its place in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

from sync.media import Footage
from sync.timecode import TimecodeError, TimecodeRate, frames_of, is_drop_label, label_of, rate_near

_IN_BOTH = frozenset(
    {"album", "artist", "comment", "copyright", "creation_time", "date", "genre", "location",
     "timecode", "title"}
)  # fmt: skip
HELD: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        ".mp4": _IN_BOTH | {"composer", "description", "keywords", "synopsis"},
        ".mov": _IN_BOTH | {"make", "model"},
    }
)
"""Tags that FFmpeg's muxer has a place for, by the file's ending (read back with PyAV 18); for
others it has to be asked."""

_OF_THE_FILE = frozenset(
    {"major_brand", "minor_version", "compatible_brands", "encoder", "duration", "timecode"}
)
"""What describes the camera's file rather than its film."""

_PLACE_WORDS = ("location", "gps", "latitude", "longitude", "altitude", "xyz", "geo", "loci")


def tells_place(name: str) -> bool:
    """Whether a tag tells where a film was shot, by its name."""
    return any(word in name.lower() for word in _PLACE_WORDS)


def clip_tags(footage: Footage, comment: str, *, strip_location: bool = False) -> dict[str, str]:
    """The tags of a clip: those of the footage, and a comment of our own before the camera's."""
    tags = {
        name: text
        for name, text in footage.tags.items()
        if name.lower() not in _OF_THE_FILE
        # A tag in a language is the same tag once more: `location-eng`.
        and name.partition("-")[0] not in (footage.tags.keys() - {name})
        and not (strip_location and tells_place(name))
    }
    theirs = tags.get("comment")
    tags["comment"] = f"{comment}; {theirs}" if theirs else comment
    if footage.created is not None:
        tags["creation_time"] = footage.created.isoformat()
    return tags


def timecode_from(
    footage: Footage, frames_before: int, *, recorded: str | None = None
) -> tuple[str | None, str | None]:
    """The timecode of a clip's first picture, so many frames into the footage; and why there is
    none though the footage has one."""
    label = recorded or footage.timecode
    if label is None:
        return None, None
    try:
        rate = timecode_rate(label, footage.average_rate_hz)
        return label_of(frames_of(label, rate) + frames_before, rate), None
    except TimecodeError as error:
        return None, f"the footage's timecode {label} is not carried over: {error.what}"


def timecode_rate(label: str, rate_hz: Fraction | None) -> TimecodeRate:
    """How a timecode counts.

    Raises
    ------
    TimecodeError
        Where the footage's frames are not those of any.
    """
    if rate_hz is None:
        raise TimecodeError("the footage does not say how many frames a second it has")
    return rate_near(rate_hz, drop=is_drop_label(label))
