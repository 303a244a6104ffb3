"""Curves through points against those of SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from overlay.analysis.monotone import monotone_at

POINTS = st.lists(
    st.tuples(st.floats(0.01, 100), st.sampled_from([0.0, 1.0, -2.0]) | st.floats(-1e3, 1e3)),
    min_size=2,
    max_size=12,
)


@given(POINTS, st.lists(st.floats(-0.1, 1.1), max_size=20))
def test_values_are_those_of_scipy(steps: list[tuple[float, float]], shares: list[float]) -> None:
    """Within rounding, at the points and between them; and no value where SciPy has none."""
    x = np.cumsum([step for step, _ in steps])
    y = np.array([value for _, value in steps])
    wanted = np.concatenate([x, x[0] + np.array(shares) * (x[-1] - x[0])])
    expected = PchipInterpolator(x, y, extrapolate=False)(wanted)
    np.testing.assert_allclose(
        monotone_at(x, y, wanted), expected, rtol=1e-12, atol=1e-12 * float(np.max(np.abs(y)))
    )


def test_a_curve_rises_only_where_its_points_rise() -> None:
    """A step between two levels: no value beyond either, where a plain cubic overshoots."""
    x, y = np.array([0.0, 1, 2, 3, 4]), np.array([0.0, 0, 1, 1, 1])
    values = monotone_at(x, y, np.linspace(0, 4, 401))
    assert np.all(np.diff(values) >= 0)
    assert (values.min(), values.max()) == (0.0, 1.0)


def test_two_points_make_a_line() -> None:
    made = monotone_at(np.array([1.0, 3]), np.array([2.0, 6]), np.array([0.0, 1, 2, 3, 4]))
    assert made == pytest.approx([np.nan, 2, 4, 6, np.nan], nan_ok=True)
