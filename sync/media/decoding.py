"""Decoded frames in the order of showing, one for every time stamp, whatever the file is like.

The list of time stamps decides how many frames there are. A frame that does not decode is
stood in for by the one before it, so that the clock never slips. To be able to do that, one
frame is always held back: whoever gets a frame may draw on it.
"""

from __future__ import annotations

import os
from collections.abc import Generator, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import numpy as np

from sync.errors import FootageError
from sync.media.footage import Footage
from sync.media.frame_times import FrameTimes
from sync.media.frames import file_times, only
from sync.media.opening import open_footage
from sync.media.probe import picture_stream

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import InputContainer
    from av.packet import Packet
    from av.video import VideoStream

MOST_DECODER_THREADS = 4
"""Every decoder thread holds a frame; past four, the encoder is the slower one anyway."""


@dataclass(slots=True, kw_only=True)
class Decoded:
    """One frame: its place in the footage, and whether it stands in for one that is lost.

    The picture is the receiver's own: it may be drawn on once it is made writable.
    """

    index: int
    picture: VideoFrame
    stand_in: bool = False
    damaged: bool = False


def decoded_frames(
    footage: Footage, times: FrameTimes, frames: range, *, threads: int | None = None
) -> Generator[Decoded, None, None]:
    """Decode a stretch of frames.

    Parameters
    ----------
    frames
        Indices into `times`; decoding starts at the last key frame before the first of them.
    threads
        Decoder threads; the pictures are the same at any number.

    Raises
    ------
    FootageError
        Where not one of the frames can be decoded.
    """
    if not frames:
        return
    held: Decoded | None = None
    expected = frames.start
    for index, picture in _pictures(footage, times, frames, threads):
        if index < expected:
            continue
        if index >= frames.stop:
            break
        fresh = Decoded(index=index, picture=picture, damaged=picture.is_corrupt)
        copies = [_stand_in(times, n, held or fresh) for n in range(expected, index)]
        if held is not None:
            yield held
        yield from copies
        held, expected = fresh, index + 1
        if expected == frames.stop:
            break
    if held is None:
        raise FootageError(
            f"cannot be decoded between {times.time_s(frames.start):.3f} s"
            f" and {times.time_s(frames[-1]):.3f} s",
            path=footage.path,
            advice="copy it from the camera's card once more",
        )
    copies = [_stand_in(times, n, held) for n in range(expected, frames.stop)]
    yield held
    yield from copies


def _stand_in(times: FrameTimes, index: int, other: Decoded) -> Decoded:
    picture = copy_picture(other.picture)
    picture.pts = int(times.pts[index])
    return Decoded(index=index, picture=picture, stand_in=True)


def copy_picture(picture: VideoFrame) -> VideoFrame:
    """A picture with buffers of its own, and the tags and time stamp of the first."""
    from av import VideoFrame

    copy = VideoFrame(picture.width, picture.height, picture.format.name)
    for plane, source in zip(copy.planes, picture.planes, strict=True):
        rows = np.frombuffer(memoryview(source), np.uint8).reshape(source.height, source.line_size)
        target = np.frombuffer(memoryview(plane), np.uint8).reshape(plane.height, plane.line_size)
        shared = min(source.line_size, plane.line_size)  # whole rows: samples may be 16 bits wide
        target[:, :shared] = rows[:, :shared]
    copy.pts, copy.time_base = picture.pts, picture.time_base
    copy.color_range, copy.colorspace = picture.color_range, picture.colorspace
    copy.color_primaries, copy.color_trc = picture.color_primaries, picture.color_trc
    return copy


def _pictures(
    footage: Footage, times: FrameTimes, frames: range, threads: int | None
) -> Iterator[tuple[int, VideoFrame]]:
    """What the decoders of all files give, with the index that each picture's time stamp has."""
    if not footage.parts:
        yield from _file_pictures(footage, times, frames, threads)
        return
    first = 0
    for part in footage.parts:
        own = file_times(part.film)
        wanted = range(max(frames.start - first, 0), min(frames.stop - first, len(own)))
        if wanted:
            for index, picture in _file_pictures(part.film, own, wanted, threads):
                if index < wanted.stop:
                    place = first + index
                    picture.pts, picture.time_base = int(times.pts[place]), times.time_base
                    yield place, picture
        first += len(own)


def _file_pictures(
    film: Footage, times: FrameTimes, frames: range, threads: int | None
) -> Iterator[tuple[int, VideoFrame]]:
    """What the decoder of one file gives, with the index that each picture's time stamp has."""
    with open_footage(film.path) as container:
        video = picture_stream(container, film.path)
        only(container, video)
        on_threads(video, threads)
        start = following = key_before(times, frames.start)
        try:
            for packet in _packets_from(container, video, times, start):
                for picture in decode(packet):
                    if picture.pts is None:
                        index = following
                    else:
                        index = int(np.searchsorted(times.pts, picture.pts))
                        if index == len(times) or times.pts[index] != picture.pts:
                            continue
                    following = index + 1
                    yield index, picture
                    if following >= frames.stop:
                        return
        finally:
            # The codec is freed under the interpreter's lock, for which its threads may wait.
            video.codec_context.flush_buffers()


def on_threads(video: VideoStream, threads: int | None) -> None:
    """Decode on so many threads, or on as many as are worth it."""
    video.thread_type = "AUTO"
    video.thread_count = threads or min(MOST_DECODER_THREADS, os.cpu_count() or 1)


def decode(packet: Packet[VideoStream]) -> list[VideoFrame]:
    """The pictures that a packet brings out of its decoder; none where it is damaged."""
    import av

    try:
        return packet.decode()
    except av.error.EOFError:
        return []
    except av.error.MemoryError:
        raise
    except av.FFmpegError:
        return []  # the gap in the time stamps shows which frame it was


def key_before(times: FrameTimes, index: int) -> int:
    """The last key frame at or before a frame; the first frame where there is none."""
    keys = np.flatnonzero(times.key[: index + 1])
    return int(keys[-1]) if len(keys) else 0


def _packets_from(
    container: InputContainer, video: VideoStream, times: FrameTimes, start: int
) -> Iterator[Packet[VideoStream]]:
    """Packets from a key frame on, up to where the file breaks off."""
    import av

    if start > 0:
        seek(container, video, times, start)
    packets = container.demux(video)
    while True:
        try:
            packet = next(packets)
        except StopIteration:
            return
        except av.error.MemoryError:
            raise
        except av.FFmpegError:
            break
        yield packet
    yield last_packet(video)


def last_packet(video: VideoStream) -> Packet[VideoStream]:
    """An empty packet: the decoder gives what it still holds."""
    import av

    last = cast("Packet[VideoStream]", av.Packet())
    last.stream = video
    return last


def seek(container: InputContainer, video: VideoStream, times: FrameTimes, start: int) -> None:
    """Go to a key frame, by way of earlier ones where the container lands behind it.

    A container's index counts in decoding time, and a target given as a presentation time can
    land one key frame late; so the first packet is looked at before it is believed.
    """
    import av

    keys = [int(k) for k in np.flatnonzero(times.key[: start + 1])]
    target = int(times.pts[start])
    for key in (*reversed(keys[-3:]), None):
        offset = int(times.pts[0]) if key is None else int(times.pts[key])
        try:
            container.seek(offset, stream=video, backward=True)
            landed = next((p.pts for p in container.demux(video) if p.pts is not None), None)
            container.seek(offset, stream=video, backward=True)
        except av.FFmpegError:
            continue
        if landed is not None and landed <= target:
            return
    container.seek(int(times.pts[0]), stream=video, backward=True)
