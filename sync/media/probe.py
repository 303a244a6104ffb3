"""What a footage file says of itself: size, rates, colour, sound tracks, time stamps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from sync.errors import FootageError
from sync.media.colour import ColourTags
from sync.media.ffmpeg_log import caught
from sync.media.footage import UNKNOWN_CODEC, Footage, SoundTrack
from sync.media.opening import open_footage, sniff

if TYPE_CHECKING:
    from av import VideoFrame
    from av.audio import AudioStream
    from av.audio.codeccontext import AudioCodecContext
    from av.container import InputContainer
    from av.sidedata.sidedata import SideData
    from av.stream import Stream
    from av.video import VideoStream

PACKETS_TO_FIRST_PICTURE = 300
"""How far to look for a picture that decodes: ten seconds at thirty frames a second."""

EARLIEST_CREATION = datetime(1990, 1, 1, tzinfo=UTC)
"""Earlier ones are clocks that were never set: containers count from 1904, systems from 1970."""

KEPT_SIDE_DATA = frozenset(
    {
        "MASTERING_DISPLAY_METADATA",
        "CONTENT_LIGHT_LEVEL",
        "DYNAMIC_HDR_PLUS",
        "DOVI_RPU_BUFFER",
        "DOVI_METADATA",
    }
)

_ONE = 1 << 16
"""1 as display matrices write it."""

_FULL_RANGE = 2
_LIMITED_RANGE = 1
_PROGRESSIVE = (0, 1)


def probe(path: Path) -> Footage:
    """Read a footage file's description, and decode its first picture.

    Raises
    ------
    FootageError
        Where it is missing, empty, cut off, not footage, or has no picture that decodes.
    """
    path = Path(path)
    with caught(this_thread_only=True) as messages, open_footage(path) as container:
        video = picture_stream(container, path)
        return Footage(
            path=path,
            size_bytes=path.stat().st_size,
            container=sniff(path).name,
            sound=_sound_tracks(container),
            other_tracks=tuple(
                _kind_of(stream)
                for stream in container.streams
                if stream.type != "audio" and stream.index != video.index
            ),
            duration_s=_duration_s(container, video),
            created=_created(container, video),
            timecode=_timecode(container, video),
            tags=dict(container.metadata),
            **_picture_facts(video, _first_picture(container, video, path)),
            warnings=messages.lines(),
        )


def _kind_of(stream: Stream) -> str:
    """A track's type; a track of timecode, which FFmpeg counts as data, by its own name."""
    return "timecode" if stream.type == "data" and "timecode" in stream.metadata else stream.type


def picture_stream(container: InputContainer, path: Path) -> VideoStream:
    """The stream that holds the film: the first that is no cover picture.

    Raises
    ------
    FootageError
        Where there is none, or nothing here decodes it.
    """
    from av.stream import Disposition

    stills = Disposition.attached_pic | Disposition.timed_thumbnails | Disposition.still_image
    films = [s for s in container.streams.video if not s.disposition & stills]
    if not films:
        raise FootageError(
            "has no video track",
            path=path,
            advice="name the camera's film; a recording of sound alone cannot carry graphics",
        )
    decodable = [s for s in films if s.codec_context is not None]
    if not decodable:
        raise FootageError(
            "has a video track in a codec that cannot be decoded here",
            path=path,
            advice="have the camera record H.264 or H.265",
        )
    return decodable[0]


def _first_picture(container: InputContainer, video: VideoStream, path: Path) -> VideoFrame:
    import av

    met = 0
    try:
        for packet in container.demux(video):
            met += 1
            try:
                frames = packet.decode()
            except av.error.InvalidDataError:
                frames = []
            if frames:
                return frames[0]
            if met >= PACKETS_TO_FIRST_PICTURE:
                break
    except av.FFmpegError:
        pass  # a file cut off this early has no picture, which is what is said below
    raise FootageError(
        "has a video track, but no picture in it can be decoded",
        path=path,
        advice="copy it from the camera's card once more",
    )


def _picture_facts(video: VideoStream, frame: VideoFrame) -> dict[str, Any]:
    context = video.codec_context
    interlaced = frame.interlaced_frame or context.field_order not in _PROGRESSIVE
    aspect = video.sample_aspect_ratio
    return {
        "stream": video.index,
        "width": frame.width,
        "height": frame.height,
        "sample_aspect": aspect or Fraction(1),
        "rotation_deg": frame.rotation % 360,
        "codec": context.codec.canonical_name,
        "pix_fmt": frame.format.name,
        "bit_depth": frame.format.components[0].bits,
        "colour": colour_of(frame),
        "interlaced": interlaced,
        "time_base": video.time_base,
        "average_rate_hz": video.average_rate,
        "start_pts": video.start_time,
        "display_matrix": _display_matrix(frame),
        "side_data": {
            data.type.name: bytes(data)
            for data in _side_data(frame)
            if data.type.name in KEPT_SIDE_DATA
        },
    }


def _side_data(frame: VideoFrame) -> Iterator[SideData]:
    return iter(cast("Iterable[SideData]", frame.side_data))  # what PyAV types as a mapping


def _display_matrix(frame: VideoFrame) -> tuple[int, ...] | None:
    for data in _side_data(frame):
        if data.type.name == "DISPLAYMATRIX":
            matrix = tuple(int(n) for n in np.frombuffer(bytes(data), "<i4", count=9))
            return None if matrix[:2] + matrix[3:5] == (_ONE, 0, 0, _ONE) else matrix
    return None


def colour_of(frame: VideoFrame) -> ColourTags:
    """The colour tags of a decoded picture."""
    full = {_FULL_RANGE: True, _LIMITED_RANGE: False}.get(int(frame.color_range))
    if full is None and frame.format.name.startswith("yuvj"):
        full = True
    return ColourTags(
        matrix=int(frame.colorspace),
        primaries=int(frame.color_primaries),
        transfer=int(frame.color_trc),
        full_range=full,
    )


def _sound_tracks(container: InputContainer) -> tuple[SoundTrack, ...]:
    return tuple(_sound_track(n, stream) for n, stream in enumerate(container.streams.audio))


def _sound_track(track: int, stream: AudioStream) -> SoundTrack:
    context: AudioCodecContext | None = stream.codec_context  # None: nothing here decodes it
    if context is None:
        return SoundTrack(
            track=track,
            stream=stream.index,
            codec=UNKNOWN_CODEC,
            rate_hz=0,
            channels=0,
            layout="unknown",
            time_base=stream.time_base or Fraction(1, 1),
        )
    return SoundTrack(
        track=track,
        stream=stream.index,
        codec=context.codec.canonical_name,
        rate_hz=context.sample_rate,
        channels=context.layout.nb_channels,
        layout=context.layout.name,
        time_base=stream.time_base or Fraction(1, context.sample_rate),
    )


def _duration_s(container: InputContainer, video: VideoStream) -> float | None:
    if video.duration is not None and video.time_base is not None:
        return float(video.duration * video.time_base)
    return None if container.duration is None else container.duration / 1e6


def _created(container: InputContainer, video: VideoStream) -> datetime | None:
    for tags in (container.metadata, video.metadata):
        text = tags.get("creation_time")
        if text is None:
            continue
        try:
            created = datetime.fromisoformat(text)
        except ValueError:
            continue
        if created.tzinfo is None:
            created = created.replace(tzinfo=UTC)
        if created >= EARLIEST_CREATION:
            return created.astimezone(UTC)
    return None


def _timecode(container: InputContainer, video: VideoStream) -> str | None:
    for tags in (video.metadata, *(s.metadata for s in container.streams), container.metadata):
        if tags.get("timecode"):
            return str(tags["timecode"])
    return None
