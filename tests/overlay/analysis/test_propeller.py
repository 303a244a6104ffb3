"""Slip, rated band, Froude and Crouch against worked examples of the trade."""

from __future__ import annotations

import math

import pytest

from overlay.analysis.economy import economy
from overlay.analysis.means import NONE, Mean
from overlay.analysis.propeller import crouch, froude, full_throttle, implausible, planes, slip
from overlay.analysis.steps import Step
from sync.units import from_si, to_si


def step(rpm: float, speed: float, unit: str = "mph", sd: float = 0.0) -> Step:
    moving = Mean(value=to_si(speed, unit, "speed"), sd=sd)
    return Step(
        name=f"{rpm:.0f} rpm", passes=(), ways="both", engine_speed=Mean(value=rpm / 60, sd=0.0),
        speed=moving, flow=NONE, pitch=NONE, two_way=None, economy=economy(moving, NONE),
    )  # fmt: skip


INCH = to_si(1.0, "in", "length")


@pytest.mark.parametrize(
    ("pitch_in", "gear", "rpm", "mph", "slip_percent", "within"),
    [
        (25, 1.86, 6000, 68, 10.96, 0.01),  # a propeller table of the trade; it prints 10.9
        (18, 2.0, 5400, 47, -2.1, 0.05),  # a question in a boating forum, GPS speed one way
        (21, 1.5, 5000, 50, 24.57, 0.01),  # recomputed: the page that has it prints 25.00, wrong
        (23, 1.6, 5500, 60, 19.86, 0.01),  # the same page prints 20.00
    ],
)
def test_slip_of_published_examples(
    pitch_in: float, gear: float, rpm: float, mph: float, slip_percent: float, within: float
) -> None:
    found = slip(step(rpm, mph), pitch_in * INCH, gear)
    assert 100 * found.value == pytest.approx(slip_percent, abs=within)


def test_slip_of_a_ship() -> None:
    """5 m of pitch, 105 rpm, 14 kn: 17.689 % apparent slip (a marine engineering exam paper
    prints 17.7)."""
    assert 100 * slip(step(105, 14, "kn"), 5.0, 1.0).value == pytest.approx(17.689, abs=1e-3)


def test_slip_is_as_doubtful_as_speed() -> None:
    found = slip(step(5000, 50, sd=0.1), 21 * INCH, 1.5)
    assert found.sd == pytest.approx((1 - found.value) * 0.1 / to_si(50, "mph", "speed"))
    assert not slip(step(5000, 50), None, 1.5).known
    assert not slip(step(5000, 50), 0.5, None).known


@pytest.mark.parametrize(("rpm", "verdict"), [(4900, "below"), (5500, "inside"), (6100, "above")])
def test_full_throttle_is_held_against_the_makers_band(rpm: float, verdict: str) -> None:
    found = full_throttle([step(3000, 20), step(rpm, 50)], (5000, 6000), [0.4, 1.0])
    assert found is not None
    assert found.verdict == verdict


def test_a_throttle_that_was_not_open_tells_nothing_of_full_throttle() -> None:
    steps = [step(3000, 20), step(4500, 40)]
    assert full_throttle(steps, (5000, 6000), [0.4, 0.7]) is None
    assert full_throttle(steps, None, [0.4, 1.0]) is None
    assert full_throttle(steps, (4000, 5000), [math.nan, math.nan]) is not None


def test_volumetric_froude_number_of_a_published_example() -> None:
    """827 400 N at 13.07 m/s: Fn∇ = 2.001392 (Savitsky and Brown 1976, by the example of
    python-openplaning), for the water it uses, 1025.87 kg/m³."""
    mass = 827_400 / 9.8066 * 1025.0 / 1025.87
    assert froude(13.07, mass) == pytest.approx(2.001392, rel=1e-4)


@pytest.mark.parametrize(("number", "knots"), [(1, 6.80), (2, 13.61), (2.5, 17.01), (3, 20.41)])
def test_froude_of_two_tonnes(number: float, knots: float) -> None:
    """2000 kg at 1025 kg/m³ (calculated from the definition)."""
    assert froude(to_si(knots, "kn", "speed"), 2000) == pytest.approx(number, rel=1e-3)
    assert planes(to_si(17.1, "kn", "speed"), 2000) is True
    assert planes(to_si(16.9, "kn", "speed"), 2000) is False
    assert planes(10.0, None) is None


def test_crouch_by_hand() -> None:
    """200 hp and 4000 lb: 40.25 mph for C = 180 in mph (calculated); the same table in knots
    has C = 150 for an average runabout, 33.54 kn, and the two must not be mixed."""
    power, mass = to_si(200, "hp", "power"), to_si(4000, "lb", "mass")
    assert from_si(crouch(power, mass, 180), "mph", "speed") == pytest.approx(40.25, abs=0.005)
    assert implausible(to_si(45, "mph", "speed"), power, mass) is None
    assert "a hint" in str(implausible(to_si(80, "mph", "speed"), power, mass))
    assert implausible(30.0, None, mass) is None
