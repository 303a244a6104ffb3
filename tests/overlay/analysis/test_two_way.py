"""Passes both ways give the boat's own speed, whatever the stream did meanwhile."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.analysis.two_way import Pass, opposite, two_way
from sync.units import to_si

KNOT = to_si(1.0, "kn", "speed")


def passes(*speeds_kn: float, every_s: float = 300.0, axis: float = 0.7) -> list[Pass]:
    """Passes there and back in turn, their mid times equally spaced."""
    return [
        Pass(
            t_s=every_s * i, speed_mps=v * KNOT, course_rad=axis + math.pi * (i % 2), sd_mps=0.05
        )
        for i, v in enumerate(speeds_kn)
    ]  # fmt: skip


def knots(*speeds_kn: float) -> float:
    found = two_way(passes(*speeds_kn))
    assert found is not None
    return found.speed_mps / KNOT


def test_two_passes_give_the_mean_of_their_speeds() -> None:
    """1 nmi at 22 and 18 kn: 20.00 kn, where total distance over total time, an average of
    times, would have it 19.80 (calculated)."""
    assert knots(22.0, 18.0) == pytest.approx(20.0, abs=1e-9)
    assert pytest.approx(19.8, abs=1e-9) == 2 / (1 / 22 + 1 / 18)


def test_a_stream_that_changes_evenly_wants_three_passes() -> None:
    """4V = V1 + 2V2 + V3: three runs are enough if it is linear (Tupper, Introduction to Naval
    Architecture, p. 245; weights calculated); the plain mean would be 20.4."""
    assert knots(21.0, 18.8, 21.4) == pytest.approx(20.0, abs=1e-9)


def test_four_passes_give_the_mean_of_means() -> None:
    """8V = V1 + 3V2 + 3V3 + V4 (Tupper p. 245) for a stream of 1.0 + 0.2 i + 0.05 i² kn: exactly
    20, where the plain mean is 19.825 and the pairs 19.875 and 19.775 (calculated)."""
    run = (21.0, 18.75, 21.6, 17.95)
    assert knots(*run) == pytest.approx(20.0, abs=1e-9)
    assert (run[0] + 3 * run[1] + 3 * run[2] + run[3]) / 8 == pytest.approx(20.0)
    assert sum(run) / 4 == pytest.approx(19.825)


@given(
    runs=st.lists(st.floats(12, 40), min_size=4, max_size=4),
    axis=st.floats(-math.pi, math.pi),
)
def test_at_equal_spacing_four_passes_have_the_binomial_weights(
    runs: list[float], axis: float
) -> None:
    found = two_way(passes(*runs, axis=axis))
    assert found is not None
    mean_of_means = (runs[0] + 3 * runs[1] + 3 * runs[2] + runs[3]) / 8
    assert found.speed_mps / KNOT == pytest.approx(mean_of_means, rel=1e-9)


@given(
    boat=st.floats(5, 25),
    heading=st.floats(0, 2 * math.pi),
    stream=st.tuples(st.floats(-1, 1), st.floats(-1, 1)),
    drift=st.tuples(st.floats(-1e-3, 1e-3), st.floats(-1e-3, 1e-3)),
    times=st.lists(st.floats(0, 1800), min_size=3, max_size=6, unique_by=lambda t: round(t / 60)),
)
def test_a_stream_from_anywhere_drops_out_whole(
    boat: float, heading: float, stream: tuple[float, float], drift: tuple[float, float],
    times: list[float],
) -> None:  # fmt: skip
    """Up to 2 kn from any side: over ground the boat is set aside, and no speed is lost by it."""
    made = []
    for i, t in enumerate(sorted(times)):
        way = 1.0 if i % 2 == 0 else -1.0
        ground = [
            way * boat * math.sin(heading) + stream[0] + drift[0] * (t - 900),
            way * boat * math.cos(heading) + stream[1] + drift[1] * (t - 900),
        ]
        made.append(
            Pass(
                t_s=t, speed_mps=math.hypot(*ground), course_rad=math.atan2(*ground), sd_mps=0.05
            )
        )  # fmt: skip
    found = two_way(made)
    assert found is not None
    if found.degree >= 1:
        assert found.speed_mps == pytest.approx(boat, rel=1e-6)
    else:
        assert found.speed_mps == pytest.approx(boat, abs=2.0 * max(map(abs, drift)) * 1800 + 1e-6)


def test_what_is_removed_is_told_along_each_pass() -> None:
    found = two_way(passes(22.0, 18.0))
    assert found is not None
    assert np.array(found.stream_mps) / KNOT == pytest.approx([2.0, -2.0])
    assert found.across_mps == pytest.approx(0.0, abs=1e-9)
    assert found.ways == (1, -1)


def test_the_deviation_is_that_of_a_mean() -> None:
    found = two_way(passes(22.0, 18.0))
    assert found is not None
    assert found.sd_mps == pytest.approx(0.05 / math.sqrt(2))


def test_passes_that_cannot_tell_a_changing_stream_are_taken_for_a_steady_one() -> None:
    """Three passes, of which the way back fell to the end: what a linear stream would add to the
    doubt is more than it takes away."""
    there = [
        Pass(t_s=t, speed_mps=10.0, course_rad=c, sd_mps=0.05)
        for t, c in ((0.0, 0.0), (300.0, 0.0), (600.0, math.pi))
    ]
    found = two_way(there)
    assert found is not None
    assert found.degree == 0


@pytest.mark.parametrize(
    "courses", [(0.0,), (0.0, 0.1), (0.0, math.pi / 2), (0.0, math.nan), (0.0, math.pi, 1.5)]
)
def test_without_a_way_back_there_is_no_two_way_speed(courses: tuple[float, ...]) -> None:
    made = [
        Pass(t_s=300.0 * i, speed_mps=10.0, course_rad=c, sd_mps=0.05)
        for i, c in enumerate(courses)
    ]
    assert two_way(made) is None


def test_opposite_courses_may_be_off_by_thirty_degrees() -> None:
    assert opposite(math.radians(45), math.radians(225 + 29))
    assert not opposite(math.radians(45), math.radians(225 + 31))
    assert opposite(math.radians(350), math.radians(170))
    assert not opposite(math.nan, 0.0)
