"""Launches: found by themselves, each with its start, its times, and its peaks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from overlay.analysis.airing import flares
from overlay.analysis.ladder import (
    HOLE,
    LadderTime,
    RollOn,
    Rung,
    crossing_of,
    ladder_time,
    noise_of,
    roll_on_times,
)
from overlay.analysis.smoothing import Law, alone, fit, law_for
from overlay.analysis.start import REST_BELOW_MPS, LaunchStart, launch_start
from overlay.analysis.steady import mean_course
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

LEAST_GAIN_MPS = 5.0
"""A launch gains at least this much over the rest before it."""

LEAST_REST_S = 2.0

HUMP_S = 8.0
"""How long a boat may hang at its hump within one launch (common practice, no published
source)."""

FALL_MPS = 1.0
"""By how much speed may fall on the way without ending the launch."""

_STEP_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Launch:
    """One launch: its start, the ladder's times, and its peaks.

    `stop_s` is where the gain in speed ends, `course_rad` the mean course over ground from
    the middle on, `roll_on` the times between its speeds, `missed` those without a time, each with
    the reason, `broken` whether it ends in a hole of the log, so that its peaks are not all there;
    `aired_s` are the instants at which the propeller drew air.
    """

    name: str
    start: LaunchStart
    stop_s: float
    ladder: tuple[LadderTime, ...]
    roll_on: tuple[RollOn, ...]
    missed: tuple[tuple[str, str], ...]
    broken: bool
    peak_acceleration: float
    mean_acceleration: float
    peak_speed_mps: float
    course_rad: float
    aired_s: tuple[float, ...] = ()

    @property
    def span(self) -> Span:
        """From the start to where the gain in speed ends."""
        return Span(start_s=self.start.t_s, stop_s=self.stop_s)


def find_launches(
    channels: Mapping[str, Channel], ladder: tuple[Rung, ...], choice: str
) -> tuple[Launch, ...]:
    """All launches of a day, in order.

    A launch begins in at least two seconds below 2.6 m/s (5 kn), gains 5 m/s or more without
    a break in the log, and ends where speed stops rising.

    Parameters
    ----------
    channels
        By key, on UTC, timely; there are none without `speed`.
    ladder
        Speeds that are timed.
    choice
        Of the definition `launch_start`.
    """
    speed = channels.get("speed")
    if speed is None or speed.span is None or speed.means == "differenced":
        return ()
    law = law_for(speed, channels)
    grid = np.arange(speed.span.start_s, speed.span.stop_s, _STEP_S)
    values = fit(speed, grid, alone(law)).values
    found: list[Launch] = []
    for low, high in _rises(grid, values):
        launch = _measure(channels, speed, law, ladder, choice, low, high, len(found) + 1)
        if launch is not None:
            found.append(launch)
    return tuple(found)


def measure_launch(
    channels: Mapping[str, Channel],
    ladder: tuple[Rung, ...],
    choice: str,
    span: Span,
    name: str,
) -> Launch | None:
    """The launch inside a stretch that a person named; None where there is none."""
    inside = {key: channel.cut(span) for key, channel in channels.items()}
    found = find_launches(inside, ladder, choice)
    if not found:
        return None
    return replace(found[0], name=name)


def _rises(grid: Floats, values: Floats) -> list[tuple[float, float]]:
    """Stretches from the last instant at rest to where speed stops rising."""
    rest = values < REST_BELOW_MPS
    least = int(LEAST_REST_S / _STEP_S)
    edges = np.flatnonzero(rest[:-1] & ~rest[1:])
    stretches = []
    for edge in edges:
        if edge < least or not np.all(rest[edge - least : edge]):
            continue
        after = _top(values, int(edge))
        level = float(np.median(values[edge - least : edge]))
        if after is not None and values[after] - level >= LEAST_GAIN_MPS:
            stretches.append((float(grid[edge]), float(grid[after])))
    return stretches


def _top(values: Floats, edge: int) -> int | None:
    """Where the rise that begins at an index ends: the first instant whose speed is not
    surpassed by 0.3 m/s within the next seconds without a fall before that, or the last before
    a hole. A boat may hang on its hump for some seconds and still be in the same launch."""
    ahead = int(HUMP_S / _STEP_S)
    for i in range(edge + 1, values.size):
        window = values[i : i + ahead]
        if not np.isfinite(window[0]):
            return None if i == edge + 1 else i - 1
        fallen = np.flatnonzero(~(window >= window[0] - FALL_MPS))
        rising = window[: int(fallen[0])] if fallen.size else window
        if np.max(rising) - window[0] < 0.3:
            return i
    return None


def _measure(
    channels: Mapping[str, Channel],
    speed: Channel,
    law: Law,
    ladder: tuple[Rung, ...],
    choice: str,
    low_s: float,
    high_s: float,
    number: int,
) -> Launch | None:
    near = Span(start_s=low_s - 8.0, stop_s=low_s + 1.0)
    noise = noise_of(speed, law, low_s, high_s)
    start = launch_start(channels, near, choice, noise)
    if start is None:
        return None
    fine = np.arange(start.t_s, high_s + 0.5, 0.02)
    run = fit(speed, fine, law)
    times = []
    missed = []
    for rung in ladder:
        crossing = crossing_of(speed, law, fine, run.values, rung.speed_mps)
        if isinstance(crossing, str):
            missed.append((rung.label, crossing))
            continue
        times.append(ladder_time(rung, crossing, speed, law, start, noise))
    with np.errstate(invalid="ignore"):
        slopes = run.slopes[fine >= start.t_s + 0.25]
    gain = float(run.values[np.isfinite(run.values)][-1] - run.values[np.isfinite(run.values)][0])
    return Launch(
        name=f"launch {number}",
        start=start,
        stop_s=high_s,
        ladder=tuple(times),
        roll_on=roll_on_times(times),
        missed=tuple(missed),
        broken=any(why == HOLE for _, why in missed),
        peak_acceleration=float(np.nanmax(slopes)),
        mean_acceleration=gain / (high_s - start.t_s),
        peak_speed_mps=float(np.nanmax(run.values)),
        course_rad=mean_course(
            channels.get("course"), Span(start_s=(low_s + high_s) / 2, stop_s=high_s)
        ),
        aired_s=flares(channels, Span(start_s=start.t_s, stop_s=high_s)),
    )
