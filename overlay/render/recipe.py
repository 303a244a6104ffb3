"""How a clip is encoded: everything that decides its bytes, in one frozen value."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from overlay.errors import RenderError

PRESETS = (
    "ultrafast",
    "superfast",
    "veryfast",
    "faster",
    "fast",
    "medium",
    "slow",
    "slower",
    "veryslow",
)
CONTAINERS = {".mp4": "mp4", ".mov": "mov"}
"""Containers that keep every time stamp; Matroska would round them to a millisecond."""

MOVIE_TIMESCALE = 90_000
"""Ticks a second of a movie's own clock, in which edit lists count. FFmpeg's default of 1000
moves a late track by up to half a millisecond."""

LEAST_TIMESCALE = 10_000
"""FFmpeg's MP4 muxer doubles a coarser time base until it is at least this fine."""

MOST_TIMESCALE = 2**31 - 1
"""The muxer keeps the movie's time scale in 32 bits with a sign."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """The encoder and its settings.

    Parameters
    ----------
    preset, crf
        x264's own words for effort and quality.
    threads
        Encoder threads. x264's pictures depend on their number, so it is fixed, and equal on
        every machine that works on a series.
    fast_start
        Whether the index stands at the front, so that a browser can start to play at once.
    """

    codec: str = "libx264"
    preset: str = "veryfast"
    crf: int = 20
    threads: int = 4
    fast_start: bool = True

    def __post_init__(self) -> None:
        if self.codec != "libx264":
            raise RenderError(
                f"there is no encoder {self.codec!r} in this version", allowed=("libx264",)
            )
        if self.preset not in PRESETS:
            raise RenderError(f"x264 has no preset {self.preset!r}", allowed=PRESETS)
        if not 0 <= self.crf <= 51:
            raise RenderError(
                f"x264 has no quality {self.crf}", advice="name a crf from 0 to 51, 20 being usual"
            )
        if not 1 <= self.threads <= 128:
            raise RenderError(
                f"x264 cannot work in {self.threads} threads", advice="name a number from 1 to 128"
            )

    def options(self) -> dict[str, str]:
        """The settings as the encoder takes them.

        x264 is told to speak of nothing less than warnings: it has a word to say on every frame,
        and each takes the interpreter's lock (see `sync.media.ffmpeg_log`).
        """
        return {"preset": self.preset, "crf": str(self.crf), "x264-params": "log=1"}


def clip_time_base(footage_time_base: Fraction) -> Fraction:
    """The clip's time base, in which every time stamp of the footage is a whole number.

    One over a multiple of the footage's ticks a second, fine enough for the muxer to take it
    as it is.
    """
    scale = footage_time_base.denominator
    while scale < LEAST_TIMESCALE:
        scale *= 2
    return Fraction(1, scale)


def movie_timescale(scales: tuple[int, ...]) -> int:
    """Ticks a second of the movie's clock in which every track's ticks are whole numbers.

    Parameters
    ----------
    scales
        Ticks a second of the tracks.

    Returns
    -------
    int
        The least common multiple, taken on to at least 90 000; 90 000 where it grows too long.
    """
    common = math.lcm(*scales)
    if common > MOST_TIMESCALE // 2:
        return MOVIE_TIMESCALE
    return common * max(1, -(-MOVIE_TIMESCALE // common))
