"""Instruments as a MoviePy clip, held against the same plan drawn straight onto the footage."""

from __future__ import annotations

import doctest
from fractions import Fraction

import numpy as np
import pytest
from moviepy import CompositeVideoClip, ImageClip
from numpy.typing import NDArray

from overlay.errors import RenderError
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.picture import Picture
from overlay.graphics.plan import Plan, compile_plan
from overlay.graphics.specimen import subjects
from overlay.render import moviepy_clip
from overlay.render.moviepy_clip import instruments_clip
from sync.clock import ClockMap, Span

SIZE = (1280, 720)
TO_UTC = ClockMap(from_clock="footage", to_clock="utc", offset_s=subjects.T0 - 3.0, rate=1.00001)
SPAN = Span(start_s=2.5, stop_s=14.5)
INSTANTS_S = (0.0, 1.3, 4.0, 7.77, 11.96)


def plan(**picture: object) -> Plan:
    made = Picture(width_px=SIZE[0], height_px=SIZE[1], **picture)
    return compile_plan(load_faceplate("launch"), picture=made, subject=subjects.launch())


@pytest.fixture(scope="module")
def rgb_plan() -> Plan:
    return plan(matrix="rgb", chroma=(1, 1))


@pytest.fixture(scope="module")
def background() -> NDArray[np.uint8]:
    """Every code beside every other: noise, with white spray and black besides."""
    codes = np.random.default_rng(7).integers(0, 256, (SIZE[1], SIZE[0], 3)).astype(np.uint8)
    codes[:, : SIZE[0] // 4] = 255
    codes[SIZE[1] // 2 :, SIZE[0] // 4 : SIZE[0] // 2] = 0
    return codes


def composite(rgb_plan: Plan, background: NDArray[np.uint8]) -> CompositeVideoClip:
    shown = instruments_clip(rgb_plan, clock_map=TO_UTC, span=SPAN, rate_hz=Fraction(25))
    return CompositeVideoClip([ImageClip(background, duration=SPAN.length_s), shown])


@pytest.mark.parametrize("t_s", INSTANTS_S)
def test_over_footage_it_is_the_direct_render(
    t_s: float, rgb_plan: Plan, background: NDArray[np.uint8]
) -> None:
    """The same faceplate drawn onto the footage itself, by another plan: two codes at the most,
    one of each blend's rounding."""
    planes = tuple(np.ascontiguousarray(background[..., n]) for n in range(3))
    shown = plan(matrix="rgb", chroma=(1, 1)).draw(planes, TO_UTC.carry(SPAN.start_s + t_s))
    assert shown
    direct = np.stack(planes, axis=-1).astype(int)
    assert np.abs(direct - background).max() > 100
    assert np.abs(composite(rgb_plan, background).get_frame(t_s).astype(int) - direct).max() <= 2


def test_over_footage_it_is_the_render_in_the_footages_own_codes(
    rgb_plan: Plan, background: NDArray[np.uint8]
) -> None:
    """Against Y'CbCr as clips are burned, at 4:4:4 and over grey, which both can hold: what is
    left is the rounding of Y'CbCr itself, up to two codes of red or blue for one of chroma."""
    grey = np.full_like(background, 119)
    planes = tuple(np.full(SIZE[::-1], code, np.uint8) for code in (119, 128, 128))
    picture = Picture(width_px=SIZE[0], height_px=SIZE[1], chroma=(1, 1), full_range=True)
    burned = compile_plan(load_faceplate("launch"), picture=picture, subject=subjects.launch())
    burned.draw(planes, TO_UTC.carry(SPAN.start_s + 7.0))
    film = composite(rgb_plan, grey).get_frame(7.0).astype(int)
    apart = np.abs(film - picture.rgb(planes))
    assert (film != 119).mean() > 0.03
    assert apart.max() <= 4
    assert (apart <= 2).mean() > 0.995


def test_the_mask_is_what_the_instruments_cover(rgb_plan: Plan) -> None:
    clip = instruments_clip(rgb_plan, clock_map=TO_UTC, span=SPAN, rate_hz=Fraction(25))
    mask = clip.mask.get_frame(7.0)
    assert clip.mask.is_mask
    assert mask.shape == SIZE[::-1]
    assert mask.dtype == np.float64
    assert 0 == mask.min() < mask.max() <= 1
    under = np.zeros(SIZE[::-1], bool)
    for left, top, width, height in rgb_plan.boxes.values():
        under[top : top + height, left : left + width] = True
    assert not mask[~under].any()
    assert (clip.get_frame(7.0)[mask == 0] == 0).all()


def test_every_code_of_coverage_comes_through_moviepy() -> None:
    """MoviePy makes codes of a mask by `(mask * 255).astype("uint8")` (VideoClip.compose_on)."""
    codes = (moviepy_clip._COVERAGE * 255).astype("uint8")
    assert codes.tolist() == list(range(256))
    assert moviepy_clip._COVERAGE.max() == 1


def test_it_has_the_spans_length_and_the_rate(rgb_plan: Plan) -> None:
    rate_hz = Fraction(30000, 1001)
    clip = instruments_clip(rgb_plan, clock_map=TO_UTC, span=SPAN, rate_hz=rate_hz)
    assert clip.duration == clip.mask.duration == 12.0
    assert clip.fps == clip.mask.fps == pytest.approx(29.97003)
    assert tuple(clip.size) == SIZE


def test_both_halves_of_a_frame_are_drawn_once(
    rgb_plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[float] = []
    draw = Plan.draw

    def counted(self: Plan, planes: object, t_utc_s: float) -> object:
        drawn.append(t_utc_s)
        return draw(self, planes, t_utc_s)

    monkeypatch.setattr(Plan, "draw", counted)
    clip = instruments_clip(rgb_plan, clock_map=TO_UTC, span=SPAN, rate_hz=Fraction(25))
    for t_s in (1.0, 1.04, 1.0):
        clip.get_frame(t_s)
        clip.mask.get_frame(t_s)
        clip.get_frame(t_s)
    assert drawn == [TO_UTC.carry(SPAN.start_s + t_s) for t_s in (1.0, 1.04, 1.0)]


def test_an_instant_is_the_same_whatever_was_asked_before(rgb_plan: Plan) -> None:
    forth = instruments_clip(rgb_plan, clock_map=TO_UTC, span=SPAN, rate_hz=Fraction(25))
    first = [(forth.get_frame(t), forth.mask.get_frame(t)) for t in INSTANTS_S]
    back = instruments_clip(rgb_plan, clock_map=TO_UTC, span=SPAN, rate_hz=Fraction(25))
    for t_s, (colours, covers) in reversed(list(zip(INSTANTS_S, first, strict=True))):
        assert (back.get_frame(t_s) == colours).all()
        assert (back.mask.get_frame(t_s) == covers).all()
    assert (first[1][0] != first[3][0]).any()


@pytest.mark.parametrize("picture", [{}, {"matrix": "rgb", "chroma": (1, 1), "depth": 10}])
def test_a_plan_for_another_kind_of_picture_is_refused(picture: dict[str, object]) -> None:
    with pytest.raises(RenderError, match="MoviePy has red, green and blue of 8"):
        instruments_clip(plan(**picture), clock_map=TO_UTC, span=SPAN, rate_hz=Fraction(25))


def test_the_documented_example_runs(rgb_plan: Plan, background: NDArray[np.uint8]) -> None:
    names = {
        "instruments_clip": instruments_clip,
        "plan": rgb_plan,
        "to_utc": TO_UTC,
        "Span": Span,
        "Fraction": Fraction,
        "background": ImageClip(background, duration=2.0),
    }
    (example,) = [
        found
        for found in doctest.DocTestFinder(recurse=False).find(moviepy_clip, globs=names)
        if found.examples
    ]
    result = doctest.DocTestRunner().run(example)
    assert result.attempted == 4
    assert result.failed == 0
