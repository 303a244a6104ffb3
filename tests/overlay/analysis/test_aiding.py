"""Speed aided by acceleration: quieter where the two agree, and speed alone where they do not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from demo_media.noise import coloured
from overlay.analysis.aiding import aid_for
from overlay.analysis.smoothing import LAWS, fit, law_for
from sync.channel import Channel
from sync.clock import UTC

LENGTH_S = 30.0
LATER = 12.0
G = 9.80665


def pull(t: np.ndarray) -> np.ndarray:
    """The acceleration of a launch at 8 s, in a short sea."""
    since = np.maximum(t - 8.0, 0.0)
    return 4.0 * since * np.exp(-since / 1.5) + 0.5 * np.sin(2 * np.pi * 0.8 * t)


def speed_at(t: np.ndarray) -> np.ndarray:
    fine = np.arange(0.0, LENGTH_S, 1e-3)
    gained = np.append(0.0, np.cumsum((pull(fine)[1:] + pull(fine)[:-1]) / 2 * 1e-3))
    return np.interp(t, fine, 3.0 + gained)


def day(seed: int = 1, noise_mps: float = 0.05) -> dict[str, Channel]:
    rng = np.random.default_rng(seed)
    slow, fast = np.arange(0.5, LENGTH_S - 0.5, 0.1), np.arange(0.0, LENGTH_S - 0.1, 0.02)
    noise = coloured(rng, slow.size, sd=noise_mps, period_s=0.1, time_s=0.3)
    rows = {
        "speed": (slow, speed_at(slow) + noise),
        "acceleration": (fast, pull(fast) + rng.normal(0, 0.05, fast.size)),
    }
    return {
        name: Channel(name=name, t_s=t, values=values, clock=UTC)
        for name, (t, values) in rows.items()
    }


def with_pull(channels: dict[str, Channel], values: np.ndarray) -> dict[str, Channel]:
    return {**channels, "acceleration": replace(channels["acceleration"], values=values)}


def test_it_errs_by_half_as_much_as_speed_alone() -> None:
    t = np.arange(3.0, LENGTH_S - 3.0, 0.1)
    missed: dict[str, list[np.ndarray]] = {"aided": [], "parabola": []}
    for seed in range(20):
        channels = day(seed)
        for name, law in (
            ("aided", law_for(channels["speed"], channels)),
            ("parabola", LAWS["parabola"]),
        ):
            missed[name].append(fit(channels["speed"], t, law).values - speed_at(t))
    rms = {name: float(np.sqrt(np.mean(np.square(rows)))) for name, rows in missed.items()}
    assert rms["aided"] < 0.6 * rms["parabola"]
    assert abs(float(np.mean(missed["aided"]))) < 0.005


def test_its_slope_is_the_acceleration() -> None:
    channels = day()
    t = np.arange(3.0, LENGTH_S - 3.0, 0.1)
    slopes = fit(channels["speed"], t, law_for(channels["speed"], channels)).slopes
    over_a_second = speed_at(t + 0.5) - speed_at(t - 0.5)
    assert np.abs(slopes - over_a_second).max() < 0.12


@given(st.floats(-3.0, 3.0))
def test_what_an_accelerometer_is_always_off_by_does_not_matter(bias: float) -> None:
    channels = day()
    biased = with_pull(channels, channels["acceleration"].values + bias)
    t = np.arange(3.0, LENGTH_S - 3.0, 0.5)
    first, second = (
        fit(one["speed"], t, law_for(one["speed"], one)).values for one in (channels, biased)
    )
    np.testing.assert_allclose(first, second, atol=1e-9)


@pytest.mark.parametrize(
    "fault",
    [
        pytest.param(lambda _t, a: -a, id="going astern"),
        pytest.param(
            lambda t, a: a + G * np.sin(0.1 * np.exp(-(((t - LATER) / 1.0) ** 2))),
            id="gravity as the bow comes up",
        ),
        pytest.param(lambda _t, a: np.roll(a, 50), id="a second late"),
    ],
)
def test_where_the_two_belie_each_other_speed_stands_alone(fault) -> None:
    channels = day()
    ahead = channels["acceleration"]
    wrong = with_pull(channels, fault(ahead.t_s, ahead.values))
    t = np.array([9.0, LATER, 12.8])
    law = law_for(wrong["speed"], wrong)
    alone = fit(wrong["speed"], t, LAWS["parabola"]).values
    found = fit(wrong["speed"], t, law).values
    assert np.any(found == alone)
    assert np.abs(found - alone).max() < 0.15, "and where it does not, the two are near"


def test_it_stands_alone_where_the_acceleration_has_a_hole() -> None:
    channels = day()
    ahead = channels["acceleration"]
    keep = (ahead.t_s < 14.0) | (ahead.t_s > 16.0)
    holed = {**channels, "acceleration": replace(
        ahead, t_s=ahead.t_s[keep], values=ahead.values[keep], max_gap_s=ahead.max_gap_s
    )}  # fmt: skip
    speed = channels["speed"]
    t = np.array([10.0, 12.4, 12.6, 15.0, 17.4, 17.6])
    found = fit(speed, t, law_for(speed, holed)).values
    alone = fit(speed, t, LAWS["parabola"]).values
    whole = fit(speed, t, law_for(speed, channels)).values
    np.testing.assert_array_equal(found[2:5], alone[2:5])
    np.testing.assert_allclose(found[[0, 1, 5]], whole[[0, 1, 5]], atol=1e-9)


def test_there_is_no_aid_without_a_quick_acceleration_on_the_same_clock() -> None:
    channels = day()
    ahead = channels["acceleration"]
    slow = replace(ahead, t_s=ahead.t_s[::10], values=ahead.values[::10], max_gap_s=None)
    for other in (None, slow, replace(ahead, clock="log:attitude")):
        rest = {"speed": channels["speed"]} | ({} if other is None else {"acceleration": other})
        assert aid_for(channels["speed"], rest) is None
        assert law_for(channels["speed"], rest).name == "parabola"
