"""Sensors that stay at one value while the boat does not."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from sync.channel import Channel
from sync.clock import Span
from sync.health.rules import Ailment
from sync.health.stretches import known, same_value

STUCK_S, COARSE_STUCK_S, LEVER_STUCK_S = 5.0, 15.0, 120.0
STUCK_SAMPLES = 5
COARSE = 100.0
"""With fewer steps to its range than this a channel may well stay at one."""

FROZEN_S, FROZEN_SAMPLES = 5.0, 20
FROZEN_CHANCE = 1e-6
FROZEN_STEPS = 300.0
"""A channel with fewer steps to its range holds one of them now and then, where its noise
grows with its value and is small for once."""

UNDER_WAY_MPS = 5.0
HELD = ("throttle", "gear", "trim", "rudder", "engine_hours", "fuel_level", "trip_fuel")
"""What a hand sets, and what only creeps."""

POWER = ("engine_speed", "fuel_flow")
IDLE_SHARE = 0.25
"""Share of what an engine does at full throttle below which it may well idle."""

SMOOTH_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """A channel that moves with another: by how much, in SI, it must swing for that one not to
    stay where it was; `rising` where a fall tells nothing."""

    name: str
    swing: float
    rising: bool = False


WITNESSES: Mapping[str, tuple[Witness, ...]] = MappingProxyType(
    {
        # An engine idles at one speed and burns nothing while the boat slows down, so that only
        # a rise of the others speaks against it.
        "engine_speed": (
            Witness(name="speed", swing=3.0, rising=True),
            Witness(name="throttle", swing=0.2, rising=True),
            Witness(name="fuel_flow", swing=3e-6, rising=True),
        ),
        "fuel_flow": (Witness(name="engine_speed", swing=1000 / 60, rising=True),),
        "throttle": (Witness(name="engine_speed", swing=2000 / 60, rising=True),),
        "water_speed": (Witness(name="speed", swing=5.0),),
        "pitch": (Witness(name="speed", swing=5.0),),
        "acceleration": (Witness(name="speed", swing=5.0),),
        "roll": (Witness(name="course", swing=math.radians(45)),),
        "turn_rate": (Witness(name="course", swing=math.radians(45)),),
        "heading": (Witness(name="course", swing=math.radians(45)),),
        "magnetic_heading": (Witness(name="course", swing=math.radians(45)),),
        "course": (Witness(name="heading", swing=math.radians(45)),),
    }
)
"""By channel name, what must be at rest while it is."""


def frozen_ailments(channels: Mapping[str, Channel]) -> list[Ailment]:
    """Channels that stay at one value, the rest of the boat not."""
    found = []
    for channel in channels.values():
        told = _stuck(channel, channels) or _frozen(channel, channels.get("speed"))
        if told is not None:
            found.append(told)
    return found


def _stuck(channel: Channel, channels: Mapping[str, Channel]) -> Ailment | None:
    """The longest stretch at one value that a witness speaks against."""
    witnesses = WITNESSES.get(channel.name, ())
    if not witnesses and channel.name != "speed":
        return None
    least_s = LEVER_STUCK_S if channel.name in HELD else STUCK_S
    if channel.name not in HELD and _is_coarse(channel, COARSE):
        least_s = COARSE_STUCK_S
    spans = sorted(same_value(channel, least_s, STUCK_SAMPLES), key=lambda one: -one[0].length_s)
    for span, value in spans:
        for witness in witnesses:
            if _moved(channels.get(witness.name), span, witness):
                return _told("stuck", channel, span, f"while {_words(witness.name)} moves")
        if channel.name == "speed" and _left_behind(channels, span, value):
            return _told("stuck", channel, span, "while the position moves otherwise")
    return None


def _told(rule: str, channel: Channel, span: Span, while_: str) -> Ailment:
    whole = channel.span
    assert whole is not None  # it has values that do not change
    always = span.length_s >= 0.99 * whole.length_s
    many = "for the whole of the log" if always else f"for {span.length_s:.0f} s"
    text = f"has one and the same value {many}, {while_}"
    return Ailment(rule=rule, channel=channel.key, text=text, span=None if always else span)


def _words(name: str) -> str:
    return name.replace("_", " ")


def _is_coarse(channel: Channel, steps: float) -> bool:
    """Whether a channel has few steps; one that never changes has none to go by."""
    _, values = known(channel)
    resolution = channel.resolution
    return math.isfinite(resolution) and float(np.ptp(values)) < steps * resolution


def _moved(channel: Channel | None, span: Span, witness: Witness) -> bool:
    """Whether a witness swings inside a stretch, single strays and its very ends left out."""
    if channel is None:
        return False
    t, values = known(channel.cut(Span(start_s=span.start_s + 0.5, stop_s=span.stop_s - 0.5)))
    count = math.floor(SMOOTH_S / channel.period_s) if channel.period_s > 0 else 0
    if t.size < max(4, 2 * count):
        return False
    if channel.kind.turns:
        values = np.unwrap(values)
    if count > 1:
        values = np.convolve(values, np.full(count, 1 / count), mode="valid")
    if witness.rising:
        return bool(np.max(values - np.minimum.accumulate(values)) >= witness.swing)
    return bool(np.ptp(values) >= witness.swing)


def _left_behind(channels: Mapping[str, Channel], span: Span, speed_mps: float) -> bool:
    """Whether the boat's place moved at another speed than the one that stands."""
    ends = np.array([span.start_s + 0.5, span.stop_s - 0.5])
    if not {"latitude", "longitude"} <= set(channels):
        return False
    latitude, longitude = channels["latitude"].at(ends), channels["longitude"].at(ends)
    north = (latitude[1] - latitude[0]) * 111_200
    east = (longitude[1] - longitude[0]) * 111_200 * math.cos(math.radians(latitude[0]))
    went_mps = math.hypot(north, east) / (ends[1] - ends[0])
    # A boat that turns covers less ground than its speed says; one at rest none.
    return bool(went_mps - speed_mps > 1.0)


def _frozen(channel: Channel, speed: Channel | None) -> Ailment | None:
    """A stretch under way at one value that chance does not account for.

    ::

        chance = steps · pⁿ     p: share of steps under way that change nothing
    """
    if speed is None or channel.name in HELD or channel.kind.quantity == "temperature":
        return None
    t, values = known(channel)
    if t.size < 10 * FROZEN_SAMPLES or _is_coarse(channel, FROZEN_STEPS):
        return None
    fast = speed.at(t)
    with np.errstate(invalid="ignore"):
        under_way = (fast[1:] >= UNDER_WAY_MPS) & (fast[:-1] >= UNDER_WAY_MPS)
    spans = [
        span
        for span, _ in same_value(channel, FROZEN_S, FROZEN_SAMPLES)
        if np.all(speed.at(np.array([span.start_s, span.stop_s])) >= UNDER_WAY_MPS)
    ]
    outside = under_way.copy()
    for span in spans:
        outside &= ~((t[1:] > span.start_s) & (t[1:] <= span.stop_s))
    steps = int(np.sum(outside))
    if steps < 10 * FROZEN_SAMPLES:
        return None
    same = float(np.mean((np.diff(values) == 0)[outside]))
    # An engine whose throttle is closed idles on one value while the boat still runs on.
    idles = IDLE_SHARE * float(np.percentile(values, 95)) if channel.name in POWER else -np.inf
    for span in sorted(spans, key=lambda one: -one.length_s):
        if float(channel.at(span.start_s)[0]) < idles:
            continue
        count = int(np.sum((t >= span.start_s) & (t <= span.stop_s))) - 1
        if steps * max(same, 1 / steps) ** count < FROZEN_CHANCE:
            return _told("frozen", channel, span, "under way, where it otherwise changes")
    return None
