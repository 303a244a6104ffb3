"""Single frames out of footage, at less than the cost of decoding all of it.

Each is decoded from the key frame before it on. Pictures on the way that no other picture refers to
are left out by the decoder, which then gives the same for those that are wanted: half of the work
where cameras write such pictures, none where every picture refers to the one before.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from sync.media.decoding import (
    Decoded,
    decode,
    decoded_frames,
    key_before,
    last_packet,
    on_threads,
    seek,
)
from sync.media.footage import Footage
from sync.media.frame_times import FrameTimes
from sync.media.frames import file_times, only
from sync.media.opening import open_footage
from sync.media.probe import picture_stream

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import InputContainer
    from av.video import VideoStream


def picked_frames(
    footage: Footage, times: FrameTimes, wanted: Sequence[int], *, threads: int | None = None
) -> Generator[Decoded, None, None]:
    """Decode some frames.

    Parameters
    ----------
    wanted
        Indices into `times`, rising.
    threads
        Decoder threads.

    Raises
    ------
    FootageError
        Where a frame cannot be decoded, nor any since the key frame before it.
    """
    left = list(wanted)
    for index, picture in _pictures(footage, times, wanted, threads):
        while left and left[0] < index:
            yield _stood_in_for(footage, times, left.pop(0))
        if left and left[0] == index:
            left.pop(0)
            yield Decoded(index=index, picture=picture, damaged=picture.is_corrupt)
    for index in left:
        yield _stood_in_for(footage, times, index)


def _stood_in_for(footage: Footage, times: FrameTimes, index: int) -> Decoded:
    """A frame that did not come out: whatever the whole film has in its place."""
    *_, last = decoded_frames(footage, times, range(key_before(times, index), index + 1))
    return last


def _pictures(
    footage: Footage, times: FrameTimes, wanted: Sequence[int], threads: int | None
) -> Iterator[tuple[int, VideoFrame]]:
    if not footage.parts:
        yield from _file_pictures(footage, times, wanted, threads)
        return
    first = 0
    for part in footage.parts:
        own = file_times(part.film)
        here = [index - first for index in wanted if first <= index < first + len(own)]
        for index, picture in _file_pictures(part.film, own, here, threads):
            picture.pts, picture.time_base = int(times.pts[first + index]), times.time_base
            yield first + index, picture
        first += len(own)


def _file_pictures(
    film: Footage, times: FrameTimes, wanted: Sequence[int], threads: int | None
) -> Iterator[tuple[int, VideoFrame]]:
    """The wanted pictures of one file that come out, with their indices, rising."""
    if not wanted:
        return
    with open_footage(film.path) as container:
        video = picture_stream(container, film.path)
        only(container, video)
        on_threads(video, threads)
        for key, group in groupby(wanted, lambda index: key_before(times, index)):
            seek(container, video, times, key)
            try:
                yield from _of_one_key(container, video, times, frozenset(group))
            finally:
                # The codec is freed under the interpreter's lock, for which its threads may wait.
                video.codec_context.flush_buffers()


def _of_one_key(
    container: InputContainer, video: VideoStream, times: FrameTimes, wanted: frozenset[int]
) -> Iterator[tuple[int, VideoFrame]]:
    """What is wanted behind the key frame at which the container stands."""
    found: dict[int, VideoFrame] = {}
    for picture in _decoded(container, video, times, wanted):
        index = None if picture.pts is None else _index(times, picture.pts)
        if index in wanted:
            found[index] = picture
    yield from sorted(found.items(), key=lambda pair: pair[0])


def _decoded(
    container: InputContainer, video: VideoStream, times: FrameTimes, wanted: frozenset[int]
) -> Iterator[VideoFrame]:
    """Pictures up to the packet of the last that is wanted, and what is then still held."""
    import av

    to_come = set(wanted)
    packets = container.demux(video)
    while to_come:
        try:
            packet = next(packets)
        except (StopIteration, av.FFmpegError):
            break
        index = None if packet.pts is None else _index(times, packet.pts)
        known = index is not None and index not in wanted
        video.codec_context.skip_frame = "NONREF" if known else "DEFAULT"
        yield from decode(packet)
        to_come.discard(-1 if index is None else index)
    yield from decode(last_packet(video))


def _index(times: FrameTimes, pts: int) -> int | None:
    index = int(np.searchsorted(times.pts, pts))
    return index if index < len(times) and times.pts[index] == pts else None
