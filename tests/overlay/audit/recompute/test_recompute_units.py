"""Units, kinds and names of the second implementation, held against what is outside of it."""

from __future__ import annotations

import math

import pytest
import scipy.constants as known

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.kinds import KINDS
from overlay.audit.recompute.logs.headings import fold, read_heading
from overlay.audit.recompute.logs.names import CHANNEL_OF, EVENTS, TIME_OF
from overlay.audit.recompute.units import UNITS, unit
from sync.channel_kinds import CHANNELS
from sync.readers.table_names import EVENT_NAMES, NAME_OF, TIME_NAMES
from sync.units import UNITS as PRODUCT_UNITS
from sync.units import to_si

# Source: scipy.constants (NIST SP 811, appendix B; check-values, section 1).
BY_SCIPY = {
    "kn": known.knot,
    "mph": known.mph,
    "km/h": known.kmh,
    "rpm": 1 / known.minute,
    "US gal/h": known.gallon_US / known.hour,
    "imp gal/h": known.gallon_imp / known.hour,
    "L/h": known.liter / known.hour,
    "°": known.degree,
    "°/min": known.degree / known.minute,
    "g": known.g,
    "in": known.inch,
    "ft": known.foot,
    "mi": known.mile,
    "nmi": known.nautical_mile,
    "lb": known.lb,
    "US gal": known.gallon_US,
    "hp": known.hp,
    "bar": known.bar,
    "psi": known.psi,
}


@pytest.mark.parametrize("sign", BY_SCIPY)
def test_factors_are_those_of_scipy(sign: str) -> None:
    assert float(unit(sign).factor) == pytest.approx(BY_SCIPY[sign], rel=1e-15)


@pytest.mark.parametrize("celsius", [-40.0, 0.0, 17.0, 100.0])
def test_temperatures_are_those_of_scipy(celsius: float) -> None:
    fahrenheit = known.convert_temperature(celsius, "Celsius", "Fahrenheit")
    kelvin = known.convert_temperature(celsius, "Celsius", "Kelvin")
    assert unit("degC").to_si(celsius) == pytest.approx(kelvin, abs=1e-9)
    assert unit("°F").to_si(fahrenheit) == pytest.approx(kelvin, abs=1e-9)
    assert float(unit("°F").from_si(kelvin)) == pytest.approx(fahrenheit, abs=1e-9)


def test_a_knot_is_a_nautical_mile_an_hour_exactly() -> None:
    assert unit("kn").factor * 3600 == 1852  # BIPM SI Brochure


@pytest.mark.parametrize("product", PRODUCT_UNITS, ids=lambda one: one.sign)
def test_every_spelling_of_the_product_is_known_and_means_the_same(product) -> None:
    for text in (product.sign, *product.spellings):
        ours = unit(text, product.quantity)
        assert ours.to_si(12.5) == pytest.approx(to_si(12.5, text, product.quantity), rel=1e-12)


def test_what_is_no_unit_is_told() -> None:
    with pytest.raises(CannotRecompute, match="no unit of speed written 'rpm'"):
        unit("rpm", "speed")


def test_kinds_are_those_of_the_product() -> None:
    ours = {name: (one.quantity, one.low, one.high, one.turns) for name, one in KINDS.items()}
    theirs = {n: (one.quantity, one.low, one.high, one.turns) for n, one in CHANNELS.items()}
    assert ours.keys() == theirs.keys()
    for name, (quantity, low, high, turns) in theirs.items():
        assert ours[name][0::3] == (quantity, turns)
        assert ours[name][1] == pytest.approx(low)
        assert ours[name][2] == pytest.approx(high)


def test_names_of_columns_are_those_of_the_product() -> None:
    assert dict(CHANNEL_OF) == dict(NAME_OF)
    assert EVENTS == EVENT_NAMES
    weeks = {"week", "tow"}
    ours = {name: "week" if sort in weeks else sort for name, sort in TIME_NAMES.items()}
    assert dict(TIME_OF) == ours


@pytest.mark.parametrize(
    ("heading", "key", "sign"),
    [
        ("speed (kn)", "speed", "kn"),
        ("Pitch [deg]", "pitch", "°"),
        ("fuel_flow_lph", "fuel_flow", "L/h"),
        ("fuel flow l h", "fuel_flow", "L/h"),
        ("rpm", "engine_speed", "rpm"),
        ("Port RPM", "engine_speed", "rpm"),
        ("stbd rpm", "engine_speed.1", "rpm"),
        ("engine speed s (rpm)", "engine_speed.1", "rpm"),
        ("throttle (starboard) %", "throttle.1", "%"),
        ("acceleration (m/s2)", "acceleration", "m/s²"),
        ("turn rate (deg/s)", "turn_rate", "°/s"),
        ("Level (dB(A))", "", ""),
        ("LAF", "sound_level", "dB(A)"),
        ("speed", "", ""),
        ("lat", "latitude", "deg N/E"),
    ],
)
def test_headings_known_on_paper(heading: str, key: str, sign: str) -> None:
    column = read_heading(heading)
    assert (column.key, column.unit.sign if column.unit else "") == (key, sign)


def test_folding_parts_words_by_single_blanks() -> None:
    assert fold(" Fuel_Flow-lph ") == "fuel flow lph"
    assert math.isinf(KINDS["course"].high)
    assert "kn" in UNITS
