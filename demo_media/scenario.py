"""The demo's day: when things happen on which clock, and how wrong each instrument is.

Times of the day count from `DAY_START`. Everything that a reader of the logs has to find out
stands here once, and goes into the truth as it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np

from demo_media.noise import Floats
from demo_media.programme import LAUNCH_T_S, Part
from demo_media.shots import BOW, SHOTS, Shot
from sync.clock import utc_seconds

DAY_START = datetime(2026, 6, 11, 4, 12, 0, tzinfo=UTC)
"""The first instant of the simulated morning, in UTC."""

LADDER_MPH = (10, 20, 30, 40)
"""Speeds that the launch is timed through."""

MPH = 0.44704
"""Statute mile an hour in m/s (5280 · 0.3048 / 3600)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruments:
    """Delays, noise and mounting errors of what logs the day; a seed for all chance.

    The engine log's clock has counted from `engine_clock_start_s` when the clap sounds, and
    from there on counts fewer seconds than there are, by the share `engine_clock_slow`.
    """

    seed: int = 60311
    gps_hz: float = 10.0
    gps_delay_s: float = 0.20
    gps_noise_mps: float = 0.035
    gps_noise_time_s: float = 0.3
    engine_hz: float = 10.0
    engine_delay_s: float = 0.15
    throttle_delay_s: float = 0.0
    engine_clock_start_s: float = -1284.637
    engine_clock_slow: float = 14e-6
    attitude_hz: float = 50.0
    attitude_delay_s: float = 0.02
    pitch_tilt_deg: float = 0.7
    roll_tilt_deg: float = -0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """Instants in seconds of the day; the clap's is when the bars meet.

    Two of them are marked in the logs by a button on the engine's gateway: one after the
    first launch and one at the day's end.
    """

    clap_s: float = 62.38417
    launch_s: float = LAUNCH_T_S
    button_s: float = 148.05236
    evening_s: float = 2381.71628
    clap_distance_m: float = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class DropOut:
    """A stretch in which the receiver has no fix: the boat passes under a bridge."""

    start_s: float = 2031.0
    stop_s: float = 2039.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One demo trial in full."""

    instruments: Instruments
    moments: Moments
    day_start_utc_s: float
    drop_out: DropOut = field(default_factory=DropOut)
    air_c: float = 17.0
    zone_s: float = 3 * 3600.0

    def utc(self, day_s: float) -> float:
        """A time of the day as UTC seconds."""
        return self.day_start_utc_s + day_s

    @property
    def sound_speed_mps(self) -> float:
        """Speed of sound in dry air, 331.3·√(1 + T/273.15)."""
        return 331.3 * math.sqrt(1 + self.air_c / 273.15)

    @property
    def footage_offset_s(self) -> float:
        """UTC less footage time, of the first recording."""
        return self.utc(BOW.start_s)

    @property
    def engine_offset_s(self) -> float:
        """UTC less the engine log's own time, at the clap."""
        return self.utc(self.instruments.engine_clock_start_s)

    @property
    def engine_rate(self) -> float:
        """Seconds of UTC in a second of the engine log's clock."""
        return 1 / (1 - self.instruments.engine_clock_slow)

    def engine_own(self, day_s: float) -> float:
        """A time of the day on the engine log's own clock."""
        since_clap = day_s - self.moments.clap_s
        start = self.instruments.engine_clock_start_s
        return day_s - start - self.instruments.engine_clock_slow * since_clap

    def engine_day(self, own_s: Floats) -> Floats:
        """Times on the engine log's own clock as times of the day."""
        clap = self.moments.clap_s
        return np.asarray(clap + (own_s - self.engine_own(clap)) * self.engine_rate)

    def marks(self, part: Part) -> tuple[tuple[float, str], ...]:
        """The tie marks of a part of the day and what the crew calls them."""
        moments = self.moments
        first = ((moments.clap_s, "clap"), (moments.button_s, "button"))
        return first if part == "morning" else (*first, (moments.evening_s, "evening button"))

    def shots(self, part: Part) -> tuple[Shot, ...]:
        """The recordings of a part of the day."""
        return SHOTS if part == "day" else (BOW,)

    @property
    def clap_heard_s(self) -> float:
        """When the clap reaches the camera, in footage time."""
        moments = self.moments
        flight = moments.clap_distance_m / self.sound_speed_mps
        return moments.clap_s + flight - BOW.start_s

    def creation_utc_s(self, shot: Shot, file: int = 0) -> float:
        """What the container of a recording's file says of when it was begun.

        The camera's own belief, in whole seconds, and in its local time where it takes that
        for UTC.
        """
        begun = self.utc(shot.start_s + shot.begins_s[file])
        return math.floor(begun + shot.camera_fast_s) + (self.zone_s if shot.local_stamp else 0.0)


DEMO_SCENARIO = Scenario(
    instruments=Instruments(),
    moments=Moments(),
    day_start_utc_s=utc_seconds(DAY_START),
)
"""The scenario of the demo trial."""
