"""Timecodes that were set together: how the clocks of their recordings lie to each other."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sync.clue import Clue, Finding
from sync.clues.labels.read import Labels
from sync.timecode import DAY_S, behind_s, time_of_day

LONGEST_SET_S = 43_200.0
"""A timecode is taken to have been set within the last half a day."""

MOST_FIRM_SD_S = 0.5
"""What labels that fall behind may be off for a clue; more makes it a hint (own choice)."""


def together_clues(labels: Sequence[Labels]) -> Finding:
    """What timecodes that were set together say of each other's recordings.

    Parameters
    ----------
    labels
        Of all recordings that the sheet says have one timecode; of each the first counts.
    """
    first: dict[str, Labels] = {}
    for one in labels:
        first.setdefault(one.clock, one)
    finding = Finding()
    if not first:
        return finding
    anchor, *others = first.values()
    for other in others:
        finding += _pair(anchor, other)
    return finding


def _pair(one: Labels, other: Labels) -> Finding:
    """How the clocks of two recordings with one timecode lie to each other: less than half a
    day apart."""
    fallen = abs(behind_s(LONGEST_SET_S, one.rate) - behind_s(LONGEST_SET_S, other.rate))
    if fallen / math.sqrt(12.0) > MOST_FIRM_SD_S:
        names = " and ".join(lab.clock.partition(":")[2] or lab.clock for lab in (one, other))
        remark = (
            f"{names}: their timecodes count {one.rate.key} and {other.rate.key} frames a second "
            "and drift apart by 3.6 s an hour; a sound that both heard would settle it"
        )
        return Finding(remarks=(remark,))
    if one.rate == other.rate:
        a_day = one.rate.frames_in_a_day
        apart = (other.frame - one.frame + a_day // 2) % a_day - a_day // 2
        ahead = float(apart / one.rate.rate_hz)
    else:
        both = (time_of_day(lab.frame, lab.rate) for lab in (one, other))
        ahead = _nearest(*(float(t) for t in both))
    # Where the one has its label, the other's clock stands at `at` less what it is ahead.
    return Finding(
        clues=(
            Clue(
                kind="timecode",
                from_clock=one.clock,
                to_clock=other.clock,
                offset_s=other.at_s - one.at_s - ahead,
                sd_s=math.hypot(one.own_sd_s, other.own_sd_s, fallen / math.sqrt(12.0)),
                at_s=one.at_s,
                text=f"timecodes {one.label} and {other.label}, set together",
            ),
        )
    )


def _nearest(one_s: float, other_s: float) -> float:
    """How much later the other time of day is, within half a day."""
    return (other_s - one_s + DAY_S / 2) % DAY_S - DAY_S / 2
