"""Values that describe footage: a recording, its files, its sound tracks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction
from pathlib import Path

from sync.media.colour import ColourTags

UNKNOWN_CODEC = "unknown"
"""Codec of a sound track that nothing here decodes."""


COARSE_S = Fraction(1, 1000)
"""Containers with the coarsest times round them to a millisecond."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundTrack:
    """One sound track: its place among the sound tracks, and what it holds."""

    track: int
    stream: int
    codec: str
    rate_hz: int
    channels: int
    layout: str
    time_base: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Footage:
    """What one camera shot without stopping, as its file, or its first file, describes it.

    Parameters
    ----------
    path
        The file; of several, the first.
    size_bytes, duration_s
        Of all files together.
    stream
        Which stream of the container the picture is.
    sample_aspect
        Width of a sample over its height; 1 where the file does not say.
    rotation_deg
        By how much the picture has to be turned counter-clockwise to stand upright.
    average_rate_hz
        Frames a second on average, as the container says; a hint, never a clock.
    start_pts
        Time stamp of the first picture, in `time_base`; None where the container does not say.
    other_tracks
        What the file holds beside its film and its sound: data, subtitles, cover pictures.
    created
        The container's creation time. ISO/IEC 14496-12 asks for UTC; many cameras write
        their own clock, so it is a hint and no more.
    timecode
        As written in the file, `HH:MM:SS:FF`, a semicolon before the frames where it drops.
    interlaced
        Whether the stream or its first picture is made of fields.
    parts
        The files of a recording in several, in their order; empty where there is one file.
    proxy
        The same recording in a smaller picture, on the same clock.
    display_matrix
        The nine numbers by which the picture is to be turned and mirrored (ISO/IEC 14496-12,
        6.2.2); None where it is shown as it is coded.
    tags
        What the container says of itself: the camera, the place, comments.
    side_data
        What its first picture carries beside colours, by FFmpeg's names: the display that it was
        graded on, layers of dynamic range.
    """

    path: Path
    size_bytes: int
    container: str
    stream: int
    width: int
    height: int
    sample_aspect: Fraction
    rotation_deg: int
    codec: str
    pix_fmt: str
    bit_depth: int
    colour: ColourTags
    interlaced: bool
    time_base: Fraction
    average_rate_hz: Fraction | None
    start_pts: int | None
    duration_s: float | None
    sound: tuple[SoundTrack, ...]
    other_tracks: tuple[str, ...]
    created: datetime | None
    timecode: str | None
    warnings: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    proxy: Footage | None = None
    display_matrix: tuple[int, ...] | None = None
    tags: Mapping[str, str] = field(default_factory=dict, hash=False)
    side_data: Mapping[str, bytes] = field(default_factory=dict, hash=False)

    @property
    def paths(self) -> tuple[Path, ...]:
        """All files of the recording, in their order, without those of the proxy."""
        return tuple(part.film.path for part in self.parts) or (self.path,)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSound:
    """One sound track of one file of a recording.

    Parameters
    ----------
    shift_s
        What is added to the track's own times to come to the recording's clock. Where a track
        runs on, packet by packet, its samples decide where it lies, else its picture.
    start_s, stop_s
        Where its sound begins and ends on the recording's clock, run-up and padding left out;
        None where it does not matter, since there is one file.
    from_s
        On the track's own times: packets that begin before this were in the file before already
        and only let a decoder run up.
    """

    shift_s: Fraction
    start_s: Fraction | None = None
    stop_s: Fraction | None = None
    from_s: Fraction | None = None

    def is_repeated(self, begin_s: Fraction) -> bool:
        """Whether a packet, by the track's own times, was in the file before already."""
        return self.from_s is not None and begin_s < self.from_s - COARSE_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One file of a recording, and where it lies on the recording's clock.

    Parameters
    ----------
    film
        The file as it describes itself.
    start_s
        When its first frame is shown, on the recording's clock, exactly.
    shift_s
        What is added to the times of its frames to come to the recording's clock.
    sound
        The same for each of its sound tracks.
    runs_on
        Whether all sound tracks go on from the part before as one encoder wrote them, so that
        one decoder can read on across the cut.
    """

    film: Footage
    start_s: Fraction
    shift_s: Fraction
    sound: tuple[PartSound, ...]
    runs_on: bool = False


def parts_of(footage: Footage) -> tuple[Part, ...]:
    """The files of a recording with their places; one at its own time where there is one."""
    if footage.parts:
        return footage.parts
    return (
        Part(
            film=footage,
            start_s=(footage.start_pts or 0) * footage.time_base,
            shift_s=Fraction(0),
            sound=tuple(PartSound(shift_s=Fraction(0)) for _ in footage.sound),
        ),
    )
