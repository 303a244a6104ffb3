"""Flags hang from their poles, and never over one another."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overlay.graphics.instruments.flags import MOST_TIERS, hang

rows = st.lists(st.integers(0, 1000), min_size=0, max_size=8).map(sorted)


@given(rows, st.integers(20, 200), st.integers(0, 12))
@settings(max_examples=400, deadline=None)
def test_flags_of_a_tier_keep_apart_and_touch_their_poles(poles, width, gap):
    places = hang(poles, [width] * len(poles), 0, 1000, gap)
    if places is None:
        return
    assert len(places) == len(poles)
    for tier in range(MOST_TIERS):
        here = [(p.left, pole) for p, pole in zip(places, poles, strict=True) if p.tier == tier]
        for left, pole in here:
            assert 0 <= left <= pole <= left + width
            assert left + width <= 1000
        for (one, _), (other, _) in pairwise(here):
            assert one + width + gap <= other


def test_with_room_each_flag_flies_to_the_right_of_its_pole():
    places = hang([0, 300, 600], [100, 100, 100], 0, 1000, 8)
    assert [(p.left, p.tier) for p in places] == [(0, 0), (300, 0), (600, 0)]


def test_at_the_end_a_flag_flies_to_the_left():
    assert hang([990], [100], 0, 1000, 8)[0].left == 900


def test_close_flags_are_shifted_before_they_are_staggered():
    places = hang([200, 260], [100, 100], 0, 1000, 8)
    assert [(p.left, p.tier) for p in places] == [(152, 0), (260, 0)]


def test_closer_ones_are_staggered_and_others_stay_up():
    places = hang([100, 210, 220, 230, 800], [100] * 5, 0, 1000, 8)
    assert max(p.tier for p in places) == 1
    assert places[-1] == hang([800], [100], 0, 1000, 8)[0]
    assert places[-2].tier == 0


@pytest.mark.parametrize("count", [7, 12])
def test_too_many_at_one_instant_have_no_place(count):
    assert hang([500] * count, [100] * count, 0, 1000, 8) is None


def test_nothing_needs_no_place():
    assert hang([], [], 0, 1000, 8) == ()
