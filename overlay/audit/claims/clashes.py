"""What a film says twice: one quantity with two values, and figures that imply different fuel.

A value that is said stands for all that is rounded to it. Two of them agree where these stretches
have a point in common, each in its own unit: 38.4 mph and 33.4 kn do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from overlay.audit.claims.fuel import fuel_clashes
from overlay.audit.claims.judged import Clash
from overlay.audit.claims.side import Side
from overlay.audit.claims.stated import Stated, Stretch, meet, stated_in
from overlay.sheet.claims import Claim
from overlay.sheet.said import Said


def clashes_among(
    claims: Sequence[Claim], sides: Sequence[Side], reserve: float | None = None
) -> tuple[Clash, ...]:
    """Every contradiction among the measured claims of one film.

    Parameters
    ----------
    reserve
        The share of the tank that range keeps back, where the sheet states it.
    """
    stated = list(stated_in(claims, sides))
    return (*_two_values(stated), *fuel_clashes(stated, sides, reserve))


def _two_values(stated: Sequence[Stated]) -> Iterator[Clash]:
    for one, other in combinations(stated, 2):
        if (one.trial, one.named.key) != (other.trial, other.named.key):
            continue
        stretches = [_bounds(each, one.said) for each in (one, other)]
        if stretches[0] is None or stretches[1] is None or meet(stretches[0], stretches[1]):
            continue
        yield Clash(
            kind="two values",
            claims=(one.number, other.number),
            sentence=f"Claims {one.number} and {other.number} give {one.named.key} two values, "
            f"{one.said} and {other.said}.",
        )


def _bounds(stated: Stated, like: Said) -> Stretch | None:
    """What a claim's value stands for in SI, the same way up as another; None where it cannot be
    turned so."""
    low, high = stated.said.bounds_si()
    if stated.said.quantity == like.quantity:
        return low, high
    if {stated.said.quantity, like.quantity} != {"economy", "consumption"} or low <= 0:
        return None
    return 1 / high, 1 / low
