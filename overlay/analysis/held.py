"""The stretch held at the end of a launch: one direction, so marked as that."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overlay.analysis.economy import Economy, economy
from overlay.analysis.smoothing import fit, law_for
from overlay.analysis.steps import keys
from sync.clock import Span
from sync.log import Channel, Floats

BAND = 0.02
LEAST_S = 5.0
MOST_S = 60.0
_STEP_S = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Means over a steady stretch in one direction; NaN for what was not logged.

    `engine_speed_rps` is the mean over the engines that were logged, `fuel_flow` the sum over
    all, so that one without a value makes it NaN; the deviations say how much the shown values
    varied within the stretch.
    """

    launch: str
    span: Span
    speed_mps: float
    speed_sd_mps: float
    engine_speed_rps: float
    fuel_flow: float
    fuel_flow_sd: float
    economy: Economy


def find_held(
    channels: Mapping[str, Channel],
    launch: str,
    after: Span,
    *,
    usable_tank: float | None,
    reserve: float,
    engines: int,
) -> Held | None:
    """The longest steady stretch inside a span; None where none is long enough."""
    speed = channels.get("speed")
    if speed is None:
        return None
    stop = min(after.stop_s, after.start_s + MOST_S)
    grid = np.arange(after.start_s, stop, _STEP_S)
    rows = [fit(speed, grid, law_for(speed)).values]
    if engine := channels.get("engine_speed"):
        rows.append(fit(engine, grid, law_for(engine)).values)
    best = (0, 0)
    for i in range(len(grid)):
        j = i + best[1] - best[0] + 1  # only what is longer than the best can be better
        while j <= len(grid) and _steady([row[i:j] for row in rows]):
            best = (i, j)
            j += 1
    if (best[1] - best[0]) * _STEP_S < LEAST_S:
        return None
    span = Span(start_s=float(grid[best[0]]), stop_s=float(grid[best[1] - 1]))
    speed_mps = _mean(speed, span)
    flows = [channels.get(key) for key in keys(channels, "fuel_flow", engines)]
    turning = [c for key in keys(channels, "engine_speed", 1) if (c := channels.get(key))]
    flow = float(sum(_mean(one, span) for one in flows))
    return Held(
        launch=launch,
        span=span,
        speed_mps=speed_mps,
        speed_sd_mps=_spread(speed, span),
        engine_speed_rps=float(np.mean([_mean(one, span) for one in turning] or [math.nan])),
        fuel_flow=flow,
        fuel_flow_sd=float(np.hypot.reduce([_spread(one, span) for one in flows if one] or [0.0])),
        economy=economy(speed_mps, flow, usable_tank=usable_tank, reserve=reserve),
    )


def _steady(rows: list[Floats]) -> bool:
    for row in rows:
        if not np.all(np.isfinite(row)):
            return False
        mean = float(np.mean(row))
        if mean <= 0 or float(np.max(np.abs(row - mean))) > BAND * mean:
            return False
    return True


def _mean(channel: Channel | None, span: Span) -> float:
    """Mean of the samples in a span; NaN where the channel has a hole there."""
    if channel is None or any(hole.overlap(span) for hole in channel.holes()):
        return math.nan
    values = channel.cut(span).values
    return float(np.mean(values)) if values.size and np.all(np.isfinite(values)) else math.nan


def _spread(channel: Channel, span: Span) -> float:
    """Standard deviation of what the channel's law shows within a span."""
    grid = np.arange(span.start_s, span.stop_s, _STEP_S)
    return float(np.std(fit(channel, grid, law_for(channel)).values))
