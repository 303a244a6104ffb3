"""Range and endurance against worked examples."""

import pytest

from overlay.analysis.economy import NO_TANK, Tank, economy
from overlay.analysis.means import NONE, Mean
from overlay.report.words import hours_minutes
from sync.units import from_si, to_si


def exact(value: float) -> Mean:
    return Mean(value=value, sd=0.0)


def worked(tank: str, speed: str, flow: str, reserve: float = 0.10) -> tuple[float, float]:
    def si(text: str) -> float:
        number, _, unit = text.partition(" ")
        return to_si(float(number), unit)

    made = economy(exact(si(speed)), exact(si(flow)), Tank(usable=si(tank), reserve=reserve))
    return made.range_m.value, made.endurance_s.value


@pytest.mark.parametrize(
    ("speed", "flow", "miles"), [("53.3 mph", "14 gph", 93), ("25.2 mph", "3.2 gph", 191)]
)
def test_a_tenth_of_the_tank_is_kept_back(speed: str, flow: str, miles: int) -> None:
    """Common practice, no published source: 27 US gal of which a tenth is kept back."""
    range_m, _ = worked("27 US gal", speed, flow)
    assert round(from_si(range_m, "mi")) == miles


def test_endurance_at_cruise() -> None:
    """Common practice, no published source: 27 US gal at 3.2 US gal/h, a tenth kept back, are
    7 h 36 min."""
    _, endurance_s = worked("27 US gal", "25.2 mph", "3.2 gph")
    assert hours_minutes(endurance_s) == "7:36"


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
    made = economy(exact(10.0), exact(1e-5), NO_TANK)
    assert made.per_volume_m.value == pytest.approx(1e6)
    assert not made.range_m.known
    assert not made.endurance_s.known


@pytest.mark.parametrize("flow", [exact(0.0), NONE])
def test_without_flow_there_is_nothing(flow: Mean) -> None:
    made = economy(exact(10.0), flow, Tank(usable=0.1, reserve=0.1))
    assert not made.per_volume_m.known
    assert not made.range_m.known


def test_shares_of_doubt_add_in_quadrature() -> None:
    """3 % and 4 % are 5 % (calculated)."""
    speed, flow = Mean(value=10.0, sd=0.3), Mean(value=1e-5, sd=4e-7)
    made = economy(speed, flow, Tank(usable=0.1, reserve=0.0))
    for mean in (made.per_volume_m, made.range_m):
        assert mean.sd / mean.value == pytest.approx(0.05)
    assert made.endurance_s.sd / made.endurance_s.value == pytest.approx(0.04)
