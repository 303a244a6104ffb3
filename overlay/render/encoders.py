"""The encoders that a clip can be made with, by name, and the words for how good and how slow.

What an encoder can take was asked of the codecs themselves; what their settings mean stands in
their own documentation. ProRes has no range tag, and is limited by its own definition (SMPTE
RDD 36); quality words are ours.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from overlay.render.hardware import hardware_codec

if TYPE_CHECKING:
    from overlay.render.recipe import Recipe

Quality = Literal["draft", "upload", "master"]
QUALITIES: tuple[Quality, ...] = ("draft", "upload", "master")

Sampling = tuple[tuple[int, int], int]
"""Columns and rows of pixels to a chroma sample, and bits of a code."""

FULL, HALF, QUARTER = (1, 1), (2, 1), (2, 2)

EFFORTS = (
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

PRORES_BITS: Mapping[str, float] = MappingProxyType(
    {"proxy": 0.75, "lt": 1.7, "standard": 2.4, "hq": 3.6, "4444": 5.4}
)
"""Bits to a pixel that the profiles aim at: 45, 102, 147, 220 and 330 Mbit/s of 1080p30 (published
target rates; from memory)."""

PRORES_PROFILES: Mapping[str, str] = MappingProxyType(
    {"proxy": "0", "lt": "1", "standard": "2", "hq": "3", "4444": "4"}
)
"""SMPTE RDD 36 names them; the numbers are the encoder's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What a quality word comes to: effort, and constant quality where the encoder has that."""

    preset: str
    crf: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Encoder:
    """One encoder.

    Parameters
    ----------
    name, text
        What it is called here, and what it is for.
    codec
        FFmpeg's name for it.
    presets, worst
        Its words for effort, and the greatest number of its constant quality: 0 where it has
        none.
    takes
        The samplings that it encodes.
    containers
        Endings of the files that hold what it makes.
    options
        A recipe as FFmpeg's options for it; what the footage says of its mastering is handed in
        in this encoder's own words, and the pixel format.
    mastering
        Its names for the display that was graded on, for light levels, and what else has to be
        said with them; empty where it has no place for them.
    tag
        The four letters that players expect, where FFmpeg's own are others.
    thread_type
        How it may share out its work: never by slices where these would change the pictures.
    limited_only, full_by_format
        Whether it has no full range at all, and whether, at 8 bits, it takes it as a pixel format
        of its own.
    bits_a_pixel
        Of an encoder in hardware, the rate that each of its presets asks for; such a one is found
        by opening what FFmpeg has, and `codec` is empty.
    """

    name: str
    text: str
    codec: str
    presets: tuple[str, ...]
    worst: int
    takes: frozenset[Sampling]
    containers: tuple[str, ...]
    qualities: Mapping[Quality, Settings]
    options: Callable[[Recipe, str, str], dict[str, str]]
    mastering: tuple[str, str, str] | None = None
    tag: str | None = None
    thread_type: Literal["FRAME", "SLICE"] = "FRAME"
    limited_only: bool = False
    full_by_format: bool = False
    bits_a_pixel: Mapping[str, float] | None = None

    @property
    def opens(self) -> tuple[str, str | None]:
        """FFmpeg's name for the encoder, and the pixel format that it must be given, if any.

        Raises
        ------
        RenderError
            Where it is in hardware and this machine has none.
        """
        return hardware_codec() if self.bits_a_pixel else (self.codec, None)


def _x264(recipe: Recipe, mastering: str, _pix_fmt: str) -> dict[str, str]:
    """x264 is told to speak of nothing less than warnings: it has a word to say on every frame,
    and each takes the interpreter's lock (see `sync.media.ffmpeg_log`)."""
    params = f"log=1:{mastering}".rstrip(":")
    return {"preset": recipe.preset, "crf": str(recipe.crf), "x264-params": params}


def _x265(recipe: Recipe, mastering: str, _pix_fmt: str) -> dict[str, str]:
    """x265's pictures depend on how many frames it works on at once, and on nothing else."""
    params = f"log-level=none:frame-threads={min(recipe.threads, 16)}:{mastering}".rstrip(":")
    return {"preset": recipe.preset, "crf": str(recipe.crf), "x265-params": params}


def _svt_av1(recipe: Recipe, mastering: str, _pix_fmt: str) -> dict[str, str]:
    """SVT-AV1 prints what it does on the error stream, past FFmpeg, unless it is told not to."""
    os.environ.setdefault("SVT_LOG", "0")
    options = {"preset": recipe.preset, "crf": str(recipe.crf)}
    return options | ({"svtav1-params": mastering} if mastering else {})


def _prores(recipe: Recipe, _mastering: str, pix_fmt: str) -> dict[str, str]:
    """Only the profiles of 4444 have a chroma sample for every pixel."""
    return {"profile": PRORES_PROFILES["4444" if "444" in pix_fmt else recipe.preset]}


def _hardware(_recipe: Recipe, _mastering: str, _pix_fmt: str) -> dict[str, str]:
    return {}


_PLANAR = frozenset({(chroma, depth) for chroma in (FULL, HALF, QUARTER) for depth in (8, 10)})
_MP4 = (".mp4", ".mov")

ENCODERS: Mapping[str, Encoder] = MappingProxyType(
    {
        encoder.name: encoder
        for encoder in (
            Encoder(
                name="x264",
                text="H.264, which everything plays",
                codec="libx264",
                presets=EFFORTS,
                worst=51,
                takes=_PLANAR,
                containers=_MP4,
                qualities=MappingProxyType(
                    {
                        "draft": Settings(preset="ultrafast", crf=28),
                        "upload": Settings(preset="veryfast", crf=20),
                        "master": Settings(preset="slow", crf=14),
                    }
                ),
                options=_x264,
                mastering=("mastering-display", "cll", ""),
                full_by_format=True,
            ),
            Encoder(
                name="x265",
                text="H.265, for 10 bits and HDR, and smaller files",
                codec="libx265",
                presets=EFFORTS,
                worst=51,
                takes=_PLANAR,
                containers=_MP4,
                qualities=MappingProxyType(
                    {
                        "draft": Settings(preset="ultrafast", crf=30),
                        "upload": Settings(preset="fast", crf=22),
                        "master": Settings(preset="slow", crf=15),
                    }
                ),
                options=_x265,
                mastering=("master-display", "max-cll", "hdr10=1"),
                tag="hvc1",
                full_by_format=True,
            ),
            Encoder(
                name="svt-av1",
                text="AV1, the smallest files, slow to make",
                codec="libsvtav1",
                # From 11 on what it writes at the best qualities cannot be decoded (measured with
                # the library that PyAV 18 carries).
                presets=tuple(str(n) for n in range(11)),
                worst=63,
                takes=frozenset({(QUARTER, 8), (QUARTER, 10)}),
                containers=(".mp4",),
                qualities=MappingProxyType(
                    {
                        "draft": Settings(preset="10", crf=42),
                        "upload": Settings(preset="8", crf=30),
                        "master": Settings(preset="5", crf=20),
                    }
                ),
                options=_svt_av1,
                mastering=("mastering-display", "content-light", ""),
            ),
            Encoder(
                name="prores",
                text="ProRes in .mov, for editing programs",
                codec="prores_ks",
                presets=("proxy", "lt", "standard", "hq"),
                worst=0,
                takes=frozenset({(HALF, 10), (FULL, 10)}),
                containers=(".mov",),
                qualities=MappingProxyType(
                    {
                        "draft": Settings(preset="lt", crf=0),
                        "upload": Settings(preset="standard", crf=0),
                        "master": Settings(preset="hq", crf=0),
                    }
                ),
                options=_prores,
                thread_type="SLICE",
                limited_only=True,
            ),
            Encoder(
                name="hardware",
                text="H.264 by the graphics card, where one is found; fast, larger files",
                codec="",
                presets=QUALITIES,
                worst=0,
                takes=frozenset({(QUARTER, 8)}),
                containers=_MP4,
                qualities=MappingProxyType(
                    {word: Settings(preset=word, crf=0) for word in QUALITIES}
                ),
                options=_hardware,
                bits_a_pixel=MappingProxyType({"draft": 0.06, "upload": 0.15, "master": 0.4}),
            ),
        )
    }
)
"""All encoders by the name that a person gives them."""
