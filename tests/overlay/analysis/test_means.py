"""A mean says how sure it is, and is as sure as it says."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import stdtrit

from demo_media.noise import coloured
from overlay.analysis.means import NONE, STUDENT_T, Mean, average, mean_of, student_t, total
from sync.channel import Channel
from sync.clock import UTC, Span

RATE_S = 0.1


def channel(values: np.ndarray, name: str = "speed", t: np.ndarray | None = None) -> Channel:
    times = RATE_S * np.arange(values.size) if t is None else t
    return Channel(name=name, clock=UTC, t_s=times, values=values)


@pytest.mark.parametrize("length_s", [10.0, 20.0, 40.0])
@pytest.mark.parametrize("time_s", [0.1, 0.3, 0.8])
def test_its_intervals_hold_under_coloured_noise(length_s: float, time_s: float) -> None:
    """Ninety to ninety-nine of a hundred, where noise taken for white would hold far fewer."""
    rng = np.random.default_rng(9)
    held, white = [], []
    for _ in range(300):
        n = round(length_s / RATE_S)
        noise = coloured(rng, n, sd=0.05, period_s=RATE_S, time_s=time_s)
        found = mean_of(channel(12 + noise), Span(start_s=0.0, stop_s=length_s))
        held.append(abs(found.value - 12) <= 1.96 * found.sd)
        white.append(abs(found.value - 12) <= 1.96 * np.std(noise) / math.sqrt(n))
    assert 0.90 <= np.mean(held) <= 0.99
    if time_s > 0.2:
        assert np.mean(white) < 0.80


def test_a_wave_does_not_make_it_surer() -> None:
    t = RATE_S * np.arange(300)
    found = mean_of(channel(12 + 0.3 * np.sin(2 * np.pi * t / 3.1)), Span(start_s=0, stop_s=30))
    assert found.value == pytest.approx(12, abs=2 * found.sd)
    assert 0.01 < found.sd < 0.1


@pytest.mark.parametrize("length_s", [20.0, 30.0])
def test_its_intervals_hold_in_a_sea_while_she_gains_a_little(length_s: float) -> None:
    """Waves of one to three seconds under a receiver's noise, on a speed that creeps up: what it
    says is not far wider than what it errs by, nor narrower."""
    rng = np.random.default_rng(3)
    n = round(length_s / RATE_S)
    t = RATE_S * np.arange(n)
    held, errors, stated = [], [], []
    for _ in range(300):
        creep = rng.uniform(-0.3, 0.3) * (t / length_s - 0.5)
        waves = sum(
            rng.uniform(0, 0.2) * np.sin(2 * np.pi * t / rng.uniform(1, 3) + rng.uniform(0, 6))
            for _ in range(3)
        )
        noise = coloured(rng, n, sd=0.05, period_s=RATE_S, time_s=0.3)
        found = mean_of(channel(12 + creep + waves + noise), Span(start_s=0, stop_s=length_s))
        held.append(abs(found.value - 12) <= 1.96 * found.sd)
        errors.append(found.value - 12)
        stated.append(found.sd)
    assert 0.90 <= np.mean(held) <= 0.995
    assert 0.8 < np.sqrt(np.mean(np.square(stated))) / np.std(errors) < 2.0


def test_directions_are_averaged_across_north() -> None:
    values = np.radians(np.tile([359.0, 1.0, 2.0, 358.0], 50)) % (2 * math.pi)
    found = mean_of(channel(values, "course"), Span(start_s=0, stop_s=20))
    assert math.cos(found.value) == pytest.approx(1.0, abs=1e-9)


def test_a_hole_leaves_no_mean_and_no_sum() -> None:
    t = np.r_[RATE_S * np.arange(50), 8 + RATE_S * np.arange(50)]
    holed = mean_of(channel(np.full(100, 3.0), t=t), Span(start_s=0, stop_s=12))
    assert not holed.known
    assert not total([holed, Mean(value=1.0, sd=0.1)]).known
    assert not average([holed]).known
    assert mean_of(None, Span(start_s=0, stop_s=1)) == NONE


def test_sums_and_averages_carry_their_doubt() -> None:
    parts = [Mean(value=3.0, sd=0.3), Mean(value=5.0, sd=0.4)]
    assert total(parts).value == 8.0
    assert total(parts).sd == pytest.approx(0.5)
    assert average(parts).value == 4.0
    assert average(parts).sd == pytest.approx(0.25)


def test_points_of_student_are_those_of_scipy() -> None:
    """In the table and beyond it."""
    for freedom in range(1, len(STUDENT_T) + 20):
        assert student_t(freedom) == pytest.approx(float(stdtrit(freedom, 0.975)), rel=1e-14)
    assert student_t(10) == pytest.approx(2.228, abs=5e-4)  # as printed tables have it
