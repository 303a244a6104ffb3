"""Whether a match of impulses and marks is more than chance.

A lone bang within minutes of where a clap should be proves nothing: a hatch slams, a tool is
dropped. A match is trusted where chance would hardly have made it, where a person says that
the clap is there, or where a clue of another kind leads to the same place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sync.clues.base import Clue, Finding
from sync.clues.marks.matching import WITHIN_S, WITHIN_SDS, Hypothesis

MOST_BY_CHANCE = 0.01
"""How many matches as good as this one chance may be expected to make among the impulses of
the footage; a single pair is always more."""

LEADS_TO_S = 0.5
"""How near to the place that another clue leads to a lone clap must be, or four of that clue's
standard deviations if that is more."""


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


def by_chance(best: Hypothesis, impulses: int, marks: int, length_s: float) -> float:
    """How many matches of so many pairs chance would make.

    ::

        N · M · (2 · within · N / length) ^ (pairs − 1)
    """
    within = max(WITHIN_S, WITHIN_SDS * best.sd_s)
    share = 2 * within * impulses / max(length_s, 1.0)
    return impulses * marks * float(share ** (len(best.pairs) - 1))


def as_hint(finding: Finding, name: str, t_s: float) -> Finding:
    """A match that chance could have made: a hint, and how to make it more."""
    remark = (
        f"{name}: the sound at {t_s:.3f} s could be the clap, but one bang is like another; if "
        f'it is the clap, clap_at = "{t_s:.1f} s" under the recording would settle it'
    )
    clues = tuple(replace(clue, hint=True) for clue in finding.clues)
    return Finding(clues=clues, remarks=(*finding.remarks, remark))
