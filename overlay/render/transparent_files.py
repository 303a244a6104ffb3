"""The last stage of a transparent render: frames into a film, or into numbered pictures."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.render.encode import FULL_RANGE, LIMITED_RANGE
from overlay.render.forms import Transparent
from overlay.render.place import write_error
from overlay.render.recipe import LEAST_TIMESCALE

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import OutputContainer
    from av.video import VideoStream

BT709 = 1
"""ITU-T H.273: BT.709 has code point 1 for matrix, primaries and transfer alike."""


def write_film(
    frames: Iterable[VideoFrame], output: Path, job: Transparent, tags: Mapping[str, str]
) -> None:
    """Encode and mux frames as they come.

    Raises
    ------
    OutputError
        Where they cannot be written.
    """
    import av

    form, times = job.form, job.times
    options = {"movflags": "+faststart+use_metadata_tags"} if form.container == "mov" else {}
    scale = _timescale(times.rate_hz)
    if form.container == "mov":
        options |= {"video_track_timescale": str(scale)}
    try:
        with av.open(
            f"file:{output.absolute()}", "w", format=form.container, container_options=options
        ) as out:
            out.metadata.update(tags)
            video = _track(out, job)
            for frame in frames:
                for packet in video.encode(frame):
                    packet.duration = packet.duration or 1
                    out.mux(packet)
            out.mux(video.encode(None))
    except av.FFmpegError as error:
        raise write_error(error, output) from error


def _timescale(rate_hz: Fraction) -> int:
    scale = rate_hz.numerator
    while scale < LEAST_TIMESCALE:
        scale *= 2
    return scale


def _track(out: OutputContainer, job: Transparent) -> VideoStream:
    from av.video import VideoStream

    form, times = job.form, job.times
    video = out.add_stream(form.codec, rate=times.rate_hz, options=dict(form.options))
    assert isinstance(video, VideoStream)
    context = video.codec_context
    context.width, context.height = job.picture.width_px, job.picture.height_px
    context.pix_fmt = form.pix_fmt
    context.time_base = video.time_base = 1 / times.rate_hz
    context.framerate = times.rate_hz
    context.thread_count = 4
    context.colorspace = context.color_primaries = context.color_trc = BT709
    context.color_range = FULL_RANGE if form.full_range else LIMITED_RANGE
    if form.container == "mov":
        video.metadata["timecode"] = times.timecode
    else:
        out.metadata["timecode"] = times.timecode
    return video


def picture_name(stem: str, number: int) -> str:
    """The name of one picture of a row."""
    return f"{stem}-{number:06d}.png"


def is_picture_of(stem: str, name: str) -> bool:
    """Whether a file's name is that of a picture of a row."""
    return re.fullmatch(rf"{re.escape(stem)}-\d{{6}}\.png", name) is not None


def write_pictures(
    frames: Iterable[VideoFrame], output: Path, job: Transparent, tags: Mapping[str, str]
) -> None:
    """PNG keeps what it is told of a picture as text (W3C, Portable Network Graphics, 11.3.3)."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    times = job.times
    try:
        for number, frame in enumerate(frames):
            told = PngInfo()
            told.add_text("Comment", tags.get("comment", ""))
            told.add_text("Frame", f"{number} of {times.frames}, from {times.timecode}")
            image = Image.fromarray(frame.to_ndarray())
            image.save(output / picture_name(output.name, number), pnginfo=told, compress_level=1)
    except OSError as error:
        raise write_error(error, output) from error
