"""What the sheet and the steps come to together: mass, band, slip, economy, and warnings."""

from __future__ import annotations

import math

import pytest

from overlay.analysis.economy import economy
from overlay.analysis.load import mass_as_tested, power_w
from overlay.analysis.means import NONE, Mean
from overlay.analysis.setup import set_up
from overlay.analysis.steps import Step, Ways
from overlay.sheet import TrialSheet
from sync.units import to_si


def sheet(**more: object) -> TrialSheet:
    given = {
        "schema": "trial/1",
        "boat": {"mass": "1000 kg"},
        "engines": [{"power": "150 hp", "rated_rpm": [5000, 6000], "gear_ratio": 2.0}],
        "propeller": {"pitch": "21 in"},
        "load": {"people": 2, "fuel": "100 L"},
        **more,
    }
    return TrialSheet.model_validate(given)


def step(rpm: float, mph: float, lph: float = math.nan, ways: Ways = "both") -> Step:
    speed = Mean(value=to_si(mph, "mph", "speed"), sd=0.02)
    flow = Mean(value=to_si(lph, "L/h", "volume_flow"), sd=1e-8) if math.isfinite(lph) else NONE
    return Step(
        name=f"{rpm:.0f} rpm", passes=(), ways=ways, engine_speed=Mean(value=rpm / 60, sd=0.05),
        speed=speed, flow=flow, pitch=NONE, two_way=None, economy=economy(speed, flow),
    )  # fmt: skip


def test_mass_is_summed_from_what_the_sheet_states_and_says_what_it_lacks() -> None:
    """1000 + 2 · 80 + 0.1 m³ · 745 kg/m³ (calculated)."""
    mass = mass_as_tested(sheet())
    assert mass is not None
    assert mass.value_kg == pytest.approx(1234.5)
    assert (mass.origin, mass.not_stated) == ("summed", ("gear",))


def test_scales_are_believed_before_sums() -> None:
    mass = mass_as_tested(sheet(load={"test_mass": "1310 kg", "people": 2}))
    assert mass is not None
    assert (mass.value_kg, mass.origin, mass.parts) == (1310.0, "weighed", ())


def test_diesel_is_heavier() -> None:
    mass = mass_as_tested(sheet(load={"fuel": "100 L", "fuel_kind": "diesel"}))
    assert mass is not None
    assert dict(mass.parts)["fuel"] == pytest.approx(84.0)


def test_without_a_boats_mass_there_is_none() -> None:
    assert mass_as_tested(sheet(boat={})) is None
    assert set_up(sheet(boat={}), {}, [step(5500, 50)], []).steps[0].planes is None


def test_power_needs_every_engine() -> None:
    assert power_w(sheet()) == pytest.approx(to_si(150, "hp", "power"))
    assert power_w(sheet(engines=[{"power": "150 hp"}, {}])) is None
    assert power_w(sheet(engines=[])) is None


def test_best_economy_is_of_steps_run_both_ways() -> None:
    steps = [
        step(1000, 5, 1.5), step(3500, 29, 13.6), step(4000, 35, 10.0, "single"),
        step(5500, 50, 46),
    ]  # fmt: skip
    found = set_up(sheet(), {}, steps, [])
    assert (found.top, found.best, found.best_planing) == ("5500 rpm", "1000 rpm", "3500 rpm")
    assert found.warnings == ()
    assert found.full_throttle is not None
    assert found.full_throttle.verdict == "inside"


def test_slip_that_no_propeller_has_is_to_be_looked_at() -> None:
    """21 in at 5500 rpm through 2:1 is 54.7 mph with no slip at all (calculated)."""
    fast, slow = (set_up(sheet(), {}, [step(5500, mph)], []) for mph in (56, 38))
    assert "less than nothing" in fast.warnings[0]
    assert "more than 25%" in slow.warnings[0]
    assert set_up(sheet(), {}, [step(1500, 6)], []).warnings == ()


def test_a_day_without_steps_has_no_top_speed() -> None:
    found = set_up(sheet(), {}, [], [])
    assert (found.top, found.best, found.full_throttle) == ("", "", None)
