"""What two trials must have alike before one may be called better than the other.

The limits are for comparing set-ups of one boat or boats of one kind on two days: where they are
exceeded the differences are still worth reading, but what made them cannot be told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from overlay.analysis.comparing.side import Side

OWN_CHOICE = "own choice"
NO_SOURCE = "common practice, no published source"

KNOT_MPS = 1852 / 3600

HAIR = 1e-9
"""Share by which a limit may be passed before it is: two floats are seldom equal."""

State = Literal["alike", "differs", "not stated"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What a trial states of something that must be alike: a number in SI, or words.

    `lacks` says what a number leaves out; two that leave out different things are not alike.
    `note` is what else there is to know of it.
    """

    number: float = math.nan
    words: str = ""
    lacks: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One thing that must be alike.

    `most` is by how much it may differ: in SI, as a share of the greater with `share`, or not at
    all for words.
    """

    key: str
    title: str
    quantity: str
    most: float
    share: bool
    text: str
    source: str
    read: Callable[[Side], Stated]


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """One limit applied: what every trial states, and how each stands to the first.

    `by` is the difference, as the limit counts it; NaN for words and for what is not stated.
    """

    limit: Limit
    stated: tuple[Stated, ...]
    states: tuple[State, ...]
    by: tuple[float, ...]


def _mass(side: Side) -> Stated:
    mass = side.results.set_up.mass
    if mass is None:
        return Stated()
    return Stated(number=mass.value_kg, lacks=" and ".join(mass.not_stated))


def _fuel(side: Side) -> Stated:
    load = side.sheet.load
    if load.fuel_kind == "diesel":
        return Stated(words="diesel")
    if load.ethanol is None:
        return Stated(words="petrol (ethanol not stated)")
    return Stated(words=f"petrol ({100 * load.ethanol:.3g} % ethanol)")


def _wind(side: Side) -> Stated:
    wind = side.sheet.conditions.wind
    return Stated() if wind is None else Stated(number=wind)


def _air(side: Side) -> Stated:
    if side.air is None:
        return Stated()
    return Stated(number=side.air.ratio, note="; ".join(side.air.assumed))


def _bottom(side: Side) -> Stated:
    return Stated(words=side.sheet.boat.bottom or "not stated")


LIMITS: tuple[Limit, ...] = (
    Limit(
        key="mass",
        title="test mass",
        quantity="mass",
        most=0.02,
        share=True,
        text="within 2 % of the heavier, summed of the same parts or weighed",
        source=OWN_CHOICE,
        read=_mass,
    ),
    Limit(
        key="fuel",
        title="fuel",
        quantity="words",
        most=0.0,
        share=False,
        text="of one kind, with the same share of ethanol; not stated in both counts as alike",
        source=NO_SOURCE,
        read=_fuel,
    ),
    Limit(
        key="wind",
        title="wind",
        quantity="speed",
        most=5.0 * KNOT_MPS,
        share=False,
        text="stated, and within 5 kn",
        source=OWN_CHOICE,
        read=_wind,
    ),
    Limit(
        key="air",
        title="air density",
        quantity="ratio",
        most=0.02,
        share=True,
        text="known (temperature and pressure), and within 2 % of the denser",
        source=OWN_CHOICE,
        read=_air,
    ),
    Limit(
        key="bottom",
        title="bottom of the hull",
        quantity="words",
        most=0.0,
        share=False,
        text="clean or foul in both; not stated in both counts as alike",
        source=NO_SOURCE,
        read=_bottom,
    ),
)
"""All limits, in the order in which they are printed."""


def likenesses(sides: Sequence[Side]) -> tuple[Likeness, ...]:
    """Every limit applied to every trial, the first being the one that they are held against."""
    return tuple(_likeness(limit, [limit.read(side) for side in sides]) for limit in LIMITS)


def _likeness(limit: Limit, stated: list[Stated]) -> Likeness:
    held = [_held(limit, stated[0], other) for other in stated]
    return Likeness(
        limit=limit,
        stated=tuple(stated),
        states=tuple(state for state, _ in held),
        by=tuple(by for _, by in held),
    )


def _held(limit: Limit, first: Stated, other: Stated) -> tuple[State, float]:
    """How one statement stands to another, whichever comes first."""
    if limit.quantity == "words":
        return ("alike" if first.words == other.words else "differs"), math.nan
    if not (math.isfinite(first.number) and math.isfinite(other.number)):
        return "not stated", math.nan
    by = abs(first.number - other.number)
    if limit.share:
        by /= max(first.number, other.number, 1e-12)
    too_much = by > limit.most * (1 + HAIR) or first.lacks != other.lacks
    return ("differs" if too_much else "alike"), by
