"""A colour becomes the codes that the standards give it."""

from __future__ import annotations

import numpy as np
import pytest

from overlay.graphics.picture import Picture

BARS = {
    "white": (191.25, 191.25, 191.25),
    "yellow": (191.25, 191.25, 0),
    "cyan": (0, 191.25, 191.25),
    "green": (0, 191.25, 0),
    "magenta": (191.25, 0, 191.25),
    "red": (191.25, 0, 0),
    "blue": (0, 0, 191.25),
}

# 75 % colour bars after ITU-R BT.709 and BT.601, as the test sources `rainbowhd` and `rainbow`
# of FFmpeg's libavfilter/vsrc_testsrc.c print them.
BARS_709 = {
    "white": (180, 128, 128),
    "yellow": (168, 44, 136),
    "cyan": (145, 147, 44),
    "green": (133, 63, 52),
    "magenta": (63, 193, 204),
    "red": (51, 109, 212),
    "blue": (28, 212, 120),
}
BARS_601 = {
    "white": (180, 128, 128),
    "yellow": (162, 44, 142),
    "cyan": (131, 156, 44),
    "green": (112, 72, 58),
    "magenta": (84, 184, 198),
    "red": (65, 100, 212),
    "blue": (35, 212, 114),
}


def codes(picture: Picture, rgb: tuple[float, float, float]) -> tuple[int, int, int]:
    colour = picture.yuv(rgb)
    return colour.y, colour.u, colour.v


@pytest.mark.parametrize("name", BARS)
@pytest.mark.parametrize(("matrix", "expected"), [("bt709", BARS_709), ("bt601", BARS_601)])
def test_colour_bars_have_the_codes_of_the_standard(name, matrix, expected):
    picture = Picture(width_px=64, height_px=36, matrix=matrix)
    assert codes(picture, BARS[name]) == expected[name]


def test_full_bars_of_601():
    # FFmpeg's `rainbow100`: ITU-R BT.601 bars at 100 %.
    picture = Picture(width_px=64, height_px=36, matrix="bt601")
    assert codes(picture, (255, 255, 0)) == (210, 16, 146)
    assert codes(picture, (255, 0, 0)) == (81, 90, 240)
    assert codes(picture, (0, 0, 255)) == (41, 240, 110)


def test_red_differs_between_the_matrices_by_what_the_standards_say():
    # Computed from the weights of BT.709 and BT.601: 63 against 81.
    wide = Picture(width_px=64, height_px=36, matrix="bt709").yuv((255, 0, 0))
    old = Picture(width_px=64, height_px=36, matrix="bt601").yuv((255, 0, 0))
    assert (wide.y, old.y) == (63, 81)


@pytest.mark.parametrize("matrix", ["bt709", "bt601", "bt2020"])
def test_full_range_uses_every_code(matrix):
    picture = Picture(width_px=64, height_px=36, matrix=matrix, full_range=True)
    assert codes(picture, (0, 0, 0)) == (0, 128, 128)
    assert codes(picture, (255, 255, 255)) == (255, 128, 128)
    assert codes(picture, (255, 0, 0))[2] == 255


def test_the_inverse_matrix_of_the_standard_gives_the_colour_back(rgb_of):
    # Limited-range BT.709 to R'G'B' (rows as printed with the colour-science package's tests):
    # 1.16438356 (Y - 16), with 1.79274107 Cr, -0.21324861 Cb, -0.53290933 Cr, 2.11240179 Cb.
    inverse = np.array(
        [
            [1.16438356, 0, 1.79274107],
            [1.16438356, -0.21324861, -0.53290933],
            [1.16438356, 2.11240179, 0],
        ]
    )
    picture = Picture(width_px=64, height_px=36)
    for colour in [(16, 36, 62), (246, 238, 217), (176, 18, 91)]:
        y, u, v = codes(picture, colour)
        back = inverse @ [y - 16, u - 128, v - 128]
        # Half a code of luma and of chroma make up to 1.6 codes of blue.
        np.testing.assert_allclose(back, colour, atol=1.7)
        planes = (
            np.full((2, 2), y, np.uint8),
            np.full((1, 1), u, np.uint8),
            np.full((1, 1), v, np.uint8),
        )
        np.testing.assert_allclose(rgb_of(planes)[0, 0], back, atol=1e-4)


def test_shapes_and_sizes():
    odd = Picture(width_px=1279, height_px=719)
    assert odd.chroma_shape == (360, 640)
    assert odd.shape == "wide"
    assert Picture(width_px=1080, height_px=1920).shape == "upright"
    assert Picture(width_px=1080, height_px=1080).shape == "square"
    assert Picture(width_px=1080, height_px=1920).short_px == 1080


@pytest.mark.parametrize("wrong", [{"width_px": 0}, {"height_px": 1}, {"matrix": "bt470"}], ids=str)
def test_a_picture_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"no room|is not one of"):
        Picture(**({"width_px": 64, "height_px": 36} | wrong))
