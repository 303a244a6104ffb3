"""Pitch less its rest, and roll as heel, as they are shown.

The bow angle is pitch less its mean over the rest before the launch, its last ten seconds at the
most, that is since the boat was last as fast as 5 kn; in other runs over the last rest of the half
hour before, which the ledger names. Heel is roll, positive to the side that the boat turns to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from overlay.audit.recompute.day import Day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.recorded import Recorded
from overlay.audit.recompute.run_shown import RunShown

REST_S = 10.0
REST_BELOW_MPS = 2.6
LEAST_SAMPLES = 10
MOST_AGO_S = 1800.0
DRIFTS_MPS, OUT_OF_GEAR = 0.5, 0.5
"""A boat is at rest where she is slower than this on the mean, or her gear is out."""


def levelled(pitch: Recorded, run: RunShown, day: Day, facts: Mapping[str, Any]) -> Recorded | None:
    """Pitch less its mean over the rest before a run; None where there is no rest.

    Raises
    ------
    CannotRecompute
        Where the ledger does not name the rest, or what it names is none.
    """
    if run.kind == "span":
        return None
    rest = rest_before(day, run.start_s) if run.kind == "launch" else _named(run, day, facts)
    if rest is None:
        return None
    part = pitch.within(*rest)
    if part.t_s.size < LEAST_SAMPLES:
        return None
    return replace(pitch, values=pitch.values - float(part.values.mean()))


def rest_before(day: Day, start_s: float) -> tuple[float, float]:
    """The rest before a launch."""
    since = start_s - REST_S
    speed = day.channels.get("speed")
    if speed is not None:
        before = speed.within(since, start_s)
        fast = before.t_s[before.values >= REST_BELOW_MPS]
        since = float(fast[-1]) if fast.size else since
    return since, start_s


def _named(run: RunShown, day: Day, facts: Mapping[str, Any]) -> tuple[float, float] | None:
    """The rest that the ledger names, once it was seen to be one."""
    if "rest" not in facts:
        raise CannotRecompute("the ledger does not say over which rest pitch was levelled")
    if facts["rest"] is None:
        return None
    start, stop = (float(end) for end in facts["rest"])
    if not run.start_s - MOST_AGO_S - 1 <= stop <= run.start_s + 1:
        raise CannotRecompute(
            "the rest that pitch was levelled over is not in the half hour before"
        )
    speed, gear = day.channels.get("speed"), day.channels.get("gear")
    slow = speed is not None and speed.mean(start, stop) < DRIFTS_MPS
    out = gear is not None and abs(gear.mean(start, stop)) < OUT_OF_GEAR
    if not (slow or out):
        raise CannotRecompute("the boat was not at rest where pitch was levelled")
    return start, stop


def heeled(roll: Recorded, run: RunShown) -> Recorded:
    """Roll in a turn as heel."""
    if run.kind != "turn" or not run.to_port:
        return roll
    return replace(roll, values=-roll.values)
