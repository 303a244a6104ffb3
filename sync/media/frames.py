"""The exact time stamp of every frame of one file, read without decoding one."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sync.errors import FootageError
from sync.media.ffmpeg_log import caught
from sync.media.footage import Footage
from sync.media.frame_cache import cached
from sync.media.frame_times import CUT_OFF, FrameTimes, Pts
from sync.media.opening import open_footage
from sync.media.probe import picture_stream

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video import VideoStream


def file_times(footage: Footage) -> FrameTimes:
    """Every frame's time stamp in one file, kept in memory and in the user's cache folder.

    The packets are demuxed and not decoded; those that an edit list discards are left out.

    Raises
    ------
    FootageError
        Where no packet has a time stamp, or the file cannot be opened any more.
    """
    return cached(footage.path, lambda: _scan(footage.path))


def _refuse_unstamped(container: InputContainer, video: VideoStream, path: Path) -> None:
    """Refuse frames that are stored out of order in a container that cannot say when they show.

    AVI counts frames as they are stored. FFmpeg guesses the order of showing, and does so
    differently for a packet and for its picture.
    """
    if container.format.name == "avi" and video.codec_context.reorder_depth > 0:
        raise FootageError(
            "is an AVI file whose frames are not stored in the order of showing, and AVI does"
            " not say when each is shown",
            path=path,
            advice="have the camera record MP4 or MOV",
        )


@dataclass(slots=True)
class _Packets:
    pts: list[int]
    durations: list[int]
    keys: list[bool]
    without_pts: int = 0
    broken_off: bool = False


def _scan(path: Path) -> FrameTimes:
    with caught(this_thread_only=True) as messages, open_footage(path) as container:
        video = picture_stream(container, path)
        _refuse_unstamped(container, video, path)
        only(container, video)
        packets = _read(container, video)
        time_base = video.time_base
        rate = video.average_rate
    if not packets.pts or time_base is None:
        raise FootageError(
            "has no frame with a time stamp",
            path=path,
            advice="copy it from the camera's card once more",
        )
    pts, first = np.unique(np.array(packets.pts, dtype=np.int64), return_index=True)
    last = packets.durations[int(first[-1])] or _usual_step(pts, rate, time_base)
    warnings = list(messages.lines())
    if packets.broken_off or any("partial file" in line for line in warnings):
        warnings.insert(0, CUT_OFF)
    if packets.without_pts:
        warnings.append(f"{packets.without_pts} frames without a time stamp are left out")
    if len(pts) < len(packets.pts):
        warnings.append(f"{len(packets.pts) - len(pts)} frames share another's time stamp")
    return FrameTimes(
        path=path,
        pts=pts,
        key=np.array(packets.keys, dtype=bool)[first],
        stop_pts=int(pts[-1]) + last,
        time_base=time_base,
        warnings=tuple(warnings),
    )


def _read(container: InputContainer, video: VideoStream) -> _Packets:
    import av

    found = _Packets(pts=[], durations=[], keys=[])
    try:
        for packet in container.demux(video):
            if packet.size == 0 or packet.is_discard:
                continue
            if packet.pts is None:
                found.without_pts += 1
                continue
            found.pts.append(packet.pts)
            found.durations.append(packet.duration or 0)
            found.keys.append(packet.is_keyframe)
    except av.FFmpegError:
        found.broken_off = True
    return found


def _usual_step(pts: Pts, rate: Fraction | None, time_base: Fraction) -> int:
    """How long the last frame lasts where its packet does not say."""
    if len(pts) > 1:
        return int(np.median(np.diff(pts)))
    return round(1 / (rate * time_base)) if rate else 1


def only(container: InputContainer, *streams: object) -> None:
    """Have the demuxer skip all other streams of a container."""
    from av.stream import Discard

    for stream in container.streams:
        stream.discard = Discard.default if stream in streams else Discard.all
