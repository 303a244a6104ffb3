"""Which of two engines is which: told by how she turns on one, and not where the helm turns her."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from long_day import trial_of
from sailed import T0, logged, sailed

from overlay.analysis.results import compute_results
from overlay.analysis.sides import Sides, which_sides
from sync.channel import Channel
from sync.clock import UTC


@dataclass(frozen=True, kw_only=True)
class Leg:
    """How long, engine speeds in rpm, gears, and how fast she turned to starboard [°/s]."""

    length_s: float
    rpm: tuple[float, float]
    gear: tuple[float, float] = (1.0, 1.0)
    turn: float = 0.0
    helm: float = 0.0


BOTH = Leg(length_s=30, rpm=(2500, 2500))
PORT = Leg(length_s=20, rpm=(1800, 650), gear=(1, 0), turn=3.0)
STARBOARD = Leg(length_s=20, rpm=(650, 1800), gear=(0, 1), turn=-3.0)


def twin(*legs: Leg, leave: tuple[str, ...] = ()) -> dict[str, Channel]:
    """A day of two engines as channels, with a tenth of a degree a second of noise."""
    t = np.arange(0.0, sum(leg.length_s for leg in legs), 0.1)
    rows = {
        name: np.zeros(t.size)
        for name in ("engine_speed", "engine_speed.1", "gear", "gear.1", "turn_rate", "rudder")
    }
    begin = 0.0
    for leg in legs:
        here = t >= begin
        for n, key in enumerate(("", ".1")):
            rows[f"engine_speed{key}"][here] = leg.rpm[n] / 60
            rows[f"gear{key}"][here] = leg.gear[n]
        rows["turn_rate"][here] = math.radians(leg.turn)
        rows["rudder"][here] = math.radians(leg.helm)
        begin += leg.length_s
    rows["turn_rate"] += np.random.default_rng(3).normal(0, math.radians(0.1), t.size)
    rows["speed"] = np.full(t.size, 4.0)
    return {
        key: Channel(
            name=key.partition(".")[0], instance=int(key.partition(".")[2] or 0), clock=UTC,
            t_s=T0 + t, values=values,
        )
        for key, values in rows.items()
        if key not in leave
    }  # fmt: skip


def judged(*legs: Leg, leave: tuple[str, ...] = ("rudder",)) -> Sides:
    found = which_sides(twin(*legs, leave=leave), 2)
    assert found is not None
    return found


def test_pushed_on_her_port_side_she_turns_to_starboard() -> None:
    """Common practice, no published source."""
    found = judged(BOTH, PORT, BOTH, STARBOARD)
    assert found.verdict == "confirmed"
    assert math.degrees(found.turn.value) == pytest.approx(3.0, abs=0.1)
    assert 0 < math.degrees(found.turn.sd) < 0.2
    assert [one.engine for one in found.stretches] == ["port", "starboard"]


@pytest.mark.parametrize("leg", [PORT, STARBOARD])
def test_the_other_way_round_they_may_be_exchanged(leg: Leg) -> None:
    found = judged(BOTH, replace(leg, turn=-leg.turn))
    assert found.verdict == "contradicted"
    assert math.degrees(found.turn.value) == pytest.approx(-3.0, abs=0.1)
    assert "3.0°/s" in found.why


def test_one_engine_stopped_or_idling_in_gear_is_one_engine_too() -> None:
    for rpm, gear in ((0.0, 0.0), (650.0, 1.0)):
        leg = replace(PORT, rpm=(1800, rpm), gear=(1, gear))
        assert judged(BOTH, leg).verdict == "confirmed"


@pytest.mark.parametrize(
    ("legs", "why"),
    [
        ((BOTH,), "no stretch of 8 s"),
        ((BOTH, replace(PORT, length_s=6.0), BOTH), "no stretch of 8 s"),
        ((replace(PORT, rpm=(900, 650)),), "no stretch of 8 s"),
        ((replace(PORT, gear=(-1, 0)),), "no stretch of 8 s"),
        ((replace(PORT, rpm=(1800, 1800), gear=(1, -1)),), "no stretch of 8 s"),
        ((BOTH, replace(PORT, turn=0.1)), "hardly turned"),
        ((PORT, BOTH, replace(PORT, turn=-3.0)), "the helm turned her"),
        ((BOTH, replace(PORT, turn=12.0)), "as fast as a helm turns her"),
    ],
)
def test_what_does_not_tell_is_said(legs: tuple[Leg, ...], why: str) -> None:
    found = judged(*legs)
    assert found.verdict == "cannot be told"
    assert why in found.why
    assert not found.turn.known


def test_a_helm_that_is_logged_held_over_counts_for_nothing() -> None:
    leg = replace(PORT, turn=-3.0, helm=-8.0)
    found = judged(BOTH, leg, leave=())
    assert found.verdict == "cannot be told"
    assert "held 8° over" in found.why
    assert judged(BOTH, replace(leg, helm=1.0), leave=()).verdict == "contradicted"
    assert judged(BOTH, replace(leg, helm=0.0, turn=9.0), leave=()).verdict == "confirmed"


def test_heading_will_do_and_nothing_will_not() -> None:
    channels = twin(BOTH, PORT, leave=("rudder", "turn_rate"))
    found = which_sides(channels, 2)
    assert found is not None
    assert "neither rate of turn" in found.why
    t = channels["speed"].t_s
    heading = np.radians(np.where(t - T0 < 30, 350.0, 350.0 + 3.0 * (t - T0 - 30))) % (2 * math.pi)
    for name in ("heading", "course"):
        channels[name] = Channel(name=name, clock=UTC, t_s=t, values=heading)
        found = which_sides(channels, 2)
        assert found is not None
        assert found.verdict == "confirmed"
        del channels[name]


def test_a_hole_in_the_log_of_an_engine_is_no_stopped_engine() -> None:
    channels = twin(BOTH, PORT, leave=("rudder",))
    other = channels["engine_speed.1"]
    keep = other.t_s < T0 + 32
    channels["engine_speed.1"] = replace(other, t_s=other.t_s[keep], values=other.values[keep])
    found = which_sides(channels, 2)
    assert found is not None
    assert found.verdict == "cannot be told"


def test_one_engine_has_no_sides_and_a_silent_one_is_named() -> None:
    assert which_sides(logged(sailed()), 1) is None
    found = which_sides(logged(sailed()), 2)
    assert found is not None
    assert "of the starboard engine" in found.why


def two_engines(turn: float) -> dict[str, Channel]:
    """A day with a stretch on the port engine alone at its end."""
    channels = twin(BOTH, replace(PORT, turn=turn), leave=("rudder",))
    t = channels["speed"].t_s
    rows = {"course": np.full(t.size, 0.8), "fuel_flow": np.full(t.size, 4e-6)}
    return channels | {
        key: Channel(name=key, clock=UTC, t_s=t, values=values) for key, values in rows.items()
    }


def test_results_warn_of_exchanged_sides_and_say_where_none_can_be_told() -> None:
    sheet = {"engines": [{"power": "150 hp"}, {"power": "150 hp"}]}
    wrong = compute_results(trial_of(two_engines(-3.0), sheet))
    assert any("may be exchanged" in line for line in wrong.set_up.warnings)
    right = compute_results(trial_of(two_engines(3.0), sheet))
    assert right.sides is not None
    assert right.sides.verdict == "confirmed"
    assert not any("exchanged" in line for line in right.set_up.warnings)
    untold = compute_results(trial_of(two_engines(0.0), sheet))
    assert any("cannot be told" in line for line in untold.missing)


def test_a_hole_in_one_engines_flow_is_told_beside_the_sums_it_takes() -> None:
    sheet = {"engines": [{"power": "150 hp"}, {"power": "150 hp"}]}
    channels = two_engines(3.0)
    lone = compute_results(trial_of(channels, sheet))
    assert any("engine 2 has no flow" in line for line in lone.missing)
    assert not any(step.flow.known for step in lone.steps)
    flow = channels["fuel_flow"]
    whole = channels | {"fuel_flow.1": replace(flow, instance=1)}
    assert not any("has no flow" in x for x in compute_results(trial_of(whole, sheet)).missing)
