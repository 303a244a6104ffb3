"""How a value becomes text: the nearest multiple of its last digit, halves away from nought.

The value is taken as the exact fraction that its float stands for, brought into its unit by an
exact factor, rounded to 1e-9 of the unit, and then to the digits that are shown. Within 1e-9 of a
tie either neighbour is right, for two ways to work out one value differ by as much.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from types import MappingProxyType

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.recorded import Recorded
from overlay.audit.recompute.sheet import Sheet
from overlay.audit.recompute.units import Unit, unit

NONE = "––"
"""Stands where a number would, when there is none."""

MINUS = "−"

CLEAN = Fraction(1, 10**9)
"""To this of the unit a value is rounded first; as near to a tie both neighbours are right."""

FAR = 10.0
"""What is so many times further from a tie than may matter is on one side of it."""

FIXED_UNITS: Mapping[str, str] = MappingProxyType(
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
        "level": "dB(A)",
        "voltage": "V",
    }
)
"""What is shown in one unit, whatever set the sheet chooses."""

LAST_DIGIT: Mapping[str, Fraction] = MappingProxyType(
    {"rpm": Fraction(10), "°": Fraction(1), "%": Fraction(1)}
)
"""Worth of the last digit by unit; a tenth in all others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Writing:
    """How the numbers of one channel are written."""

    unit: Unit
    worth: Fraction
    decimal_sign: str

    def texts(self, value_si: float, off: float = 0.0) -> tuple[str, ...]:
        """The texts that are right for a value: one, or two where it lies on a tie.

        Parameters
        ----------
        off
            What the value itself may be off by, in the unit.
        """
        if not math.isfinite(value_si):
            return (NONE,)
        return self._written(self.unit.from_si(value_si), off)

    def _written(self, value: Fraction, off: float) -> tuple[str, ...]:
        reach = CLEAN + Fraction(off)
        share = float(value / self.worth) % 1.0
        if abs(share - 0.5) * float(self.worth) > FAR * float(reach):
            return (self._text(half_up(value, self.worth)),)
        rounded = either(value, self.worth, reach)
        return tuple(self._text(one) for one in rounded)

    def _text(self, number: Fraction) -> str:
        return plain(number, self.worth).replace(".", self.decimal_sign)


def clean(value: Fraction) -> Fraction:
    """A value to 1e-9."""
    return round(value / CLEAN) * CLEAN


def either(value: Fraction, worth: Fraction, reach: Fraction) -> list[Fraction]:
    """What a value may be rounded to that may itself be off by so much, in order."""
    around = (clean(value), value - reach, value + reach)
    return sorted({half_up(one, worth) for one in around})


def half_up(value: Fraction, worth: Fraction) -> Fraction:
    """The nearest multiple of a digit's worth, halves away from nought."""
    whole = math.floor(abs(value) / worth + Fraction(1, 2)) * worth
    return -whole if value < 0 else whole


def plain(number: Fraction, worth: Fraction) -> str:
    """A rounded number in figures, with as many decimals as the last digit has."""
    decimals = _decimals(worth)
    digits = str(abs(number) * 10**decimals).zfill(decimals + 1)
    text = f"{digits[:-decimals]}.{digits[-decimals:]}" if decimals else digits
    return f"{MINUS}{text}" if number < 0 else text


@cache
def _decimals(worth: Fraction) -> int:
    decimals = 0
    while (worth * 10**decimals).denominator != 1:
        decimals += 1
    return decimals


def worth_for(sd: float, least: Fraction = Fraction(1, 100)) -> Fraction:
    """The smallest power of ten that is not below a standard deviation, and no less than one."""
    if not math.isfinite(sd):
        return Fraction(1)
    worth = least
    while worth < Fraction(repr(sd)):
        worth *= 10
    return worth


def last_step_si(channel: Recorded) -> float:
    """What the last digit of a channel is worth as it was logged; NaN where it does not tell.

    The least difference between two of its printed values, where values come back again and
    again: at least two changes for each.
    """
    import numpy as np

    printed = channel.printed
    changes = int(np.count_nonzero(np.diff(printed)))
    values = np.unique(printed)
    if 2 * values.size > changes:
        return math.nan
    steps = np.diff(values)
    # What a decimal text leaves behind its last digit as a float is no step.
    steps = steps[steps > 1e-9 * max(float(np.max(np.abs(printed))), 1e-9)]
    return float(steps.min()) * abs(channel.worth_si) if steps.size else math.nan


def writing(channel: Recorded, sheet: Sheet) -> Writing:
    """How a channel's numbers are written: the digits of its unit, or fewer where it was logged
    more coarsely.

    ::

        worth ≥ logged step / √12, a power of ten times the unit's own last digit
    """
    quantity = channel.kind.quantity
    shown = unit_shown(quantity, sheet)
    worth = LAST_DIGIT.get(shown.sign, Fraction(1, 10))
    logged = last_step_si(channel)
    if math.isfinite(logged):
        worth = max(worth, worth_for(logged / float(shown.factor) / math.sqrt(12), worth))
    return Writing(unit=shown, worth=worth, decimal_sign=sheet.decimal_sign)


def unit_shown(quantity: str, sheet: Sheet) -> Unit:
    """The unit that a quantity is shown in."""
    sign = sheet.shown_unit(quantity) or FIXED_UNITS.get(quantity)
    if sign is None:
        raise CannotRecompute(f"the audit knows no unit that {quantity} is shown in")
    return unit(sign, quantity)


def duration_texts(value_s: float, sd_s: float, decimal_sign: str) -> tuple[str, ...]:
    """A duration with the digits that its deviation supports; none where that is over a second."""
    if not (math.isfinite(value_s) and math.isfinite(sd_s)) or sd_s > 1.0:
        return (NONE,)
    return with_doubt_texts(value_s, sd_s, decimal_sign)


def with_doubt_texts(value: float, sd: float, decimal_sign: str) -> tuple[str, ...]:
    """A value with the digits that its deviation supports, both in the unit that is shown."""
    if not (math.isfinite(value) and math.isfinite(sd)):
        return (NONE,)
    worth = worth_for(sd)
    rounded = either(Fraction(value), worth, CLEAN)
    return tuple(plain(one, worth).replace(".", decimal_sign) for one in rounded)
