"""Scales have round parts and hold what they are made for."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overlay.graphics.instruments.scale import round_part, scale_over


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4))
@settings(max_examples=300, deadline=None)
def test_a_scale_holds_its_values_in_few_parts(low, span):
    scale = scale_over(low, low + span)
    slack = 1e-6 * max(1.0, abs(low), span)
    assert scale.low <= low + slack
    assert scale.high >= low + span - slack
    assert 2 <= len(scale.edges) <= 12
    assert scale.along(scale.low) == 0.0
    assert scale.along(scale.high) == 1.0


@pytest.mark.parametrize(
    ("span", "part"), [(6480, 1000), (9, 1), (10, 2), (45, 5), (21, 2.5), (0.4, 0.05)]
)
def test_parts_are_round(span, part):
    assert round_part(span) == pytest.approx(part)


def test_beyond_an_end_is_at_the_end():
    scale = scale_over(0, 6000)
    assert (scale.along(-50), scale.along(9000)) == (0.0, 1.0)
    assert scale.along(3000) == pytest.approx(0.5)
