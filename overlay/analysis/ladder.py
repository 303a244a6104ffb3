"""Timing through the speeds of a ladder: when speed first reaches each, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from overlay.analysis.means import Mean
from overlay.analysis.smoothing import Law, fit, law_at
from overlay.analysis.start import REST_S, LaunchStart
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span
from sync.units import to_si

DOPPLER_NOISE_MPS = 0.05
"""Noise of one Doppler speed, one standard deviation: the common figure of receivers' data
sheets (from memory)."""

DOPPLER_MEMORY_S = 0.3
"""For how long that noise remembers itself, so that smoothing makes it smaller only over longer
times (own choice: receivers smooth over 0.1 to 0.3 s)."""

GOES_ON_S = 15.0
"""How long after a launch that breaks off in a hole it is looked for how the boat went on."""

HOLE = "the log of speed has a hole there"
TOO_FAST = "the boat was faster at the start"
NOT_REACHED = "not reached"


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


def noise_of(speed: Channel, law: Law, low_s: float, high_s: float) -> float:
    """Noise of one sample: what the fit leaves over, or the receivers' common figure where
    that is larger, since what the fit leaves over shows only the quick part of it."""
    here = speed.cut(Span(start_s=low_s - REST_S, stop_s=high_s))
    left = fit(here, here.t_s, law).residual
    left = left[np.isfinite(left)]
    return max(float(np.median(left)) if left.size else 0.0, DOPPLER_NOISE_MPS)


def crossing_of(
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


def ladder_time(
    rung: Rung, t_s: float, speed: Channel, law: Law, start: LaunchStart, noise_mps: float
) -> LadderTime:
    """The time to one speed that was crossed at an instant, and the distance by then."""
    slope = max(float(fit(speed, t_s, law).slopes[0]), 1e-3)
    here = law_at(t_s, law)
    reading = noise_mps * kept_noise(here) / slope
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


def roll_on_times(times: list[LadderTime]) -> tuple[RollOn, ...]:
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


def kept_noise(law: Law) -> float:
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
