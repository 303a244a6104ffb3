"""The tables that the other instruments write: engine, attitude and tie marks."""

from __future__ import annotations

import numpy as np

from demo_media.noise import coloured, generator
from demo_media.scenario import Scenario
from demo_media.simulate import Day
from sync.clock import utc_text

CLAP, BUTTON = "clap", "button"
"""What the crew calls the two instants that the logs share."""


def engine_log(day: Day, scenario: Scenario) -> str:
    """The engine gateway's table, in seconds since it was switched on.

    Engine speed and fuel flow stand the gateway's delay later than they were true; the lever
    sensor is read as the row is written. The two marks have rows of their own.
    """
    tools = scenario.instruments
    rng = generator(tools.seed, "engine")
    start = tools.engine_clock_start_s
    period = 1 / tools.engine_hz
    first = np.ceil(-start / period) * period
    own = np.arange(first + 0.05, day.t_s[-1] - start - 0.05, period)
    own = np.round(own + rng.uniform(-0.002, 0.002, own.size), 3)
    t = own + start
    late = t - tools.engine_delay_s
    rpm = day.at("engine_rps", late) * 60
    rpm += coloured(rng, t.size, sd=5.0, period_s=period, time_s=0.2)
    flow = day.at("fuel_flow_lph", late)
    flow = np.maximum(flow * (1 + rng.normal(0, 0.006, t.size)), 0.0)
    lever = np.abs(day.at("lever", t - tools.throttle_delay_s)) * 100
    gear = day.gear[np.searchsorted(day.t_s, t, side="right") - 1]
    rows = [
        (
            float(own[i]),
            f"{np.round(rpm[i] * 4) / 4:.2f},{lever[i]:.1f},{flow[i]:.1f},{gear[i]:.0f},",
        )
        for i in range(t.size)
    ]
    marks = ((scenario.moments.clap_s, CLAP), (scenario.moments.button_s, BUTTON))
    rows += [(day_s - start, f",,,,{label}") for day_s, label in marks]
    head = "time (s),rpm,throttle (%),fuel_flow_lph,gear,event\n"
    return head + "".join(f"{own_s:.3f},{rest}\n" for own_s, rest in sorted(rows))


def attitude_log(day: Day, scenario: Scenario) -> str:
    """The attitude sensor's table, in UTC; its box does not sit quite level on the boat."""
    tools = scenario.instruments
    rng = generator(tools.seed, "attitude")
    t = np.arange(0.0, day.t_s[-1] - 1e-9, 1 / tools.attitude_hz)
    late = t - tools.attitude_delay_s
    period = 1 / tools.attitude_hz

    def noise(sd: float, time_s: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return coloured(rng, t.size, sd=sd, period_s=period, time_s=time_s)

    pitch = np.degrees(day.at("pitch_rad", late)) + tools.pitch_tilt_deg + noise(0.06, 0.05)
    roll = np.degrees(day.at("roll_rad", late)) + tools.roll_tilt_deg + noise(0.06, 0.05)
    turn = np.degrees(day.at("turn_rate_radps", late)) + noise(0.12, 0.03)
    ahead = day.at("acceleration_mps2", late) + noise(0.06, 0.03)
    lines = ["time,pitch (deg),roll (deg),turn rate (deg/s),acceleration (m/s2)\n"]
    for i, t_s in enumerate(t.tolist()):
        lines.append(
            f"{utc_text(scenario.utc(t_s))},{pitch[i]:.2f},{roll[i]:.2f},{turn[i]:.2f},"
            f"{ahead[i]:.3f}\n"
        )
    return "".join(lines)


def marks_log(scenario: Scenario) -> str:
    """The tie marks in UTC, stamped to the millisecond."""
    marks = ((scenario.moments.clap_s, CLAP), (scenario.moments.button_s, BUTTON))
    rows = [f"{utc_text(scenario.utc(day_s))},{label}\n" for day_s, label in marks]
    return "time,event\n" + "".join(rows)
