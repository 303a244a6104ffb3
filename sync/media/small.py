"""A small grey copy of every frame, for whoever looks at the picture as a whole.

The frames stream by, one at a time, so that a recording of any length takes no more memory
than a short one. The copy is upright and has square pixels, as a person would see it; its grey
is the picture's own luma, in the range that the footage has it in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.clock import Span
from sync.media.decoding import decoded_frames
from sync.media.ffmpeg_log import caught
from sync.media.footage import Footage
from sync.media.joining import frame_times

if TYPE_CHECKING:
    from av import VideoFrame
    from numpy.typing import NDArray

WIDTH_PX = 160
"""Width of the copy, of an upright picture its height: a degree is two pixels of it, and a
frame is looked at faster than it is decoded (own choice)."""

LEAST_SHRINK = 16.0
"""A picture that is to shrink by so much is halved first, whatever its size (own choice)."""

EIGHT_BITS = frozenset({"yuv420p", "yuvj420p", "yuv422p", "yuvj422p", "yuv444p", "nv12", "gray"})
"""Sample formats whose first plane is luma in one byte; others are converted."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SmallFrame:
    """When a frame is shown on the footage clock, and its small copy [shape=(h, w), uint8].

    `stand_in` says that the frame is lost and the one before it is shown in its place.
    """

    t_s: float
    luma: NDArray[np.uint8]
    stand_in: bool = False


def small_frames(
    footage: Footage,
    *,
    span: Span | None = None,
    long_px: int = WIDTH_PX,
    threads: int | None = None,
) -> Iterator[SmallFrame]:
    """Every frame of the footage as a small grey copy, in the order of showing.

    Parameters
    ----------
    span
        A stretch of the footage's clock; all of it without one.
    long_px
        The longer side of the copy.
    threads
        Decoder threads; the copies are the same at any number.

    Raises
    ------
    FootageError
        Where it cannot be decoded.
    """
    times = frame_times(footage)
    seconds = times.seconds()
    size = _size(footage, long_px)
    first, last = 0, len(times)
    if span is not None:
        first, last = np.searchsorted(seconds, (span.start_s, span.stop_s)).tolist()
    with caught():
        for decoded in decoded_frames(footage, times, range(first, last), threads=threads):
            luma = np.rot90(_shrunk(decoded.picture, size), footage.rotation_deg // 90)
            luma = np.ascontiguousarray(luma)
            luma.setflags(write=False)
            yield SmallFrame(
                t_s=float(seconds[decoded.index]), luma=luma, stand_in=decoded.stand_in
            )


def _size(footage: Footage, long_px: int) -> tuple[int, int]:
    """Width and height of the copy, not yet turned upright."""
    wide, high = float(footage.width * footage.sample_aspect), float(footage.height)
    share = long_px / max(wide, high)
    return max(1, round(wide * share)), max(1, round(high * share))


def _shrunk(picture: VideoFrame, size: tuple[int, int]) -> NDArray[np.uint8]:
    """The luma, each pixel of the copy the mean of what it covers."""
    import cv2

    if picture.format.name not in EIGHT_BITS:
        picture = picture.reformat(format="gray")
    plane = picture.planes[0]
    rows = np.frombuffer(memoryview(plane), np.uint8).reshape(plane.height, plane.line_size)
    small = rows[:, : plane.width]
    while _halves(small.shape, size):
        # OpenCV halves five times as fast as it averages larger blocks; the mean is the same.
        half = (small.shape[1] // 2, small.shape[0] // 2)
        small = np.asarray(cv2.resize(small, half, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _halves(shape: tuple[int, ...], size: tuple[int, int]) -> bool:
    """Whether a picture may be halved on its way to a size: where no pixel of the copy then
    covers a part of a half pixel, or that is a small part of it."""
    high, wide = shape
    if high % 2 or wide % 2:
        return False
    exact = high % (2 * size[1]) == 0 and wide % (2 * size[0]) == 0
    return exact or min(high / size[1], wide / size[0]) >= LEAST_SHRINK
