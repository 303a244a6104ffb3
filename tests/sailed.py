"""A simulated day as channels: what an honest set of instruments would have logged of it.

The boat is the demo's; the script is this file's own, so that the tests know what was done
when: rest, four steps each way, a launch each way, each with the idling and turning between.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from demo_media.boat import DEMO
from demo_media.noise import coloured, generator
from demo_media.script import Command, Script
from demo_media.simulate import Day, simulate
from demo_media.swell import make_swell
from sync.channel import Channel
from sync.clock import UTC, utc_text

T0 = 1_781_150_400.0
"""2026-06-11T04:00:00Z, the first instant of the day."""

COURSES = (45.0, 225.0)
LEVERS = (0.30, 0.60, 0.80, 1.0)
REST_S, HOLD_S, LAUNCH_S = 30.0, 32.0, 32.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """Something that the helmsman did: what, when it began and ended, on which course."""

    what: str
    start_s: float
    stop_s: float
    course_deg: float


def script() -> tuple[Script, tuple[Done, ...]]:
    """What the helmsman does, and what that comes to."""
    commands = [Command(t_s=0.0, lever=0.0, course_deg=COURSES[0])]
    done = []
    t = REST_S
    for course in COURSES:
        for lever in LEVERS:
            commands.append(Command(t_s=t, lever=lever, lever_s=1.5, course_deg=course))
            done.append(Done(what="step", start_s=t, stop_s=t + HOLD_S, course_deg=course))
            t += HOLD_S
        t = _back_to_rest(commands, t, course)
    for course in COURSES:
        commands.append(Command(t_s=t, lever=1.0, lever_s=0.6, course_deg=course))
        done.append(Done(what="launch", start_s=t, stop_s=t + LAUNCH_S, course_deg=course))
        t = _back_to_rest(commands, t + LAUNCH_S, course)
    made = Script(commands=tuple(commands), length_s=t, heading_deg=COURSES[0])
    return made, tuple(done)


def _back_to_rest(commands: list[Command], t: float, course: float) -> float:
    """Slow down, turn round in gear, and lie still."""
    back = (course + 180) % 360
    commands.append(Command(t_s=t, lever=0.10, lever_s=1.5, course_deg=course))
    commands.append(Command(t_s=t + 8, lever=0.10, course_deg=back))
    commands.append(Command(t_s=t + 34, lever=0.0, course_deg=back))
    commands.append(Command(t_s=t + 40, lever=-0.10, lever_s=0.4, course_deg=back))
    commands.append(Command(t_s=t + 43, lever=0.0, lever_s=0.4, course_deg=back))
    return t + 60


@cache
def sailed(swell: int = 11, current_mps: float = 0.2) -> Day:
    """The day on one of many waters."""
    setup = replace(DEMO, weather=replace(DEMO.weather, current_mps=current_mps))
    to_deg = DEMO.weather.wind_from_deg + 180.0
    return simulate(script()[0], setup, make_swell(swell, to_deg, DEMO.hull.length_m))


def logged(day: Day, seed: int = 1, tilt_deg: float = 0.7) -> dict[str, Channel]:
    """The day's channels on UTC, without delay, with coloured noise and their last digits."""
    rng = generator(seed, "sailed")
    slow, fast = np.arange(0.0, day.t_s[-1], 0.1), np.arange(0.0, day.t_s[-1], 0.02)

    def noisy(name: str, t: np.ndarray, sd: float, time_s: float) -> np.ndarray:
        period = float(t[1] - t[0])
        return day.at(name, t) + coloured(rng, t.size, sd=sd, period_s=period, time_s=time_s)

    speed = np.abs(noisy("speed_mps", slow, 0.045, 0.3))
    course = np.interp(slow, day.t_s, np.unwrap(day.course_rad))
    course += rng.normal(0, 0.045, slow.size) / np.maximum(speed, 0.3)
    course = np.where(speed < 0.26, np.nan, np.mod(course, 2 * math.pi))
    flow = day.at("fuel_flow_lph", slow) * (1 + rng.normal(0, 0.006, slow.size))
    x, y = noisy("x_m", slow, 0.4, 40.0), noisy("y_m", slow, 0.4, 40.0)
    degree = math.pi / 180
    rows = {
        "speed": (slow, _steps(speed, 0.01 * 1852 / 3600)),
        "course": (slow, course),
        "latitude": (slow, _steps(60.0 + y / 111_200, 1e-5 / 60)),
        "longitude": (slow, _steps(24.0 + x / 55_600, 1e-5 / 60)),
        "engine_speed": (slow, _steps(noisy("engine_rps", slow, 5 / 60, 0.2), 0.25 / 60)),
        "throttle": (slow, _steps(np.abs(day.at("lever", slow)), 0.001)),
        "gear": (slow, np.round(day.at("gear", slow))),
        "fuel_flow": (slow, _steps(np.maximum(flow, 0), 0.1) / 3.6e6),
        "pitch": (fast, _steps(noisy("pitch_rad", fast, 1e-3, 0.05) + tilt_deg * degree, 1.7e-4)),
        "roll": (fast, _steps(noisy("roll_rad", fast, 1e-3, 0.05), 1.7e-4)),
        "turn_rate": (fast, _steps(noisy("turn_rate_radps", fast, 2e-3, 0.03), 1.7e-4)),
        "acceleration": (fast, _steps(noisy("acceleration_mps2", fast, 0.06, 0.03), 0.001)),
    }
    return {
        key: Channel(name=key, clock=UTC, t_s=T0 + t, values=values, source="test")
        for key, (t, values) in rows.items()
    }


def _steps(values: np.ndarray, step: float) -> np.ndarray:
    return np.round(values / step) * step


def changed(channel: Channel, values: np.ndarray) -> Channel:
    """The channel with other values."""
    return replace(channel, values=values)


def within(channel: Channel, start_s: float, stop_s: float) -> np.ndarray:
    """Flags of the samples between two times of the day."""
    return (channel.t_s - T0 >= start_s) & (channel.t_s - T0 < stop_s)


def only(channel: Channel, keep: np.ndarray) -> Channel:
    """The channel with nothing but some of its samples."""
    return replace(channel, t_s=channel.t_s[keep], values=channel.values[keep])


ENGINE_T0 = T0 - 300.0
"""UTC at which the engine log's own clock stood at nought."""

BUTTONS_S = (4.0, 570.0)
"""When somebody pressed the button that both the marks and the engine log have."""

DEGREES = 180 / math.pi
COLUMNS: dict[str, dict[str, tuple[str, float, int]]] = {
    "gps": {
        "speed": ("speed (kn)", 3600 / 1852, 2),
        "course": ("course (deg)", DEGREES, 1),
        "latitude": ("latitude", 1.0, 7),
        "longitude": ("longitude", 1.0, 7),
    },
    "engine": {
        "engine_speed": ("rpm", 60.0, 2),
        "throttle": ("throttle (%)", 100.0, 1),
        "gear": ("gear", 1.0, 0),
        "fuel_flow": ("fuel_flow_lph", 3.6e6, 1),
    },
    "attitude": {
        "pitch": ("pitch (deg)", DEGREES, 2),
        "roll": ("roll (deg)", DEGREES, 2),
        "turn_rate": ("turn rate (deg/s)", DEGREES, 2),
    },
}
"""By log, its columns: channel, heading, what SI is multiplied by, and decimals."""

SHEET = """\
schema = "trial/1"
name = "Reciprocal day"
date = 2026-06-11
time_zone = "Europe/Helsinki"
units = "us"
[load]
usable_tank = "100 L"
test_mass = "1180 kg"
[propeller]
pitch = "21 in"
[[engines]]
rated_rpm = [5000, 6000]
[[logs]]
name = "gps"
file = "gps.csv"
[[logs]]
name = "engine"
file = "engine.csv"
clock = "own"
[[logs]]
name = "attitude"
file = "attitude.csv"
[[logs]]
name = "marks"
file = "marks.csv"
"""

DELAYS = "".join(
    f'[[sensors]]\nlog = "{log}"\nchannel = "{channel}"\ndelay = "0.00 s"\ndelay_sd = "0.01 s"\n'
    for log, channel in (
        ("gps", "speed"),
        ("engine", "engine_speed"),
        ("engine", "throttle"),
        ("engine", "fuel_flow"),
    )
)
DELAYS += '[[sensors]]\nlog = "attitude"\nchannel = "pitch"\naided = true\n'


def write_trial(folder: Path, channels: dict[str, Channel], more: str = DELAYS) -> Path:
    """The day as a crew brings it home: four logs and a sheet, which is returned."""
    folder.mkdir(exist_ok=True)
    for log, columns in COLUMNS.items():
        there = {key: form for key, form in columns.items() if key in channels}
        own = log == "engine"
        rows = list(_rows(channels, there))
        if own:
            rows += [(T0 + t, "," * len(there) + "button") for t in BUTTONS_S]
        head = ["time (s)" if own else "time", *(form[0] for form in there.values())]
        text = ",".join([*head, "event"] if own else head) + "\n"
        for t, line in sorted(rows):
            stamp = f"{t - ENGINE_T0:.3f}" if own else utc_text(t, 3)
            text += f"{stamp},{line}\n"
        (folder / f"{log}.csv").write_text(text)
    marks = "".join(f"{utc_text(T0 + t, 3)},button\n" for t in BUTTONS_S)
    (folder / "marks.csv").write_text(f"time,event\n{marks}")
    (folder / "trial.toml").write_text(SHEET + more)
    return folder / "trial.toml"


def _rows(
    channels: dict[str, Channel], there: dict[str, tuple[str, float, int]]
) -> Iterator[tuple[float, str]]:
    first = channels[next(iter(there))]
    last = "," if "engine_speed" in there else ""
    cells = []
    for key, (_, scale, digits) in there.items():
        values = dict(zip(channels[key].t_s.tolist(), channels[key].values.tolist(), strict=True))
        cells.append(
            [
                ""
                if math.isnan(value := values.get(t, math.nan))
                else f"{value * scale:.{digits}f}"
                for t in first.t_s.tolist()
            ]
        )
    for t, *row in zip(first.t_s.tolist(), *cells, strict=True):
        yield t, ",".join(row) + last
