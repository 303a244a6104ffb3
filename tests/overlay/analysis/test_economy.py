"""Range and endurance against worked examples."""

import math

import pytest

from overlay.analysis.economy import economy
from overlay.cli.show_results import hours_and_minutes
from sync.units import from_si, to_si


def worked(tank: str, speed: str, flow: str, reserve: float = 0.10) -> tuple[float, float]:
    def si(text: str) -> float:
        number, _, unit = text.partition(" ")
        return to_si(float(number), unit)

    made = economy(si(speed), si(flow), usable_tank=si(tank), reserve=reserve)
    return made.range_m, made.endurance_s


@pytest.mark.parametrize(
    ("speed", "flow", "miles"), [("53.3 mph", "14 gph", 93), ("25.2 mph", "3.2 gph", 191)]
)
def test_a_tenth_of_the_tank_is_kept_back(speed: str, flow: str, miles: int) -> None:
    """Common practice, no published source: 27 US gal of which a tenth is kept back."""
    range_m, _ = worked("27 US gal", speed, flow)
    assert round(from_si(range_m, "mi")) == miles


def test_endurance_at_cruise() -> None:
    """Common practice, no published source: 27 US gal at 3.2 US gal/h, a tenth kept back."""
    _, endurance_s = worked("27 US gal", "25.2 mph", "3.2 gph")
    assert hours_and_minutes(endurance_s) == "7 h 36 min"


@pytest.mark.parametrize(
    ("tank", "speed", "flow", "unit", "distance"),
    [
        ("300 L", "30 kn", "60 L/h", "nmi", 135.0),
        ("100 US gal", "25 mph", "12.5 gph", "mi", 180.0),
    ],
)
def test_ranges_worked_by_hand(
    tank: str, speed: str, flow: str, unit: str, distance: float
) -> None:
    """0.90 × tank × speed / flow, worked on paper."""
    range_m, _ = worked(tank, speed, flow)
    assert from_si(range_m, unit) == pytest.approx(distance)


def test_without_a_tank_there_is_economy_but_no_range() -> None:
    made = economy(10.0, 1e-5, usable_tank=None, reserve=0.1)
    assert made.per_volume_m == pytest.approx(1e6)
    assert math.isnan(made.range_m)
    assert math.isnan(made.endurance_s)


def test_without_flow_there_is_nothing() -> None:
    for flow in (0.0, math.nan):
        assert math.isnan(economy(10.0, flow, usable_tank=0.1, reserve=0.1).per_volume_m)
