"""Bars end where their numbers say, on a scale whose parts are of round worth."""

from __future__ import annotations

import math
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from overlay.figures import NO_VALUE
from overlay.graphics.instruments import bar
from overlay.graphics.layout import safe_area
from overlay.graphics.picture import Picture
from overlay.graphics.theme import contrast, load_theme

HD = Picture(width_px=1920, height_px=1080)
SIZES = [(1280, 720), (1920, 1080), (3840, 2160), (1080, 1920), (1080, 1080)]
KINDS = [
    ("bar", "speed"),
    ("strip", "speed"),
    ("twin_dial", "engine_speed"),
    ("twin_bar", "engine_speed"),
]
COLOURS = load_theme().colours


@pytest.fixture
def drawn(plan_of, launch_subject, blank_frame, rgb_of, start_s):
    """What a bar looks like at an instant, cut to its plate, with its part and its number."""

    def draw(signal, offset_s=-1.0, **options):
        subject = launch_subject(**{signal.channel.name: signal})
        plan = plan_of("bar", signal.channel.name, subject=subject, picture=HD, **options)
        planes = blank_frame(HD, 90)
        (shown,) = plan.draw(planes, start_s + offset_s)
        left, top, width, height = plan.boxes["it"]
        return rgb_of(planes)[top : top + height, left : left + width], plan, shown

    return draw


def near(image, colour, most=40.0):
    """Which pixels are of a colour of the theme, by the greatest difference of a code."""
    return np.abs(image - np.array(colour)).max(axis=-1) < most


def filled(image, part):
    """First and last column of the fill, by its pale blue; None where nothing is filled."""
    row = part._top + HD.px(bar.TRACK) - 3
    columns = np.nonzero(near(image[row], COLOURS.shallow))[0]
    return (int(columns[0]), int(columns[-1]) + 1) if columns.size else None


def column(part, value):
    """Where a value of a scale stands, worked out from its ends alone."""
    scale = part._bar
    share = (value - scale.scale.low) / (scale.scale.high - scale.scale.low)
    return scale.left_px + share * (scale.right_px - scale.left_px)


@pytest.mark.parametrize("rpm", [700, 2400, 4000, 5500, 6400])
def test_the_bar_ends_where_the_number_says(rpm, drawn, ramp_signal):
    image, plan, shown = drawn(ramp_signal("engine_speed", [(0, rpm / 60)]))
    (part,) = plan.parts
    # The rated band ends at 6000 rpm, so the scale runs from 0 to 7000 rpm.
    assert (part._bar.scale.low, part._bar.scale.high) == (0.0, 7000.0)
    assert shown.text == str(rpm)
    first, last = filled(image, part)
    assert first == part._bar.left_px
    assert last == pytest.approx(column(part, rpm), abs=0.6 * HD.px(bar.LINE) + 1)


@pytest.mark.parametrize("deg_s", [-7.0, -2.0, 3.0, 9.0])
def test_it_fills_either_way_where_the_scale_spans_zero(deg_s, drawn, ramp_signal):
    signal = ramp_signal("turn_rate", [(0, math.radians(deg_s))])
    image, plan, _ = drawn(signal, scale=(-10.0, 10.0))
    (part,) = plan.parts
    middle = (part._bar.left_px + part._bar.right_px) / 2
    first, last = filled(image, part)
    ends = sorted((middle, column(part, deg_s)))
    assert (first, last) == pytest.approx(ends, abs=0.6 * HD.px(bar.LINE) + 1)


def test_a_scale_without_zero_fills_from_its_near_end(drawn, ramp_signal):
    signal = ramp_signal("engine_speed", [(0, 5000 / 60)])
    image, plan, _ = drawn(signal, scale=(4000.0, 6000.0))
    (part,) = plan.parts
    first, last = filled(image, part)
    assert first == part._bar.left_px
    assert last == pytest.approx((part._bar.left_px + part._bar.right_px) / 2, abs=4)


def test_beyond_the_scale_it_stays_at_the_end_and_the_number_tells(drawn, ramp_signal):
    image, plan, shown = drawn(ramp_signal("engine_speed", [(0, 8000 / 60)]))
    (part,) = plan.parts
    assert shown.text == "8000"
    assert filled(image, part)[1] == pytest.approx(part._bar.right_px, abs=4)
    outside = near(image, COLOURS.shallow)
    outside[:, part._bar.left_px : part._bar.right_px] = False
    assert not outside.any()


def test_nothing_is_told_from_no_value(drawn, ramp_signal):
    """At zero the bar has a head and no fill; without a value it has neither."""
    heads = {}
    for rps in (0.0, np.nan):
        image, plan, shown = drawn(ramp_signal("engine_speed", [(0, rps)]))
        (part,) = plan.parts
        assert filled(image, part) is None
        row = part._top + HD.px(bar.TRACK) - 3
        heads[shown.text] = near(image[row], COLOURS.cream).any()
    assert heads == {"0": True, NO_VALUE: False}


def test_the_greatest_value_stays_marked(drawn, ramp_signal):
    signal = ramp_signal("engine_speed", [(0, 10), (2, 100), (4, 100), (8, 40)])
    image, plan, _ = drawn(signal, offset_s=9.0)
    (part,) = plan.parts
    over = part._top - 3
    marked = np.nonzero(near(image[over], COLOURS.magenta_text, 60))[0]
    assert marked.mean() + 0.5 == pytest.approx(column(part, 6000), abs=1.5)
    assert marked.size == pytest.approx(HD.px(bar.LINE), abs=2)
    without, plan, _ = drawn(signal, offset_s=9.0, held=False)
    assert not near(without[over], COLOURS.magenta_text, 60).any()


def test_the_rated_band_is_hatched_and_nothing_else(drawn, ramp_signal):
    image, plan, _ = drawn(ramp_signal("engine_speed", [(0, 5500 / 60)]), held=False)
    (part,) = plan.parts
    # Over the fill, where the hatching is seen whatever the value.
    rows = slice(part._top, part._top + round((1 - bar.FILL) * HD.px(bar.TRACK)) - 1)
    rosy = near(image[rows], COLOURS.magenta_text, 60).any(axis=0)
    columns = np.nonzero(rosy)[0]
    # Bounds of the launch's band: 5000 and 6000 rpm.
    assert columns[0] == pytest.approx(column(part, 5000), abs=12)
    assert columns[-1] == pytest.approx(column(part, 6000), abs=12)
    share = rosy[columns[0] : columns[-1]].mean()
    assert 0.3 < share <= 1.0
    assert near(image[rows], COLOURS.magenta_text, 60).mean(axis=None) < 0.2


def test_parts_are_black_and_white_and_of_round_worth(drawn, ramp_signal):
    image, plan, _ = drawn(ramp_signal("engine_speed", [(0, 10)]))
    (part,) = plan.parts
    row = part._top + HD.px(bar.TRACK) + 6
    inside = slice(part._bar.left_px, part._bar.right_px)
    white = near(image[row, inside], COLOURS.cream)
    turns = np.nonzero(np.diff(white.astype(int)))[0] + 1 + part._bar.left_px
    # Seven parts of 1000 rpm: they change colour at 1000, 2000 and so on.
    assert len(turns) == 6
    for turn, rpm in zip(turns, range(1000, 7000, 1000), strict=True):
        assert turn == pytest.approx(column(part, rpm), abs=1)


def test_numerals_stand_under_their_edges(drawn, ramp_signal):
    _, plan, _ = drawn(ramp_signal("engine_speed", [(0, 10)]))
    (part,) = plan.parts
    numerals = {text.text: text.box_px for text in plan.texts if text.text.isdigit()}
    assert set(numerals) == {"0", "2000", "4000", "6000"}
    for text in ("2000", "4000", "6000"):
        left, _, width, _ = numerals[text]
        place = plan.boxes["it"][0] + column(part, int(text))
        assert left + width / 2 == pytest.approx(place, abs=2)


@given(low=st.floats(-300, 200), span=st.floats(0.5, 400))
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_numerals_are_true_round_and_apart_on_any_scale(
    low, span, plan_of, launch_subject, ramp_signal
):
    subject = launch_subject(turn_rate=ramp_signal("turn_rate", [(0, 0.1)]))
    plan = plan_of("bar", "turn_rate", subject=subject, picture=HD, scale=(low, low + span))
    (part,) = plan.parts
    scale = part._bar.scale
    texts = [text for text in plan.texts if text.text not in ("RATE OF TURN", "°/s")]
    assert len(texts) >= 2
    for one, other in pairwise(texts):
        assert one.box_px[0] + one.box_px[2] < other.box_px[0]
    left, _, width, _ = plan.boxes["it"]
    for text in texts:
        value = float(Decimal(text.text.replace("−", "-")))
        assert np.abs(np.array(scale.edges) - value).min() < 1e-6 * span
        reach = text.box_px[0] - left, text.box_px[0] + text.box_px[2] - left
        # Under its edge, or flush with the end of the bar next to it.
        # Ink begins up to 6 pixels after the place of a letter.
        assert reach[0] - 6 <= column(part, value) <= reach[1] + 6
        assert reach[0] >= part._bar.left_px - 3
        assert reach[1] <= part._bar.right_px + 3
        assert reach[1] < width


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize(("kind", "channel"), KINDS)
def test_it_fits_every_picture_with_letters_as_high_as_the_look_asks(
    kind, channel, size, plan_of, launch_subject, blank_frame, start_s
):
    picture = Picture(width_px=size[0], height_px=size[1])
    plan = plan_of(kind, channel, subject=launch_subject(), picture=picture)
    assert safe_area(picture).holds(plan.boxes["it"])
    assert plan.covered <= 0.2
    for text in plan.draw(blank_frame(picture), start_s + 3):
        if text.text != NO_VALUE:
            assert text.box_px[3] >= 0.04 * picture.short_px
    capitals = [text for text in plan.texts if text.text.isupper() or text.text.isdigit()]
    assert capitals
    for text in capitals:
        assert text.box_px[3] >= 0.028 * picture.short_px


@pytest.mark.parametrize("luma", [16, 235, None], ids=["black", "white", "noise"])
@pytest.mark.parametrize(("kind", "channel"), KINDS)
def test_text_stands_out_over_any_picture(
    kind, channel, luma, plan_of, launch_subject, blank_frame, rgb_of, start_s
):
    """Measured on the finished picture: the paper around a text against its densest ink."""
    plan = plan_of(kind, channel, subject=launch_subject(), picture=HD)
    planes = blank_frame(HD, luma)
    shown = plan.draw(planes, start_s + 3)
    # Two dashes are ink alone, with no paper in their box.
    boxes = [text.box_px for text in (*shown, *plan.texts) if text.text != NO_VALUE]
    image = rgb_of(planes)
    assert len(boxes) >= 4
    for left, top, width, height in boxes:
        patch = image[top : top + height, left : left + width].reshape(-1, 3)
        order = patch.sum(axis=1).argsort()
        tenth = max(1, len(order) // 10)
        paper, ink = (np.median(patch[part], axis=0) for part in (order[:tenth], order[-tenth:]))
        # WCAG 2.2, success criterion 1.4.3: 4.5:1.
        assert contrast(tuple(ink), tuple(paper)) >= 4.5
