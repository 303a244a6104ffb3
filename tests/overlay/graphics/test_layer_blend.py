"""Masks and blends do what float64 arithmetic says, to a code."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overlay.graphics.layer import Layer, Mask
from overlay.graphics.picture import Yuv


def mean_of_blocks(plane, across=2, down=2):
    blocks = plane.reshape(plane.shape[0] // down, down, plane.shape[1] // across, across)
    return blocks.mean(axis=(1, 3))


class Reference:
    """The same layer in float64, one full-size array for each quantity."""

    def __init__(self, width, height, chroma=(2, 2)):
        self.size = height, width
        self.chroma = chroma
        small = (height // chroma[1], width // chroma[0])
        self.planes = [np.zeros((height, width))] + [np.zeros(small)] * 2
        self.rest = [np.ones((height, width)), np.ones(small)]

    def cover(self, mask, colour, opacity=1.0):
        cover = np.zeros(self.size)
        for y in range(mask.alpha.shape[0]):
            for x in range(mask.alpha.shape[1]):
                row, column = mask.top + y, mask.left + x
                if 0 <= row < self.size[0] and 0 <= column < self.size[1]:
                    cover[row, column] = mask.alpha[y, x] / 255 * opacity
        shared = mean_of_blocks(cover, *self.chroma)
        covers = [cover, shared, shared]
        codes = (colour.y, colour.u, colour.v)
        self.planes = [
            plane * (1 - m) + m * code
            for plane, m, code in zip(self.planes, covers, codes, strict=True)
        ]
        self.rest = [rest * (1 - m) for rest, m in zip(self.rest, covers[:2], strict=True)]

    def blend(self, planes):
        rests = [self.rest[0], self.rest[1], self.rest[1]]
        return [
            picture * rest + plane
            for picture, rest, plane in zip(planes, rests, self.planes, strict=True)
        ]


masks = st.tuples(
    st.integers(-6, 14),
    st.integers(-6, 14),
    st.integers(1, 9),
    st.integers(1, 9),
    st.integers(0, 2**31),
    st.tuples(st.integers(0, 255), st.integers(0, 255), st.integers(0, 255)),
    st.sampled_from([1.0, 0.93, 0.3]),
)


@given(st.lists(masks, max_size=4), st.integers(0, 2**31))
@settings(max_examples=120, deadline=None)
def test_a_blend_is_within_a_code_of_float64(drawn, seed):
    layer, reference = Layer(16, 12), Reference(16, 12)
    for left, top, width, height, own_seed, codes, opacity in drawn:
        alpha = np.random.default_rng(own_seed).integers(0, 256, (height, width), dtype=np.uint8)
        mask = Mask(left=left, top=top, alpha=alpha)
        colour = Yuv(y=codes[0], u=codes[1], v=codes[2])
        layer.cover(mask, colour, opacity)
        reference.cover(mask, colour, opacity)
    noise = np.random.default_rng(seed)
    frame = tuple(noise.integers(0, 256, s, dtype=np.uint8) for s in ((20, 24), (10, 12), (10, 12)))
    before = [plane.copy() for plane in frame]
    layer.blend(frame, 4, 6)
    windows = [np.s_[6:18, 4:20], np.s_[3:9, 2:10], np.s_[3:9, 2:10]]
    expected = reference.blend(
        [plane[w].astype(np.float64) for plane, w in zip(before, windows, strict=True)]
    )
    for plane, old, window, wanted in zip(frame, before, windows, expected, strict=True):
        # Four coverings, each rounded to 1/256 in cover and in colour, and the blend itself.
        assert np.abs(plane[window] - wanted).max() <= 1.0 + 4 * 0.5
        outside = np.ones(plane.shape, bool)
        outside[window] = False
        assert np.array_equal(plane[outside], old[outside])


@given(st.integers(0, 255), st.integers(0, 255), st.integers(0, 255))
@settings(max_examples=200, deadline=None)
def test_one_covering_is_within_a_code_of_float64(alpha, code, below):
    layer = Layer(2, 2)
    mask = Mask(left=0, top=0, alpha=np.full((2, 2), alpha, np.uint8))
    layer.cover(mask, Yuv(y=code, u=code, v=code))
    frame = tuple(np.full(s, below, np.uint8) for s in ((2, 2), (1, 1), (1, 1)))
    layer.blend(frame, 0, 0)
    wanted = below + (code - below) * alpha / 255
    for plane in frame:
        assert np.abs(plane - wanted).max() <= 1.0


def test_full_cover_leaves_nothing_and_no_cover_leaves_everything():
    for below in range(256):
        frame = tuple(np.full(s, below, np.uint8) for s in ((2, 4), (1, 2), (1, 2)))
        layer = Layer(4, 2)
        layer.cover(Mask(left=0, top=0, alpha=np.full((2, 2), 255, np.uint8)), Yuv(y=235, u=7, v=9))
        layer.blend(frame, 0, 0)
        assert frame[0].tolist() == [[235, 235, below, below]] * 2
        assert frame[1].tolist() == [[7, below]]
        assert frame[2].tolist() == [[9, below]]


def test_a_layer_takes_over_columns_of_another():
    empty, full = Layer(8, 2), Layer(8, 2)
    full.cover(Mask(left=0, top=0, alpha=np.full((2, 8), 255, np.uint8)), Yuv(y=200, u=1, v=2))
    empty.become(full, stop=5)
    assert empty.rest.tolist() == [[0] * 5 + [256] * 3] * 2
    assert empty.rest_chroma.tolist() == [[0, 0, 0, 256]]


@pytest.mark.parametrize("size", [(3, 2), (2, 3), (0, 2)])
def test_layers_are_even(size):
    with pytest.raises(ValueError, match="not even"):
        Layer(*size)


@pytest.mark.parametrize("chroma", [(2, 2), (2, 1), (1, 2), (1, 1)])
@pytest.mark.parametrize("depth", [8, 10])
def test_every_sampling_and_depth_is_within_a_code_of_float64(chroma, depth):
    """Two masks over noise; a fourth plane counts what is covered."""
    rng = np.random.default_rng(depth * 10 + chroma[0] + 2 * chroma[1])
    top = 2**depth - 1
    kind = np.uint8 if depth == 8 else np.uint16
    reference = Reference(36, 24, chroma)
    layer = Layer(36, 24, chroma=chroma, depth=depth)
    for left, upper, code, opacity in ((3, 5, (top, 10, 200), 0.9), (-4, 9, (20, top, 3), 1.0)):
        alpha = rng.integers(0, 256, (13, 22)).astype(np.uint8)
        mask, colour = Mask(left=left, top=upper, alpha=alpha), Yuv(y=code[0], u=code[1], v=code[2])
        layer.cover(mask, colour, opacity)
        reference.cover(mask, colour, opacity)
    planes = [rng.integers(0, top + 1, p.shape).astype(kind) for p in reference.planes]
    before = [plane.astype(float) for plane in planes]
    planes.append(np.zeros((24, 36), kind))
    layer.blend(tuple(planes), 0, 0)
    rests = (reference.rest[0], reference.rest[1], reference.rest[1])
    slack = 1.6 * top / 255  # coverage is counted in 256ths
    for plane, old, colour, rest in zip(planes, before, reference.planes, rests, strict=False):
        assert np.abs(plane - (old * rest + colour)).max() <= slack
    assert np.abs(planes[3] - top * (1 - reference.rest[0])).max() <= slack
