"""The demo's day: when things happen on which clock, and how wrong each instrument is.

Times of the day count from `DAY_START`. Everything that a reader of the logs has to find out
stands here once, and goes into the truth as it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

from demo_media.script import LAUNCH_T_S
from sync.clock import utc_seconds

DAY_START = datetime(2026, 6, 11, 4, 12, 0, tzinfo=UTC)
"""The first instant of the simulated morning, in UTC."""

LADDER_MPH = (10, 20, 30, 40)
"""Speeds that the launch is timed through."""

MPH = 0.44704
"""Statute mile an hour in m/s (5280 · 0.3048 / 3600)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruments:
    """Delays, noise and mounting errors of what logs the day; a seed for all chance."""

    seed: int = 60311
    gps_hz: float = 10.0
    gps_delay_s: float = 0.20
    gps_noise_mps: float = 0.045
    gps_noise_time_s: float = 0.3
    engine_hz: float = 10.0
    engine_delay_s: float = 0.15
    throttle_delay_s: float = 0.0
    engine_clock_start_s: float = -1284.637
    attitude_hz: float = 50.0
    attitude_delay_s: float = 0.02
    pitch_tilt_deg: float = 0.7
    roll_tilt_deg: float = -0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """Instants in seconds of the day; the clap's is when the bars meet."""

    footage_start_s: float = 57.217
    clap_s: float = 62.38417
    launch_s: float = LAUNCH_T_S
    button_s: float = 148.05236
    clap_distance_m: float = 1.5
    camera_fast_s: float = 37.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One demo trial in full."""

    instruments: Instruments
    moments: Moments
    day_start_utc_s: float
    air_c: float = 17.0

    def utc(self, day_s: float) -> float:
        """A time of the day as UTC seconds."""
        return self.day_start_utc_s + day_s

    @property
    def sound_speed_mps(self) -> float:
        """Speed of sound in dry air, 331.3·√(1 + T/273.15)."""
        return 331.3 * math.sqrt(1 + self.air_c / 273.15)

    @property
    def footage_offset_s(self) -> float:
        """UTC less footage time."""
        return self.utc(self.moments.footage_start_s)

    @property
    def engine_offset_s(self) -> float:
        """UTC less the engine log's own time."""
        return self.utc(self.instruments.engine_clock_start_s)

    @property
    def clap_heard_s(self) -> float:
        """When the clap reaches the camera, in footage time."""
        moments = self.moments
        flight = moments.clap_distance_m / self.sound_speed_mps
        return moments.clap_s + flight - moments.footage_start_s

    @property
    def creation_utc_s(self) -> float:
        """What the camera believes the time to be when it starts, in the whole seconds that
        the container holds."""
        return math.floor(self.footage_offset_s + self.moments.camera_fast_s)


DEMO_SCENARIO = Scenario(
    instruments=Instruments(),
    moments=Moments(),
    day_start_utc_s=utc_seconds(DAY_START),
)
"""The scenario of the demo trial."""
