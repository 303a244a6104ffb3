"""An edited film, made with MoviePy out of two renders and footage: every shot in its place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest
from at_sea import HIGH, WIDE, Gray, Sea, World
from moviepy import ColorClip, CompositeVideoClip, ImageClip, VideoClip, concatenate_videoclips, vfx

from overlay.audit.edit import Shot, find_shots

RATE_HZ = 30


@dataclass(frozen=True, kw_only=True)
class Take:
    """One shot of the film: which frames of what, at what speed and scale."""

    source: str | None
    first: int
    film_frames: int
    speed: float = 1.0
    scale: float = 1.0

    def frame_of(self, k: int, rate_hz: int) -> int:
        """The source's frame that the film's k-th of this shot shows."""
        return self.first + int(k / RATE_HZ * self.speed * rate_hz + 1e-6)


TAKES = (
    Take(source="launch", first=150, film_frames=70),
    Take(source=None, first=0, film_frames=45),
    Take(source="pursuit", first=60, film_frames=72, scale=0.8),
    Take(source="launch", first=230, film_frames=100, speed=0.5),
    Take(source="bow", first=200, film_frames=50),
    Take(source="launch", first=40, film_frames=55, scale=0.8),
    Take(source="launch", first=125, film_frames=40),
    Take(source="chase", first=120, film_frames=48, speed=0.5),
)
"""The two behind each other of the launch are a jump cut: 30 frames are missing between them."""


def shown(take: Take, pictures: Sequence[Gray], rate_hz: int) -> VideoClip:
    def at(t_s: float) -> np.ndarray:
        number = take.first + int(t_s * rate_hz + 1e-6)
        return np.repeat(pictures[min(number, len(pictures) - 1)][..., None], 3, axis=2)

    clip = VideoClip(at, duration=take.film_frames / RATE_HZ * take.speed)
    if take.speed != 1:
        clip = clip.with_effects([vfx.MultiplySpeed(take.speed)])
    if take.scale == 1:
        return clip
    small = clip.with_effects([vfx.Resize(take.scale)]).with_position("center")
    ground = ColorClip((WIDE, HIGH), color=(0, 0, 0), duration=clip.duration)
    return CompositeVideoClip([ground, small])


def logo() -> Gray:
    out = np.full((48, 100, 3), 235, np.uint8)
    cv2.putText(out, "BOATS", (6, 34), cv2.FONT_HERSHEY_SIMPLEX, 0.9, (20, 20, 20), 3)
    return out


def edited(world: World) -> list[Gray]:
    known = {name: world.pictures(name) for name in world.paths}
    other = Sea(77, deck=False)
    known["elsewhere"] = [other.picture(n) for n in range(60)]
    clips = [
        shown(take, known[take.source or "elsewhere"], world.rates_hz.get(take.source or "", 30))
        for take in TAKES
    ]
    film = concatenate_videoclips(clips)
    mark = ImageClip(logo(), duration=film.duration).with_position((WIDE - 120, 14))
    whole = CompositeVideoClip([film, mark])
    frames = sum(take.film_frames for take in TAKES)
    return [
        np.ascontiguousarray(whole.get_frame((k + 0.25) / RATE_HZ)[..., 1]) for k in range(frames)
    ]


@pytest.fixture(scope="module")
def cut(world: World) -> list[Gray]:
    return edited(world)


@pytest.fixture
def shots(
    cut: list[Gray], world: World, encoded_twice: Callable[[Sequence[Gray]], Path]
) -> tuple[Shot, ...]:
    return find_shots(encoded_twice(cut), world.sources())


def test_every_shot_is_placed_within_one_frame(shots: tuple[Shot, ...], world: World) -> None:
    assert [shot.source for shot in shots] == [take.source for take in TAKES]
    first = 0
    for shot, take in zip(shots, TAKES, strict=True):
        assert abs(shot.frames.start - first) <= 1
        assert abs(shot.frames.stop - first - take.film_frames) <= 1
        if take.source is not None:
            assert shot.kind == "placed"
            rate_hz = world.rates_hz[take.source]
            ought = np.array([take.frame_of(k - first, rate_hz) for k in shot.frames])
            assert np.abs(shot.source_frames - ought)[1:-1].max() <= 1, take
            assert shot.speed == pytest.approx(take.speed, rel=1e-3)
            assert shot.doubt_frames <= 1
            assert shot.framing.scale_x == pytest.approx(take.scale, abs=0.002)
            assert shot.framing.left_px == pytest.approx(WIDE * (1 - take.scale) / 2, abs=1)
            assert shot.framing.top_px == pytest.approx(HIGH * (1 - take.scale) / 2, abs=1)
        else:
            assert shot.kind == "elsewhere"
            assert shot.source_frames is None
        first += take.film_frames
