"""The unit signs that crews write, and the factors behind them.

What may be written is our own list; pint supplied the factors, and no more, since it reads some
signs otherwise than the trade does (`nm` is a nanometre to it, `C` a coulomb, and `gph` it
does not know). Values are in SI: metres, seconds, kilograms, radians, kelvin. Rotation is in
revolutions a second.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from sync.errors import UnitError

if TYPE_CHECKING:
    import pint


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit: the sign we print, what it measures, and what pint calls it."""

    sign: str
    quantity: str
    pint_name: str
    spellings: tuple[str, ...] = ()


UNITS: tuple[Unit, ...] = (
    Unit(sign="m/s", quantity="speed", pint_name="meter/second", spellings=("mps", "m/sec")),
    Unit(
        sign="kn",
        quantity="speed",
        pint_name="nautical_mile/hour",
        spellings=("kt", "kts", "knot", "knots"),
    ),
    Unit(sign="mph", quantity="speed", pint_name="mile/hour", spellings=("mi/h",)),
    Unit(
        sign="km/h",
        quantity="speed",
        pint_name="kilometer/hour",
        spellings=("kmh", "kph", "km/hr"),
    ),
    Unit(sign="ft/s", quantity="speed", pint_name="foot/second", spellings=("fps",)),
    Unit(
        sign="rpm",
        quantity="rotation",
        pint_name="1/minute",
        spellings=("r/min", "1/min", "rev/min"),
    ),
    Unit(sign="rev/s", quantity="rotation", pint_name="1/second", spellings=("r/s", "hz")),
    Unit(sign="m³/s", quantity="volume_flow", pint_name="meter**3/second", spellings=("m3/s",)),
    Unit(
        sign="L/h",
        quantity="volume_flow",
        pint_name="liter/hour",
        spellings=("lph", "l/hr", "litres/h", "liters/h"),
    ),
    Unit(
        sign="US gal/h",
        quantity="volume_flow",
        pint_name="gallon/hour",
        spellings=("gph", "gal/h", "us gph", "usgph", "usgal/h"),
    ),
    Unit(
        sign="imp gal/h",
        quantity="volume_flow",
        pint_name="imperial_gallon/hour",
        spellings=("imp gph", "impgal/h"),
    ),
    Unit(sign="rad", quantity="angle", pint_name="radian", spellings=("radians",)),
    Unit(sign="°", quantity="angle", pint_name="degree", spellings=("deg", "degree", "degrees")),
    Unit(sign="rad/s", quantity="turn_rate", pint_name="radian/second", spellings=("rad/sec",)),
    Unit(
        sign="°/s",
        quantity="turn_rate",
        pint_name="degree/second",
        spellings=("deg/s", "dps", "degrees/s"),
    ),
    Unit(
        sign="°/min",
        quantity="turn_rate",
        pint_name="degree/minute",
        spellings=("deg/min", "degrees/min"),
    ),
    Unit(
        sign="m/s²",
        quantity="acceleration",
        pint_name="meter/second**2",
        spellings=("m/s2", "m/s^2", "m/s/s"),
    ),
    Unit(sign="g", quantity="acceleration", pint_name="standard_gravity", spellings=("gee",)),
    Unit(
        sign="s",
        quantity="time",
        pint_name="second",
        spellings=("sec", "secs", "second", "seconds"),
    ),
    Unit(sign="ms", quantity="time", pint_name="millisecond", spellings=("msec", "milliseconds")),
    Unit(sign="min", quantity="time", pint_name="minute", spellings=("mins", "minute", "minutes")),
    Unit(sign="h", quantity="time", pint_name="hour", spellings=("hr", "hrs", "hour", "hours")),
    Unit(
        sign="m",
        quantity="length",
        pint_name="meter",
        spellings=("metre", "metres", "meter", "meters"),
    ),
    Unit(sign="mm", quantity="length", pint_name="millimeter"),
    Unit(sign="cm", quantity="length", pint_name="centimeter"),
    Unit(sign="km", quantity="length", pint_name="kilometer"),
    Unit(sign="in", quantity="length", pint_name="inch", spellings=("inch", "inches", '"')),
    Unit(sign="ft", quantity="length", pint_name="foot", spellings=("foot", "feet", "'")),
    Unit(
        sign="mi",
        quantity="length",
        pint_name="mile",
        spellings=("mile", "miles", "statute miles"),
    ),
    Unit(
        sign="nmi",
        quantity="length",
        pint_name="nautical_mile",
        spellings=("nm", "nautical miles"),
    ),
    Unit(sign="kg", quantity="mass", pint_name="kilogram", spellings=("kgs", "kilograms")),
    Unit(sign="t", quantity="mass", pint_name="metric_ton", spellings=("tonne", "tonnes")),
    Unit(sign="lb", quantity="mass", pint_name="pound", spellings=("lbs", "pounds")),
    Unit(
        sign="L",
        quantity="volume",
        pint_name="liter",
        spellings=("litre", "litres", "liter", "liters"),
    ),
    Unit(sign="m³", quantity="volume", pint_name="meter**3", spellings=("m3",)),
    Unit(
        sign="US gal",
        quantity="volume",
        pint_name="gallon",
        spellings=("usgal", "us gallon", "us gallons"),
    ),
    Unit(
        sign="imp gal",
        quantity="volume",
        pint_name="imperial_gallon",
        spellings=("impgal", "imperial gallon", "imperial gallons"),
    ),
    Unit(sign="W", quantity="power", pint_name="watt"),
    Unit(sign="kW", quantity="power", pint_name="kilowatt"),
    Unit(sign="hp", quantity="power", pint_name="horsepower", spellings=("bhp", "shp")),
    Unit(sign="PS", quantity="power", pint_name="metric_horsepower", spellings=("metric hp", "cv")),
    Unit(sign="K", quantity="temperature", pint_name="kelvin"),
    Unit(
        sign="°C",
        quantity="temperature",
        pint_name="degree_Celsius",
        spellings=("c", "degc", "celsius"),
    ),
    Unit(
        sign="°F",
        quantity="temperature",
        pint_name="degree_Fahrenheit",
        spellings=("f", "degf", "fahrenheit"),
    ),
    Unit(sign="Pa", quantity="pressure", pint_name="pascal"),
    Unit(sign="hPa", quantity="pressure", pint_name="hectopascal", spellings=("mbar", "mb")),
    Unit(sign="kPa", quantity="pressure", pint_name="kilopascal"),
    Unit(sign="bar", quantity="pressure", pint_name="bar"),
    Unit(sign="psi", quantity="pressure", pint_name="pound_force_per_square_inch"),
    Unit(sign="V", quantity="voltage", pint_name="volt", spellings=("volt", "volts")),
    Unit(sign="mV", quantity="voltage", pint_name="millivolt"),
    Unit(sign="%", quantity="ratio", pint_name="percent", spellings=("pct", "percent")),
    Unit(sign="1", quantity="ratio", pint_name="dimensionless", spellings=("ratio",)),
    Unit(sign="deg N/E", quantity="degrees", pint_name="dimensionless"),
    Unit(
        sign="dB(A)",
        quantity="level",
        pint_name="dimensionless",
        spellings=("dba", "db a", "db_a", "dbA"),
    ),
)
"""All units, the SI one of each quantity first where a crew would write it."""

LINES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "meter/second": (1.0, 0.0),
        "nautical_mile/hour": (0.5144444444444445, 0.0),
        "mile/hour": (0.44704, 0.0),
        "kilometer/hour": (0.2777777777777778, 0.0),
        "foot/second": (0.30479999999999996, 0.0),
        "1/minute": (0.016666666666666666, 0.0),
        "1/second": (1.0, 0.0),
        "meter**3/second": (1.0, 0.0),
        "liter/hour": (2.7777777777777787e-07, 0.0),
        "gallon/hour": (1.0515032733333332e-06, 0.0),
        "imperial_gallon/hour": (1.2628027777777783e-06, 0.0),
        "radian": (1.0, 0.0),
        "degree": (0.017453292519943295, 0.0),
        "radian/second": (1.0, 0.0),
        "degree/second": (0.017453292519943295, 0.0),
        "degree/minute": (0.0002908882086657216, 0.0),
        "meter/second**2": (1.0, 0.0),
        "standard_gravity": (9.80665, 0.0),
        "second": (1.0, 0.0),
        "millisecond": (0.001, 0.0),
        "minute": (60.0, 0.0),
        "hour": (3600.0, 0.0),
        "meter": (1.0, 0.0),
        "millimeter": (0.001, 0.0),
        "centimeter": (0.01, 0.0),
        "kilometer": (1000.0, 0.0),
        "inch": (0.0254, 0.0),
        "foot": (0.30479999999999996, 0.0),
        "mile": (1609.344, 0.0),
        "nautical_mile": (1852.0, 0.0),
        "kilogram": (1.0, 0.0),
        "metric_ton": (1000.0, 0.0),
        "pound": (0.4535923700000001, 0.0),
        "liter": (0.0010000000000000002, 0.0),
        "meter**3": (1.0, 0.0),
        "gallon": (0.0037854117839999993, 0.0),
        "imperial_gallon": (0.004546090000000002, 0.0),
        "watt": (1.0, 0.0),
        "kilowatt": (1000.0, 0.0),
        "horsepower": (745.6998715822701, 0.0),
        "metric_horsepower": (735.49875, 0.0),
        "kelvin": (1.0, 0.0),
        "degree_Celsius": (1.0, 273.15),
        "degree_Fahrenheit": (0.5555555555555429, 255.37222222222223),
        "pascal": (1.0, 0.0),
        "hectopascal": (100.0, 0.0),
        "kilopascal": (1000.0, 0.0),
        "bar": (100000.0, 0.0),
        "pound_force_per_square_inch": (6894.7572931683635, 0.0),
        "volt": (1.0, 0.0),
        "millivolt": (0.001, 0.0),
    }
)
"""Factor and zero of each unit by pint's name, as pint worked them out; a test holds them against
it. To import it and to read its definitions takes most of a second, in every command, so that it
is asked only for what does not stand here."""

MOST = 1e12
"""No crew writes a larger number, in any unit."""

_BLANKS = re.compile(r"\s+")


def _fold(text: str) -> str:
    return _BLANKS.sub(" ", text.strip()).replace("·", "")


@cache
def _by_spelling() -> Mapping[str, Unit]:
    """Every accepted spelling; exact signs first, so that case decides only between signs."""
    table: dict[str, Unit] = {unit.sign: unit for unit in UNITS}
    for unit in UNITS:
        for spelling in (*unit.spellings, unit.sign.lower()):
            table.setdefault(spelling, unit)
    return MappingProxyType(table)


def unit_of(text: str, quantity: str | None = None) -> Unit:
    """The unit that a piece of text names.

    Parameters
    ----------
    text
        As a crew writes it: `kn`, `US gal/h`, `deg`.
    quantity
        What it must measure, where that is known.

    Raises
    ------
    UnitError
        Where nobody writes that, or where it measures something else; with the nearest
        unit that would do.
    """
    folded = _fold(text)
    table = _by_spelling()
    unit = table.get(folded) or table.get(folded.lower())
    if unit is None:
        spellings = [s for s, u in table.items() if quantity in (None, u.quantity)]
        near = [s for s in spellings if sorted(s) == sorted(folded.lower())]
        near += difflib.get_close_matches(folded.lower(), spellings, n=1, cutoff=0.5)
        raise UnitError(
            f"{text!r} is not a unit{_of(quantity)} that trialreel knows",
            allowed=() if quantity is None else signs(quantity),
            advice=f"did you mean {table[near[0]].sign!r}" if near else "",
        )
    if quantity is not None and unit.quantity != quantity:
        raise UnitError(
            f"{text!r} is a unit{_of(unit.quantity)}, and one{_of(quantity)} is wanted",
            allowed=signs(quantity),
        )
    return unit


def _of(quantity: str | None) -> str:
    return "" if quantity is None else f" of {quantity.replace('_', ' ')}"


def signs(quantity: str) -> tuple[str, ...]:
    """The printed signs of all units of a quantity."""
    return tuple(unit.sign for unit in UNITS if unit.quantity == quantity)


def to_si(value: float, unit: str, quantity: str | None = None) -> float:
    """A value in SI. Works on arrays as well.

    Raises
    ------
    UnitError
        As `unit_of`.
    """
    factor, zero = _line(unit_of(unit, quantity))
    return value * factor + zero


def from_si(value: float, unit: str, quantity: str | None = None) -> float:
    """A value in SI, in another unit. Works on arrays as well."""
    factor, zero = _line(unit_of(unit, quantity))
    return (value - zero) / factor


@cache
def _line(unit: Unit) -> tuple[float, float]:
    """Factor and zero of `si = value * factor + zero`."""
    if unit.quantity in ("degrees", "ratio", "level"):
        return (0.01, 0.0) if unit.sign == "%" else (1.0, 0.0)
    known = LINES.get(unit.pint_name)
    return by_pint(unit.pint_name) if known is None else known


def by_pint(pint_name: str) -> tuple[float, float]:
    """Factor and zero of a unit, worked out by pint."""
    registry = _registry()
    zero = float(registry.Quantity(0.0, pint_name).to_base_units().magnitude)
    one = float(registry.Quantity(1.0, pint_name).to_base_units().magnitude)
    return one - zero, zero


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint  # late: most of a second, with its definitions

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


_NUMBER_AND_UNIT = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*")
_COMMA = re.compile(r"\s*[-+]?\d+,\d")


def parse_quantity(text: str, quantity: str) -> float:
    """A value in SI from a number and its unit, such as `27 US gal` or `0.2 s`.

    Raises
    ------
    UnitError
        Where the number or the unit is missing, unknown or of another dimension.
    """
    if _COMMA.match(text):
        raise UnitError(
            f"{text!r} has a comma, which could stand for a decimal point or for thousands",
            advice="write a decimal point, and nothing between thousands",
        )
    match = _NUMBER_AND_UNIT.fullmatch(text)
    if match is None:
        raise UnitError(f"{text!r} does not begin with a number", allowed=signs(quantity))
    number, sign = match.groups()
    if not sign:
        raise UnitError(
            f"{text!r} has no unit",
            allowed=signs(quantity),
            advice=f"write for example '{number} {signs(quantity)[0]}'",
        )
    value = float(number)
    if abs(value) > MOST:
        raise UnitError(f"{text!r} is larger than anything that is tested here")
    return to_si(value, sign, quantity)
