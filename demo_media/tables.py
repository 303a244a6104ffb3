"""The tables that the other instruments write: engine, attitude and tie marks."""

from __future__ import annotations

import numpy as np

from demo_media.noise import coloured, generator
from demo_media.programme import Part
from demo_media.scenario import Scenario
from demo_media.simulate import Day
from sync.clock import utc_text


def engine_log(day: Day, scenario: Scenario, part: Part = "morning") -> str:
    """The engine gateway's table, in seconds since it was switched on by its own clock.

    Engine speed and fuel flow stand the gateway's delay later than they were true; the lever
    sensor is read as the row is written. The marks have rows of their own.
    """
    tools = scenario.instruments
    chance = generator(tools.seed, "engine jitter")
    period = 1 / tools.engine_hz
    first = np.ceil(scenario.engine_own(0.0) / period) * period
    last = scenario.engine_own(float(day.t_s[-1]))
    own = np.arange(first + 0.05, last - 0.05, period)
    own = np.round(own + chance.uniform(-0.002, 0.002, own.size), 3)
    t = scenario.engine_day(own)
    late = t - tools.engine_delay_s
    rpm = day.at("engine_rps", late) * 60
    rpm += coloured(
        generator(tools.seed, "engine rpm"), t.size, sd=5.0, period_s=period, time_s=0.2
    )
    flow = day.at("fuel_flow_lph", late)
    chance = generator(tools.seed, "engine flow")
    flow = np.maximum(flow * (1 + chance.normal(0, 0.006, t.size)), 0.0)
    lever = np.abs(day.at("lever", t - tools.throttle_delay_s)) * 100
    gear = day.gear[np.searchsorted(day.t_s, t, side="right") - 1]
    columns = zip(
        own.tolist(),
        (np.round(rpm * 4) / 4).tolist(),
        lever.tolist(),
        flow.tolist(),
        gear.tolist(),
        strict=True,
    )
    rows = [(s, f"{n:.2f},{share:.1f},{lph:.1f},{g:.0f},") for s, n, share, lph, g in columns]
    rows += [(scenario.engine_own(day_s), f",,,,{label}") for day_s, label in scenario.marks(part)]
    head = "time (s),rpm,throttle (%),fuel_flow_lph,gear,event\n"
    return head + "".join(f"{own_s:.3f},{rest}\n" for own_s, rest in sorted(rows))


def attitude_log(day: Day, scenario: Scenario) -> str:
    """The attitude sensor's table, in UTC; its box does not sit quite level on the boat."""
    tools = scenario.instruments
    t = np.arange(0.0, day.t_s[-1] - 1e-9, 1 / tools.attitude_hz)
    late = t - tools.attitude_delay_s
    period = 1 / tools.attitude_hz

    def noise(what: str, sd: float, time_s: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        rng = generator(tools.seed, f"attitude {what}")
        return coloured(rng, t.size, sd=sd, period_s=period, time_s=time_s)

    pitch = (
        np.degrees(day.at("pitch_rad", late)) + tools.pitch_tilt_deg + noise("pitch", 0.06, 0.05)
    )
    roll = np.degrees(day.at("roll_rad", late)) + tools.roll_tilt_deg + noise("roll", 0.06, 0.05)
    turn = np.degrees(day.at("turn_rate_radps", late)) + noise("turn", 0.12, 0.03)
    ahead = day.at("acceleration_mps2", late) + noise("ahead", 0.06, 0.03)
    columns = zip(
        t.tolist(), pitch.tolist(), roll.tolist(), turn.tolist(), ahead.tolist(), strict=True
    )
    head = "time,pitch (deg),roll (deg),turn rate (deg/s),acceleration (m/s2)\n"
    return head + "".join(
        f"{utc_text(scenario.utc(s))},{p:.2f},{r:.2f},{w:.2f},{a:.3f}\n"
        for s, p, r, w, a in columns
    )


def marks_log(scenario: Scenario, part: Part = "morning") -> str:
    """The tie marks in UTC, stamped to the millisecond."""
    rows = [f"{utc_text(scenario.utc(day_s))},{label}\n" for day_s, label in scenario.marks(part)]
    return "time,event\n" + "".join(rows)
