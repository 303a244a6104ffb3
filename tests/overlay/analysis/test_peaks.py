"""Peaks against those that SciPy finds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.signal import find_peaks

from overlay.analysis.peaks import peaks_of
from sync.arrays import Floats

FLAT_TOPS = arrays(np.float64, st.integers(1, 60), elements=st.integers(0, 4).map(float))
ANY_SHAPE = arrays(np.float64, st.integers(1, 60), elements=st.floats(-1e6, 1e6))


@given(FLAT_TOPS | ANY_SHAPE)
def test_peaks_and_prominences_are_those_of_scipy(values: Floats) -> None:
    """To the last bit, whatever the row: with level tops, with ties, with none at all."""
    places, prominences = peaks_of(values)
    expected, about = find_peaks(values, prominence=0)
    assert places.tolist() == expected.tolist()
    assert prominences.tolist() == about["prominences"].tolist()


def test_a_peak_on_a_flank_stands_out_by_its_own_dip() -> None:
    """0 to 5, a dip to 3, up to 9 and down to 1: the lesser peak stands 2 above its dip, the
    greater 8 above the higher of both ends."""
    places, prominences = peaks_of(np.array([0.0, 5, 3, 9, 1]))
    assert places.tolist() == [1, 3]
    assert prominences == pytest.approx([2.0, 8.0])
