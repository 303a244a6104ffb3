"""Fuel flow over the speeds of E4, and the curve that it is read from."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.analysis.curves import curve_through
from overlay.analysis.duty import MODES, weighted_flow
from overlay.analysis.economy import economy
from overlay.analysis.means import NONE, Mean
from overlay.analysis.steps import Step, Ways

LPH = 1e-3 / 3600
IDLE = Mean(value=2 * LPH, sd=0.02 * LPH)


def step(rpm: float, lph: float, ways: Ways = "both") -> Step:
    flow, speed = Mean(value=lph * LPH, sd=0.01 * lph * LPH), Mean(value=rpm / 400, sd=0.02)
    return Step(
        name=f"{rpm:.0f} rpm", passes=(), ways=ways, engine_speed=Mean(value=rpm / 60, sd=0.1),
        speed=speed, flow=flow, pitch=NONE, two_way=None, economy=economy(speed, flow),
    )  # fmt: skip


STEPS = [step(2000, 12), step(3000, 32), step(4000, 60), step(5000, 100)]


def test_the_weights_are_those_of_the_cycle() -> None:
    """40 CFR Part 1045, Appendix II (a): 100, 80, 60, 40 % and idle; the worked mean of 100, 60,
    32, 12 and 2 L/h is 23.0 L/h."""
    assert [share for share, _ in MODES] == [1.0, 0.8, 0.6, 0.4, 0.0]
    assert math.fsum(weight for _, weight in MODES) == pytest.approx(1.0)
    found = weighted_flow(STEPS, IDLE, 5000 / 60)
    assert found.why_not == ""
    assert found.flow.value / LPH == pytest.approx(23.0, abs=0.05)
    assert found.flow.sd / LPH == pytest.approx(
        math.hypot(0.06, 0.14 * 0.6, 0.15 * 0.32, 0.25 * 0.12, 0.4 * 0.02), rel=0.01
    )


@pytest.mark.parametrize(
    ("steps", "idle", "top", "why"),
    [
        (STEPS, NONE, 5000, "idled out of gear"),
        (STEPS, IDLE, math.nan, "full throttle"),
        (STEPS[1:], IDLE, 5000, "about 2000 rpm"),
        (STEPS, IDLE, 5600, "about 5600 rpm"),
        ([step(rpm, 10, "single") for rpm in (2000, 5000)], IDLE, 5000, "both ways"),
    ],
)
def test_what_was_not_run_is_not_made_up(steps, idle: Mean, top: float, why: str) -> None:
    found = weighted_flow(steps, idle, top / 60)
    assert not found.flow.known
    assert why in found.why_not


POINTS = st.lists(
    st.tuples(st.integers(0, 100), st.integers(0, 100)), min_size=2, max_size=8,
    unique_by=lambda point: point[0],
)  # fmt: skip


@given(POINTS)
def test_a_curve_goes_through_its_points_and_not_beyond_them(points) -> None:
    curve = curve_through([(x, Mean(value=y, sd=1.0)) for x, y in points])
    assert curve is not None
    np.testing.assert_allclose(curve.at(curve.x), curve.y, atol=1e-9)
    outside = np.array([curve.x[0] - 0.1, curve.x[-1] + 0.1])
    assert np.isnan(curve.at(outside)).all()
    assert not curve.mean_at(float(outside[1])).known
    between = curve.at(np.linspace(curve.x[0], curve.x[-1], 200))
    assert between.min() >= curve.y.min() - 1e-9
    assert between.max() <= curve.y.max() + 1e-9


def test_a_curve_is_as_sure_as_its_points() -> None:
    curve = curve_through([(0, Mean(value=0, sd=1.0)), (1, Mean(value=1, sd=3.0)), (2, NONE),
                           (3, Mean(value=3, sd=2.0)), (3, Mean(value=4, sd=5.0))])  # fmt: skip
    assert curve is not None
    assert curve.mean_at(0.5).sd == pytest.approx(2.0)
    assert curve.mean_at(2.0).sd == pytest.approx(2.5)
    assert curve.y[-1] == 3
    assert curve_through([(1, Mean(value=1, sd=1.0))]) is None
