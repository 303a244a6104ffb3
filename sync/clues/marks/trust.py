"""Whether a match of impulses and marks is more than chance.

A lone bang within minutes of where a clap should be proves nothing: a hatch slams, a tool is
dropped. Nor do two or three at about the pace at which people clap on any day. A match is
trusted where chance would hardly have made it, where a person says that the clap is there, or
where a clue of another kind leads to the same place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from sync.clock import Span
from sync.clue import Clue, Finding
from sync.clues.marks.matching import DRIFT_SD, WITHIN_S, WITHIN_SDS, Hypothesis

MOST_BY_CHANCE = 0.01
"""How many matches as good as this one chance may be expected to make among the impulses of
the footage; a single pair is always more."""

MOST_BY_HABIT = 0.001
"""How likely it may be that another day's claps have the same pauses because people clap alike."""

PAUSE_SHARE = 0.1
"""How far the same people's pauses between claps differ from one day to the next, as a share of
them and as one standard deviation (own choice, on the narrow side)."""

EVEN_SHARE, EVEN_FOLD = 0.15, 3.0
"""A pause that is so nearly as long as one before it tells so many times less: whoever claps in
time repeats it to a few per cent."""

LEADS_TO_S = 0.5
"""How near to the place that another clue leads to a lone clap must be, or four of that clue's
standard deviations if that is more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Guides:
    """What else is known of the offset between two clocks.

    `hints` say about where it lies, as stamps do; `leads` are clues of other kinds that are no
    hints.
    """

    hints: tuple[Clue, ...] = ()
    leads: tuple[Clue, ...] = ()

    @classmethod
    def between(
        cls, from_clock: str, to_clock: str, priors: Sequence[Clue], leads: Sequence[Clue]
    ) -> Guides:
        """Those of some hints and leads that speak of two clocks."""

        def mine(clues: Sequence[Clue]) -> tuple[Clue, ...]:
            ways = (from_clock, to_clock)
            return tuple(clue for clue in clues if (clue.from_clock, clue.to_clock) == ways)

        return cls(hints=mine(priors), leads=mine(leads))

    def __bool__(self) -> bool:
        """Whether anything is known at all."""
        return bool(self.hints or self.leads)

    def windows(self, hint_sds: float) -> tuple[Span, ...]:
        """Where the offset may lie: within so many deviations of a hint, or in reach of a lead."""
        reaches = [(hint.offset_s, hint_sds * hint.sd_s) for hint in self.hints]
        reaches += [(lead.offset_s, reach_of(lead)) for lead in self.leads]
        return tuple(Span(start_s=at - reach, stop_s=at + reach) for at, reach in reaches)

    def lead_to(self, offset_s: float) -> bool:
        """Whether a clue of another kind leads to an offset."""
        return any(leads_to(lead, offset_s) for lead in self.leads)


def reach_of(lead: Clue) -> float:
    """How far from where a clue leads to a clap may be."""
    return max(LEADS_TO_S, WITHIN_SDS * lead.sd_s)


def leads_to(lead: Clue, offset_s: float) -> bool:
    """Whether a clue leads to an offset."""
    return abs(lead.offset_s - offset_s) <= reach_of(lead)


def where_led(found: list[Hypothesis], leads: Sequence[Clue]) -> list[Hypothesis]:
    """The hypotheses that other clues lead to; all of them where they lead to none."""
    led = [one for one in found if any(leads_to(lead, one.offset_s) for lead in leads)]
    return led or found


def by_chance(
    best: Hypothesis, impulses: int, marks: int, length_s: float, within_s: float | None = None
) -> float:
    """How many matches of so many pairs chance would make.

    ::

        N · M · (2 · within · N / length) ^ (pairs − 1)

    Parameters
    ----------
    within_s
        How far a pair may have missed; by the deviation of the whole match where None.
    """
    within = max(WITHIN_S, WITHIN_SDS * best.sd_s) if within_s is None else within_s
    share = 2 * within * impulses / max(length_s, 1.0)
    return impulses * marks * float(share ** (len(best.pairs) - 1))


def by_habit(times_s: Sequence[float], within_s: float) -> float:
    """How likely claps of another day have the same pauses, made by the same people.

    Two pauses that are drawn from one habit differ by √2 times its scatter, and are least
    unlikely to be the same at its middle:

    ::

        Π  2 · within / (√(4π) · share · pause)

    Parameters
    ----------
    times_s
        When the claps were that matched, in their order.
    within_s
        How far a pair may have missed.
    """
    chance = 1.0
    pauses = [after - before for before, after in pairwise(times_s)]
    for k, pause in enumerate(pauses):
        within = max(within_s, WITHIN_SDS * DRIFT_SD * pause)
        like = 2 * within / (math.sqrt(4 * math.pi) * PAUSE_SHARE * max(pause, 1e-3))
        if any(abs(pause - other) <= EVEN_SHARE * other for other in pauses[:k]):
            like *= EVEN_FOLD
        chance *= min(1.0, like)
    return chance


def as_hint(finding: Finding, name: str, t_s: float) -> Finding:
    """A match that chance could have made: a hint, and how to make it more."""
    remark = (
        f"{name}: the sound at {t_s:.3f} s could be the clap, but one bang is like another; if "
        f'it is the clap, clap_at = "{t_s:.1f} s" under the recording would settle it'
    )
    clues = tuple(replace(clue, hint=True) for clue in finding.clues)
    return Finding(clues=clues, remarks=(*finding.remarks, remark))
