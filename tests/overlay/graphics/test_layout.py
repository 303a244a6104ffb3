"""Instruments stand in the safe area, where their anchors say."""

from __future__ import annotations

import pytest

from overlay.graphics.faceplate import ANCHORS, InstrumentSpec
from overlay.graphics.layout import overlap, place, safe_area
from overlay.graphics.picture import Picture

WIDE = Picture(width_px=1920, height_px=1080)


@pytest.mark.parametrize(
    ("size", "edges"),
    [
        # EBU R95 (2017) and ITU-R BT.1848-1 (2015): 5 % at each edge; 96 and 54 pixels of
        # 1920x1080, 192 and 108 of 3840x2160.
        ((1920, 1080), (96, 54)),
        ((3840, 2160), (192, 108)),
        ((1280, 720), (64, 36)),
    ],
)
def test_the_safe_area_is_that_of_the_recommendation(size, edges):
    area = safe_area(Picture(width_px=size[0], height_px=size[1]))
    assert (area.left, area.top) == edges
    assert (size[0] - area.right, size[1] - area.bottom) == edges


def test_an_upright_picture_keeps_clear_of_what_phones_lay_over_it():
    # Common practice, no published source: 12 % above, 22 % below, 14 % at the right.
    area = safe_area(Picture(width_px=1080, height_px=1920))
    assert area.top >= 0.12 * 1920
    assert area.bottom <= 0.78 * 1920
    assert area.right <= 0.86 * 1080


@pytest.mark.parametrize("anchor", ANCHORS)
@pytest.mark.parametrize("size", [(1920, 1080), (1079, 1919), (1366, 768), (853, 480)])
def test_every_anchor_keeps_to_the_safe_area_on_even_pixels(anchor, size):
    picture = Picture(width_px=size[0], height_px=size[1])
    spec = InstrumentSpec(name="a", kind="readout", anchor=anchor)
    box = place(picture, [spec], {"a": (200, 100)})["a"]
    assert safe_area(picture).holds(box)
    assert all(edge % 2 == 0 for edge in box)
    if "left" in anchor:
        assert box[0] == safe_area(picture).left
    if "bottom" in anchor:
        assert box[1] + box[3] == safe_area(picture).bottom


def test_what_stands_above_another_touches_it_but_for_a_gap():
    specs = [
        InstrumentSpec(name="low", kind="readout"),
        InstrumentSpec(name="high", kind="readout", above="low"),
    ]
    boxes = place(WIDE, specs, {"low": (200, 100), "high": (150, 80)})
    assert 0 < boxes["low"][1] - (boxes["high"][1] + boxes["high"][3]) <= 0.01 * 1080
    assert not overlap(boxes["low"], boxes["high"])


def test_what_stood_on_one_that_is_left_out_comes_down():
    specs = [
        InstrumentSpec(name="low", kind="readout"),
        InstrumentSpec(name="middle", kind="readout", above="low"),
        InstrumentSpec(name="high", kind="readout", above="middle"),
    ]
    boxes = place(WIDE, specs, {"low": (200, 100), "high": (150, 80)})
    straight = place(WIDE, specs[:2], {"low": (200, 100), "middle": (150, 80)})
    assert boxes["high"] == straight["middle"]
    alone = place(WIDE, specs, {"high": (150, 80)})
    assert alone["high"][1] + 80 == safe_area(WIDE).bottom


def test_a_shift_is_a_share_of_the_picture():
    plain = InstrumentSpec(name="a", kind="readout", anchor="top left")
    moved = InstrumentSpec(name="a", kind="readout", anchor="top left", shift=(0.1, 0.05))
    one, other = (place(WIDE, [spec], {"a": (100, 50)})["a"] for spec in (plain, moved))
    assert (other[0] - one[0], other[1] - one[1]) == (192, 54)


def test_boxes_that_share_an_edge_do_not_overlap():
    assert not overlap((0, 0, 10, 10), (10, 0, 10, 10))
    assert overlap((0, 0, 10, 10), (9, 9, 10, 10))
