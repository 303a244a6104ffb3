"""Units against the standards' factors."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sync.channel_kinds import CHANNELS
from sync.errors import UnitError
from sync.units import LINES, UNITS, by_pint, from_si, parse_quantity, signs, to_si, unit_of

FACTORS = {
    "kn": 1852 / 3600,  # BIPM SI Brochure, Table 8: 1 nmi = 1852 m
    "mph": 0.44704,  # NIST SP 811, B.8
    "km/h": 1 / 3.6,
    "ft/s": 0.3048,  # NIST SP 811, B.8
    "nmi": 1852.0,
    "mi": 1609.344,  # NIST SP 811, B.8
    "ft": 0.3048,
    "in": 0.0254,
    "US gal": 3.785411784e-3,  # NIST HB 44, App. C: 231 cubic inches
    "imp gal": 4.54609e-3,  # UK Weights and Measures Act
    "L": 1e-3,
    "L/h": 1e-3 / 3600,
    "US gal/h": 3.785411784e-3 / 3600,
    "lb": 0.45359237,  # NIST SP 811, B.8
    "hp": 745.699872,  # NIST SP 811, B.8: 550 ft·lbf/s
    "PS": 735.49875,  # NIST SP 811, B.8: 75 kgf·m/s
    "psi": 6894.757293,  # NIST SP 811, B.8
    "g": 9.80665,  # NIST SP 811, B.8: standard acceleration
    "°": np.pi / 180,
    "°/min": np.pi / 180 / 60,
    "rpm": 1 / 60,
    "%": 0.01,
}


@pytest.mark.parametrize(("sign", "factor"), FACTORS.items())
def test_factors_are_those_of_the_standards(sign: str, factor: float) -> None:
    assert to_si(1.0, sign) == pytest.approx(factor, rel=1e-9)


@pytest.mark.parametrize("pint_name", LINES)
def test_factors_are_those_of_pint(pint_name: str) -> None:
    """Within the rounding of its own sums, which may differ from one version to the next."""
    assert LINES[pint_name] == pytest.approx(by_pint(pint_name), rel=1e-14, abs=1e-12)


def test_no_factor_stands_there_for_nothing() -> None:
    used = {unit.pint_name for unit in UNITS}
    assert set(LINES) <= used
    assert used - set(LINES) == {"percent", "dimensionless"}


def test_temperatures_have_a_zero_of_their_own() -> None:
    """K = (°F + 459.67) · 5/9; 0 °C = 273.15 K (NIST SP 811, B.9)."""
    assert to_si(0.0, "degC") == pytest.approx(273.15)
    assert to_si(32.0, "degF") == pytest.approx(273.15)
    assert from_si(373.15, "°F") == pytest.approx(212.0)


@given(st.sampled_from(UNITS), st.floats(-1e6, 1e6))
def test_there_and_back_is_the_same_value(unit: object, value: float) -> None:
    sign = unit.sign  # type: ignore[attr-defined]
    assert from_si(to_si(value, sign), sign) == pytest.approx(value, rel=1e-9, abs=1e-6)


def test_spellings_are_those_of_the_trade_and_not_of_pint() -> None:
    """In pint nm is a nanometre, C a coulomb and gph unknown."""
    assert unit_of("nm").sign == "nmi"
    assert unit_of("C").sign == "°C"
    assert unit_of("gph").sign == "US gal/h"
    assert unit_of("KTS").sign == "kn"


def test_no_spelling_stands_for_two_units() -> None:
    seen: dict[str, str] = {}
    for unit in UNITS:
        for spelling in (unit.sign, *unit.spellings):
            assert seen.setdefault(spelling, unit.sign) == unit.sign, spelling


def test_every_channel_has_units() -> None:
    for kind in CHANNELS.values():
        assert signs(kind.quantity), kind.name


@pytest.mark.parametrize(
    ("text", "quantity", "si"),
    [
        ("27 US gal", "volume", 27 * 3.785411784e-3),
        ("0.20 s", "time", 0.2),
        ("6.4 m", "length", 6.4),
        ("150hp", "power", 150 * 745.699872),
        ("20 deg", "angle", np.radians(20)),
        ("-1.5e2 mm", "length", -0.15),
    ],
)
def test_quantities_are_a_number_and_a_unit(text: str, quantity: str, si: float) -> None:
    assert parse_quantity(text, quantity) == pytest.approx(si, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "quantity", "says"),
    [
        ("6.4 deg", "length", "one of length is wanted"),
        ("6.4", "length", "has no unit"),
        ("6,4 m", "length", "comma"),
        ("long", "length", "does not begin with a number"),
        ("6.4 metr", "length", "did you mean"),
        ("5 furlongs", "length", "is not a unit of length"),
    ],
)
def test_what_is_no_quantity_is_refused_with_what_would_do(
    text: str, quantity: str, says: str
) -> None:
    with pytest.raises(UnitError, match=says) as caught:
        parse_quantity(text, quantity)
    assert caught.value.allowed or caught.value.advice


@given(st.text(max_size=20))
def test_any_text_is_a_quantity_or_a_unit_error(text: str) -> None:
    try:
        value = parse_quantity(text, "length")
    except UnitError:
        return
    assert np.isfinite(value) or "e" in text.casefold()


def test_arrays_are_converted_whole() -> None:
    knots = np.array([0.0, 10.0, 20.0])
    np.testing.assert_allclose(to_si(knots, "kn"), knots * 1852 / 3600)  # type: ignore[arg-type]
