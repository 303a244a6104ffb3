"""Which passes have one the other way, so that current and wind drop out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from overlay.analysis.steady import UNDER_WAY_MPS
from overlay.workflow.checking.model import RunReport

RECIPROCAL_RAD = math.radians(30.0)
"""How far from opposite two passes may lie: beyond that a third of the current's change along
the course is lost (1 − cos 30° = 13 % of the speed along it, own choice)."""

IDLES_RPS = 900 / 60
"""An engine below this idles: what it does in gear is measured as it comes, in no direction."""

SAME_SHARE, SAME_RPS = 0.03, 100 / 60
"""Two passes are of one engine speed within 3 % or 100 rpm: each lies in a band of 2 %."""


def opposite(one_rad: float, other_rad: float) -> bool:
    """Whether two courses are each other's way back; a course that is not known is no one's."""
    off = math.remainder(one_rad - other_rad - math.pi, 2 * math.pi)
    return abs(off) <= RECIPROCAL_RAD


def lone_launches(runs: Sequence[RunReport]) -> list[RunReport]:
    """All launches, if none of them has one the other way."""
    launches = [run for run in runs if run.kind == "launch" and math.isfinite(run.course_rad)]
    paired = any(
        opposite(one.course_rad, other.course_rad) for one in launches for other in launches
    )
    return [] if paired else launches


def lone_steps(runs: Sequence[RunReport]) -> list[RunReport]:
    """Steps under way without one of the same engine speed the other way; those that say the
    same of one engine speed and course count once."""
    steps = [
        run
        for run in runs
        if run.kind == "step"
        and run.speed_mps >= UNDER_WAY_MPS
        and math.isfinite(run.course_rad)
        and run.engine_speed_rps >= IDLES_RPS
    ]
    lone: list[RunReport] = []
    for run in sorted(steps, key=lambda one: one.engine_speed_rps):
        like = [other for other in runs if other.kind == "step" and _same_speed(run, other)]
        if any(opposite(run.course_rad, other.course_rad) for other in like):
            continue
        if not any(_same_speed(run, other) for other in lone):
            lone.append(run)
    return lone


def _same_speed(one: RunReport, other: RunReport) -> bool:
    off = abs(one.engine_speed_rps - other.engine_speed_rps)
    return off <= max(SAME_RPS, SAME_SHARE * one.engine_speed_rps)
