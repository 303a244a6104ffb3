"""A value as a film says it: number, unit, and the worth of its last digit."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.sheet.said import read_said
from sync.errors import UnitError
from sync.units import UNITS


@pytest.mark.parametrize(
    ("text", "si", "step"),
    [
        # NIST SP 811 B.8: mph 0.44704 m/s, knot 1852/3600 m/s (check-values, section 1).
        ("38.4 mph", 38.4 * 0.44704, "0.1"),
        ("33 kn", 33 * 1852 / 3600, "1"),
        ("33.40 kts", 33.4 * 1852 / 3600, "0.01"),
        # US gallon 3.785 411 784 L, imperial gallon 4.546 09 L, both exactly (NIST HB 44 App. C,
        # UK Weights and Measures Act).
        ("12.5 gph", 12.5 * 3.785411784e-3 / 3600, "0.1"),
        ("3.1 mpg", 3.1 * 1609.344 / 3.785411784e-3, "0.1"),
        ("3.1 mi/imp gal", 3.1 * 1609.344 / 4.54609e-3, "0.1"),
        ("0.5 nmi/L", 0.5 * 1852e3, "0.1"),
        ("2 L/nmi", 2e-3 / 1852, "1"),
        ("30 L/100 km", 30e-3 / 100e3, "1"),
        # 550 ft·lbf/s = 745.699 872 W (NIST SP 811, second hand).
        ("100 hp/t", 100 * 745.699872 / 1000, "1"),
        ("3500 rpm", 3500 / 60, "10"),
        ("3505 rpm", 3505 / 60, "1"),
        ("8.5°", 8.5 * 3.141592653589793 / 180, "0.1"),
        ("−2.5 deg", -2.5 * 3.141592653589793 / 180, "0.1"),
        ("60 °F", (60 + 459.67) * 5 / 9, "1"),
    ],
)
def test_numbers_and_units(text, si, step):
    said = read_said(text)
    assert said.si == pytest.approx(si, rel=1e-8)
    assert said.step == Decimal(step)
    low, high = said.bounds_si()
    assert low < said.si < high


def test_what_it_is_rounded_to_is_the_worth_of_its_last_digit():
    assert read_said("3500 rpm", "100 rpm").step == 100
    assert read_said("40 mph", "5 mph").bounds_si() == pytest.approx(
        (37.5 * 0.44704, 42.5 * 0.44704)
    )


@pytest.mark.parametrize(
    "text", ["4,3 s", "4.3", "s 4.3", "", "4.3 zorks", "4.3 s/m", "1e99 s", "9" * 20 + " s", "3 /"]
)
def test_what_is_no_value_is_refused_in_a_sentence(text):
    with pytest.raises(UnitError) as caught:
        read_said(text)
    assert str(caught.value).endswith(".")


@given(
    number=st.decimals(min_value=-(10**6), max_value=10**6, places=3),
    unit=st.sampled_from(UNITS),
)
def test_a_value_said_comes_back_from_si(number, unit):
    said = read_said(f"{number:f} {unit.sign}")
    assert said.quantity == unit.quantity
    assert said.in_unit(said.si) == pytest.approx(float(number), abs=1e-6)
    assert read_said(str(said)) == said or said.unit == "rpm"
