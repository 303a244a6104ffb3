"""A value as a film says it: its number, its unit, and how finely it is said.

Units are those of `sync.units`; beside them stand the few that are made of two, such as `nmi/L`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from types import MappingProxyType

from sync.errors import UnitError
from sync.units import MOST, to_si, unit_of

MADE_OF_TWO = MappingProxyType(
    {
        ("length", "volume"): "economy",
        ("volume", "length"): "consumption",
        ("power", "mass"): "power_to_mass",
    }
)
"""What a quotient of two units measures."""

_SPELLED = MappingProxyType(
    {
        "mpg": "mi/US gal",
        "nmpg": "nmi/US gal",
        "km/l": "km/L",
        "hp/tonne": "hp/t",
        "kw/tonne": "kW/t",
    }
)

_NUMBER_AND_UNIT = re.compile(r"\s*([-+−]?(?:\d+(?:\.\d*)?|\.\d+))\s*(.*?)\s*", re.ASCII)
_COMMA = re.compile(r"\s*[-+−]?\d+,\d")
_HUNDRED = re.compile(r"(.+)/\s*100\s*(\w+)")

ROUND_RPM = 10
"""Engine speeds are said in tens, as the project prints them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitSaid:
    """A unit: its sign, what it measures, and `si = value · factor + zero`."""

    sign: str
    quantity: str
    factor: float
    zero: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A number in a unit; `step` is the worth of its last digit."""

    number: Decimal
    step: Decimal
    of: UnitSaid

    @property
    def unit(self) -> str:
        """The unit's sign as we print it."""
        return self.of.sign

    @property
    def quantity(self) -> str:
        """What the unit measures."""
        return self.of.quantity

    @property
    def si(self) -> float:
        """The value in SI."""
        return float(self.number) * self.of.factor + self.of.zero

    def bounds_si(self) -> tuple[float, float]:
        """Between which values in SI lies what is rounded to this."""
        ends = [
            float(self.number + side * self.step / 2) * self.of.factor + self.of.zero
            for side in (-1, 1)
        ]
        return min(ends), max(ends)

    def in_unit(self, value_si: float) -> float:
        """A value in SI, in this unit."""
        return (value_si - self.of.zero) / self.of.factor

    def width_in_unit(self, width_si: float) -> float:
        """A difference or deviation in SI, in this unit."""
        return width_si / self.of.factor

    def __str__(self) -> str:
        sign = "−" if self.number < 0 else ""
        return with_unit(f"{sign}{abs(self.number):f}", self.unit)


def with_unit(number: str, sign: str) -> str:
    """A number's text with its unit behind it."""
    return f"{number}{'' if sign.startswith('°') else ' '}{sign}"


def read_said(text: str, rounded_to: str | None = None) -> Said:
    """What a film says, such as `4.3 s`, `38 mph` or `2.1 nmi/L`.

    Parameters
    ----------
    text
        Number and unit; the digits that it has are the digits that it claims.
    rounded_to
        What the number is rounded to, where that is more than its last digit.

    Raises
    ------
    UnitError
        Where number or unit are missing or unknown.
    """
    if _COMMA.match(text):
        raise UnitError(
            f"{text!r} has a comma, which could stand for a decimal point or for thousands",
            advice="write a decimal point, and nothing between thousands",
        )
    match = _NUMBER_AND_UNIT.fullmatch(text)
    if match is None:
        raise UnitError(
            f"{text!r} does not begin with a number", advice="write for example '4.3 s'"
        )
    digits, sign = match.groups()
    if not sign:
        raise UnitError(f"{text!r} has no unit", advice="write for example '4.3 s'")
    number = Decimal(digits.replace("−", "-"))
    if abs(number) > MOST:
        raise UnitError(f"{text!r} is larger than anything that is tested here")
    unit = unit_said(sign)
    said = Said(number=number, step=_step(digits, number, unit.sign), of=unit)
    return said if rounded_to is None else replace(said, step=abs(read_said(rounded_to).number))


def unit_said(text: str) -> UnitSaid:
    """A unit of the project's list, or one that is made of two of them.

    Raises
    ------
    UnitError
        Where it is neither.
    """
    spelled = _SPELLED.get(" ".join(text.lower().split()), text)
    try:
        return _plain_unit(spelled)
    except UnitError:
        hundred = _HUNDRED.fullmatch(spelled)
        over, _, under = spelled.rpartition("/")
        upper, lower = hundred.groups() if hundred else (over, under)
        if not upper:
            raise
        try:
            made = _quotient(_plain_unit(upper), _plain_unit(lower))
        except UnitError:
            made = None
        if made is None:
            raise
        if hundred is None:
            return made
        sign = f"{made.sign.partition('/')[0]}/100 {made.sign.partition('/')[2]}"
        return replace(made, sign=sign, factor=made.factor / 100)


def _plain_unit(text: str) -> UnitSaid:
    unit = unit_of(text)
    zero = to_si(0.0, unit.sign)
    return UnitSaid(
        sign=unit.sign, quantity=unit.quantity, factor=to_si(1.0, unit.sign) - zero, zero=zero
    )


def _quotient(over: UnitSaid, under: UnitSaid) -> UnitSaid | None:
    quantity = MADE_OF_TWO.get((over.quantity, under.quantity))
    if quantity is None:
        return None
    return UnitSaid(
        sign=f"{over.sign}/{under.sign}", quantity=quantity, factor=over.factor / under.factor
    )


def _step(digits: str, number: Decimal, sign: str) -> Decimal:
    """The worth of the last digit; engine speeds in whole tens are said in tens."""
    exponent = Decimal(digits.replace("−", "-")).as_tuple().exponent
    assert isinstance(exponent, int)
    if exponent == 0 and sign == "rpm" and number % ROUND_RPM == 0:
        return Decimal(ROUND_RPM)
    return Decimal(1).scaleb(exponent)
