"""A recipe holds only what the encoder takes, and a clip's clocks lose no tick."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.errors import RenderError
from overlay.render import Recipe
from overlay.render.recipe import LEAST_TIMESCALE, clip_time_base, movie_timescale


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"encoder": "x266"}, "no encoder 'x266'"),
        ({"preset": "quick"}, "no preset 'quick'"),
        ({"crf": 52}, "no quality 52"),
        ({"threads": 0}, "in 0 threads"),
        ({"encoder": "prores", "preset": "veryfast"}, "prores has no preset 'veryfast'"),
        ({"encoder": "svt-av1", "preset": "8", "crf": 64}, "svt-av1 has no quality 64"),
    ],
)
def test_a_recipe_that_cannot_be_is_refused(settings: dict[str, object], words: str) -> None:
    with pytest.raises(RenderError, match=words):
        Recipe(**settings)


@given(st.integers(1, 200_000), st.integers(1, 2000))
def test_every_footage_tick_is_a_whole_number_of_clip_ticks(scale: int, step: int) -> None:
    tick = Fraction(step, scale)
    clip = clip_time_base(tick)
    assert (tick / clip).denominator == 1
    assert clip.numerator == 1
    assert clip.denominator >= LEAST_TIMESCALE


@pytest.mark.parametrize(
    ("picture", "sound"),
    [(15360, 48000), (30000, 48000), (12800, 44100), (90000, 44100), (24000, 8000), (16000, 0)],
)
def test_the_movie_clock_holds_every_tick_of_both_tracks(picture: int, sound: int) -> None:
    scales = tuple(s for s in (picture, sound) if s)
    scale = movie_timescale(scales)
    assert all(scale % s == 0 for s in scales)
    assert 90_000 <= scale < 2**31


def test_clocks_that_have_too_little_in_common_fall_back() -> None:
    assert movie_timescale((999_999_937, 48_000)) == 90_000
