"""Films to lay instruments over, at next to no cost: white water, and a few frames of others."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from sync.media.planes import planes_of


def spray_film(
    path: Path, size: tuple[int, int], frames: int, *, rate: int, seed: int = 1, bits: int = 8
) -> Path:
    """White water, nowhere the same in two frames: noise of three grains about a light grey."""
    rng = np.random.default_rng(seed)
    width, height = size

    def pictures() -> Iterator[av.VideoFrame]:
        for _ in range(frames):
            luma = np.full((height, width), 150.0, np.float32)
            for grain, depth in ((2, 40.0), (8, 50.0), (40, 60.0)):
                small = rng.normal(0, depth, (height // grain + 2, width // grain + 2))
                luma += cv2.resize(small.astype(np.float32), size)
            frame = av.VideoFrame(width, height, "yuv420p" if bits == 8 else "yuv420p10le")
            y, u, v = planes_of(frame)
            y[...] = np.clip(luma, 16, 235) * 2 ** (bits - 8)
            u[...] = v[...] = 2 ** (bits - 1)
            yield frame

    return write(path, pictures(), rate)


def thinned(source: Path, path: Path, every: int, rate: int, seconds: float) -> Path:
    """Every so manieth frame of a film, for speed."""

    def pictures() -> Iterator[av.VideoFrame]:
        with av.open(str(source)) as given:
            for number, frame in enumerate(given.decode(video=0)):
                if number >= every * rate * seconds:
                    return
                if number % every == 0:
                    yield frame

    return write(path, pictures(), rate)


def write(path: Path, pictures: Iterator[av.VideoFrame], rate: int) -> Path:
    """A film of some pictures, without sound."""
    with av.open(str(path), "w") as film:
        stream = None
        for number, frame in enumerate(pictures):
            if stream is None:
                deep = frame.format.name != "yuv420p"
                stream = film.add_stream("libx265" if deep else "libx264", rate=rate)
                stream.width, stream.height, stream.pix_fmt = (
                    frame.width, frame.height, frame.format.name
                )  # fmt: skip
                quiet = {"x265-params": "log-level=none"} if deep else {"x264-params": "log=1"}
                stream.options = {"crf": "22", "preset": "ultrafast", "g": "10"} | quiet
            frame.pts, frame.time_base = number, Fraction(1, rate)
            frame.pict_type = 0
            film.mux(stream.encode(frame))
        assert stream is not None
        film.mux(stream.encode(None))
    return path
