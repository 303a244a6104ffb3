"""The forms that a transparent render can have, and the instants of its frames.

Where straight and premultiplied come from: PNG is straight (W3C, Portable Network Graphics,
section 4.5), and so is WebM's alpha (The WebM Project, VP8 alpha, which VP9 follows); ProRes 4444
carries either and does not say which (SMPTE RDD 36), so the clip's tags do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from overlay.errors import WishError
from overlay.graphics.picture import RGB, Picture
from overlay.render.encoders import PRORES_PROFILES

Alpha = Literal["straight", "premultiplied"]
ALPHAS: tuple[Alpha, ...] = ("straight", "premultiplied")

SMALLEST_PX, LARGEST_PX = 128, 8192


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form that a transparent render can have.

    Parameters
    ----------
    name, text
        What it is called, and what it is for.
    ending
        Of the file; empty where it is a folder of numbered pictures.
    alphas
        What its colours may be.
    pix_fmt, depth, chroma, matrix, full_range
        How its pictures are sampled.
    codec, options, container
        FFmpeg's; empty for pictures.
    bits_a_pixel
        About how much a pixel of a film of plates takes, measured on the demo with room to spare.
    """

    name: str
    text: str
    ending: str
    alphas: tuple[Alpha, ...]
    pix_fmt: str
    depth: int = 8
    chroma: tuple[int, int] = (1, 1)
    matrix: str = "bt709"
    full_range: bool = False
    codec: str = ""
    options: Mapping[str, str] = field(default_factory=dict)
    container: str = ""
    bits_a_pixel: float = 0.5

    def picture(self, width_px: int, height_px: int) -> Picture:
        """What instruments are drawn for.

        Raises
        ------
        WishError
            Where no film can have this size.
        """
        sides = (width_px, height_px)
        if any(side % 2 or not SMALLEST_PX <= side <= LARGEST_PX for side in sides):
            raise WishError(
                f"a transparent render cannot be {width_px}×{height_px}",
                advice=f"name even sides from {SMALLEST_PX} to {LARGEST_PX}, such as 1920x1080",
            )
        return Picture(
            width_px=width_px,
            height_px=height_px,
            matrix=self.matrix,
            full_range=self.full_range,
            depth=self.depth,
            chroma=self.chroma,
        )


FORMS: Mapping[str, Form] = MappingProxyType(
    {
        form.name: form
        for form in (
            Form(
                name="prores",
                text="ProRes 4444 in .mov, with a timecode track",
                ending=".mov",
                alphas=ALPHAS,
                pix_fmt="yuva444p10le",
                depth=10,
                bits_a_pixel=2.0,
                # Of FFmpeg's two encoders the one that takes a fifth of the time: a film of plates
                # comes out within 5 of 1023 codes (99 of 100), its coverage exactly.
                codec="prores_aw",
                options=MappingProxyType({"profile": PRORES_PROFILES["4444"]}),
                container="mov",
            ),
            Form(
                name="vp9",
                text="VP9 in .webm, small, for browsers; its times are rounded to a millisecond",
                ending=".webm",
                alphas=ALPHAS,
                pix_fmt="yuva420p",
                chroma=(2, 2),
                codec="libvpx-vp9",
                options=MappingProxyType(
                    {"crf": "12", "b": "0", "deadline": "good", "cpu-used": "4", "row-mt": "1",
                     "auto-alt-ref": "0"}
                ),
                container="webm",
            ),
            Form(
                name="png",
                text="a folder of numbered PNG pictures, always straight",
                ending="",
                alphas=("straight",),
                pix_fmt="rgba",
                matrix=RGB,
                full_range=True,
            ),
        )
    }
)  # fmt: skip
"""All forms of transparent renders, by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogTimes:
    """The instants of a transparent render's frames, in UTC.

    Frame n stands for `start_utc_s + n / rate_hz`, worked out exactly; `timecode` is the time of
    day on the first.
    """

    start_utc_s: Fraction
    rate_hz: Fraction
    frames: int
    timecode: str

    def instant_s(self, frame: int) -> float:
        """When a frame is shown."""
        return float(self.start_utc_s + frame / self.rate_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class Transparent:
    """What a transparent render is to be like.

    Parameters
    ----------
    form
        What is written.
    size_px
        Width and height; both even.
    alpha
        Whether colours are straight or premultiplied with their coverage.
    times
        Its frames.
    """

    form: Form
    size_px: tuple[int, int]
    alpha: Alpha
    times: LogTimes

    def __post_init__(self) -> None:
        if self.alpha not in self.form.alphas:
            raise WishError(
                f"{self.form.name} pictures are {self.form.alphas[0]}, not {self.alpha}",
                allowed=self.form.alphas,
            )

    @property
    def picture(self) -> Picture:
        """What instruments are drawn for."""
        return self.form.picture(*self.size_px)
