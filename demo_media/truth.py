"""What the logs and the footage of the demo truly are, for whoever checks a result."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass
from typing import Any

from demo_media.boat import Setup
from demo_media.listening import engine_way_m
from demo_media.programme import Part, Piece, programme
from demo_media.propeller import slip
from demo_media.scenario import LADDER_MPH, MPH, Scenario
from demo_media.shots import BOW, Shot
from demo_media.simulate import Day
from sync.clock import utc_text

SCHEMA = "truth/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingTruth:
    """One recording: its clock, its files, and how far its engine is away.

    `offset_s` is UTC less footage time, at a rate of 1. `begins_s` and `creation_utc_s` have
    a value for each file: where in the recording it begins, and what its container says of
    when that was; `camera_fast_s` is the camera's error, and `local_stamp` says that local
    time stands there as UTC. `engine_distance_m` has the least and the most of the sound's
    way from the engine.
    """

    name: str
    files: tuple[str, ...]
    offset_s: float
    length_s: float
    begins_s: tuple[float, ...]
    creation_utc_s: tuple[float, ...]
    camera_fast_s: float
    local_stamp: bool
    engine_distance_m: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceTruth:
    """A stretch of the day: what it was for, and its true means.

    Speeds are the boat's through the water, negative astern, and the size of that over
    ground. `heading_deg` is None where it changes, `set_rpm` where none was held, and
    `spoiled` tells a launch in which the propeller drew air. `launch_times_s` counts as
    `Truth.launch_times_s` does; other pieces have none.
    """

    name: str
    kind: str
    start_utc_s: float
    stop_utc_s: float
    heading_deg: float | None
    set_rpm: float | None
    spoiled: bool
    engine_speed_rpm: float
    water_speed_mps: float
    ground_speed_mps: float
    fuel_flow_lph: float
    turned_deg: float
    launch_times_s: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The demo's answers. Times named `_utc_s` are UTC seconds since 1970.

    `footage_offset_s` is UTC less the first recording's footage time, at a rate of 1.
    `engine_offset_s` is UTC less the engine log's own time at the clap, from which on a
    second of that clock is `engine_rate` seconds of UTC. `launch_times_s` counts from the
    lever's first movement to the first instant at which the noise-free speed over ground
    reaches each speed of the ladder, in mph. The names without a number that speak of a
    launch or of footage are of the first; `pieces` and `recordings` have all.
    """

    part: Part
    footage_offset_s: float
    footage_creation_utc_s: float
    camera_fast_s: float
    engine_offset_s: float
    engine_rate: float
    delays_s: dict[str, float]
    tilt_deg: dict[str, float]
    current: dict[str, float]
    clap_utc_s: float
    clap_seen_footage_s: float
    clap_heard_footage_s: float
    clap_distance_m: float
    sound_speed_mps: float
    button_utc_s: float
    marks_utc_s: dict[str, float]
    launch_utc_s: float
    launch_footage_s: float
    launch_times_s: dict[str, float]
    figures: dict[str, float]
    ventilated_utc_s: tuple[tuple[float, float], ...]
    drop_out_utc_s: tuple[tuple[float, float], ...]
    pieces: tuple[PieceTruth, ...]
    recordings: tuple[RecordingTruth, ...]

    def json(self) -> str:
        """The truth as a document, instants written out beside their seconds."""
        values = asdict(self)
        instants = {
            name.removesuffix("_s"): utc_text(value, 6)
            for name, value in values.items()
            if name.endswith("_utc_s") and isinstance(value, float)
        }
        document = {"schema": SCHEMA, "series": "truth.npz", **values, "instants": instants}
        return json.dumps(document, indent=2) + "\n"


def truth_of(day: Day, scenario: Scenario, setup: Setup, part: Part = "morning") -> Truth:
    """Work the answers out of the noise-free series of a part of the day."""
    moments, drop = scenario.moments, scenario.drop_out
    plan = programme(part)
    inside = drop.stop_s <= plan.script.length_s
    return Truth(
        part=part,
        footage_offset_s=scenario.footage_offset_s,
        footage_creation_utc_s=scenario.creation_utc_s(BOW),
        camera_fast_s=BOW.camera_fast_s,
        engine_offset_s=scenario.engine_offset_s,
        engine_rate=scenario.engine_rate,
        current=_current(setup),
        clap_utc_s=scenario.utc(moments.clap_s),
        clap_seen_footage_s=moments.clap_s - BOW.start_s,
        clap_heard_footage_s=scenario.clap_heard_s,
        clap_distance_m=moments.clap_distance_m,
        sound_speed_mps=scenario.sound_speed_mps,
        button_utc_s=scenario.utc(moments.button_s),
        marks_utc_s={label: scenario.utc(day_s) for day_s, label in scenario.marks(part)},
        launch_utc_s=scenario.utc(moments.launch_s),
        launch_footage_s=moments.launch_s - BOW.start_s,
        launch_times_s=launch_times(day, moments.launch_s),
        figures=figures(day, moments.launch_s, setup),
        ventilated_utc_s=tuple(
            (scenario.utc(air.start_s), scenario.utc(air.stop_s)) for air in plan.script.airings
        ),
        drop_out_utc_s=((scenario.utc(drop.start_s), scenario.utc(drop.stop_s)),) if inside else (),
        pieces=tuple(_piece(day, scenario, piece) for piece in plan.pieces),
        recordings=tuple(_recording(day, scenario, shot) for shot in scenario.shots(part)),
        **_errors(scenario),
    )


def _errors(scenario: Scenario) -> dict[str, Any]:
    """How late and how tilted the instruments are."""
    tools = scenario.instruments
    return {
        "delays_s": {
            "gps.speed": tools.gps_delay_s,
            "engine.engine_speed": tools.engine_delay_s,
            "engine.fuel_flow": tools.engine_delay_s,
            "engine.throttle": tools.throttle_delay_s,
            "attitude": tools.attitude_delay_s,
        },
        "tilt_deg": {"pitch": tools.pitch_tilt_deg, "roll": tools.roll_tilt_deg},
    }


def _current(setup: Setup) -> dict[str, float]:
    return {
        "speed_mps": setup.weather.current_mps,
        "to_deg": setup.weather.current_to_deg,
    }


def _piece(day: Day, scenario: Scenario, piece: Piece) -> PieceTruth:
    during = (day.t_s >= piece.start_s) & (day.t_s < piece.stop_s)

    def mean(name: str) -> float:
        return float(getattr(day, name)[during].mean())

    heading = day.heading_rad[during]
    return PieceTruth(
        name=piece.name,
        kind=piece.kind,
        start_utc_s=scenario.utc(piece.start_s),
        stop_utc_s=scenario.utc(piece.stop_s),
        heading_deg=piece.heading_deg,
        set_rpm=piece.set_rpm,
        spoiled=piece.spoiled,
        engine_speed_rpm=mean("engine_rps") * 60,
        water_speed_mps=mean("water_mps"),
        ground_speed_mps=mean("speed_mps"),
        fuel_flow_lph=mean("fuel_flow_lph"),
        turned_deg=math.degrees(float(heading[-1] - heading[0])),
        launch_times_s=launch_times(day, piece.start_s) if piece.kind == "launch" else {},
    )


def _recording(day: Day, scenario: Scenario, shot: Shot) -> RecordingTruth:
    way = engine_way_m(day, scenario, shot)
    return RecordingTruth(
        name=shot.name,
        files=shot.files,
        offset_s=scenario.utc(shot.start_s),
        length_s=shot.recipe.length_s,
        begins_s=shot.begins_s,
        creation_utc_s=tuple(scenario.creation_utc_s(shot, i) for i in range(len(shot.files))),
        camera_fast_s=shot.camera_fast_s,
        local_stamp=shot.local_stamp,
        engine_distance_m=(float(way.min()), float(way.max())),
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
