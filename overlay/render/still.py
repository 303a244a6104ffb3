"""A clip of one still picture that fades in and out: a card as film, without sound.

The picture is converted once; the fade is worked out in its planes, so that a frame follows
from its time alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from overlay.errors import FaceplateError
from overlay.render.place import write_error
from overlay.render.recipe import CONTAINERS, Recipe, clip_time_base, movie_timescale
from sync.media.planes import planes_of

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import OutputContainer
    from av.video import VideoStream

BT709, LIMITED_RANGE = 1, 1
"""ITU-T H.273: BT.709 has code point 1 for matrix, primaries and transfer alike."""

BLACK = 16, 128, 128

LONGEST_S, FASTEST_HZ = 600, 240

_Bytes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class StillClip:
    """How long a still is shown, how it comes and goes, and at how many frames a second."""

    seconds: Fraction = Fraction(5)
    fade_s: Fraction = Fraction(1, 2)
    rate_hz: Fraction = Fraction(30)

    def __post_init__(self) -> None:
        if not 0 < self.seconds <= LONGEST_S:
            raise FaceplateError(
                f"a card cannot be shown for {float(self.seconds):g} s",
                advice=f"name up to {LONGEST_S} seconds",
            )
        if not 1 <= self.rate_hz <= FASTEST_HZ:
            raise FaceplateError(
                f"{float(self.rate_hz):g} frames a second cannot be written",
                advice=f"name a rate from 1 to {FASTEST_HZ}, such as 25 or 30000/1001",
            )
        if not 0 <= 2 * self.fade_s <= self.seconds:
            raise FaceplateError(
                f"a fade of {float(self.fade_s):g} s in and out does not fit into "
                f"{float(self.seconds):g} s",
                advice="fade for at most half of the clip",
            )

    @property
    def frames(self) -> int:
        """How many frames that makes, at least one."""
        return max(1, round(self.seconds * self.rate_hz))

    def shown(self, frame: int) -> Fraction:
        """How much of the picture is there on a frame, from 0 (black) to 1.

        ::

            shown = min(1, t / fade, (t_last - t) / fade)
        """
        if not self.fade_s:
            return Fraction(1)
        edge = min(frame, self.frames - 1 - frame) / self.rate_hz
        return min(Fraction(1), edge / self.fade_s)


def film_still(
    image: _Bytes,
    part: Path,
    *,
    output: Path,
    clip: StillClip,
    tags: Mapping[str, str],
    recipe: Recipe | None = None,
) -> None:
    """Encode a still as H.264, 8-bit 4:2:0, tagged BT.709 in limited range.

    Parameters
    ----------
    image
        R'G'B' [shape=(rows, columns, 3)], even in size.
    part
        Where it is written to.
    output
        Where it will stand, for messages.

    Raises
    ------
    OutputError
        Where the clip cannot be written.
    """
    import av

    recipe = recipe or Recipe()
    base = clip_time_base(1 / clip.rate_hz)
    try:
        with av.open(
            f"file:{part.absolute()}",
            "w",
            format=CONTAINERS[output.suffix.lower()],
            container_options=_muxer_options(base),
        ) as out:
            out.metadata.update(tags)
            video = _track(out, image, clip, recipe, base)
            for frame in _pictures(image, clip, base):
                out.mux(video.encode(frame))
            out.mux(video.encode(None))
    except av.FFmpegError as error:
        raise write_error(error, output) from error


def _muxer_options(base: Fraction) -> dict[str, str]:
    return {
        "movflags": "+faststart",
        "movie_timescale": str(movie_timescale((base.denominator,))),
        "video_track_timescale": str(base.denominator),
    }


def _track(
    out: OutputContainer, image: _Bytes, clip: StillClip, recipe: Recipe, base: Fraction
) -> VideoStream:
    from av.video import VideoStream

    video = out.add_stream(recipe.codec, rate=clip.rate_hz, options=recipe.options())
    assert isinstance(video, VideoStream)
    context = video.codec_context
    context.height, context.width = image.shape[:2]
    context.pix_fmt = "yuv420p"
    context.time_base = video.time_base = base
    context.framerate = clip.rate_hz
    context.thread_count = recipe.threads
    context.thread_type = "FRAME"  # as clips are encoded: slices would change the pictures
    context.colorspace = context.color_primaries = context.color_trc = BT709
    context.color_range = LIMITED_RANGE
    return video


def _pictures(image: _Bytes, clip: StillClip, base: Fraction) -> Iterator[VideoFrame]:
    import av

    planes = codes_of(image)
    each = 1 / (clip.rate_hz * base)
    assert each.denominator == 1  # the time base was made for it
    for number in range(clip.frames):
        faded = [_faded(p, black, clip.shown(number)) for p, black in zip(planes, BLACK,
                                                                         strict=True)]  # fmt: skip
        frame = av.VideoFrame(image.shape[1], image.shape[0], "yuv420p")
        for plane, codes in zip(planes_of(frame), faded, strict=True):
            plane[...] = codes
        frame.pts = number * each.numerator
        frame.duration = each.numerator
        frame.time_base = base
        frame.colorspace = frame.color_primaries = frame.color_trc = BT709
        frame.color_range = LIMITED_RANGE
        yield frame


def codes_of(image: _Bytes) -> tuple[_Bytes, _Bytes, _Bytes]:
    """Y', Cb and Cr of a picture in BT.709 and limited range, chroma the mean of two by two.

    Source: ITU-R BT.709-6, items 3.2 to 3.5.
    """
    codes = image.astype(np.float32) / 255
    red, green, blue = codes[..., 0], codes[..., 1], codes[..., 2]
    luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    both = (blue - luma) / 1.8556, (red - luma) / 1.5748
    rows, columns = luma.shape
    u, v = (
        part.reshape(rows // 2, 2, columns // 2, 2).mean(axis=(1, 3), dtype=np.float32)
        for part in both
    )
    return (
        np.rint(16 + 219 * luma).astype(np.uint8),
        np.rint(128 + 224 * u).astype(np.uint8),
        np.rint(128 + 224 * v).astype(np.uint8),
    )


def _faded(plane: _Bytes, black: int, shown: Fraction) -> _Bytes:
    if shown == 1:
        return plane
    codes = black + (plane.astype(np.float32) - black) * float(shown)
    out: _Bytes = np.rint(codes).astype(np.uint8)
    return out
