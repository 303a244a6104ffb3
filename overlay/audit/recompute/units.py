"""Units by their legal definitions, as exact fractions of SI.

A nautical mile is 1852 m, a mile 5280 ft of 0.3048 m, a US gallon 231 cubic inches, an imperial
one 4.546 09 L, a pound 0.453 592 37 kg, a horsepower 550 ft·lbf/s (NIST SP 811, appendix B;
check-values, section 1). Nothing here is taken from the product's own table, and a test holds it
against `scipy.constants`. Rotation is in revolutions a second.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from overlay.audit.recompute.errors import CannotRecompute

FOOT = Fraction(3048, 10000)
INCH = FOOT / 12
MILE = 5280 * FOOT
NAUTICAL_MILE = Fraction(1852)
LITRE = Fraction(1, 1000)
US_GALLON = 231 * INCH**3
IMPERIAL_GALLON = Fraction(454609, 100000) * LITRE
POUND = Fraction(45359237, 100000000)
GRAVITY = Fraction(980665, 100000)
HOUR = Fraction(3600)
DEGREE = Fraction(math.pi) / 180  # π itself is as exact as a float has it


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit: `si = value · factor + zero`."""

    sign: str
    quantity: str
    factor: Fraction
    zero: Fraction = Fraction(0)

    def to_si(self, value: float) -> float:
        """A value in SI."""
        return float(Fraction(value) * self.factor + self.zero)

    def from_si(self, value_si: float) -> Fraction:
        """A value in this unit, exactly what the float in SI comes to."""
        return (Fraction(value_si) - self.zero) / self.factor


_ROWS: tuple[tuple[str, str, Fraction, str], ...] = (
    ("m/s", "speed", Fraction(1), "mps|m/sec"),
    ("kn", "speed", NAUTICAL_MILE / HOUR, "kt|kts|knot|knots"),
    ("mph", "speed", MILE / HOUR, "mi/h"),
    ("km/h", "speed", Fraction(1000) / HOUR, "kmh|kph|km/hr"),
    ("ft/s", "speed", FOOT, "fps"),
    ("rpm", "rotation", Fraction(1, 60), "r/min|1/min|rev/min"),
    ("rev/s", "rotation", Fraction(1), "r/s|hz"),
    ("m³/s", "volume_flow", Fraction(1), "m3/s"),
    ("L/h", "volume_flow", LITRE / HOUR, "lph|l/hr|litres/h|liters/h"),
    ("US gal/h", "volume_flow", US_GALLON / HOUR, "gph|gal/h|us gph|usgph|usgal/h"),
    ("imp gal/h", "volume_flow", IMPERIAL_GALLON / HOUR, "imp gph|impgal/h"),
    ("rad", "angle", Fraction(1), "radians"),
    ("°", "angle", DEGREE, "deg|degree|degrees"),
    ("rad/s", "turn_rate", Fraction(1), "rad/sec"),
    ("°/s", "turn_rate", DEGREE, "deg/s|dps|degrees/s"),
    ("°/min", "turn_rate", DEGREE / 60, "deg/min|degrees/min"),
    ("m/s²", "acceleration", Fraction(1), "m/s2|m/s^2|m/s/s"),
    ("g", "acceleration", GRAVITY, "gee"),
    ("s", "time", Fraction(1), "sec|secs|second|seconds"),
    ("ms", "time", Fraction(1, 1000), "msec|milliseconds"),
    ("min", "time", Fraction(60), "mins|minute|minutes"),
    ("h", "time", HOUR, "hr|hrs|hour|hours"),
    ("m", "length", Fraction(1), "metre|metres|meter|meters"),
    ("mm", "length", Fraction(1, 1000), ""),
    ("cm", "length", Fraction(1, 100), ""),
    ("km", "length", Fraction(1000), "kilometer"),
    ("in", "length", INCH, 'inch|inches|"'),
    ("ft", "length", FOOT, "foot|feet|'"),
    ("mi", "length", MILE, "mile|miles|statute miles"),
    ("nmi", "length", NAUTICAL_MILE, "nm|nautical miles"),
    ("kg", "mass", Fraction(1), "kgs|kilograms"),
    ("t", "mass", Fraction(1000), "tonne|tonnes"),
    ("lb", "mass", POUND, "lbs|pounds"),
    ("L", "volume", LITRE, "litre|litres|liter|liters"),
    ("m³", "volume", Fraction(1), "m3"),
    ("US gal", "volume", US_GALLON, "usgal|us gallon|us gallons"),
    ("imp gal", "volume", IMPERIAL_GALLON, "impgal|imperial gallon|imperial gallons"),
    ("W", "power", Fraction(1), ""),
    ("kW", "power", Fraction(1000), ""),
    ("hp", "power", 550 * FOOT * POUND * GRAVITY, "bhp|shp"),
    ("PS", "power", 75 * GRAVITY, "metric hp|cv"),
    ("Pa", "pressure", Fraction(1), ""),
    ("hPa", "pressure", Fraction(100), "mbar|mb"),
    ("kPa", "pressure", Fraction(1000), ""),
    ("bar", "pressure", Fraction(100000), ""),
    ("psi", "pressure", POUND * GRAVITY / INCH**2, ""),
    ("V", "voltage", Fraction(1), "volt|volts"),
    ("mV", "voltage", Fraction(1, 1000), ""),
    ("%", "ratio", Fraction(1, 100), "pct|percent"),
    ("1", "ratio", Fraction(1), "ratio"),
    ("deg N/E", "degrees", Fraction(1), ""),
    ("dB(A)", "level", Fraction(1), "dba|db a|db_a"),
)

_KELVIN = Fraction(27315, 100)
_TEMPERATURES: tuple[tuple[Unit, str], ...] = (
    (Unit(sign="K", quantity="temperature", factor=Fraction(1)), ""),
    (
        Unit(sign="°C", quantity="temperature", factor=Fraction(1), zero=_KELVIN),
        "c|degc|celsius",
    ),
    (
        Unit(
            sign="°F",
            quantity="temperature",
            factor=Fraction(5, 9),
            zero=_KELVIN - 32 * Fraction(5, 9),
        ),
        "f|degf|fahrenheit",
    ),
)


def _spelled() -> Mapping[str, Unit]:
    rows = [
        (Unit(sign=sign, quantity=quantity, factor=factor), spellings)
        for sign, quantity, factor, spellings in _ROWS
    ]
    rows += list(_TEMPERATURES)
    table = {unit.sign: unit for unit, _ in rows}
    for unit, spellings in rows:
        for text in (unit.sign.lower(), *filter(None, spellings.split("|"))):
            table.setdefault(text, unit)
    return MappingProxyType(table)


UNITS: Mapping[str, Unit] = _spelled()
"""By sign and by every other spelling; a sign as printed goes before what it is in lower case."""


def unit(text: str, quantity: str | None = None) -> Unit:
    """The unit that a sign or another spelling stands for.

    Raises
    ------
    CannotRecompute
        Where it is not known here, or measures something else.
    """
    plain = " ".join(text.split()).replace("·", "")
    found = UNITS.get(plain) or UNITS.get(plain.lower())
    if found is None or quantity not in (None, found.quantity):
        wanted = "" if quantity is None else f" of {quantity.replace('_', ' ')}"
        raise CannotRecompute(f"the audit knows no unit{wanted} written {text!r}")
    return found


def is_unit(text: str) -> bool:
    """Whether a text names a unit."""
    plain = " ".join(text.split()).replace("·", "")
    return plain in UNITS or plain.lower() in UNITS
