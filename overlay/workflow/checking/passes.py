"""Which passes have one the other way, so that current and wind drop out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from overlay.analysis.steady import UNDER_WAY_MPS
from overlay.analysis.steps import IDLES_RPS, same_engine_speed
from overlay.analysis.two_way import opposite
from overlay.workflow.checking.model import RunReport


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
        like = [
            other
            for other in runs
            if other.kind == "step"
            and same_engine_speed(run.engine_speed_rps, other.engine_speed_rps)
        ]
        if any(opposite(run.course_rad, other.course_rad) for other in like):
            continue
        if not any(
            same_engine_speed(run.engine_speed_rps, other.engine_speed_rps) for other in lone
        ):
            lone.append(run)
    return lone


def _same(one: RunReport, other: RunReport) -> bool:
    return same_engine_speed(one.engine_speed_rps, other.engine_speed_rps)
