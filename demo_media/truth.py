"""What the logs and the footage of the demo truly are, for whoever checks a result."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass

from demo_media.boat import Setup
from demo_media.propeller import slip
from demo_media.scenario import LADDER_MPH, MPH, Scenario
from demo_media.simulate import Day
from sync.clock import utc_text

SCHEMA = "truth/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The demo's answers. Times named `_utc_s` are UTC seconds since 1970.

    `footage_offset_s` and `engine_offset_s` are UTC less the other clock, both at a rate of
    1. `launch_times_s` counts from the lever's first movement to the first instant at which
    the noise-free speed over ground reaches each speed of the ladder, in mph.
    """

    footage_offset_s: float
    footage_creation_utc_s: float
    camera_fast_s: float
    engine_offset_s: float
    delays_s: dict[str, float]
    tilt_deg: dict[str, float]
    clap_utc_s: float
    clap_seen_footage_s: float
    clap_heard_footage_s: float
    clap_distance_m: float
    sound_speed_mps: float
    button_utc_s: float
    launch_utc_s: float
    launch_footage_s: float
    launch_times_s: dict[str, float]
    figures: dict[str, float]

    def json(self) -> str:
        """The truth as a document, instants written out beside their seconds."""
        values = asdict(self)
        instants = {
            name.removesuffix("_s"): utc_text(value, 6)
            for name, value in values.items()
            if name.endswith("_utc_s")
        }
        document = {"schema": SCHEMA, "series": "truth.npz", **values, "instants": instants}
        return json.dumps(document, indent=2) + "\n"


def truth_of(day: Day, scenario: Scenario, setup: Setup) -> Truth:
    """Work the answers out of the noise-free series."""
    tools, moments = scenario.instruments, scenario.moments
    start = moments.footage_start_s
    return Truth(
        footage_offset_s=scenario.footage_offset_s,
        footage_creation_utc_s=scenario.creation_utc_s,
        camera_fast_s=moments.camera_fast_s,
        engine_offset_s=scenario.engine_offset_s,
        delays_s={
            "gps.speed": tools.gps_delay_s,
            "engine.engine_speed": tools.engine_delay_s,
            "engine.fuel_flow": tools.engine_delay_s,
            "engine.throttle": tools.throttle_delay_s,
            "attitude": tools.attitude_delay_s,
        },
        tilt_deg={"pitch": tools.pitch_tilt_deg, "roll": tools.roll_tilt_deg},
        clap_utc_s=scenario.utc(moments.clap_s),
        clap_seen_footage_s=moments.clap_s - start,
        clap_heard_footage_s=scenario.clap_heard_s,
        clap_distance_m=moments.clap_distance_m,
        sound_speed_mps=scenario.sound_speed_mps,
        button_utc_s=scenario.utc(moments.button_s),
        launch_utc_s=scenario.utc(moments.launch_s),
        launch_footage_s=moments.launch_s - start,
        launch_times_s=launch_times(day, moments.launch_s),
        figures=figures(day, moments.launch_s, setup),
    )


def launch_times(day: Day, launch_s: float) -> dict[str, float]:
    """Times from the launch's start to each speed of the ladder, on lines between steps."""
    times = {}
    after = int((day.t_s < launch_s).sum())
    for mph in LADDER_MPH:
        wanted = mph * MPH
        hit = after + int((day.speed_mps[after:] >= wanted).argmax())
        before, at = float(day.speed_mps[hit - 1]), float(day.speed_mps[hit])
        if not before < wanted <= at:
            raise ValueError(f"this day never reaches {mph} mph after {launch_s} s")
        t = float(day.t_s[hit - 1]) + (wanted - before) / (at - before) * float(
            day.t_s[hit] - day.t_s[hit - 1]
        )
        times[str(mph)] = t - launch_s
    return times


def figures(day: Day, launch_s: float, setup: Setup) -> dict[str, float]:
    """What the launch comes to, for the curious and for checks of plausibility."""
    launch = (day.t_s >= launch_s) & (day.t_s < launch_s + 29.0)
    end = (day.t_s >= launch_s + 25.0) & (day.t_s < launch_s + 29.0)
    rps = float(day.engine_rps[end].mean())
    water = float(day.water_mps[end].mean())
    power_w = float((day.torque_nm[end] * day.engine_rps[end]).mean()) * 2 * math.pi
    rest = float(day.pitch_rad[(day.t_s >= launch_s - 10) & (day.t_s < launch_s)].mean())
    return {
        "top_speed_mph": float(day.speed_mps[end].mean()) / MPH,
        "top_engine_speed_rpm": rps * 60,
        "top_power_hp": power_w / 745.699872,
        "top_slip": slip(rps, water, setup.engine.gear_ratio, setup.propeller),
        "top_fuel_flow_lph": float(day.fuel_flow_lph[end].mean()),
        "running_trim_deg": math.degrees(float(day.pitch_rad[end].mean())),
        "bow_rise_deg": math.degrees(float(day.pitch_rad[launch].max()) - rest),
    }
