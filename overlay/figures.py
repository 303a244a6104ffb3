"""How a value becomes text: units, digits and signs, in one place for screen, report and terminal.

Rounding is half up, away from zero for negative values, in decimal, after the value has been
rounded to 1e-9 of its unit: 4.35 is 4.4 although the float64 next to it lies below.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from types import MappingProxyType

from sync.channel import Channel
from sync.channel_kinds import CHANNELS
from sync.units import from_si, signs

NO_VALUE = "––"
"""What stands where a number would, when there is none."""

MINUS = "−"

CLEAN_DIGITS = 9
"""Decimals of the unit to which a float is cleaned before it is rounded (design rule)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """How one quantity is written.

    `unit` is the sign behind the number, `step` the worth of the last digit in that unit,
    `greatest` the largest value that a layout must find room for, in that unit; `decimal_sign`
    stands before the decimals.
    """

    quantity: str
    unit: str
    step: Decimal
    greatest: float
    label: str = ""
    decimal_sign: str = "."

    def number(self, value_si: float) -> Decimal | None:
        """The rounded number in the figure's unit, or None where there is no value."""
        if not math.isfinite(value_si):
            return None
        return round_half_up(from_si(value_si, self.unit, self.quantity), self.step)

    def text(self, value_si: float) -> str:
        """The number as it is shown, without its unit."""
        return self.signed(plain(self.number(value_si), self.step))

    def with_unit(self, value_si: float) -> str:
        """The number with its unit, as a sentence or a table carries it."""
        joint = "" if self.unit.startswith("°") else " "
        return f"{self.text(value_si)}{joint}{self.unit}"

    def widest(self) -> str:
        """The longest text that a layout must find room for."""
        return self.signed(plain(round_half_up(self.greatest, self.step), self.step))

    def signed(self, text: str) -> str:
        """A number's text with the decimal sign that is wanted."""
        return text.replace(".", self.decimal_sign)


def round_half_up(value: float, step: Decimal) -> Decimal:
    """The multiple of `step` nearest to a value, halves away from zero."""
    clean = Decimal(repr(round(float(value), CLEAN_DIGITS)))
    return (clean / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step


def plain(number: Decimal | None, step: Decimal) -> str:
    """A rounded number as text: as many decimals as its step has, a true minus sign, no −0."""
    if number is None:
        return NO_VALUE
    exponent = step.normalize().as_tuple().exponent
    decimals = max(0, -exponent) if isinstance(exponent, int) else 0
    text = f"{abs(number):.{decimals}f}"
    return f"{MINUS}{text}" if number < 0 else text


def step_for(sd: float, least: Decimal = Decimal("0.01")) -> Decimal:
    """The worth of the last digit that a standard deviation supports: a power of ten not
    below it.

    ::

        sd = 0.025 → 0.1      sd = 0.009 → 0.01      sd = 0 → `least`
    """
    if not math.isfinite(sd):
        return Decimal(1)
    step = least
    while step < Decimal(repr(sd)):
        step *= 10
    return step


UNIT_SETS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "us": MappingProxyType(
            {
                "speed": "mph",
                "distance": "mi",
                "short_distance": "ft",
                "volume_flow": "US gal/h",
                "volume": "US gal",
                "mass": "lb",
                "power": "hp",
                "temperature": "°F",
            }
        ),
        "nautical": MappingProxyType(
            {
                "speed": "kn",
                "distance": "nmi",
                "short_distance": "m",
                "volume_flow": "L/h",
                "volume": "L",
                "mass": "kg",
                "power": "kW",
                "temperature": "°C",
            }
        ),
        "metric": MappingProxyType(
            {
                "speed": "km/h",
                "distance": "km",
                "short_distance": "m",
                "volume_flow": "L/h",
                "volume": "L",
                "mass": "kg",
                "power": "kW",
                "temperature": "°C",
            }
        ),
    }
)
"""The units that a reader may choose between; what is not in them has one unit for all."""

_FIXED = MappingProxyType(
    {
        "rotation": "rpm",
        "angle": "°",
        "turn_rate": "°/s",
        "acceleration": "m/s²",
        "ratio": "%",
        "time": "s",
        "degrees": "deg N/E",
        "length": "m",
        "pressure": "hPa",
    }
)

_STEP = MappingProxyType(
    {
        # A Doppler speed is good to about 0.05 m/s = 0.1 kn (check: receivers' data sheets,
        # from memory), so a second decimal would be noise.
        "mph": "0.1",
        "kn": "0.1",
        "km/h": "0.1",
        "rpm": "10",
        "°": "1",
        "°/s": "0.1",
        "m/s²": "0.1",
        "%": "1",
        "s": "0.1",
        "US gal/h": "0.1",
        "L/h": "0.1",
    }
)

_GREATEST = MappingProxyType(
    {
        "mph": 188.8,
        "kn": 188.8,
        "km/h": 288.8,
        "rpm": 8880.0,
        "°": -88.0,
        "°/s": -88.8,
        "m/s²": -88.8,
        "%": 100.0,
        "s": 888.8,
        "US gal/h": 288.8,
        "L/h": 888.8,
    }
)

LABELS: Mapping[str, str] = MappingProxyType(
    {
        "speed": "speed",
        "water_speed": "speed through water",
        "engine_speed": "engine",
        "fuel_flow": "fuel flow",
        "pitch": "bow angle",
        "roll": "heel",
        "acceleration": "acceleration",
        "turn_rate": "rate of turn",
        "heading": "heading",
        "course": "course",
        "throttle": "throttle",
    }
)
"""What stands beside the number of a channel on screen; others carry their channel's text."""


def unit_for(quantity: str, units: str) -> str:
    """The unit in which a set writes a quantity."""
    return UNIT_SETS[units].get(quantity) or _FIXED.get(quantity) or signs(quantity)[0]


def figure_of(channel: Channel, units: str) -> Figure:
    """How the values of one channel are written, with no more digits than it was logged with.

    A value logged in steps is uncertain by its step over √12, and the last digit is worth that
    much or more.
    """
    plain_figure = figure(channel.name, units)
    resolution = channel.resolution
    if not math.isfinite(resolution):
        return plain_figure
    one = from_si(resolution, plain_figure.unit) - from_si(0.0, plain_figure.unit)
    step = step_for(abs(one) / math.sqrt(12), plain_figure.step)
    return replace(plain_figure, step=max(plain_figure.step, step))


def figure(channel: str, units: str) -> Figure:
    """How the values of a channel are written in one of the `UNIT_SETS`.

    Raises
    ------
    KeyError
        For a channel or a set that does not exist; sheets and faceplates are checked before.
    """
    name = channel.partition(".")[0]
    quantity = CHANNELS[name].quantity
    unit = unit_for(quantity, units)
    return Figure(
        quantity=quantity,
        unit=unit,
        step=Decimal(_STEP.get(unit, "0.1")),
        greatest=_GREATEST.get(unit, 8888.8),
        label=LABELS.get(name, CHANNELS[name].text),
    )


def seconds(value_s: float, sd_s: float) -> str:
    """A duration with the digits that its standard deviation supports, with its unit.

    What is not known to a second is not shown.
    """
    if not (math.isfinite(value_s) and math.isfinite(sd_s)) or sd_s > 1.0:
        return f"{NO_VALUE} s"
    step = step_for(sd_s)
    return f"{plain(round_half_up(value_s, step), step)} s"


def with_doubt(value: float, sd: float, unit: str) -> str:
    """A value in a unit with the digits that its standard deviation in that unit supports."""
    if not (math.isfinite(value) and math.isfinite(sd)):
        return f"{NO_VALUE} {unit}"
    step = step_for(sd)
    return f"{plain(round_half_up(value, step), step)} {unit}"
