"""A day at sea on film, and renders of it, for the tests of shots and their places.

All pictures are made here: a sea whose waves run at several speeds under a heaving horizon, with
a deck that stands still in front, as luma, encoded by x264 through PyAV.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from overlay.audit.edit import Source, clip_source, recording_source
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.plan import compile_plan
from overlay.graphics.specimen import subjects
from overlay.ledger import LedgerWriter
from overlay.render import Recipe, burn, surface_of
from sync.clock import ClockMap, Span
from sync.media import probe

Gray = NDArray[np.uint8]
WIDE, HIGH = 640, 360


class Sea:
    """Pictures of one day at sea: another seed is another day."""

    def __init__(self, seed: int, *, deck: bool = True) -> None:
        self.deck = deck
        (*self.layers, self.sky), self.phase = _sea(seed)

    def picture(self, number: float) -> Gray:
        y = np.arange(HIGH)[:, None]
        x = np.arange(WIDE)[None, :]
        a, b, c = self.phase
        horizon = 130 + 7 * np.sin(number / 19 + a) + 3 * np.sin(number / 7.3 + b)
        horizon = horizon + (x - WIDE / 2) * 0.02 * np.sin(number / 23 + c)
        water = 90 + 0.12 * (y - 130)
        for layer, speed in zip(self.layers, (3.1, 2.3, 1.2), strict=True):
            water = water + _part(layer, round(speed * number))
        sky = 200 + _part(self.sky, round(0.2 * number))
        out = np.where(y < horizon, sky, water)
        if self.deck:
            deck = ((x - WIDE / 2) / 260) ** 2 + ((y - HIGH) / 120) ** 2 < 1
            planks = 150 + 25 * ((x // 12) % 2)
            out = np.where(deck, planks, out)
        return np.clip(out, 16, 235).astype(np.uint8)


Strip = NDArray[np.float64]


@lru_cache(maxsize=4)
def _sea(seed: int) -> tuple[list[Strip], Strip]:
    """Waves at three depths and the sky, and the phases of their heaving."""
    rng = np.random.default_rng(seed)
    strips = [_strip(rng, *one) for one in ((1.5, 40), (4, 60), (14, 90), (22, 40))]
    return strips, rng.uniform(0, 6, 3)


def _strip(rng: np.random.Generator, size: float, gain: float) -> Strip:
    """Three pictures' breadth of unevenness, and once more what the first of them has."""
    even = cv2.GaussianBlur(rng.normal(0, 1, (HIGH, 3 * WIDE)), (0, 0), size) * size * gain
    return np.hstack([even, even[:, :WIDE]])


def _part(strip: Strip, first: int) -> Strip:
    """A picture's breadth of a strip that goes on for ever."""
    first %= 3 * WIDE
    return strip[:, first : first + WIDE]


def write_film(path: Path, pictures: Sequence[Gray], rate_hz: int, crf: int) -> Path:
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=rate_hz)
        stream.height, stream.width = pictures[0].shape
        stream.pix_fmt = "yuv420p"
        stream.options = {"preset": "veryfast", "crf": str(crf)}
        for number, picture in enumerate(pictures):
            frame = av.VideoFrame(picture.shape[1], picture.shape[0], "yuv420p")
            for plane, content in zip(frame.planes, (picture, None, None), strict=True):
                rows = np.frombuffer(memoryview(plane), np.uint8).reshape(plane.height, -1)
                rows[:, : plane.width] = 128 if content is None else content
            frame.pts, frame.time_base = number, Fraction(1, rate_hz)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def luma_of(path: Path) -> list[Gray]:
    """Its pictures, which nobody writes to."""
    with av.open(str(path)) as film:
        pictures = [frame.to_ndarray()[: frame.height].copy() for frame in film.decode(video=0)]
    for picture in pictures:
        picture.setflags(write=False)
    return pictures


@lru_cache(maxsize=1)
def _last_asked(path: Path) -> list[Gray]:
    return luma_of(path)


def render(footage: Path, folder: Path, name: str, span: Span, faceplate: str) -> tuple[Path, Path]:
    """A clip with instruments and its ledger, as `trialreel render` makes them."""
    film = probe(footage)
    output, ledger_path = folder / f"{name}.mp4", folder / f"{name}.ledger.parquet"
    recipe = Recipe()
    plan = compile_plan(
        load_faceplate(faceplate),
        picture=surface_of(film, recipe).picture,
        subject=subjects.launch(),
    )
    to_utc = ClockMap(from_clock="footage", to_clock="utc", offset_s=subjects.T0 - 4.0)
    with LedgerWriter(ledger_path, {"clip": name}) as ledger:
        burn(
            film,
            output,
            plan=plan,
            clock_map=to_utc,
            span=span,
            recipe=recipe,
            record=ledger.record,
            keep_print=ledger.keep_print,
        )
    return output, ledger_path


@dataclass(frozen=True, kw_only=True)
class World:
    """Two recordings and a clip of each."""

    folder: Path
    rates_hz: dict[str, int]
    paths: dict[str, Path]
    ledgers: dict[str, Path]

    def pictures(self, name: str) -> list[Gray]:
        """Those of a film; of one after another that tests ask for."""
        return _last_asked(self.paths[name])

    def sources(self) -> list[Source]:
        """All films and clips, made ready once."""
        return list(self._sources)

    @cached_property
    def _sources(self) -> list[Source]:
        clips = [clip_source(n, self.paths[n], self.ledgers[n]) for n in self.ledgers]
        raw = [recording_source(n, probe(self.paths[n])) for n in ("bow", "chase")]
        return [*clips, *raw]
