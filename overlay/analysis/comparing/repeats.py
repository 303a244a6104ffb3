"""What doing it again would bring: the scatter of launches, pooled over directions and trials.

A launch's time is known to a hundredth of a second, but the next one on the same day differs by
five or ten of them: waves lie otherwise. So two trials are not held against each other by how well
each time was measured, but by how the launches of one direction scatter,

::

    s² = Σ (x − mean of its direction)² / ν,    ν = number of launches − number of directions
    sd = t / 1.96 · s · ½ √( Σ 1 / launches of a direction ),    t the 97.5 % point for ν

over the directions of both trials. With one launch a direction in each there is no scatter, and no
telling.

Source: the pooled two-sample test (any text of statistics); why, see the tests: a simulated boat
that differs in nothing but the waves that she met.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Repeats = Sequence[Sequence[float]]
"""Values by direction."""


def repeat_sd(first: Repeats, other: Repeats) -> float:
    """The deviation of the difference of two means both ways, by how their launches scatter; NaN
    where no direction has a second launch."""
    from scipy.special import stdtrit

    ways = [*first, *other]
    spare = sum(len(way) - 1 for way in ways)
    if spare < 1:
        return math.nan
    left = math.fsum((x - math.fsum(way) / len(way)) ** 2 for way in ways for x in way)
    wide = float(stdtrit(spare, 0.975)) / 1.959964
    return wide * math.sqrt(left / spare) * 0.5 * math.sqrt(math.fsum(1 / len(w) for w in ways))
