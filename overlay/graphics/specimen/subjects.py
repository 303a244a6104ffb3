"""Runs of a made-up boat to show instruments with: a launch, a step both ways, a turn.

The curves are drawn freehand, as plausible as a specimen needs; nothing is computed from them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from overlay.analysis.signals import Signal, signal_of
from overlay.graphics.subject import RunAxis, RunFace, RunMark, RunTab, Subject
from sync.channel import Channel
from sync.channel_kinds import CHANNELS
from sync.clock import UTC

T0 = 1_781_150_400.0
"""When the specimen's runs begin, in seconds since 1970."""

KNOT, TURN_A_MINUTE, DEGREE, LITRE_AN_HOUR = 1852 / 3600, 1 / 60, np.pi / 180, 1 / 3.6e6

Curve = Sequence[tuple[float, float]]

LAUNCH: Mapping[str, Curve] = MappingProxyType(
    {
        "speed": [(-5, 0.3), (0, 0.4), (3, 5.2), (6, 10.4), (10, 15.6), (14, 18.0), (20, 19.0)],
        "engine_speed": [(-5, 11), (0, 11), (1, 62), (3, 70), (8, 84), (14, 91), (20, 92.3)],
        "engine_speed.1": [(-5, 11), (0, 11), (1.2, 60), (3, 69), (8, 83), (14, 90), (20, 91.6)],
        "pitch": [(-5, 0), (0, 0), (2.2, 0.16), (3.2, 0.16), (7, 0.07), (20, 0.05)],
        "fuel_flow": [(-5, 2.4), (0, 2.4), (3, 38), (20, 46)],
        "throttle": [(-5, 0), (0, 0), (0.6, 1), (20, 1)],
        "acceleration": [(-5, 0), (0, 0), (1.5, 2.6), (6, 1.5), (20, 0.1)],
    }
)
"""From rest, in SI but for fuel flow, which is in litres an hour."""

STEP: Mapping[str, Curve] = MappingProxyType(
    {
        "speed": [(-5, 14.6), (30, 14.7), (36, 9), (44, 14), (50, 15.4), (90, 15.5)],
        "engine_speed": [(-5, 66.8), (30, 66.5), (36, 40), (44, 64), (50, 66.6), (90, 66.9)],
        "fuel_flow": [(-5, 18.1), (30, 18.3), (36, 9), (50, 18.2), (90, 18.4)],
    }
)
TURN: Mapping[str, Curve] = MappingProxyType(
    {
        "speed": [(-5, 16.1), (0, 16.1), (6, 13.4), (30, 13.1)],
        "roll": [(-5, 0), (0, 0), (3, 0.25), (24, 0.24), (27, 0), (30, 0)],
        "turn_rate": [(-5, 0), (0, 0.02), (2, 0.25), (25, 0.26), (27, 0), (30, 0)],
        "engine_speed": [(-5, 70), (0, 70), (30, 70)],
    }
)
FACTS = MappingProxyType(
    {
        "trial": "A specimen",
        "run": "launch 1",
        "boat": "Open boat of 6 m",
        "engine": "Outboard, 150 hp",
        "propeller": "diameter 14 in, pitch 17 in, blades 3",
        "load": "people 2, 1180 kg as tested",
        "conditions": "wind 6 kn, from 040°, low swell, air 17 °C",
    }
)
BAND = (5000 * TURN_A_MINUTE, 6000 * TURN_A_MINUTE)


def signals(curves: Mapping[str, Curve], marks: Sequence[float] = ()) -> dict[str, Signal]:
    """Curves as signals, ten values a second."""
    channels = {}
    for key, curve in curves.items():
        name, _, instance = key.partition(".")
        t = np.arange(curve[0][0], curve[-1][0] + 0.05, 0.1)
        values = np.interp(t, *np.array(curve, dtype=np.float64).T)
        if CHANNELS[name].quantity == "volume_flow":
            values = values * LITRE_AN_HOUR
        channels[key] = Channel(
            name=name, instance=int(instance or 0), clock=UTC, t_s=T0 + t, values=values
        )
    instants = tuple(T0 + mark for mark in marks)
    return {
        key: signal_of(channel, {}, instants if channel.name == "speed" else ())
        for key, channel in channels.items()
    }


def face(
    kind: str,
    title: str,
    stop_s: float,
    *,
    marks: tuple[RunMark, ...],
    origin: str = "from rest",
    axis: RunAxis | None = None,
    tabs: tuple[RunTab, ...] = (),
) -> RunFace:
    """A run that begins at `T0`."""
    return RunFace(
        kind=kind,
        title=title,
        start_utc_s=T0,
        stop_utc_s=T0 + stop_s,
        shown_from_utc_s=T0 - 5,
        shown_to_utc_s=T0 + stop_s + 10,
        marks=marks,
        origin=origin,
        axis=axis,
        tabs=tabs,
    )


def mark(t_s: float, label: str, text: str, value: float) -> RunMark:
    """A mark so long after `T0`."""
    return RunMark(t_utc_s=T0 + t_s, label=label, text=text, value=value, sd=0.04)


def launch(units: str = "nautical") -> Subject:
    """A launch with three marks."""
    rungs = ((3.0, "10 kn", "3.0 s"), (5.9, "20 kn", "5.9 s"), (9.9, "30 kn", "9.9 s"))
    marks = tuple(mark(t, label, text, t) for t, label, text in rungs)
    made = signals(LAUNCH, [t for t, _, _ in rungs])
    return Subject(
        signals=made, units=units, run=face("launch", "launch 1", 9.9, marks=marks),
        bands={"engine_speed": BAND, "engine_speed.1": BAND}, facts=FACTS,
    )  # fmt: skip


def step(units: str = "nautical", kind: str = "step") -> Subject:
    """A step with both passes."""
    axis = RunAxis(
        sign="s",
        t_utc_s=tuple(T0 + t for t in (0.0, 30.0, 50.0, 80.0)),
        value=(0.0, 30.0, 30.0, 60.0),
    )
    return Subject(
        signals=signals(STEP),
        units=units,
        run=face(
            kind, "4000 rpm", 80.0, origin="", axis=axis,
            tabs=(
                RunTab(t_utc_s=T0, stop_utc_s=T0 + 30, text="4000 rpm, pass 1 of 2, 045°"),
                RunTab(t_utc_s=T0 + 50, stop_utc_s=T0 + 80.5, text="4000 rpm, pass 2 of 2, 225°"),
            ),
            marks=(mark(30, "pass 1", "28.5 kn", 14.7), mark(80, "both ways", "29.3 kn", 15.1)),
        ),
        bands={"engine_speed": BAND},
        brackets={"engine_speed": ((T0, 65.4, 67.9),), "speed": ((T0, 14.6, 15.5),)},
        facts={**FACTS, "run": "4000 rpm"},
    )  # fmt: skip


def turn(units: str = "nautical") -> Subject:
    """A turn to starboard, nearly all the way round."""
    t = np.arange(0.0, 26.05, 0.1)
    rate = np.interp(t, *np.array(TURN["turn_rate"], dtype=np.float64).T)
    swept = np.degrees(np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * 0.1)]))
    return Subject(
        signals=signals(TURN),
        units=units,
        run=face(
            "turn", "turn 1 to starboard", 26.0, origin="",
            axis=RunAxis(sign="°", t_utc_s=tuple((T0 + t).tolist()), value=tuple(swept.tolist())),
            marks=(
                mark(0, "entry", "31.3 kn", 16.1),
                mark(7.4, "90°", "7.4 s", 7.4),
                mark(13.5, "180°", "13.5 s", 13.5),
                mark(25, "diameter", "17 lengths", 102.0),
            ),
        ),
        facts={**FACTS, "run": "turn 1 to starboard"},
    )  # fmt: skip
