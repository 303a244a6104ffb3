"""Where flags hang: each below its own instant, none over another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

MOST_TIERS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A flag's place: where its left edge is, and in which tier it hangs (0 is the upper)."""

    left: int
    tier: int


def hang(
    poles: Sequence[int], widths: Sequence[int], low: int, high: int, gap: int
) -> tuple[Place, ...] | None:
    """Places for flags, each as high as it can hang; None where they have no room.

    A flag flies to the right of its pole where it can, and is shifted to the left as far as
    its right neighbour or the end asks, but never off its pole. Where that does not help, it
    hangs a tier lower.

    Parameters
    ----------
    poles, widths : [shape=(n,), px]
        Where each flag hangs, in order, and how wide it is.
    low, high : [px]
        Between what flags may hang.
    gap : [px]
        Least distance between two flags of one tier.
    """
    places: list[Place] = []
    limits = [high] * MOST_TIERS
    for pole, width in zip(reversed(poles), reversed(widths), strict=True):
        lefts = (min(pole, limit - width) for limit in limits)
        fits = (
            Place(left=left, tier=tier)
            for tier, left in enumerate(lefts)
            if left >= max(low, pole - width)
        )
        place = next(fits, None)
        if place is None:
            return None
        places.append(place)
        limits[place.tier] = place.left - gap
    return tuple(reversed(places))
