"""Pictures as MoviePy takes them, and what it puts together encoded here.

MoviePy works in R'G'B' over the full range, at a constant rate, and knows neither matrix nor
range; left to its own reader and writer, BT.709 comes out as BT.601. So every picture is
converted here, both ways, and says which it is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from overlay.render.place import write_error
from overlay.render.recipe import CONTAINERS, Recipe, clip_time_base, movie_timescale
from sync.media import ColourTags

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import OutputContainer
    from av.video import VideoStream

Rgb = NDArray[np.uint8]

SOUND_HZ = 48_000
SOUND_BITS = 192_000
SOUND_BLOCK = 1024
"""Samples in a frame of AAC (ISO/IEC 14496-3)."""

BT709, LIMITED_RANGE = 1, 1
"""ITU-T H.273: BT.709 has code point 1 for matrix, primaries and transfer alike."""

SWSCALE_MATRICES = {1: 1, 4: 4, 5: 5, 6: 5, 7: 7}
"""H.273 matrices of standard range by the constants that swscale has for their coefficients."""


def rgb_of(picture: VideoFrame, colour: ColourTags, size: tuple[int, int]) -> Rgb:
    """A decoded picture as R'G'B' over the full range [shape=(height, width, 3)].

    Parameters
    ----------
    colour
        Settled tags, of a matrix in `SWSCALE_MATRICES`.
    size
        Width and height wanted, before the picture is turned upright.
    """
    made = picture.reformat(
        width=size[0],
        height=size[1],
        format="rgb24",
        src_colorspace=SWSCALE_MATRICES[colour.matrix],
        src_color_range="JPEG" if colour.full_range else "MPEG",
        dst_color_range="JPEG",
        interpolation=_exactly(),
    ).to_ndarray()
    return made.astype(np.uint8, copy=False)


def _exactly() -> int:
    """Bicubic, rounded and not cut off, chroma brought to full width before it is mixed; without
    the last two, colour bars come out up to two codes wrong each way."""
    from av.video.reformatter import Interpolation

    exact = Interpolation.ACCURATE_RND | Interpolation.FULL_CHR_H_INT
    return int(Interpolation.BICUBIC | exact)


def write_film(
    film: Any,
    part: Path,
    *,
    output: Path,
    frames: int,
    rate_hz: Fraction,
    tags: Mapping[str, str],
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Encode a MoviePy clip, its sound too: H.264 in 8-bit 4:2:0, BT.709 in limited range, AAC.

    MoviePy's writer would round the rate to hundredths and the matrix to BT.601, and print.

    Parameters
    ----------
    film
        The clip, even in size.
    part, output
        Where it is written to, and where it will stand, for messages.
    frames
        How many, the first at 0 s.

    Raises
    ------
    OutputError
        Where the film cannot be written.
    """
    import av

    base = clip_time_base(1 / rate_hz)
    try:
        with av.open(
            f"file:{part.absolute()}",
            "w",
            format=CONTAINERS[output.suffix.lower()],
            container_options={
                "movflags": "+faststart",
                "movie_timescale": str(movie_timescale((base.denominator, SOUND_HZ))),
                "video_track_timescale": str(base.denominator),
            },
        ) as out:
            out.metadata.update(tags)
            video = _picture_track(out, film.size, rate_hz, base)
            sound = None if film.audio is None else _Sound(out, film.audio, frames / rate_hz)
            for number in range(frames):
                picture = _picture(film.get_frame(float(number / rate_hz)))
                picture.pts, picture.time_base = round(number / rate_hz / base), base
                picture.duration = round(1 / rate_hz / base)
                out.mux(video.encode(picture))
                if sound is not None:
                    sound.write_until((number + 1) / rate_hz)
                if progress is not None:
                    progress(number + 1, frames)
            out.mux(video.encode(None))
            if sound is not None:
                sound.end()
    except av.FFmpegError as error:
        raise write_error(error, output) from error


def _picture_track(
    out: OutputContainer, size: tuple[int, int], rate_hz: Fraction, base: Fraction
) -> VideoStream:
    from av.video import VideoStream

    recipe = Recipe()
    video = out.add_stream(recipe.codec, rate=rate_hz, options=recipe.options())
    assert isinstance(video, VideoStream)
    context = video.codec_context
    context.width, context.height = size
    context.pix_fmt = "yuv420p"
    context.time_base = video.time_base = base
    context.framerate = rate_hz
    context.thread_count = recipe.threads
    context.thread_type = "FRAME"  # as clips are encoded: slices would change the pictures
    context.colorspace = context.color_primaries = context.color_trc = BT709
    context.color_range = LIMITED_RANGE
    return video


def _picture(codes: Rgb) -> VideoFrame:
    import av

    full = av.VideoFrame.from_ndarray(np.ascontiguousarray(codes), "rgb24")
    picture = full.reformat(
        format="yuv420p",
        src_color_range="JPEG",
        dst_colorspace=SWSCALE_MATRICES[BT709],
        dst_color_range="MPEG",
        interpolation=_exactly(),
    )
    picture.colorspace = picture.color_primaries = picture.color_trc = BT709
    picture.color_range = LIMITED_RANGE
    return picture


class _Sound:
    """The sound of a film, encoded block by block as its pictures go on."""

    def __init__(self, out: OutputContainer, audio: Any, length_s: Fraction) -> None:
        from av.audio import AudioStream

        stream = out.add_stream("aac", rate=SOUND_HZ)
        assert isinstance(stream, AudioStream)
        stream.codec_context.layout = "stereo"
        stream.codec_context.bit_rate = SOUND_BITS
        self._out, self._audio, self._stream = out, audio, stream
        self._done, self._whole = 0, round(length_s * SOUND_HZ)

    def write_until(self, t_s: Fraction) -> None:
        """Encode all whole blocks that end before an instant."""
        while self._done + SOUND_BLOCK <= t_s * SOUND_HZ:
            self._write(SOUND_BLOCK)

    def end(self) -> None:
        """Encode what is left."""
        while self._done < self._whole:
            self._write(min(SOUND_BLOCK, self._whole - self._done))
        self._out.mux(self._stream.encode(None))

    def _write(self, count: int) -> None:
        import av

        times = np.arange(self._done, self._done + count) / SOUND_HZ
        samples = np.clip(self._audio.get_frame(times), -1.0, 1.0).astype(np.float32)
        block = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples.T), "fltp", "stereo")
        block.sample_rate, block.pts = SOUND_HZ, self._done
        block.time_base = Fraction(1, SOUND_HZ)
        self._out.mux(self._stream.encode(block))
        self._done += count
