"""How a clip is encoded: everything that decides its bytes, in one frozen value."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from overlay.errors import WishError
from overlay.render.encoders import ENCODERS, PRORES_BITS, QUALITIES, Encoder, Quality

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
    encoder
        A key of `ENCODERS`.
    preset, crf
        The encoder's own words for effort and quality; of a quality word, see `of`.
    threads
        Encoder threads. x264's pictures depend on their number, so it is fixed, and equal on
        every machine that works on a series.
    fast_start
        Whether the index stands at the front, so that a browser can start to play at once.
    all_colour
        Whether chroma keeps the resolution that it was filmed in; else it is halved both ways,
        which is what places to upload to and phones take.
    """

    encoder: str = "x264"
    preset: str = "veryfast"
    crf: int = 20
    threads: int = 4
    fast_start: bool = True
    all_colour: bool = False

    def __post_init__(self) -> None:
        if self.encoder not in ENCODERS:
            raise WishError(
                f"there is no encoder {self.encoder!r} in this version", allowed=tuple(ENCODERS)
            )
        if self.preset not in self.by.presets:
            raise WishError(
                f"{self.encoder} has no preset {self.preset!r}", allowed=self.by.presets
            )
        if self.by.worst and not 0 <= self.crf <= self.by.worst:
            raise WishError(
                f"{self.encoder} has no quality {self.crf}",
                advice=f"name a crf from 0 to {self.by.worst}; {self._usual} is usual",
            )
        if not 1 <= self.threads <= 128:
            raise WishError(
                f"{self.encoder} cannot work in {self.threads} threads",
                advice="name a number from 1 to 128",
            )

    @classmethod
    def of(cls, encoder: str = "x264", quality: Quality = "upload") -> Recipe:
        """An encoder at one of the three qualities: a draft to look at, a clip to upload, or a
        master to cut and grade, which keeps the footage's colour resolution."""
        if encoder not in ENCODERS:
            raise WishError(
                f"there is no encoder {encoder!r} in this version", allowed=tuple(ENCODERS)
            )
        if quality not in QUALITIES:
            raise WishError(f"there is no quality {quality!r}", allowed=QUALITIES)
        settings = ENCODERS[encoder].qualities[quality]
        return cls(
            encoder=encoder,
            preset=settings.preset,
            crf=settings.crf,
            all_colour=quality == "master",
        )

    @property
    def by(self) -> Encoder:
        """The encoder itself."""
        return ENCODERS[self.encoder]

    @property
    def codec(self) -> str:
        """FFmpeg's name for the encoder."""
        return self.by.opens[0]

    @property
    def _usual(self) -> int:
        return self.by.qualities["upload"].crf

    def options(self, mastering: str = "", pix_fmt: str = "yuv420p") -> dict[str, str]:
        """The settings as the encoder takes them, for a pixel format, with what the footage says
        of its mastering in the encoder's own words."""
        return self.by.options(self, mastering, pix_fmt)

    def least_bytes(self, pixels: int) -> int:
        """How much so many pixels, of all frames together, take where the encoder aims at a rate
        of bits; 0 where it aims at a quality."""
        rates = self.by.bits_a_pixel or (PRORES_BITS if self.encoder == "prores" else {})
        return int(rates.get(self.preset, 0.0) * pixels / 8)


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
