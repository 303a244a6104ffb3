"""Launches: found by themselves, timed through the speeds of the ladder."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from overlay.analysis.airing import flares
from overlay.analysis.means import Mean
from overlay.analysis.smoothing import Law, alone, fit, law_at, law_for
from overlay.analysis.start import REST_BELOW_MPS, REST_S, LaunchStart, launch_start
from overlay.analysis.steady import mean_course
from sync.clock import Span
from sync.log import Channel, Floats
from sync.units import to_si

LEAST_GAIN_MPS = 5.0
"""A launch gains at least this much over the rest before it."""

LEAST_REST_S = 2.0

DOPPLER_NOISE_MPS = 0.05
"""Noise of one Doppler speed, one standard deviation: the common figure of receivers' data
sheets (from memory)."""

DOPPLER_MEMORY_S = 0.3
"""For how long that noise remembers itself, so that smoothing makes it smaller only over longer
times (own choice: receivers smooth over 0.1 to 0.3 s)."""

HUMP_S = 8.0
"""How long a boat may hang at its hump within one launch (common practice, no published
source)."""

FALL_MPS = 1.0
"""By how much speed may fall on the way without ending the launch."""

GOES_ON_S = 15.0
"""How long after a launch that breaks off in a hole it is looked for how the boat went on."""

HOLE = "the log of speed has a hole there"
TOO_FAST = "the boat was faster at the start"
NOT_REACHED = "not reached"

_STEP_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderTime:
    """When a launch passed one speed of the ladder.

    `label` is the speed as the ladder has it, `time_s` counts from the start of the launch,
    `distance_m` is what the boat covered by then. `reading_sd_s` is the part of `sd_s` that the
    speed's own noise makes.
    """

    label: str
    speed_mps: float
    t_s: float
    time_s: float
    sd_s: float
    reading_sd_s: float
    distance_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RollOn:
    """The time from one speed of the ladder to a higher one; where it starts does not matter, nor
    by how much the log of speed is late."""

    label: str
    time_s: Mean


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One speed of the ladder, in SI and as it is called."""

    label: str
    speed_mps: float


def rungs(unit: str, speeds: list[float]) -> tuple[Rung, ...]:
    """The ladder's speeds with their labels: `20 mph`."""
    return tuple(
        Rung(label=f"{speed:g} {unit}", speed_mps=to_si(speed, unit, "speed")) for speed in speeds
    )


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
    noise = _noise(speed, law, low_s, high_s)
    start = launch_start(channels, near, choice, noise)
    if start is None:
        return None
    fine = np.arange(start.t_s, high_s + 0.5, 0.02)
    run = fit(speed, fine, law)
    times = []
    missed = []
    for rung in ladder:
        crossing = _crossing(speed, law, fine, run.values, rung.speed_mps)
        if isinstance(crossing, str):
            missed.append((rung.label, crossing))
            continue
        times.append(_ladder_time(rung, crossing, speed, law, start, noise))
    with np.errstate(invalid="ignore"):
        slopes = run.slopes[fine >= start.t_s + 0.25]
    gain = float(run.values[np.isfinite(run.values)][-1] - run.values[np.isfinite(run.values)][0])
    return Launch(
        name=f"launch {number}",
        start=start,
        stop_s=high_s,
        ladder=tuple(times),
        roll_on=_roll_on(times),
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


def _noise(speed: Channel, law: Law, low_s: float, high_s: float) -> float:
    """Noise of one sample: what the fit leaves over, or the receivers' common figure where
    that is larger, since what the fit leaves over shows only the quick part of it."""
    here = speed.cut(Span(start_s=low_s - REST_S, stop_s=high_s))
    left = fit(here, here.t_s, law).residual
    left = left[np.isfinite(left)]
    return max(float(np.median(left)) if left.size else 0.0, DOPPLER_NOISE_MPS)


def _crossing(
    speed: Channel, law: Law, fine: Floats, values: Floats, wanted_mps: float
) -> float | str:
    """The first instant at which a signal that starts below a speed reaches it, or why there
    is none."""
    above = np.flatnonzero(values >= wanted_mps)
    holes = np.flatnonzero(~np.isfinite(values))
    if above.size == 0:
        return HOLE if holes.size or _goes_on(speed, law, fine, wanted_mps) else NOT_REACHED
    if above[0] == 0:
        return TOO_FAST
    i = int(above[0])
    if holes.size and holes[0] < i:
        return HOLE
    finest = np.linspace(fine[i - 1], fine[i], 21)
    shown = fit(speed, finest, law).values
    j = int(np.flatnonzero(shown >= wanted_mps)[0])
    if j == 0:
        return float(finest[0])
    share = (wanted_mps - shown[j - 1]) / (shown[j] - shown[j - 1])
    return float(finest[j - 1] + share * (finest[j] - finest[j - 1]))


def _goes_on(speed: Channel, law: Law, fine: Floats, wanted_mps: float) -> bool:
    """Whether a launch breaks off in a hole behind which the boat is faster than a speed."""
    after = np.arange(fine[-1], fine[-1] + GOES_ON_S, 0.1)
    values = fit(speed, after, law).values
    return bool(np.any(~np.isfinite(values)) and np.any(values >= wanted_mps))


def _ladder_time(
    rung: Rung, t_s: float, speed: Channel, law: Law, start: LaunchStart, noise_mps: float
) -> LadderTime:
    slope = max(float(fit(speed, t_s, law).slopes[0]), 1e-3)
    here = law_at(t_s, law)
    reading = noise_mps * _kept(here) / slope
    # Where the boat's own speed is the start event, a wrong delay shifts both ends alike.
    delay = 0.0 if start.event == "speed" else speed.delay_sd_s
    if here.aid is not None:
        delay = math.hypot(delay, here.aid.late_mps(t_s, here.half_s) / slope)
    return LadderTime(
        label=rung.label,
        speed_mps=rung.speed_mps,
        t_s=t_s,
        time_s=t_s - start.t_s,
        sd_s=math.hypot(reading, delay, start.sd_s),
        reading_sd_s=reading,
        distance_m=_distance(speed, law, start.t_s, t_s),
    )


def _roll_on(times: list[LadderTime]) -> tuple[RollOn, ...]:
    """From each speed of the ladder to the next, and from the lowest to the highest."""
    pairs = list(pairwise(times))
    if len(times) > 2:
        pairs.append((times[0], times[-1]))
    return tuple(
        RollOn(
            label=f"{low.label.partition(' ')[0]} to {high.label}",
            time_s=Mean(
                value=high.t_s - low.t_s, sd=math.hypot(low.reading_sd_s, high.reading_sd_s)
            ),
        )
        for low, high in pairs
    )


def _kept(law: Law) -> float:
    """Which share of a receiver's noise a law lets through, one standard deviation of each.

    A stretch of length L has about L / (2 τ) independent pieces of a noise that remembers itself
    for τ; a straight line read at its middle is their mean, and a parabola's variance is 9/4 of
    that.
    """
    if law.degree == 0:
        return 1.0
    pieces = law.half_s / DOPPLER_MEMORY_S
    return min(1.0, math.sqrt((2.25 if law.degree == 2 else 1.0) / pieces))


def _distance(speed: Channel, law: Law, start_s: float, stop_s: float) -> float:
    """Distance covered, by the trapezoidal rule; NaN where the log has a hole."""
    t = np.linspace(start_s, stop_s, max(int((stop_s - start_s) / 0.05), 2))
    return float(np.trapezoid(fit(speed, t, law).values, t))
