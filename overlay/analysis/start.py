"""The start of a launch: which event it is, when it was, and how well that is known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overlay.analysis.smoothing import LAWS, fit
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

REST_S = 3.0
"""How much rest before a launch is looked at for what things were like before it."""

LEVEL_S = 10.0
"""How much of the rest before a launch is averaged for the boat's level: two swells or more."""

REST_BELOW_MPS = 2.6
"""Slower than this (5 kn) a boat is at rest or idling in gear (common practice, no published
source)."""

IDLE_LEAST_RPS = 300 / 60
"""Below this an engine is not running."""

MOVING_MPS = 0.5
"""Above this a boat with its engine idling is taken to be in gear (common practice, no
published source); current and wind drift one by less in a place fit for trials."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """How a channel that jumps is told to.

    Parameters
    ----------
    least
        What it must rise by, in SI, to count.
    straight
        Share of the rise, from its foot, that is straight enough to be traced back: a lever moves
        evenly, but an engine gains more slowly as it nears its new speed.
    doubt
        Standard deviation of what is traced back, in sample periods (measured on simulated
        launches, see the tests of launches).
    """

    least: float
    straight: float
    doubt: float


RISES = {
    "throttle": Rise(least=0.05, straight=0.95, doubt=0.1),
    "engine_speed": Rise(least=150 / 60, straight=0.5, doubt=0.2),
}
"""Channels that tell when something began, in order of trust."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaunchStart:
    """The start of a launch.

    `event` names what moved first: `throttle`, `engine_speed` or `speed`; `sd_s` is one
    standard deviation, with the doubt about the channel's delay in it; `state` says in words
    what the boat was doing before.
    """

    t_s: float
    sd_s: float
    event: str
    state: str


def launch_start(
    channels: Mapping[str, Channel], near: Span, choice: str, speed_sd_mps: float
) -> LaunchStart | None:
    """Find the start of a launch inside the stretch where it must lie.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    near
        From a time surely before the start to one surely after it.
    choice
        Of the definition `launch_start`.
    speed_sd_mps
        Noise of one sample of speed [m/s].
    """
    found = None
    if choice == "throttle_or_engine":
        for key in RISES:
            channel = channels.get(key)
            if channel is not None and found is None:
                rise = rise_of(channel, near)
                found = None if rise is None else (*rise, key)
    if found is None:
        found = _first_movement(channels["speed"], near, speed_sd_mps)
    if found is None:
        return None
    t_s, sd_s, event = found
    return LaunchStart(t_s=t_s, sd_s=sd_s, event=event, state=state_before(channels, t_s))


def state_before(channels: Mapping[str, Channel], t_s: float) -> str:
    """What the boat was doing in the seconds before an instant, in words."""
    before = Span(start_s=t_s - REST_S, stop_s=t_s - 0.3)
    speed = _median(channels.get("speed"), before)
    engine = _median(channels.get("engine_speed"), before)
    gear = _median(channels.get("gear"), before)
    moving = math.isfinite(speed) and speed > MOVING_MPS
    if math.isfinite(engine) and engine < IDLE_LEAST_RPS:
        return "at rest, engine stopped"
    if math.isfinite(gear):
        if gear > 0.5:
            return "idle in gear"
        return "at rest in neutral" if not moving else "drifting in neutral"
    if moving:
        return "idle in gear" if math.isfinite(engine) else "moving slowly"
    return "at rest"


def rest_before(channels: Mapping[str, Channel], t_s: float) -> Span:
    """The rest before a launch, ten seconds of it at the most: since the boat was last faster
    than a launch may begin at."""
    start = t_s - LEVEL_S
    speed = channels.get("speed")
    if speed is not None:
        before = speed.cut(Span(start_s=start, stop_s=t_s))
        fast = before.t_s[before.values >= REST_BELOW_MPS]
        if fast.size:
            start = float(fast[-1])
    return Span(start_s=start, stop_s=t_s)


def _median(channel: Channel | None, span: Span) -> float:
    if channel is None:
        return math.nan
    values = channel.cut(span).values
    values = values[np.isfinite(values)]
    return float(np.median(values)) if values.size else math.nan


def rise_of(channel: Channel, near: Span) -> tuple[float, float] | None:
    """When a channel of `RISES` begins to rise, traced back to where it stood, and one standard
    deviation of that.

    The last rise in the stretch counts, since a blip of the throttle or the way into gear comes
    before.
    """
    rise = RISES[channel.key]
    cut = channel.cut(near)
    good = np.isfinite(cut.values)
    t, values = cut.t_s[good], cut.values[good]
    period = channel.period_s
    found = _foot(values, rise.least, period)
    if found is None:
        return None
    foot, level, scatter = found
    top = float(np.max(values[foot : foot + max(int(1.5 / period), 3)]))
    floor = level + max(0.02 * (top - level), min(6 * scatter, rise.least))
    above = np.flatnonzero(values[foot:] >= floor)
    if above.size == 0:
        return None
    lead = max(foot + int(above[0]), 1)
    ramp = [lead]
    while len(ramp) < 6 and ramp[-1] + 1 < t.size:
        following = ramp[-1] + 1
        if not values[ramp[-1]] < values[following] <= level + rise.straight * (top - level):
            break
        ramp.append(following)
    earliest, latest = _bracket(t, values, lead, level, top)
    traced = _traced_back(t, values, ramp, level)
    if traced is not None and earliest - 0.3 * period <= traced <= latest:
        return traced, math.hypot(rise.doubt * period, channel.delay_sd_s)
    width = (latest - earliest) / math.sqrt(12)
    return (earliest + latest) / 2, math.hypot(width, channel.delay_sd_s)


def _foot(values: Floats, least: float, period_s: float) -> tuple[int, float, float] | None:
    """The last level from which a channel rises for good: the last sample on it, the level and
    its scatter.

    From where it last passes half of its swing, back to where it no longer climbs over three
    tenths of a second.
    """
    if values.size < 8:
        return None
    low, high = float(np.min(values)), float(np.max(values))
    if high - low < least:
        return None
    below = np.flatnonzero(values < (low + high) / 2)
    last = int(below[-1])
    if last + 2 >= values.size:
        return None  # it falls again: no launch
    steps = max(round(0.3 / period_s), 2)
    quiet = max(0.02 * (high - low), 3 * _scatter(np.diff(values[:last])))
    while last - steps >= 0 and values[last] - values[last - steps] > quiet:
        last -= 1
    rest = values[max(0, last - max(round(1.0 / period_s), 5)) : last + 1]
    level = float(np.median(rest))
    return last, level, _scatter(rest)


def _scatter(values: Floats) -> float:
    """A standard deviation that single strays do not move: 1.4826 times the median distance
    from the median."""
    if values.size == 0:
        return 0.0
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


def _bracket(t: Floats, values: Floats, lead: int, level: float, top: float) -> tuple[float, float]:
    """Between which instants a rise must have begun whose first sample is `lead`.

    Not before the sample before it; and where the very next sample is at the top, not so
    early that a straight rise through `lead` would still be on its way there.
    """
    earliest, latest = float(t[lead - 1]), float(t[lead])
    share = (values[lead] - level) / (top - level)
    if lead + 1 < t.size and share < 1 and values[lead + 1] >= level + 0.98 * (top - level):
        earliest = max(earliest, latest - share / (1 - share) * float(t[lead + 1] - t[lead]))
    return earliest, latest


def _traced_back(t: Floats, values: Floats, ramp: list[int], level: float) -> float | None:
    if len(ramp) < 2:
        return None
    slope, height = np.polyfit(t[ramp] - t[ramp[0]], values[ramp], 1)
    return float(t[ramp[0]] + (level - height) / slope) if slope > 0 else None


def _first_movement(
    speed: Channel, near: Span, noise_mps: float
) -> tuple[float, float, str] | None:
    """The boat's first movement, traced back along the first metres a second of its rise."""
    grid = np.arange(near.start_s, near.stop_s + 5.0, 0.05)
    shown = fit(speed, grid, LAWS["parabola"] if speed.period_s <= 0.2 else LAWS["neighbours"])
    values = shown.values
    start_rows = np.isfinite(values[:40])
    if not np.any(start_rows):
        return None
    level = float(np.median(values[:40][start_rows]))
    reached = np.flatnonzero(values > level + 3.0)
    if reached.size == 0:
        return None
    stop = int(reached[0])
    below = np.flatnonzero(~(values[:stop] > level + 1.0))
    begin = int(below[-1]) + 1 if below.size else 0
    if stop - begin < 3:
        return None
    slope, height = np.polyfit(grid[begin:stop] - grid[begin], values[begin:stop], 1)
    if slope <= 0:
        return None
    samples = max((grid[stop] - grid[begin]) / speed.period_s, 2.0)
    # Reaching back over twice the stretch's own length roughly doubles the line's doubt.
    sd = math.hypot(2.5 * noise_mps / slope / math.sqrt(samples) * 2, speed.delay_sd_s)
    return float(grid[begin] + (level - height) / slope), sd, "speed"
