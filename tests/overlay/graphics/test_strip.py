"""Strip charts show the shown values of the last seconds, each at its own instant."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from overlay.analysis.signals import Sample, signal_of
from overlay.errors import FaceplateError
from overlay.figures import NO_VALUE, figure
from overlay.graphics.instruments import strip, strip_paper, trace
from overlay.graphics.instruments.scale import scale_over
from overlay.graphics.picture import Picture
from overlay.graphics.theme import load_theme
from sync.channel import Channel

HD = Picture(width_px=1920, height_px=1080)
SMALL = Picture(width_px=640, height_px=360)
COLOURS = load_theme().colours
MPH = 0.44704
ORIGIN_S = 1_781_150_407.0
"""A whole second of UTC at which no part of any border scale begins."""
OFFSETS = st.lists(st.floats(-3.9, 13.9), min_size=2, max_size=6)
WITH_FIXTURES = [HealthCheck.function_scoped_fixture]


@pytest.fixture
def uneven(ramp_signal):
    """A speed with turns, two holes and an end, and the marks of the launch."""
    signal = ramp_signal(
        "speed", [(-6, 0), (0, 0), (2, 9), (2.6, 4), (7, 16), (8, 3), (16, 12)], hole=(3.1, 3.9)
    )
    values = np.array(signal.channel.values)
    values[(signal.channel.t_s > signal.channel.t_s[0] + 16) & (values > 4.5)] = np.nan
    return signal_of(replace(signal.channel, values=values), {}, signal.marks_s)


@pytest.fixture
def drawn(plan_of, launch_subject, blank_frame, rgb_of, start_s):
    """What a strip looks like at an instant, cut to its plate, with its part and its number."""

    def draw(signal, offset_s, **options):
        subject = launch_subject(**{signal.channel.name: signal})
        plan = plan_of("strip", signal.channel.name, subject=subject, picture=HD, **options)
        planes = blank_frame(HD, 90)
        (shown,) = plan.draw(planes, start_s + offset_s)
        left, top, width, height = plan.boxes["it"]
        (part,) = plan.parts
        return rgb_of(planes)[top : top + height, left : left + width], part, shown

    return draw


def paper_of(image, part):
    """The paper alone, without the border scale and the ticks over it."""
    at = part._at
    rows = slice(at.top_px, at.bottom_px - HD.px(strip.TICK))
    return image[rows, at.left_px : at.left_px + at.paper.width_px]


def near(image, colour, most=60.0):
    """Which pixels are of a colour of the theme, by the greatest difference of a code."""
    return np.abs(image - np.array(colour)).max(axis=-1) < most


def pen(image, part):
    """Row of the middle of the trace in each column, from the top of the paper; NaN without."""
    ink = near(paper_of(image, part), COLOURS.cream)
    rows = np.arange(ink.shape[0])[:, None] + 0.5
    with np.errstate(invalid="ignore"):
        return (ink * rows).sum(axis=0) / np.where(ink.any(axis=0), ink.sum(axis=0), np.nan)


def instant_of(part, newest_s):
    """The log time in the middle of each column, if the newest stands in the last one."""
    at = part._at.paper
    stop = math.floor((newest_s - at.origin_s) * at.second_px + 1e-4) + 1
    return at.origin_s + (np.arange(stop - at.width_px, stop) + 0.5) / at.second_px


@given(offsets=OFFSETS, seconds=st.sampled_from([5.0, 12.0, 20.0, 60.0]))
@settings(max_examples=25, deadline=None, suppress_health_check=WITH_FIXTURES)
def test_what_is_shifted_along_is_what_would_be_drawn_afresh(
    offsets, seconds, plan_of, launch_subject, uneven, blank_frame, start_s
):
    """Whatever was drawn before, forwards, backwards or far away."""

    def made():
        return plan_of(
            "strip", "speed", subject=launch_subject(speed=uneven), picture=SMALL, seconds=seconds
        )

    used = made()
    # Small steps as well, as frames make them.
    for offset in [*offsets, *(offsets[-1] + index / 7 for index in range(8))]:
        one, other = blank_frame(SMALL, 90), blank_frame(SMALL, 90)
        shown = used.draw(one, start_s + offset)
        assert repr(shown) == repr(made().draw(other, start_s + offset))
        for a, b in zip(one, other, strict=True):
            assert np.array_equal(a, b)


@pytest.mark.parametrize("seconds", [5.0, 20.0, 300.0])
def test_going_on_draws_no_more_than_what_is_new(
    seconds, plan_of, launch_subject, uneven, blank_frame, start_s, monkeypatch
):
    plan = plan_of(
        "strip", "speed", subject=launch_subject(speed=uneven), picture=SMALL, seconds=seconds
    )
    planes = blank_frame(SMALL, 90)
    plan.draw(planes, start_s)
    strokes = []
    whole = trace._stroke
    monkeypatch.setattr(trace, "_stroke", lambda *way: strokes.append(way) or whole(*way))
    for index in range(60):
        plan.draw(planes, start_s + index / 30)
    # Two seconds at 4 Hz, with no mark among them and nothing beyond the scale.
    assert len(strokes) == 7


@pytest.mark.parametrize("offset_s", [-2.0, 1.3, 5.9])
def test_the_trace_passes_each_value_at_its_instant(offset_s, drawn, ramp_signal, start_s):
    """A speed that rises steadily is known at every instant, and smoothing leaves it alone."""
    signal = ramp_signal("speed", [(-6, 2), (16, 24)])
    image, part, shown = drawn(signal, offset_s, scale=(0.0, 60.0), seconds=10.0)
    t = instant_of(part, shown.t_shown_s)
    height = HD.px(strip_paper.HEIGHT)
    expected = height * (1 - (8 + (t - start_s)) / MPH / 60)
    rows = pen(image, part)
    known = (t > start_s - 5) & np.isfinite(rows)
    known[-HD.px(strip.PEN) :] = False
    assert known.sum() > 0.25 * t.size
    assert np.abs(rows[known] - expected[known]).max() < 1.6
    before = t < start_s - 6.5
    assert not np.isfinite(rows[before]).any()


def test_the_newest_value_stands_at_the_right_edge_and_is_pointed_at(drawn, ramp_signal):
    signal = ramp_signal("speed", [(-6, 2), (16, 24)])
    image, part, shown = drawn(signal, 3.13, scale=(0.0, 60.0))
    ink = near(paper_of(image, part), COLOURS.cream)
    assert ink[:, -1].any()
    height = HD.px(strip_paper.HEIGHT)
    value = shown.value / MPH
    assert shown.text == f"{value:.1f}"
    assert pen(image, part)[-2] == pytest.approx(height * (1 - value / 60), abs=2.5)
    at = part._at
    beside = image[at.top_px : at.bottom_px, at.left_px + at.paper.width_px + 1 :]
    rows = np.nonzero(near(beside, COLOURS.cream).any(axis=1))[0]
    assert rows.mean() + 0.5 == pytest.approx(height * (1 - value / 60), abs=1.5)


def test_a_hole_is_a_hole(drawn, ramp_signal, start_s):
    signal = ramp_signal("speed", [(-6, 2), (16, 24)], hole=(1.0, 3.0))
    image, part, shown = drawn(signal, 6.0, scale=(0.0, 60.0), seconds=10.0)
    t, rows = instant_of(part, shown.t_shown_s) - start_s, pen(image, part)
    empty = ~np.isfinite(rows)
    # Nothing within the hole, but for the roundness of the pen at its ends.
    assert empty[(t > 1.2) & (t < 2.8)].all()
    assert not empty[(t > -3.9) & (t < 0.5)].any()
    assert not empty[(t > 3.5) & (t < 5.9)].any()
    within, part, shown = drawn(signal, 2.0, scale=(0.0, 60.0), seconds=10.0)
    assert shown.text == NO_VALUE
    at = part._at
    beside = within[at.top_px : at.bottom_px, at.left_px + at.paper.width_px + 1 :]
    assert not near(beside, COLOURS.cream).any()


def test_no_line_is_drawn_across_a_hole_between_two_instants_of_the_grid(start_s):
    """Fuel flow is shown twice a second; a hole that a log calls one may be shorter."""
    t = np.arange(0.0, 20.0, 0.05)
    for hole in (False, True):
        kept = t[(t < 5.06) | (t > 5.44)] if hole else t
        channel = Channel(
            name="fuel_flow",
            t_s=start_s + kept,
            values=np.full(kept.shape, 2e-5),
            clock="utc",
            max_gap_s=0.3,
        )
        signal = replace(signal_of(channel, {}), law=_as_logged())
        assert np.isfinite([signal.sample(start_s + x).value for x in (5.0, 5.5)]).all()
        paper = trace.Paper(origin_s=start_s, second_px=40.0, width_px=200)
        made = trace.Trace(
            signal,
            paper=paper,
            scale=scale_over(0.0, 40.0),
            figure=figure("fuel_flow", "us"),
            height_px=60,
            pen_px=3,
        )
        ink = made.ink(start_s + 7.0)
        # 5.1 to 5.4 s of paper whose last column holds 7.0 s.
        between = ink[:, 200 - round(1.9 * 40) : 200 - round(1.6 * 40)]
        assert between.any() != hole
        assert ink[:, 200 - 40 : 200].any(axis=0).all()


def _as_logged():
    """The law of a channel that is shown as it was logged."""
    from overlay.analysis.smoothing import law_for

    channel = Channel(name="throttle", t_s=np.arange(9.0), values=np.zeros(9), clock="utc")
    return law_for(channel, {})


def test_beyond_the_scale_the_pen_runs_along_its_end(drawn, ramp_signal, start_s):
    signal = ramp_signal("speed", [(-6, 10), (16, 32)])
    image, part, shown = drawn(signal, 12.0, scale=(0.0, 50.0), seconds=10.0)
    t = instant_of(part, shown.t_shown_s) - start_s
    at = part._at
    # 50 mph are reached 6.35 s after the start; 16 m/s + t, at 0 s.
    over = t > 50 * MPH - 16 + 0.2
    assert 0.4 * t.size < over.sum() < 0.7 * t.size
    edge = near(
        image[at.top_px - 1 : at.top_px + 1, at.left_px : at.left_px + at.paper.width_px],
        COLOURS.cream,
    )
    assert edge[:, over].any(axis=0).all()
    # The pen is 0.7 s high on a trace that rises as slowly as this one.
    under = (t > 2) & (t < 50 * MPH - 16 - 0.7)
    assert under.sum() > 0.2 * t.size
    assert not edge[:, under].any()
    over_it = image[at.top_px - 8 : at.top_px - 4, at.left_px : at.left_px + t.size]
    assert not near(over_it, COLOURS.cream).any()


def test_the_pen_meets_the_end_of_its_scale_where_the_value_does(ramp_signal):
    made = trace.Trace(
        ramp_signal("speed", [(0, 1)]),
        paper=trace.Paper(origin_s=ORIGIN_S, second_px=40.0, width_px=200),
        scale=scale_over(10.0, 50.0),
        figure=figure("speed", "us"),
        height_px=80,
        pen_px=3,
    )
    inside, over = Sample(t_s=ORIGIN_S, value=40 * MPH), Sample(t_s=ORIGIN_S + 1, value=90 * MPH)
    # A fifth of the way from 40 to 90 mph lies within the scale.
    way = np.array([(0, 20), (8, 0), (40, 0)])
    assert np.array(made._way(inside, over)) == pytest.approx(way, abs=1e-4)
    under = Sample(t_s=ORIGIN_S - 1, value=-60 * MPH)
    across = np.array([(-40, 80), (-40 + 40 * 70 / 150, 80), (-40 + 40 * 110 / 150, 0), (0, 0)])
    high = replace(over, t_s=ORIGIN_S)
    assert np.array(made._way(under, high)) == pytest.approx(across, abs=1e-4)


def test_seconds_are_whole_seconds_of_log_time_and_move_with_the_paper(drawn, ramp_signal, start_s):
    signal = ramp_signal("speed", [(-6, 2), (16, 24)])
    for offset_s in (0.0, 0.25, 3.5, 7.75):
        image, part, shown = drawn(signal, offset_s, seconds=20.0)
        at = part._at
        t = instant_of(part, shown.t_shown_s)
        row = at.bottom_px + HD.px(strip.BORDER) // 2
        white = near(image[row, at.left_px : at.left_px + at.paper.width_px], COLOURS.cream)
        turns = np.nonzero(np.diff(white[3:-3].astype(int)))[0] + 3
        assert 3 <= turns.size <= 6
        edges = (t[turns] + t[turns + 1]) / 2
        column_s = 1 / at.paper.second_px
        # Every part is five seconds, counted on the log's own clock.
        assert np.abs(edges / 5 - np.round(edges / 5)).max() * 5 <= column_s
        for here, edge in zip(turns, edges, strict=True):
            assert white[here + 1] == (round(edge / 5) % 2 == 0)
        ticks = near(
            image[at.bottom_px - 4, at.left_px : at.left_px + at.paper.width_px],
            COLOURS.engraving,
            20,
        )
        begins = t[np.nonzero(np.diff(ticks.astype(int)) > 0)[0] + 1] - column_s / 2
        assert begins.size >= 15
        assert np.abs(begins - np.round(begins)).max() <= column_s


@given(
    stop=st.integers(-5000, 5000),
    shift=st.integers(0, 80),
    second_px=st.floats(0.5, 90),
    part_s=st.sampled_from(strip_paper.WHOLE_SECONDS),
)
@settings(max_examples=150, deadline=None)
def test_a_column_keeps_its_second_wherever_it_is_seen(stop, shift, second_px, part_s):
    paper = trace.Paper(origin_s=ORIGIN_S, second_px=second_px, width_px=100)
    before, after = paper.parts(stop, part_s), paper.parts(stop + shift, part_s)
    assert np.array_equal(before[shift:], after[: 100 - shift])
    assert paper.stop(paper.origin_s + stop / second_px) == stop + 1
    t = ORIGIN_S + np.arange(stop - 100, stop) / second_px
    clear = np.abs(t / part_s - np.round(t / part_s)) > 1e-4
    assert np.array_equal((before % 2)[clear], (np.floor(t / part_s) % 2)[clear])


@given(offset_s=st.floats(-3, 13), more_s=st.floats(0.1, 4))
@settings(max_examples=60, deadline=None, suppress_health_check=WITH_FIXTURES)
def test_the_trace_takes_the_instants_whose_values_are_shown(
    offset_s, more_s, ramp_signal, start_s
):
    """Held against asking, every fiftieth of a second, which instant is shown."""
    signal = ramp_signal("speed", [(0, 1), (8, 16)])
    last = signal.shown_instant(start_s + offset_s + more_s)
    found = trace.instants(signal, start_s + offset_s, last)
    asked = {signal.shown_instant(start_s + step / 50) for step in range(-250, 1001)}
    assert found == sorted(t for t in asked if start_s + offset_s < t <= last)
    assert found == sorted(set(found))


def test_thresholds_are_lines_and_the_scale_makes_room_for_them(drawn, ramp_signal):
    signal = ramp_signal("speed", [(-6, 1), (16, 2)])
    image, part, _ = drawn(signal, 3.0, thresholds=(-12.0, 25.0, 47.0))
    at = part._at
    assert at.scale.low <= -12
    assert at.scale.high >= 47
    row = near(image, COLOURS.magenta_text)[at.top_px : at.bottom_px, at.left_px + 9]
    rows = np.nonzero(row)[0]
    lines = np.split(rows, np.nonzero(np.diff(rows) > 1)[0] + 1)
    assert len(lines) == 3
    for line, value in zip(lines, (47, 25, -12), strict=True):
        share = (value - at.scale.low) / (at.scale.high - at.scale.low)
        assert line.mean() == pytest.approx(HD.px(strip_paper.HEIGHT) * (1 - share), abs=1.5)
    plain, part, _ = drawn(signal, 3.0)
    assert not near(paper_of(plain, part), COLOURS.magenta_text).any()


def test_too_many_thresholds_are_an_error(drawn, ramp_signal):
    signal = ramp_signal("speed", [(-6, 1), (16, 2)])
    with pytest.raises(FaceplateError, match=r"4 thresholds.*room for 3"):
        drawn(signal, 3.0, thresholds=(1.0, 2.0, 3.0, 4.0))


def test_a_threshold_beyond_a_written_scale_is_an_error(drawn, ramp_signal):
    signal = ramp_signal("speed", [(-6, 1), (16, 2)])
    _, part, _ = drawn(signal, 3.0, thresholds=(0.0, 50.0), scale=(0.0, 50.0))
    assert part._at.scale.high == 50
    with pytest.raises(FaceplateError, match="beyond the scale, which goes from 0 to 50"):
        drawn(signal, 3.0, thresholds=(51.0,), scale=(0.0, 50.0))


def test_without_its_channel_it_still_says_the_time_and_nothing_else(
    plan_of, launch_subject, blank_frame, rgb_of, start_s
):
    plan = plan_of("strip", "speed", subject=launch_subject(speed=None), picture=HD)
    planes = blank_frame(HD, 90)
    (part,) = plan.parts
    for index in range(30):
        (shown,) = plan.draw(planes, start_s + 1.01 + index / 30)
        assert shown.text == NO_VALUE
    assert part.repaints == pytest.approx(5, abs=1)
    left, top, width, height = plan.boxes["it"]
    image = rgb_of(planes)[top : top + height, left : left + width]
    assert not np.isfinite(pen(image, part)).any()
