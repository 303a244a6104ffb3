"""Launches found and timed on runs whose truth is known on paper."""

import math

import numpy as np
import pytest

from overlay.analysis.ladder import rungs
from overlay.analysis.launches import find_launches, measure_launch
from sync.channel import Channel
from sync.clock import Span

START = 1_781_170_000.0
MPH = 0.44704  # m/s, exactly (NIST SP 811, appendix B.8)
LADDER = rungs("mph", [10, 20, 30, 40])
GO = 30.0


def coloured(rng: np.random.Generator, n: int, sd: float, corr_s: float, dt: float) -> np.ndarray:
    """Noise whose correlation falls to 1/e after a time, as a receiver's filter leaves it."""
    keep = math.exp(-dt / corr_s)
    steps = rng.normal(0, sd * math.sqrt(1 - keep**2), n)
    out = np.zeros(n)
    out[0] = rng.normal(0, sd)
    for i in range(1, n):
        out[i] = keep * out[i - 1] + steps[i]
    return out


def first_order(
    seed: int | None, *, tau: float = 8.0, top: float = 50 * MPH, rest: float = 0.3
) -> dict[str, Channel]:
    """Speed rest + (top − rest)(1 − e^(−t/τ)) from GO on, logged at 10 Hz, with a lever that
    opens in 0.3 s."""
    rng = np.random.default_rng(seed)
    phase = 0.0 if seed is None else float(rng.uniform(0, 0.1))
    t = np.arange(0, 70, 0.1) + phase
    run = np.maximum(t - GO, 0)
    v = rest + (top - rest) * (1 - np.exp(-run / tau))
    lever = np.clip((t - GO) / 0.3, 0, 1)
    rpm = 700 + 5000 * (1 - np.exp(-run / 0.6))
    if seed is not None:
        v = np.maximum(v + coloured(rng, t.size, 0.05, 0.3, 0.1), 0)
        rpm = rpm + rng.normal(0, 8, t.size)
        lever = lever + rng.normal(0, 0.002, t.size)
    return {
        "speed": Channel(name="speed", t_s=START + t, values=v, clock="utc", means="doppler"),
        "throttle": Channel(name="throttle", t_s=START + t, values=lever, clock="utc"),
        "engine_speed": Channel(name="engine_speed", t_s=START + t, values=rpm / 60, clock="utc"),
    }


def truth(rung_mph: float, *, tau: float = 8.0, top: float = 50 * MPH, rest: float = 0.3) -> float:
    return -tau * math.log(1 - (rung_mph * MPH - rest) / (top - rest))


def test_the_times_of_a_clean_launch_are_those_on_paper() -> None:
    (launch,) = find_launches(first_order(None), LADDER, "throttle_or_engine")
    assert launch.start.t_s == pytest.approx(START + GO, abs=0.005)
    assert launch.start.event == "throttle"
    assert launch.start.state == "at rest"
    for row, mph in zip(launch.ladder, [10, 20, 30, 40], strict=True):
        assert row.label == f"{mph} mph"
        assert row.time_s == pytest.approx(truth(mph), abs=0.01)
    assert launch.missed == ()


def test_distance_is_the_integral_of_speed() -> None:
    """Worked on paper: x = top·t − (top − rest)·τ·(1 − e^(−t/τ))."""
    (launch,) = find_launches(first_order(None), LADDER, "throttle_or_engine")
    top, rest, tau = 50 * MPH, 0.3, 8.0
    for row in launch.ladder:
        t = row.time_s
        paper = top * t - (top - rest) * tau * (1 - math.exp(-t / tau))
        assert row.distance_m == pytest.approx(paper, abs=0.15)


def test_times_hold_under_a_receivers_noise() -> None:
    """60 seeded launches with coloured noise of 0.05 m/s: 95 % within 0.05 s where the pull is
    2 m/s² or so and 0.09 s where it has fallen to 1 m/s², and the stated deviations hold the
    truth at least as often as they say."""
    errors, scaled = [], []
    for seed in range(60):
        (launch,) = find_launches(first_order(seed), LADDER, "throttle_or_engine")
        for row, mph in zip(launch.ladder[:3], [10, 20, 30], strict=True):
            errors.append(row.time_s - truth(mph))
            scaled.append(errors[-1] / row.sd_s)
    by_rung = np.abs(np.reshape(errors, (-1, 3)))
    assert np.percentile(by_rung[:, :2], 95) < 0.05
    assert np.percentile(by_rung[:, 2], 95) < 0.09
    assert abs(np.mean(errors)) < 0.01
    assert 0.90 <= np.mean(np.abs(scaled) < 1.96) <= 1.0


def test_without_throttle_the_engine_starts_the_clock() -> None:
    channels = first_order(11)
    del channels["throttle"]
    (launch,) = find_launches(channels, LADDER, "throttle_or_engine")
    assert launch.start.event == "engine_speed"
    assert launch.start.t_s == pytest.approx(START + GO, abs=0.06)


@pytest.mark.parametrize(("without", "least"), [((), 0.95), (("throttle",), 0.85)])
def test_the_start_is_as_sure_as_it_says(without: tuple[str, ...], least: float) -> None:
    """60 seeded launches: the stated deviation of the start holds the truth."""
    scaled = []
    for seed in range(60):
        channels = {k: c for k, c in first_order(seed).items() if k not in without}
        start = find_launches(channels, LADDER, "throttle_or_engine")[0].start
        scaled.append((start.t_s - START - GO) / start.sd_s)
    assert np.mean(np.abs(scaled) < 1.96) >= least


def test_without_either_the_boat_itself_does() -> None:
    channels = first_order(12)
    del channels["throttle"], channels["engine_speed"]
    (launch,) = find_launches(channels, LADDER, "throttle_or_engine")
    assert launch.start.event == "speed"
    assert launch.start.t_s == pytest.approx(START + GO, abs=0.15)
    chosen = find_launches(first_order(12), LADDER, "first_movement")[0]
    assert chosen.start.event == "speed"
    assert chosen.start.t_s == pytest.approx(launch.start.t_s, abs=1e-6)


def test_creeping_ahead_is_called_idle_in_gear() -> None:
    (launch,) = find_launches(first_order(13, rest=1.6), LADDER, "throttle_or_engine")
    assert launch.start.state == "idle in gear"


def test_a_rung_above_the_boats_best_is_not_reached() -> None:
    (launch,) = find_launches(first_order(None, top=35 * MPH), LADDER, "throttle_or_engine")
    assert [row.label for row in launch.ladder] == ["10 mph", "20 mph", "30 mph"]
    assert launch.missed == (("40 mph", "not reached"),)


def test_a_rung_that_falls_into_a_hole_has_no_time() -> None:
    channels = first_order(None)
    speed = channels["speed"]
    hole = Span(start_s=START + GO + truth(20) - 0.8, stop_s=START + GO + truth(20) + 0.8)
    keep = [not hole.holds(t) for t in speed.t_s]
    channels["speed"] = Channel(
        name="speed",
        t_s=speed.t_s[keep],
        values=speed.values[keep],
        clock="utc",
        means="doppler",
    )
    (launch,) = find_launches(channels, LADDER, "throttle_or_engine")
    assert [row.label for row in launch.ladder] == ["10 mph"]
    why = "the log of speed has a hole there"
    assert launch.missed == (("20 mph", why), ("30 mph", why), ("40 mph", why))


@pytest.mark.parametrize("before", ["blip", "into gear"])
def test_what_the_lever_did_before_is_not_the_start(before: str) -> None:
    """A blip of the throttle, or the way into gear, six and a half seconds before."""
    channels = first_order(None)
    lever = channels["throttle"]
    since = lever.t_s - (START + GO - 6.5)
    if before == "blip":
        early = np.where((since > 0) & (since < 1.0), 0.3, 0.0)
    else:
        early = np.where(since > 0, 0.12, 0.0)
    values = early + (1 - early) * lever.values
    channels["throttle"] = Channel(name="throttle", t_s=lever.t_s, values=values, clock="utc")
    (launch,) = find_launches(channels, LADDER, "throttle_or_engine")
    assert launch.start.t_s == pytest.approx(START + GO, abs=0.02)


def test_a_boat_that_hangs_on_its_hump_is_in_one_launch() -> None:
    t = np.arange(0, 70, 0.1)
    mph = np.interp(t - GO, [0, 5, 10.5, 20], [0, 14, 14.5, 42])
    speed = Channel(name="speed", t_s=START + t, values=mph * MPH, clock="utc", means="doppler")
    lever = Channel(
        name="throttle", t_s=START + t, values=np.clip((t - GO) / 0.3, 0, 1), clock="utc"
    )
    channels = {"speed": speed, "throttle": lever}
    (launch,) = find_launches(channels, LADDER, "throttle_or_engine")
    assert [row.label for row in launch.ladder] == ["10 mph", "20 mph", "30 mph", "40 mph"]
    assert launch.ladder[3].time_s == pytest.approx(10.5 + 9.5 * 25.5 / 27.5, abs=0.05)


def test_a_slow_push_of_the_lever_starts_where_it_begins() -> None:
    channels = first_order(None)
    lever = channels["throttle"]
    slow = np.clip((lever.t_s - START - GO) / 2.5, 0, 1)
    channels["throttle"] = Channel(name="throttle", t_s=lever.t_s, values=slow, clock="utc")
    (launch,) = find_launches(channels, LADDER, "throttle_or_engine")
    assert launch.start.t_s == pytest.approx(START + GO, abs=0.05)


def test_a_day_at_rest_has_no_launch() -> None:
    t = np.arange(0, 600, 0.1)
    drift = np.abs(coloured(np.random.default_rng(5), t.size, 0.3, 5.0, 0.1))
    speed = Channel(name="speed", t_s=START + t, values=drift, clock="utc", means="doppler")
    assert find_launches({"speed": speed}, LADDER, "throttle_or_engine") == ()


def test_differenced_speed_carries_no_launch() -> None:
    channels = first_order(None)
    speed = channels["speed"]
    channels["speed"] = Channel(
        name="speed", t_s=speed.t_s, values=speed.values, clock="utc", means="differenced"
    )
    assert find_launches(channels, LADDER, "throttle_or_engine") == ()


def test_a_person_may_name_the_stretch() -> None:
    channels = first_order(None)
    span = Span(start_s=START + 20, stop_s=START + 60)
    named = measure_launch(channels, LADDER, "throttle_or_engine", span, "second try")
    assert named is not None
    assert named.name == "second try"
    assert named.start.t_s == pytest.approx(START + GO, abs=0.005)
    empty = Span(start_s=START, stop_s=START + 20)
    assert measure_launch(channels, LADDER, "throttle_or_engine", empty, "none") is None


def test_a_time_shift_shifts_instants_and_nothing_else() -> None:
    one = find_launches(first_order(3), LADDER, "throttle_or_engine")[0]
    moved = {
        key: Channel(name=c.name, t_s=c.t_s + 4096.0, values=c.values, clock="utc", means=c.means)
        for key, c in first_order(3).items()
    }
    two = find_launches(moved, LADDER, "throttle_or_engine")[0]
    assert two.start.t_s - one.start.t_s == pytest.approx(4096.0, abs=1e-6)
    for a, b in zip(one.ladder, two.ladder, strict=True):
        assert b.time_s == pytest.approx(a.time_s, abs=1e-5)


def test_constant_pull_gives_the_handbooks_times() -> None:
    """Constant 2 m/s²: 0 to 30 mph in 6.7056 s (30 × 0.44704 / 2, exact)."""
    t = np.arange(0, 40, 0.1)
    speed = Channel(
        name="speed",
        t_s=START + t,
        values=np.clip(2 * (t - 10), 0, 15),
        clock="utc",
        means="doppler",
    )
    lever = Channel(
        name="throttle", t_s=START + t, values=np.clip((t - 10) / 0.3, 0, 1), clock="utc"
    )
    (launch,) = find_launches(
        {"speed": speed, "throttle": lever}, rungs("mph", [30]), "throttle_or_engine"
    )
    assert launch.ladder[0].time_s == pytest.approx(6.7056, abs=0.01)
