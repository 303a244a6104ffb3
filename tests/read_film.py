"""Clips for the study of the read-back: faceplates over spray or footage, and what they show."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.picture import Picture
from overlay.graphics.plan import Plan, compile_plan
from overlay.graphics.readable import layout_of
from overlay.graphics.specimen import subjects
from overlay.graphics.subject import Subject
from overlay.ledger import Layout, Shown
from sync.media.planes import planes_of

RATE = 30
SIZES = MappingProxyType({"720p": (1280, 720), "1080p": (1920, 1080), "2160p": (3840, 2160)})
Ground = Iterator[tuple[NDArray[np.uint8], NDArray[np.uint8], NDArray[np.uint8]]]


def subject_of(faceplate: str, units: str = "us") -> Subject:
    """The run that a faceplate is shown with."""
    if faceplate == "turn":
        return subjects.turn(units)
    if faceplate in ("step", "top_speed"):
        return subjects.step(units, kind=faceplate.replace("_", " "))
    return subjects.launch(units)


@dataclass(frozen=True, kw_only=True)
class Made:
    """A clip, its layout, and what each frame of it was made to show at which instant."""

    faceplate: str
    path: Path
    layout: Layout
    shown: list[tuple[Shown, ...]]
    utc_s: list[float]

    def clock(self, t_s: float) -> float:
        """From the clip's seconds to UTC."""
        return self.utc_s[min(round(t_s * RATE), len(self.utc_s) - 1)]


@lru_cache(maxsize=32)
def plan_of(faceplate: str, size: tuple[int, int], units: str = "us") -> Plan:
    """A faceplate that comes with trialreel, for a picture of some size."""
    picture = Picture(width_px=size[0], height_px=size[1])
    return compile_plan(
        load_faceplate(faceplate), picture=picture, subject=subject_of(faceplate, units)
    )


def spray(size: tuple[int, int], seed: int = 1) -> Ground:
    """White water: noise of several grains, in no two frames at the same place."""
    rng = np.random.default_rng(seed)
    width, height = size
    room = 200
    large = (width + room, height + room)
    y = np.full((large[1], large[0]), 150.0, np.float32)
    for grain, depth in ((2, 40.0), (8, 50.0), (40, 60.0)):
        small = rng.normal(0, depth, (large[1] // grain + 2, large[0] // grain + 2))
        y += cv2.resize(small.astype(np.float32), large, interpolation=cv2.INTER_LINEAR)
    codes = np.clip(y, 16, 235).astype(np.uint8)
    chroma = np.full((-(-height // 2), -(-width // 2)), 128, np.uint8)
    while True:
        left, top = rng.integers(0, room, 2)
        yield codes[top : top + height, left : left + width].copy(), chroma.copy(), chroma.copy()


def water(size: tuple[int, int], seed: int = 1) -> Ground:
    """A swell that the camera pans over: what is ordinary to decode."""
    rng = np.random.default_rng(seed)
    width, height = size
    large = (width + 600, height)
    y = np.full((large[1], large[0]), 120.0, np.float32)
    for grain, depth in ((6, 6.0), (12, 10.0), (60, 25.0)):
        small = rng.normal(0, depth, (large[1] // grain + 2, large[0] // grain + 2))
        y += cv2.resize(small.astype(np.float32), large, interpolation=cv2.INTER_CUBIC)
    codes = np.clip(y, 16, 235).astype(np.uint8)
    chroma = np.full((-(-height // 2), -(-width // 2)), 128, np.uint8)
    for frame in itertools.count():
        left = abs(2 * frame % 1200 - 600)
        yield codes[:, left : left + width].copy(), chroma.copy(), chroma.copy()


def footage(size: tuple[int, int], path: Path) -> Ground:
    """A film at another size, over and over."""
    while True:
        with av.open(str(path)) as container:
            for frame in container.decode(video=0):
                made = frame.reformat(width=size[0], height=size[1], format="yuv420p")
                yield tuple(np.array(plane) for plane in planes_of(made))  # type: ignore[misc]


def make(
    path: Path, faceplate: str, size: str, *, crf: int, frames: int, ground: Ground,
    units: str = "us", preset: str = "veryfast", step_s: float | None = None,
    codec: str = "libx264", options: dict[str, str] | None = None,
) -> Made:  # fmt: skip
    """A clip whose frames are spread over the whole of the run, each on its own instant."""
    plan = plan_of(faceplate, SIZES[size], units)
    run = plan.run
    begins, ends = run.shown_from_utc_s, run.shown_to_utc_s
    step_s = step_s or (ends - begins) / frames
    utc = [begins + step_s * (n + 0.5) for n in range(frames)]
    shown = []
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=RATE)
        stream.width, stream.height, stream.pix_fmt = *SIZES[size], "yuv420p"
        stream.options = options or {"crf": str(crf), "preset": preset}
        stream.time_base = stream.codec_context.time_base = Fraction(1, RATE)
        for n, t_utc_s in enumerate(utc):
            planes = next(ground)
            shown.append(plan.draw(planes, t_utc_s))
            frame = av.VideoFrame(*SIZES[size], "yuv420p")
            for target, source in zip(planes_of(frame), planes, strict=True):
                target[...] = source
            frame.pts, frame.time_base = n, Fraction(1, RATE)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return Made(faceplate=faceplate, path=path, layout=layout_of(plan), shown=shown, utc_s=utc)
