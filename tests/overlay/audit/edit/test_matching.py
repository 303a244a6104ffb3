"""The search among prints, the line through sightings, and framings, on simulated truth."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from overlay.audit.edit.fit import misfits, ranked
from overlay.audit.edit.framing import (
    Framing,
    canonical_size,
    likely_framings,
    picture_box,
    snapped,
    unframed,
)
from overlay.audit.edit.haystack import Haystack, places
from overlay.audit.edit.lines import Seen, straight
from overlay.audit.edit.nudge import nudged
from overlay.audit.edit.sources import Source

EVERYTHING = np.ones(32, bool)


def wandering(seed: int, frames: int, rate_hz: float) -> Source:
    """A scene of its own whose cells sway, each at its own pace."""
    rng = np.random.default_rng(seed)
    t = np.arange(frames) / rate_hz
    pace, phase = rng.uniform(0.3, 2.5, (2, 32, 3)), rng.uniform(0, 6, (32, 3))
    sway = np.sin(t[:, None, None] * pace[0] * pace[1] + phase).sum(axis=2)
    cells = np.clip(rng.uniform(60, 200, 32) + 8 * sway, 0, 255).astype(np.uint8)
    return Source(name=str(seed), size_px=(1280, 720), times_s=t, cells=cells, film=None, clip=True)


@settings(deadline=None, max_examples=30)
@given(
    seed=st.integers(0, 500),
    begin_s=st.floats(1.0, 30.0),
    speed=st.sampled_from([0.25, 0.5, 0.8, 1.0, 1.3, 2.0]),
    gain=st.floats(0.6, 1.5),
    level=st.floats(-30, 30),
    corner=st.sampled_from([0, 5, 24, 29]),
)
def test_the_place_is_found_whatever_was_done_to_the_picture(
    seed: int, begin_s: float, speed: float, gain: float, level: float, corner: int
) -> None:
    """Three cells under a logo, half a code of noise, another gain and level."""
    sources = [wandering(seed, 1200, 30), wandering(seed + 1000, 900, 25)]
    t = np.arange(75) / 25
    film = sources[0].cells[sources[0].frames_at(begin_s + speed * t)].astype(np.float32)
    film = gain * film + level
    film += np.random.default_rng(seed).normal(0, 0.5, film.shape).astype(np.float32)
    film[:, corner : corner + 3] = 230
    stack = Haystack(sources, [0, 1])
    lines = places(stack, t, film, EVERYTHING, thorough=True)
    best = ranked(sources, lines, t, film, EVERYTHING)[0].line
    assert best.source == 0
    assert best.along(t) == pytest.approx(begin_s + speed * t, abs=1 / 30)


def test_misfit_is_in_the_sources_codes_and_leaves_out_what_disagrees() -> None:
    source = wandering(7, 40, 30).cells.astype(np.float64)
    film = 1.4 * source - 20
    film[:, 3:11] = 16
    off = misfits(film, np.stack([source, np.roll(source, 5, axis=0)]), EVERYTHING)
    assert off[0] == pytest.approx(0, abs=1e-6)
    assert off[1] > 1.0


@given(
    speed=st.sampled_from([0.5, 1.0, 0.25, 1.2]),
    at_s=st.floats(0, 50),
    wrong=st.integers(0, 3),
)
def test_the_line_is_the_one_that_most_sightings_allow(
    speed: float, at_s: float, wrong: int
) -> None:
    t = np.concatenate([np.arange(6), np.arange(40, 46), np.arange(80, 86)]) / 30
    shown = np.floor((at_s + speed * t) * 30 + 1e-6) / 30
    shown[:wrong] += 0.4
    line = straight(Seen(t_s=t, low_s=shown, high_s=shown + 1 / 30), speed * 1.01, 1 / 30)
    assert line.speed == speed
    assert line.hits == len(t) - wrong
    good = np.floor((line.at_s + line.speed * t) * 30 + 1e-6) / 30
    assert np.abs(good - shown)[wrong:].max() < 1.01 / 30


def scene(width: int, height: int) -> NDArray[np.float32]:
    rng = np.random.default_rng(5)
    noise = sum(
        cv2.GaussianBlur(rng.normal(0, 1, (height, width)), (0, 0), s) * s for s in (3, 9, 25)
    )
    return np.clip(126 + 60 * noise, 30, 235).astype(np.float32)


def placed(framing: Framing, film: tuple[int, int]) -> NDArray[np.uint8]:
    """A scene of 1280 by 720 in a film, each pixel of which is the middle of its place."""
    shift = (
        framing.left_px + framing.scale_x / 2 - 0.5,
        framing.top_px + framing.scale_y / 2 - 0.5,
    )
    matrix = np.array([[framing.scale_x, 0, shift[0]], [0, framing.scale_y, shift[1]]])
    big = cv2.warpAffine(scene(1280, 720), matrix, film, flags=cv2.INTER_AREA, borderValue=16)
    small = cv2.resize(big, (160, 90), interpolation=cv2.INTER_AREA)
    return np.rint(small).astype(np.uint8)[None]


@pytest.mark.parametrize("scale", [0.8, 1.0])
def test_bars_say_where_the_picture_is(scale: float) -> None:
    left, top = 640 * (1 - scale), 360 * (1 - scale)
    true = Framing(scale_x=scale, scale_y=scale, left_px=left, top_px=top, box_px=(0, 0, 1280, 720))
    box = picture_box(placed(true, (1280, 720)))
    first = likely_framings(box, (160, 90), (1280, 720), (1280, 720))[0]
    assert first.scale_x == pytest.approx(scale, abs=0.02)
    assert first.left_px == pytest.approx(left, abs=10)


def test_a_black_picture_has_no_bars() -> None:
    assert picture_box(np.full((3, 90, 160), 16, np.uint8)) == (0, 0, 160, 90)


def test_a_framing_is_put_right_to_a_pixel() -> None:
    """Off by 4 pixels and by a percent at first."""
    source_px = film_px = (1280.0, 720.0)
    true = Framing(
        scale_x=0.83, scale_y=0.83, left_px=151.0, top_px=40.0, box_px=(151, 40, 1213, 637)
    )
    film = placed(true, (1280, 720))
    wide, high = canonical_size(source_px)
    source = cv2.resize(scene(1280, 720), (wide, high), interpolation=cv2.INTER_AREA)[None]
    found = Framing(scale_x=0.838, scale_y=0.825, left_px=147.0, top_px=43.0, box_px=true.box_px)
    for _ in range(6):
        pictures, seen = unframed(film, found, film_px, source_px)
        found, _ = nudged(found, source_px, pictures, source, seen)
    for x, y in ((0, 0), (1280, 720)):
        assert found.scale_x * x + found.left_px == pytest.approx(
            true.scale_x * x + true.left_px, abs=1
        )
        assert found.scale_y * y + found.top_px == pytest.approx(
            true.scale_y * y + true.top_px, abs=1
        )
    assert snapped(found, film_px, source_px) == found


def test_a_framing_near_one_that_is_meant_is_taken_for_it() -> None:
    near = Framing(
        scale_x=0.7995, scale_y=0.8004, left_px=128.4, top_px=71.7, box_px=(128, 72, 1152, 648)
    )
    meant = snapped(near, (1280, 720), (1280, 720))
    assert (meant.scale_x, meant.scale_y) == pytest.approx((0.8, 0.8))
    assert (meant.left_px, meant.top_px) == pytest.approx((128, 72))
    assert meant.box_px == near.box_px
