"""Where fuel flow comes from, and what a filled tank says of it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overlay.fuel import NO_FLOW, flows_of
from overlay.sheet import TrialSheet
from sync.channel import Channel
from sync.clock import UTC

START = dt.datetime(2026, 6, 11, 4, 0, tzinfo=dt.UTC)
T0 = START.timestamp()
HOUR_S = 3600.0
LPH = 1e-3 / 3600


def channel(name: str, lph: float | np.ndarray, instance: int = 0) -> Channel:
    """An hour from before the engine starts until after it stops."""
    t = T0 + np.arange(0.0, HOUR_S, 0.5)
    values = np.full(t.size, lph) * LPH
    if name == "fuel_flow":
        values[[0, -1]] = 0.0
    return Channel(name=name, instance=instance, t_s=t, values=values, clock=UTC)


def sheet(refilled: str | None = None, **more: object) -> TrialSheet:
    check = {
        "refilled": refilled, "start": START.isoformat(),
        "stop": (START + dt.timedelta(hours=2)).isoformat(),
    }  # fmt: skip
    given = {"schema": "trial/1", **more}
    return TrialSheet.model_validate({**given, "fuel_check": check} if refilled else given)


def by_key(*channels: Channel) -> dict[str, Channel]:
    return {one.key: one for one in channels}


def test_without_a_check_the_engines_own_figure_is_called_that() -> None:
    logged = by_key(channel("fuel_flow", 30.0))
    made, source, notes = flows_of(logged, sheet())
    assert (source.text, source.factor, source.factor_sd, notes) == ("engine-reported", 1.0, 0, ())
    assert made["fuel_flow"] is logged["fuel_flow"]
    assert flows_of({}, sheet())[1] == NO_FLOW
    assert flows_of(logged, sheet(fuel_flow_from="meter"))[1].text == "by a flow meter"


@settings(deadline=None)  # the first sheet loads what knows units
@given(st.floats(5.0, 200.0), st.floats(5.0, 200.0), st.floats(0.75, 1.35))
def test_the_tank_tells_by_how_much_all_flows_are_out(
    port: float, other: float, true: float
) -> None:
    """Litres are the hour's mean flow times an hour, whatever the engines' shares in it."""
    litres = (port + other) * true
    made, source, notes = flows_of(
        by_key(channel("fuel_flow", port), channel("fuel_flow", other, 1)), sheet(f"{litres} L")
    )
    assert notes == ()
    assert source.factor == pytest.approx(true, rel=5e-4)  # a second goes to start and stop
    assert source.factor_sd == pytest.approx(source.factor * 0.3 / litres)
    assert made["fuel_flow.1"].values[9] / LPH == pytest.approx(other * source.factor)


def test_a_diesels_flow_is_supply_less_return() -> None:
    made, source, _ = flows_of(
        by_key(channel("fuel_supply", 90.0), channel("fuel_return", 52.0)), sheet()
    )
    assert made["fuel_flow"].values / LPH == pytest.approx(38.0)
    assert source.text == "engine-reported, supply less return"
    only = flows_of(by_key(channel("fuel_supply", 90.0)), sheet())
    assert "fuel_flow" not in only[0]


def test_a_hole_in_the_return_is_a_hole_in_the_flow() -> None:
    back = channel("fuel_return", 50.0)
    keep = (back.t_s < T0 + 100) | (back.t_s > T0 + 200)
    holed = Channel(name="fuel_return", t_s=back.t_s[keep], values=back.values[keep], clock=UTC)
    made, _, _ = flows_of(by_key(channel("fuel_supply", 90.0), holed), sheet())
    assert np.isnan(made["fuel_flow"].at(T0 + 150.0)).all()
    assert made["fuel_flow"].at(T0 + 50.0) / LPH == pytest.approx(40.0)


@pytest.mark.parametrize("lost", [slice(900, None), slice(None, -900)])
def test_running_that_was_not_logged_is_no_engines_error(lost: slice) -> None:
    whole = channel("fuel_flow", 30.0)
    part = Channel(name="fuel_flow", t_s=whole.t_s[lost], values=whole.values[lost], clock=UTC)
    _, source, (note,) = flows_of(by_key(part), sheet("30 L"))
    assert source.factor == 1.0
    assert "begins or ends" in note


@pytest.mark.parametrize(
    ("lph", "refilled", "why"),
    [
        (30.0, "60 L", "no engine's error"),
        (30.0, "15 L", "no engine's error"),
        (0.0, "15 L", "no fuel flowed"),
        (np.where(np.arange(7200) % 3000 < 200, np.nan, 30.0), "30 L", "has holes"),
    ],
)
def test_a_check_that_cannot_be_is_told_and_not_used(
    lph: float | np.ndarray, refilled: str, why: str
) -> None:
    logged = by_key(channel("fuel_flow", lph))
    made, source, notes = flows_of(logged, sheet(refilled))
    assert source.factor == 1.0
    assert made["fuel_flow"] is logged["fuel_flow"]
    assert len(notes) == 1
    assert why in notes[0]
