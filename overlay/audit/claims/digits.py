"""How a number that is said lies to the result behind it.

A result v with deviation s supports the digits down to the smallest power of ten that is not below
s. A number n, said to steps of h,

::

    claims too much      where h is finer than that power of ten
    is rightly rounded   where |n − v| ≤ h / 2
    is cut or raised     where |n − v| < h: for the boat, or against her
    differs              beyond
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from overlay.audit.claims.figure import Figure
from overlay.audit.claims.judged import Rounded
from overlay.audit.claims.measures import Favour
from overlay.figures import plain, round_half_up, step_for
from overlay.sheet.said import Said, UnitSaid, with_unit

TIE = 1e-9
"""Either neighbour is right within so much of a tie, in the unit (design rule)."""

Fit = Literal["agrees", "rounding", "too many digits", "differs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A number held against a result, all in the unit that it is said in.

    `step` is what the result supports, None where no deviation is stated; `rightly` is the result
    rounded as finely as the number is said, and no finer than it supports.
    """

    fit: Fit
    rounded: Rounded
    value: float
    sd: float
    step: Decimal | None
    rightly: str

    @property
    def supported_text(self) -> str:
        """The number with the digits that the result supports, without its unit."""
        return "" if self.step is None else plain(round_half_up(self.value, self.step), self.step)

    @property
    def digits(self) -> int | None:
        """How many significant digits that is."""
        if self.step is None:
            return None
        shown = abs(round_half_up(self.value, self.step))
        return len(str(int(shown / self.step))) if shown else 1


def held(said: Said, figure: Figure) -> Held:
    """A number against the figure that it is said to be."""
    value, sd = said.in_unit(figure.value), abs(said.width_in_unit(figure.sd))
    step = step_for(sd) if math.isfinite(sd) else None
    off = float(said.number) - value
    half = float(said.step) / 2
    fit: Fit
    rounded: Rounded
    if abs(off) <= half + TIE:
        fit, rounded = "agrees", "rightly"
    else:
        rounded = _way(off, figure.favour)
        fit = "rounding" if abs(off) < 2 * half else "differs"
    if step is not None and said.step < step and _within(said, value, step):
        fit = "too many digits"
    at = said.step if step is None else max(said.step, step)
    return Held(
        fit=fit,
        rounded=rounded,
        value=value,
        sd=sd,
        step=step,
        rightly=text_in(said.unit, value, at),
    )


def _within(said: Said, value: float, step: Decimal) -> bool:
    """Whether a number that is said too finely is right to the digits that are supported."""
    return abs(float(said.number) - value) <= float(step) / 2 + TIE


def _way(off: float, favour: Favour) -> Rounded:
    if favour == "neither":
        return "neither way"
    flatters = off > 0 if favour == "more" else off < 0
    return "in the boat's favour" if flatters else "against the boat"


def text_in(sign: str, value: float, step: Decimal) -> str:
    """A value in a unit, rounded to a step, with the unit behind it."""
    return with_unit(plain(round_half_up(value, step), step), sign)


def with_deviation(said: Said, held_: Held) -> str:
    """The result for the reader, in the claim's unit: `4.26 ± 0.05 s`."""
    if not math.isfinite(held_.sd):
        return text_in(said.unit, held_.value, said.step / 10)
    return _plus_minus(held_.value, held_.sd, said.unit)


def shown(figure: Figure, unit: UnitSaid) -> str:
    """A figure in a unit, with its deviation where it has one."""
    value, sd = (figure.value - unit.zero) / unit.factor, abs(figure.sd / unit.factor)
    if not math.isfinite(sd):
        return text_in(unit.sign, value, Decimal("0.1"))
    return _plus_minus(value, sd, unit.sign)


def _plus_minus(value: float, sd: float, sign: str) -> str:
    """Value and deviation, both to the deviation's first digit."""
    fine = step_for(sd) / 10
    spread = max(round_half_up(sd, fine), fine)
    return with_unit(f"{plain(round_half_up(value, fine), fine)} ± {plain(spread, fine)}", sign)
