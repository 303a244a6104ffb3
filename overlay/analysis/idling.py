"""Idling in gear, ahead and astern: what the boat does by herself beside a quay.

Current counts for much at such speeds, so the mean of both ways is taken where there is one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from overlay.analysis.economy import NO_TANK
from overlay.analysis.means import NONE, Mean, average, mean_of, total
from overlay.analysis.steady import Steady
from overlay.analysis.steps import IDLES_RPS, Step, keys, step_of
from sync.log import Channel

AHEAD, ASTERN = "idle in gear", "astern"


def find_idling(
    channels: Mapping[str, Channel], steady: Sequence[Steady], engines: int
) -> tuple[Step, ...]:
    """What was held idling ahead and, at any engine speed below that, astern.

    Parameters
    ----------
    channels, steady, engines
        As `find_steps` has them.
    """
    found = []
    for name, kind in ((AHEAD, "step"), (ASTERN, "astern")):
        group = [
            one
            for one in steady
            if one.kind == kind
            and one.engine_speed_rps < IDLES_RPS
            and math.isfinite(one.course_rad)
        ]
        if group:
            found.append(replace(step_of(channels, group, engines, NO_TANK), name=name))
    return tuple(found)


def neutral_flow(channels: Mapping[str, Channel], steady: Sequence[Steady], engines: int) -> Mean:
    """Fuel flow of all engines while they idle out of gear; none where that was not logged."""
    flowing = keys(channels, "fuel_flow", engines)
    parts = [
        total([mean_of(channels.get(key), one.span) for key in flowing])
        for one in steady
        if one.kind == "rest" and 0 < one.engine_speed_rps < IDLES_RPS
    ]
    known = [part for part in parts if part.known and part.value > 0]
    return average(known) if known else NONE
