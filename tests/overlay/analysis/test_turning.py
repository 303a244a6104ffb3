"""Turns: found, and measured by the circle that the stream carries along."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_media.noise import coloured
from overlay.analysis.track import track
from overlay.analysis.turning import find_turns, fit_circle
from sync.channel import Channel
from sync.clock import UTC, Span
from sync.units import to_si

KNOT = to_si(1.0, "kn", "speed")
RATE = 10.0


def turned(
    speed_mps: float = 30 * KNOT,
    rate_dps: float = 20.0,
    held_s: float = 50.0,
    stream: tuple[float, float] = (0.0, 0.0),
    noise: float = 0.0,
    seed: int = 1,
) -> dict[str, Channel]:
    """Straight on for 20 s, a turn at an even rate, and straight on again."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 40.0 + held_s, 1 / RATE)
    rate = np.where((t >= 20) & (t < 20 + held_s), math.radians(rate_dps), 0.0)
    heading = 0.5 + np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 / RATE)])
    east = speed_mps * np.sin(heading) + stream[0]
    north = speed_mps * np.cos(heading) + stream[1]
    east = east + noise * coloured(rng, t.size, sd=1.0, period_s=1 / RATE, time_s=0.5)
    north = north + noise * coloured(rng, t.size, sd=1.0, period_s=1 / RATE, time_s=0.5)
    values = {
        "speed": np.hypot(east, north),
        "course": np.arctan2(east, north) % (2 * math.pi),
        "turn_rate": rate,
        "roll": np.where(rate == 0, 0.0, 0.3 * np.sign(rate_dps)),
        "engine_speed": np.full(t.size, 80.0),
    }
    return {k: Channel(name=k, clock=UTC, t_s=t, values=v) for k, v in values.items()}


def test_a_turn_at_thirty_knots_and_twenty_degrees_a_second() -> None:
    """R = v / ω = 44.213 m and a = v ω = 5.387 m/s² (calculated)."""
    (turn,) = find_turns(turned())
    assert turn.to == "starboard"
    assert turn.diameter_m.value == pytest.approx(2 * 44.213, rel=2e-3)
    assert turn.centripetal.value == pytest.approx(5.387, rel=2e-3)
    assert turn.entry_mps == pytest.approx(30 * KNOT, rel=1e-3)
    assert math.degrees(turn.heel.value) == pytest.approx(math.degrees(0.3))
    assert turn.aired is False


def test_sixty_seconds_a_circle_at_twenty_knots() -> None:
    """R = 98.252 m at 20 kn and 6 °/s, 360 ° a minute (calculated)."""
    (turn,) = find_turns(turned(20 * KNOT, -6.0, 130.0))
    assert turn.to == "port"
    assert turn.diameter_m.value == pytest.approx(196.50, rel=2e-3)


@settings(max_examples=25, deadline=None)
@given(
    speed=st.floats(6, 22),
    rate=st.floats(8, 30),
    way=st.sampled_from([1, -1]),
    stream=st.tuples(st.floats(-1, 1), st.floats(-1, 1)),
)
def test_a_stream_does_not_change_the_circle(
    speed: float, rate: float, way: int, stream: tuple[float, float]
) -> None:
    """Two knots from anywhere; two whole turns and a half were held."""
    (turn,) = find_turns(turned(speed, way * rate, 900 / rate, stream))
    assert turn.stream_removed
    assert turn.diameter_m.value == pytest.approx(2 * speed / math.radians(rate), rel=0.01)


def test_its_interval_holds_under_coloured_noise() -> None:
    true, held = 2 * 15 / math.radians(15), []
    for seed in range(60):
        (turn,) = find_turns(turned(15.0, 15.0, 60.0, (0.6, -0.3), 0.1, seed))
        held.append(abs(turn.diameter_m.value - true) <= 1.96 * turn.diameter_m.sd)
        assert turn.diameter_m.sd < 0.02 * true
    assert np.mean(held) >= 0.88


def test_half_a_turn_has_no_diameter_and_a_change_of_course_is_no_turn() -> None:
    (turn,) = find_turns(turned(held_s=8.5))
    assert turn.held is None
    assert math.isnan(turn.diameter_m.value)
    assert find_turns(turned(held_s=4.0)) == ()


def test_turning_round_at_rest_is_no_turn() -> None:
    assert find_turns(turned(speed_mps=1.5)) == ()


def test_an_engine_that_flares_while_she_slows_draws_air() -> None:
    channels = turned()
    engine = channels["engine_speed"]
    flared = np.where((engine.t_s > 30) & (engine.t_s < 35), 92.0, engine.values)
    slowed = np.where(engine.t_s > 30, 0.8, 1.0) * channels["speed"].values
    channels["engine_speed"] = Channel(
        name="engine_speed", clock=UTC, t_s=engine.t_s, values=flared
    )
    channels["speed"] = Channel(name="speed", clock=UTC, t_s=engine.t_s, values=slowed)
    assert find_turns(channels)[0].aired is True


def test_heading_stands_in_for_the_rate_of_turn() -> None:
    channels = turned()
    rate = channels.pop("turn_rate")
    heading = np.concatenate([[0.0], np.cumsum((rate.values[1:] + rate.values[:-1]) / 2 / RATE)])
    channels["heading"] = Channel(
        name="heading", clock=UTC, t_s=rate.t_s, values=heading % (2 * math.pi)
    )
    (turn,) = find_turns(channels)
    assert turn.diameter_m.value == pytest.approx(2 * 44.213, rel=5e-3)


def test_places_give_the_way_that_velocity_gives() -> None:
    """Places by pyproj's geodesic on WGS 84, an independent implementation of it."""
    from pyproj import Geod

    channels = turned()
    span = Span(start_s=25.0, stop_s=60.0)
    went = track(channels, span)
    assert went is not None
    azimuth = np.degrees(np.arctan2(went.x_m, went.y_m))
    n = went.t_s.size
    east, north, _ = Geod(ellps="WGS84").fwd(
        np.full(n, 24.0), np.full(n, 60.0), azimuth, np.hypot(went.x_m, went.y_m)
    )
    placed = {
        "latitude": Channel(name="latitude", clock=UTC, t_s=went.t_s, values=np.asarray(north)),
        "longitude": Channel(name="longitude", clock=UTC, t_s=went.t_s, values=np.asarray(east)),
    }
    found = track(placed, span)
    assert found is not None
    np.testing.assert_allclose(found.x_m, went.x_m, atol=1e-3)
    np.testing.assert_allclose(found.y_m, went.y_m, atol=1e-3)


def test_a_circle_on_paper() -> None:
    psi = np.linspace(0, 2 * math.pi, 40)
    found = fit_circle(psi, 7 + 50 * np.cos(psi), -3 - 50 * np.sin(psi), psi, stream=False)
    assert found.value == pytest.approx(100.0)
    assert math.isnan(fit_circle(psi[:5], psi[:5], psi[:5], psi[:5], stream=False).value)
