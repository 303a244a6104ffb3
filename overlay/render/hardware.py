"""Encoders in hardware: which of those that FFmpeg knows works here, found by opening them.

That a codec is compiled in says nothing of the machine, so each is given a frame. Their pictures
differ from machine to machine, and they hold a rate of bits rather than a quality.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from overlay.errors import RenderError
from sync.media.ffmpeg_log import caught

if TYPE_CHECKING:
    from av.video.codeccontext import VideoCodecContext

CANDIDATES = (
    "h264_nvenc",
    "h264_qsv",
    "h264_amf",
    "h264_videotoolbox",
    "h264_mf",
    "h264_v4l2m2m",
)
"""FFmpeg's names of encoders of H.264 in hardware, in the order in which they are tried; those that
take frames of the graphics card alone are not among them."""

FORMATS = ("yuv420p", "nv12")
"""What they may take: the same samples, laid out in three planes or in two."""

_TRIAL_PX = (320, 256)


def hardware_codec() -> tuple[str, str]:
    """The first encoder that works here, and the pixel format that it takes.

    Raises
    ------
    RenderError
        Where none does, with what each of them said.
    """
    return _first_of(CANDIDATES)


@lru_cache(maxsize=4)
def _first_of(candidates: tuple[str, ...]) -> tuple[str, str]:
    refused = []
    for name in candidates:
        found = _opened(name)
        if isinstance(found, tuple):
            return found
        refused.append(f"{name}: {found}")
    raise RenderError(
        f"no encoder in hardware works here ({'; '.join(refused)})",
        advice="render with x264, or install the graphics driver's own encoder",
    )


def _opened(name: str) -> tuple[str, str] | str:
    """A codec with its format if it encodes a frame, else why it does not."""
    import av
    from av.video.codeccontext import VideoCodecContext

    try:
        codec = av.Codec(name, "w")
    except ValueError:
        return "not in this FFmpeg"
    takes = {made.name for made in codec.video_formats or ()}
    said: tuple[str, str] | str = "takes frames of the graphics card alone"
    for pix_fmt in FORMATS:
        if takes and pix_fmt not in takes:
            continue
        context = av.CodecContext.create(name, "w")
        assert isinstance(context, VideoCodecContext)
        with caught(this_thread_only=True):
            said = _tried(context, name, pix_fmt)
        if isinstance(said, tuple):
            break
    return said


def _tried(context: VideoCodecContext, name: str, pix_fmt: str) -> tuple[str, str] | str:
    from fractions import Fraction

    import av

    context.width, context.height = _TRIAL_PX
    context.pix_fmt = pix_fmt
    context.time_base, context.framerate = Fraction(1, 30), Fraction(30)
    context.bit_rate = 1_000_000
    frame = av.VideoFrame(*_TRIAL_PX, pix_fmt)
    frame.pts, frame.time_base = 0, Fraction(1, 30)
    try:
        packets = [*context.encode(frame), *context.encode(None)]
    except (av.FFmpegError, OSError, ValueError) as error:
        return getattr(error, "strerror", None) or str(error)
    return (name, pix_fmt) if packets else "gives no packet for a frame"
