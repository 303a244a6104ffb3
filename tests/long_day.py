"""A day of any length as a trial: a simulated piece of one, sailed again and again.

Each time round ends where it began, at rest, so the pieces join without a step. Twenty channels
are logged, 10 to 100 times a second, as two engines, a receiver and an attitude sensor would.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
from sailed import T0, logged, sailed

from overlay.sheet import TrialSheet
from overlay.trial import Material, Trial, build_trial
from sync.channel import Channel
from sync.clock import UTC
from sync.log import Log
from sync.tie import Ties

RATES_HZ = {"pitch": 100.0, "roll": 100.0, "turn_rate": 100.0, "acceleration": 100.0}
TWINS = ("engine_speed", "throttle", "gear", "fuel_flow")
MORE = ("heading", "rudder", "trim", "engine_temperature", "oil_pressure", "voltage")

SHEET = {
    "schema": "trial/1",
    "units": "us",
    "boat": {"length": "6.0 m"},
    "engines": [{"power": "150 hp", "rated_rpm": [5000, 6000], "gear_ratio": 2.0}],
    "propeller": {"pitch": "21 in"},
    "load": {"test_mass": "1275 kg", "usable_tank": "100 L"},
    "logs": [{"name": "all", "file": "all.csv"}],
}


@cache
def piece() -> tuple[dict[str, Channel], float]:
    """One time round, and how long it takes."""
    day = sailed()
    return logged(day), float(day.t_s[-1])


def long_day(length_s: float, *, channels: dict[str, Channel] | None = None) -> Trial:
    """A trial of a day so long.

    Parameters
    ----------
    channels
        Of one time round; those of `sailed` with ten more beside them where there are none.
    """
    once, round_s = piece()
    given = _twenty(once) if channels is None else channels
    times = max(1, round(length_s / round_s))
    return trial_of(
        {key: _again(channel, round_s, times) for key, channel in given.items()},
        {
            "sensors": [
                {"log": "all", "channel": "acceleration", "delay": "0 s", "delay_sd": "0.01 s"}
            ]
        },
    )


def trial_of(channels: dict[str, Channel], sheet: dict[str, object] | None = None) -> Trial:
    """Channels on UTC as a trial."""
    return build_trial(
        Material(
            sheet_path=Path("trial.toml"),
            sheet=TrialSheet.model_validate({**SHEET, **(sheet or {})}),
            logs={
                "all": Log(
                    name="all", path=Path("all.csv"), format="table", clock=UTC, channels=channels
                )
            },
            footage={},
        ),
        Ties(by_clock=MappingProxyType({}), refused=MappingProxyType({})),
    )


def _twenty(once: dict[str, Channel]) -> dict[str, Channel]:
    out = {key: _faster(c, RATES_HZ[key]) if key in RATES_HZ else c for key, c in once.items()}
    out |= {f"{name}.1": replace(out[name], instance=1) for name in TWINS}
    steady = out["engine_speed"]
    for i, name in enumerate(MORE):
        values = 0.5 + 0.1 * np.sin(steady.t_s / (5.0 + i))
        out[name] = replace(steady, name=name, values=values)
    return out


def _faster(channel: Channel, rate_hz: float) -> Channel:
    t = np.arange(channel.t_s[0], channel.t_s[-1], 1 / rate_hz)
    return replace(channel, t_s=t, values=channel.at(t), max_gap_s=None)


def _again(channel: Channel, round_s: float, times: int) -> Channel:
    inside = channel.t_s < T0 + round_s
    t, values = channel.t_s[inside], channel.values[inside]
    return replace(
        channel,
        t_s=np.concatenate([t + k * round_s for k in range(times)]),
        values=np.tile(values, times),
        max_gap_s=channel.max_gap_s,
    )
