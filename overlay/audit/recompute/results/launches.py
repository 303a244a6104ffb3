"""A launch a second time: its start, the times of its ladder, what it gains.

The start is the throttle's first movement: the line along its rise, traced back to where it stood
before; where no throttle is logged the same of engine speed, by the first half of its rise; where
neither is, or the sheet says so, the boat's first movement, by the line through speed between 1 and
3 m/s above what it was before. A time of the ladder is from there to the first instant at which the
shown speed, worked out at that very instant, reaches the ladder's speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overlay.audit.recompute.day import Day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.laws import Curve
from overlay.audit.recompute.recorded import Floats, Recorded
from overlay.audit.recompute.sheet import Sheet
from overlay.audit.recompute.units import unit

REST_BELOW_MPS, LEAST_REST_S, LEAST_GAIN_MPS = 2.6, 2.0, 5.0
HUMP_S, FALL_MPS, SURPASSED_MPS = 8.0, 1.0, 0.3
"""A launch goes on while speed is surpassed by so much within so long, without a fall before."""

LOOK_BACK_S, LOOK_ON_S = 8.0, 1.0
"""About the last instant at rest the start is looked for."""

SCAN_S, FINE_S, CLOSE_S, CLAIMED_S = 0.1, 0.02, 1e-6, 0.5
PIECES = 20

RISES = {"throttle": (0.05, 0.95), "engine_speed": (2.5, 0.5)}
"""What a channel must rise by, in SI, and the share of its rise that is traced back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LaunchAgain:
    """A launch: what told its start, when, where the gain in speed ends, and what came between.

    `ladder` has for each speed, as it is called, the instant at which it was reached, or NaN.
    """

    event: str
    start_s: float
    stop_s: float
    ladder: dict[str, float]
    peak_mps2: float
    mean_mps2: float
    peak_mps: float


def launch_near(day: Day, sheet: Sheet, about_s: float, reach_s: float = 12.0) -> LaunchAgain:
    """The launch that starts near an instant.

    Raises
    ------
    CannotRecompute
        Where speed is not to be had, or no launch is found there.
    """
    curve = day.curve("speed")
    if curve is None:
        raise CannotRecompute("no speed is logged that a launch could be found in")
    edge_s, stop_s = _rise(curve.alone, about_s, reach_s)
    event, start_s = start_of(day, sheet, edge_s)
    # In a noisy log a speed may be reached more than once: steps that count from the instant that
    # is claimed see the same of it.
    since = about_s if abs(about_s - start_s) <= CLAIMED_S else start_s
    fine = np.arange(since, stop_s + 0.5, FINE_S)
    read = [curve.at(t) for t in fine.tolist()]
    values = np.array([one.value for one in read])
    known = values[np.isfinite(values)]
    if known.size < 2:
        raise CannotRecompute("speed breaks off where the launch begins")
    slopes = np.array([one.slope for one in read])[fine >= start_s + 0.25]
    sign, speeds = sheet.ladder
    return LaunchAgain(
        event=event,
        start_s=start_s,
        stop_s=stop_s,
        ladder={
            f"{speed:g} {sign}": reached(curve, fine, values, unit(sign).to_si(speed))
            for speed in speeds
        },
        peak_mps2=float(np.nanmax(slopes)),
        mean_mps2=float(known[-1] - known[0]) / (stop_s - start_s),
        peak_mps=float(np.nanmax(values)),
    )


def _rise(curve: Curve, about_s: float, reach_s: float) -> tuple[float, float]:
    """The last instant at rest before a rise of speed near an instant, and the rise's end."""
    t = np.arange(about_s - reach_s - LEAST_REST_S, about_s + 90.0, SCAN_S)
    speed = curve.values(t)
    least = round(LEAST_REST_S / SCAN_S)
    resting = speed < REST_BELOW_MPS
    for edge in range(least, t.size - 1):
        if t[edge] > about_s + reach_s:
            break
        if not (resting[edge] and not resting[edge + 1] and resting[edge - least : edge].all()):
            continue
        top = _top(speed, edge)
        level = float(np.median(speed[edge - least : edge]))
        if top is not None and speed[top] - level >= LEAST_GAIN_MPS:
            return float(t[edge]), float(t[top])
    raise CannotRecompute("the audit finds no launch there")


def _top(speed: Floats, edge: int) -> int | None:
    """Where speed stops rising."""
    ahead = round(HUMP_S / SCAN_S)
    for place in range(edge + 1, speed.size):
        here = speed[place]
        if math.isnan(here):
            return None if place == edge + 1 else place - 1
        best = here
        for later in speed[place : place + ahead].tolist():
            if not later >= here - FALL_MPS:
                break
            best = max(best, later)
        if best - here < SURPASSED_MPS:
            return place
    return None


def start_of(day: Day, sheet: Sheet, edge_s: float) -> tuple[str, float]:
    """What told the start of a launch, and when that was."""
    low, high = edge_s - LOOK_BACK_S, edge_s + LOOK_ON_S
    if sheet.launch_start == "throttle_or_engine":
        for key, (least, straight) in RISES.items():
            channel = day.channels.get(key)
            found = None if channel is None else foot(channel, low, high, least, straight)
            if found is not None:
                return key, found
    found = _moved(day.channels["speed"], low, high + 4.0)
    if found is None:
        raise CannotRecompute("nothing tells the audit when the launch began")
    return "speed", found


def foot(
    channel: Recorded, low_s: float, high_s: float, least: float, straight: float
) -> float | None:
    """Where the last rise of a channel in a stretch begins: its line, back to where it stood."""
    here = channel.within(low_s, high_s)
    t, values = here.t_s, here.values
    if t.size < 8 or float(np.ptp(values)) < least:
        return None
    last = int(np.flatnonzero(values < (values.min() + values.max()) / 2)[-1])
    if last + 2 >= t.size:
        return None
    last = _still(t, values, last)
    before = values[(t >= t[last] - 1.0) & (t <= t[last])]
    level = float(np.median(before))
    after_it = values[(t > t[last]) & (t <= t[last] + 1.5)]
    if not after_it.size:
        return None
    top = float(after_it.max())
    floor = level + max(0.02 * (top - level), min(6 * _spread(before), least))
    line = [int(row) for row in range(last, t.size) if values[row] >= floor][:1]
    while line and len(line) < 6 and line[-1] + 1 < t.size:
        after = line[-1] + 1
        if not values[line[-1]] < values[after] <= level + straight * (top - level):
            break
        line.append(after)
    if not line:
        return None
    earliest, latest = float(t[max(line[0] - 1, 0)]), float(t[line[0]])
    if len(line) > 1:
        traced = _back(t[line], values[line], level)
        if earliest - 0.3 * channel.period_s <= traced <= latest:
            return traced
    return (earliest + latest) / 2


def _still(t: Floats, values: Floats, last: int) -> int:
    """From a sample on the way up back to where the channel no longer climbs."""
    steps = max(round(0.3 / float(np.median(np.diff(t)))), 2)
    quiet = max(0.02 * float(np.ptp(values)), 3 * _spread(np.diff(values[:last])))
    while last >= steps and values[last] - values[last - steps] > quiet:
        last -= 1
    return last


def _spread(values: Floats) -> float:
    if not values.size:
        return 0.0
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


def _back(t: Floats, values: Floats, level: float) -> float:
    """Where a least-squares line meets a level."""
    middle, mean = t.mean(), values.mean()
    slope = float(np.sum((t - middle) * (values - mean)) / np.sum((t - middle) ** 2))
    return float(middle + (level - mean) / slope) if slope > 0 else math.nan


def _moved(speed: Recorded, low_s: float, high_s: float) -> float | None:
    """The boat's first movement."""
    curve = Curve(speed, "parabola" if speed.period_s <= 0.2 else "neighbours")
    t = np.arange(low_s, high_s, FINE_S * 2.5)
    values = curve.values(t)
    level = float(np.nanmedian(values[: round(2.0 / (FINE_S * 2.5))]))
    high = np.flatnonzero(values > level + 3.0)
    if not high.size:
        return None
    under = np.flatnonzero(~(values[: high[0]] > level + 1.0))
    begin = int(under[-1]) + 1 if under.size else 0
    if high[0] - begin < 3:
        return None
    found = _back(t[begin : high[0]], values[begin : high[0]], level)
    return found if math.isfinite(found) else None


def reached(curve: Curve, t: Floats, values: Floats, wanted: float) -> float:
    """The first instant at which a speed that was lower is reached; NaN where none is, or a hole
    comes before."""
    over = np.flatnonzero(~(values < wanted))
    if not over.size or over[0] == 0 or not values[over[0]] >= wanted:
        return math.nan
    # What is read off jumps a little as samples come into its window: a thousandth of a second is
    # looked at first, and only that is halved.
    pieces: list[float] = np.linspace(t[over[0] - 1], t[over[0]], PIECES + 1).tolist()
    first = next(row for row in range(1, PIECES + 1) if curve.at(pieces[row]).value >= wanted)
    low, high = pieces[first - 1], pieces[first]
    while high - low > CLOSE_S:
        middle = (low + high) / 2
        low, high = (low, middle) if curve.at(middle).value >= wanted else (middle, high)
    return high
