"""The day as a time line: every instant once, and every run of the demo where it was."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from sailed import T0, logged

from demo_media.boat import DEMO
from demo_media.day import demo_day
from demo_media.programme import Piece, programme
from overlay.analysis.day import Found, Stretch, time_line
from overlay.analysis.ladder import rungs
from overlay.analysis.launches import find_launches
from overlay.analysis.steady import find_steady
from overlay.analysis.steps import find_steps
from overlay.analysis.stopping import find_stops
from overlay.analysis.turning import find_turns
from sync.channel import Channel
from sync.clock import Span

LADDER = rungs("mph", [10, 20, 30, 40])
KINDS = {
    "launch": {"launch"},
    "turn": {"turn"},
    "stop": {"stop", "rest"},
    "astern": {"astern"},
    "rest": {"rest"},
    "idle": {"idle", "rest"},
}


def found_in(channels: dict[str, Channel]) -> Found:
    steady = find_steady(channels)
    return Found(
        launches=find_launches(channels, LADDER, "throttle_or_engine"),
        steps=find_steps(channels, steady, 1),
        steady=steady,
        turns=find_turns(channels),
        stops=find_stops(channels),
    )


@pytest.fixture(scope="module")
def channels() -> dict[str, Channel]:
    return logged(demo_day("day"))


@pytest.fixture(scope="module")
def found(channels: dict[str, Channel]) -> Found:
    return found_in(channels)


@pytest.fixture(scope="module")
def line(channels: dict[str, Channel], found: Found) -> tuple[Stretch, ...]:
    return time_line(channels, found)


def at(line: tuple[Stretch, ...], t_s: float) -> Stretch:
    return next(one for one in line if one.span.holds(T0 + t_s))


PIECES = programme("day").pieces


@pytest.mark.parametrize(
    "piece", [p for p in PIECES if p.kind in KINDS], ids=lambda piece: piece.name
)
def test_every_run_of_the_programme_is_where_it_was(
    line: tuple[Stretch, ...], piece: Piece
) -> None:
    early = piece.start_s + 0.35 * (piece.stop_s - piece.start_s)
    assert at(line, early).kind in KINDS[piece.kind]


@pytest.mark.parametrize("rpm", [3500, 4000, 4500, 5000, 5500])
def test_every_planing_step_has_both_passes(found: Found, rpm: int) -> None:
    step = min(found.steps, key=lambda s: abs(s.engine_speed.value * 60 - rpm))
    assert abs(step.engine_speed.value * 60 - rpm) < 60
    assert step.ways == "both"


def test_full_throttle_is_a_step_of_its_own(found: Found) -> None:
    """However near the highest step before it."""
    near, full = found.steps[-2:]
    assert 5450 < near.engine_speed.value * 60 < 5530 < full.engine_speed.value * 60 < 5620
    assert (near.ways, full.ways) == ("both", "both")
    assert near.name != full.name


def test_each_instant_stands_in_it_once(
    line: tuple[Stretch, ...], channels: dict[str, Channel]
) -> None:
    speed = channels["speed"].span
    assert speed is not None
    assert line[0].span.start_s == pytest.approx(speed.start_s)
    assert line[-1].span.stop_s == pytest.approx(speed.stop_s)
    for before, after in pairwise(line):
        assert after.span.start_s == pytest.approx(before.span.stop_s, abs=1e-6)


def test_the_launch_that_drew_air_says_so(line: tuple[Stretch, ...]) -> None:
    told = [one for one in line if "drew air" in one.left_out and one.kind == "launch"]
    spoiled = [p for p in PIECES if p.spoiled]
    assert [one.span.holds(T0 + p.start_s + 2) for one, p in zip(told, spoiled, strict=True)] == [
        True
    ]


def test_turns_have_their_sides_and_the_circle_of_the_simulation(found: Found) -> None:
    """The true diameter is twice the speed through the water over the rate of turn."""
    day = demo_day("day")
    held = [turn for turn in found.turns if turn.held is not None]
    assert [turn.to for turn in held] == ["starboard", "port"]
    for turn in held:
        assert turn.held is not None
        t = np.arange(turn.held.start_s, turn.held.stop_s, 0.1) - T0
        true = 2 * np.mean(day.at("water_mps", t)) / abs(np.mean(day.at("turn_rate_radps", t)))
        assert turn.diameter_m.value == pytest.approx(true, rel=0.03)
        assert turn.diameter_m.value / DEMO.hull.length_m > 3


def test_a_hole_in_speed_is_told(channels: dict[str, Channel]) -> None:
    speed = channels["speed"]
    keep = (speed.t_s < T0 + 300) | (speed.t_s > T0 + 320)
    holed = {
        **channels,
        "speed": Channel(
            name="speed", clock=speed.clock, t_s=speed.t_s[keep], values=speed.values[keep]
        ),
    }
    line = time_line(holed, found_in(holed))
    hole = at(line, 310)
    assert hole.kind == "hole"
    assert hole.span.length_s == pytest.approx(20, abs=1.5)


def test_what_the_sheet_names_comes_first(channels: dict[str, Channel], found: Found) -> None:
    span = Span(start_s=T0 + 1000, stop_s=T0 + 1030)
    named = Found(
        launches=found.launches, steps=found.steps, steady=found.steady, turns=found.turns,
        stops=found.stops, named=[("passing the pier", span)],
    )  # fmt: skip
    assert at(time_line(channels, named), 1015).name == "passing the pier"


def test_without_speed_there_is_no_line() -> None:
    assert time_line({}, Found(launches=(), steps=(), steady=(), turns=(), stops=())) == ()
