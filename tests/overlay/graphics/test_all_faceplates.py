"""What every faceplate that comes with the project promises, on every size and shape of picture.

Margins: EBU R95 (2017) and ITU-R BT.1848-1 (2015) for wide and square pictures; for upright ones
what phones lay over the edges (common practice, no published source). Contrast: WCAG 2.2, 1.4.3.
"""

from __future__ import annotations

import itertools
from importlib import resources

import numpy as np
import pytest

from overlay.figures import UNIT_SETS
from overlay.graphics.faceplate import MOST_INSTRUMENTS, load_faceplate
from overlay.graphics.layout import overlap, safe_area
from overlay.graphics.picture import Picture
from overlay.graphics.plan import compile_plan
from overlay.graphics.specimen import subjects
from overlay.graphics.specimen.sheet import FACEPLATES
from overlay.graphics.theme import contrast

NAMES = sorted(
    file.name.removesuffix(".toml")
    for file in (resources.files("overlay.graphics") / "faceplates").iterdir()
)
SIZES = [(1280, 720), (1920, 1080), (3840, 2160), (1080, 1920), (1080, 1080)]
EACH = list(itertools.product(NAMES, SIZES))
MADE = {"step": subjects.step, "top_speed": subjects.step, "turn": subjects.turn}
LEAD, SECOND, LABEL = 0.06, 0.04, 0.028
"""Least heights of numerals and capitals, in shares of the short side (design: the look)."""


def plan_of(name, size, units="us"):
    picture = Picture(width_px=size[0], height_px=size[1])
    subject = MADE.get(name, subjects.launch)(units)
    return compile_plan(load_faceplate(name), picture=picture, subject=subject)


def grounds(picture):
    """White, black, spray and an evening sky, as planes."""
    rng = np.random.default_rng(7)
    high, wide = picture.height_px, picture.width_px
    chroma = [np.full(picture.chroma_shape, 128, np.uint8) for _ in range(2)]
    sky = np.repeat(np.linspace(210, 40, high)[:, None], wide, axis=1).astype(np.uint8)
    spray = np.clip(rng.normal(190, 45, (high, wide)), 16, 235).astype(np.uint8)
    warm = [np.full_like(chroma[0], 90), np.full_like(chroma[1], 170)]
    return {
        "white": [np.full((high, wide), 235, np.uint8), *[c.copy() for c in chroma]],
        "black": [np.full((high, wide), 16, np.uint8), *[c.copy() for c in chroma]],
        "spray": [spray, *[c.copy() for c in chroma]],
        "sunset": [sky, *warm],
    }


def luminance(rgb):
    """Relative luminance of R'G'B' codes (WCAG 2.2, from sRGB's formula)."""
    share = rgb / 255
    light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return light @ np.array([0.2126, 0.7152, 0.0722])


def test_the_specimen_shows_every_faceplate():
    assert set(FACEPLATES) == set(NAMES)
    assert len(NAMES) >= 6


@pytest.mark.parametrize(("name", "size"), EACH, ids=lambda v: v if isinstance(v, str) else f"{v}")
def test_it_keeps_to_margins_shares_and_numbers(name, size):
    plan = plan_of(name, size)
    safe = safe_area(plan.picture)
    assert 0 < len(plan.boxes) <= MOST_INSTRUMENTS
    assert all(safe.holds(box) for box in plan.boxes.values())
    for one, other in itertools.combinations(plan.boxes.values(), 2):
        assert not overlap(one, other)
    assert plan.covered <= 0.2
    if size[0] > size[1]:
        assert min(box[1] for box in plan.boxes.values()) >= 0.4 * size[1]


@pytest.mark.parametrize("units", UNIT_SETS)
@pytest.mark.parametrize("name", NAMES)
def test_it_fits_in_every_set_of_units(name, units):
    for size in ((1280, 720), (1080, 1920), (1080, 1080)):
        assert plan_of(name, size, units).covered <= 0.2


@pytest.mark.parametrize("name", NAMES)
def test_letters_are_as_high_as_the_look_asks(name):
    for size in SIZES:
        plan = plan_of(name, size)
        short = plan.picture.short_px
        planes = grounds(plan.picture)["black"]
        shown = plan.draw(tuple(planes), subjects.T0 + FACEPLATES[name])
        assert shown
        heights = {one.instrument: one.box_px[3] for one in shown if one.text.isdigit()}
        lead = [one.box_px[3] for one in shown if one.instrument == "speed"]
        assert all(high >= LEAD * short - 1 for high in lead)
        assert all(high >= SECOND * short - 1 for high in heights.values())
        capitals = [text for text in plan.texts if text.text.isupper() and text.text.isalpha()]
        assert all(text.box_px[3] >= LABEL * short - 1 for text in capitals)


@pytest.mark.parametrize("ground", ["white", "black", "spray", "sunset"])
@pytest.mark.parametrize("name", NAMES)
def test_every_number_stands_out_from_what_lies_behind_it(name, ground):
    """Ink is what a numeral's box has at its lightest, and what lies behind it at its darkest: a
    tenth of the pixels each, so that no stray one decides."""
    plan = plan_of(name, (1280, 720))
    planes = grounds(plan.picture)[ground]
    shown = plan.draw(tuple(planes), subjects.T0 + FACEPLATES[name])
    pixels = plan.picture.rgb(tuple(planes)).astype(float)
    there = [part for part in plan.parts if part.look(subjects.T0 + FACEPLATES[name]) is not None]
    boxes = [one.box_px for one in shown]
    boxes += [text.box_px for part in there for text in part.texts]
    assert len(boxes) >= 4
    for left, top, width, height in boxes:
        light = luminance(pixels[top : top + height, left : left + width]).ravel()
        low, high = np.percentile(light, (10, 97))
        assert (high + 0.05) / (low + 0.05) >= 4.5


def test_contrast_by_the_formula_is_what_pixels_have():
    """White on black is 21 to 1 (WCAG 2.2, relative luminance)."""
    assert contrast((255, 255, 255), (0, 0, 0)) == pytest.approx(21.0)
    light = luminance(np.array([[255.0, 255, 255], [0, 0, 0]]))
    assert (light[0] + 0.05) / (light[1] + 0.05) == pytest.approx(21.0)
