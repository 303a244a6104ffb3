"""Graphics on pictures of greater range and gamut are as bright, and as coloured, as standards say.

The reference values were printed by colour-science 0.4.7, which has the formulas of ITU-R BT.2100
and the matrices of the primaries; nothing of it is in the product.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.graphics.light import (
    GRAPHICS_WHITE_CDM2,
    PRIMARIES,
    _hlg,
    _to_primaries,
    pq_signal,
    signal_of_rgb,
)
from overlay.graphics.picture import Picture

TO_BT2020 = [
    [0.6274039, 0.32928304, 0.04331307],
    [0.06909729, 0.9195404, 0.01136232],
    [0.01639144, 0.08801331, 0.89559525],
]
TO_P3 = [
    [0.822461969, 0.177538031, 0],
    [0.0331941989, 0.966805801, 0],
    [0.0170826307, 0.0723974407, 0.910519929],
]


@pytest.mark.parametrize(
    ("cdm2", "signal"), [(203.0, 0.580688881042), (0.0, 7.3e-7), (10_000.0, 1.0)]
)
def test_pq_is_that_of_bt2100(cdm2: float, signal: float) -> None:
    """colour-science, `eotf_inverse_BT2100_PQ`."""
    assert pq_signal(cdm2) == pytest.approx(signal, abs=1e-6)


@pytest.mark.parametrize(
    ("cdm2", "signal"),
    [
        ((203, 203, 203), (0.74987736, 0.74987736, 0.74987736)),
        ((100, 20, 203), (0.65272438, 0.31344937, 0.79409131)),
    ],
)
def test_hlg_is_that_of_bt2100(cdm2: tuple[float, ...], signal: tuple[float, ...]) -> None:
    """colour-science, `eotf_inverse_BT2100_HLG`."""
    assert _hlg(np.array(cdm2, float)) == pytest.approx(signal, abs=1e-7)


@pytest.mark.parametrize(("name", "matrix"), [("bt2020", TO_BT2020), ("p3", TO_P3)])
def test_primaries_are_converted_by_the_matrices_of_the_standards(
    name: str, matrix: list[list[float]]
) -> None:
    """colour-science, `matrix_RGB_to_RGB`; ITU-R BT.2087 prints the first to four places."""
    np.testing.assert_allclose(_to_primaries(name), matrix, atol=1e-7)


@pytest.mark.parametrize(("transfer", "percent"), [("pq", 58), ("hlg", 75)])
def test_white_is_where_bt2408_puts_it(transfer: str, percent: int) -> None:
    """ITU-R BT.2408, table 1."""
    assert GRAPHICS_WHITE_CDM2 == 203
    white = signal_of_rgb((255, 255, 255), transfer, "bt2020")
    assert [round(100 * part) for part in white] == [percent] * 3


@given(
    st.tuples(*[st.integers(0, 255)] * 3),
    st.sampled_from(["sdr", "hlg", "pq"]),
    st.sampled_from(sorted(PRIMARIES)),
)
def test_signals_are_signals_and_grey_stays_grey(
    rgb: tuple[int, int, int], transfer: str, primaries: str
) -> None:
    signal = signal_of_rgb(rgb, transfer, primaries)
    assert all(0 <= part <= 1 for part in signal)
    grey = signal_of_rgb((rgb[0],) * 3, transfer, primaries)
    assert max(grey) - min(grey) < 1e-6


def test_ordinary_pictures_take_colours_as_they_are() -> None:
    assert signal_of_rgb((0, 51, 255)) == (0, 0.2, 1)


def test_codes_of_ten_bits() -> None:
    """RGB(.25, .5, .75) in BT.601 at 10 bits, from colour-science's tests (`RGB_to_YCbCr`)."""
    picture = Picture(width_px=64, height_px=36, matrix="bt601", depth=10)
    colour = picture.yuv((63.75, 127.5, 191.25))
    assert (colour.y, colour.u, colour.v) == (461, 662, 382)
