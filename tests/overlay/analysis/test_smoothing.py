"""The laws by which values follow from samples."""

import numpy as np
import pytest
import scipy.signal

from overlay.analysis.smoothing import LAWS, fit, law_for
from sync.channel import Channel

START = 1_781_170_000.0


def channel(t: np.ndarray, values: np.ndarray, name: str = "speed") -> Channel:
    return Channel(name=name, t_s=START + t, values=values, clock="utc")


def test_the_parabola_is_the_filter_of_savitzky_and_golay() -> None:
    """Against SciPy's savgol_filter and the table's quadratic 11-point weights, 89/429 in the
    middle (Savitzky and Golay 1964, as SciPy documents them)."""
    t = np.arange(0, 20, 0.1)
    values = np.random.default_rng(7).normal(10, 1, t.size)
    here = fit(channel(t, values), START + t[5:-5], LAWS["parabola"])
    np.testing.assert_allclose(
        here.values, scipy.signal.savgol_filter(values, 11, 2)[5:-5], atol=2e-6
    )
    np.testing.assert_allclose(
        here.slopes, scipy.signal.savgol_filter(values, 11, 2, deriv=1, delta=0.1)[5:-5], atol=2e-5
    )
    assert here.value_gain[0] == pytest.approx((89 / 429) ** 0.5, rel=1e-5)
    # σ_v = 0.05 m/s at 10 Hz gives 0.0477 m/s² over 11 points (worked from the same weights).
    assert here.slope_gain[0] * 0.05 == pytest.approx(0.0477, abs=5e-5)


@pytest.mark.parametrize("law", ["parabola", "line", "neighbours"])
def test_a_straight_line_is_given_back_at_any_instant(law: str) -> None:
    t = np.sort(np.random.default_rng(3).uniform(0, 10, 150))
    wanted = np.linspace(1, 9, 77)
    here = fit(channel(t, 3 + 2 * t), START + wanted, LAWS[law])
    good = np.isfinite(here.values)
    assert good.mean() > 0.9
    np.testing.assert_allclose(here.values[good], (3 + 2 * wanted)[good], atol=1e-5)
    np.testing.assert_allclose(here.slopes[good], 2.0, atol=1e-3)


@pytest.mark.parametrize("law", ["parabola", "line", "neighbours"])
def test_nothing_is_worked_out_across_a_hole(law: str) -> None:
    t = np.arange(0, 10, 0.1)
    keep = (t < 4.0) | (t > 6.0)
    here = fit(channel(t[keep], t[keep]), START + np.array([3.0, 4.5, 5.0, 5.5, 7.0]), LAWS[law])
    assert np.isfinite(here.values).tolist() == [True, False, False, False, True]


def test_a_value_that_was_not_available_is_a_hole_where_it_lasts() -> None:
    t = np.arange(0, 10, 0.1)
    values = np.where((t > 4) & (t < 6), np.nan, t)
    here = fit(channel(t, values), START + np.array([3.0, 5.0, 7.0]), LAWS["parabola"])
    assert np.isfinite(here.values).tolist() == [True, False, True]


def test_outside_the_log_there_is_nothing() -> None:
    t = np.arange(0, 10, 0.1)
    here = fit(channel(t, t), START + np.array([-1.0, -0.01, 9.95, 12.0]), LAWS["parabola"])
    assert not np.isfinite(here.values).any()


def test_an_empty_channel_has_no_value_anywhere() -> None:
    empty = channel(np.array([]), np.array([]))
    for law in LAWS.values():
        assert np.isnan(fit(empty, START, law).values).all()


def test_a_slow_channel_is_read_between_its_neighbours() -> None:
    t = np.arange(0, 100, 2.0)
    slow = channel(t, t)
    assert law_for(slow, {}).name == "neighbours"
    assert fit(slow, START + 3.0, law_for(slow, {})).values[0] == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("rate_off", "law"), [(14e-6, "line"), (-50e-6, "line"), (0.05, "neighbours")]
)
def test_a_logger_whose_clock_runs_slow_still_speaks_ten_times_a_second(
    rate_off: float, law: str
) -> None:
    t = np.arange(0, 100, 0.1) * (1 + rate_off)
    assert law_for(channel(t, t, "engine_speed"), {}).name == law
