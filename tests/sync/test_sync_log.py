"""Channels: holes stay holes, directions go the short way, nothing can be written to."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sync.arrays import Floats, read_only
from sync.channel import Channel
from sync.clock import ClockMap, Span
from sync.log import Log


def speed(t: object, values: object, **more: object) -> Channel:
    known: dict[str, object] = {"name": "speed", "clock": "utc", **more}
    return Channel(t_s=np.array(t, float), values=np.array(values, float), **known)  # type: ignore[arg-type]


def test_between_two_values_lies_a_straight_line() -> None:
    """An event's time by linear interpolation (check values, signal processing): 20 at 10.05 s."""
    channel = speed([10.0, 10.1], [19.6, 20.4])
    assert channel.at(10.05)[0] == pytest.approx(20.0)


def test_outside_its_span_a_channel_has_no_value() -> None:
    channel = speed([0, 1, 2], [1, 2, 3])
    assert np.isnan(channel.at([-0.1, 2.1])).all()  # type: ignore[arg-type]
    assert channel.at([0.0, 2.0]).tolist() == [1.0, 3.0]  # type: ignore[arg-type]


def test_a_gap_longer_than_three_periods_is_a_hole() -> None:
    channel = speed([0, 1, 2, 6, 7, 8], [0, 1, 2, 6, 7, 8])
    assert channel.max_gap_s == 3.0
    (hole,) = channel.holes()
    assert (hole.start_s, hole.stop_s) == (2.0, 6.0)
    assert np.isnan(channel.at(4.0)[0])
    assert channel.at(2.0)[0] == 2.0


def test_a_fast_channel_may_miss_half_a_second() -> None:
    t = np.concatenate([np.arange(0, 1, 0.02), np.arange(1.48, 2, 0.02)])
    assert speed(t, t).max_gap_s == 0.5
    assert speed(t, t).holes() == ()


def test_samples_without_a_value_do_not_shorten_the_gap_that_counts() -> None:
    """A 1 Hz column in a table of 10 Hz rows: nine rows in ten hold nothing for it."""
    t = np.arange(0, 10, 0.1)
    values = np.where(np.arange(100) % 10 == 0, t, np.nan)
    channel = speed(t, values)
    assert channel.period_s == pytest.approx(1.0)
    assert channel.max_gap_s == pytest.approx(3.0)
    assert channel.at(4.5)[0] == pytest.approx(4.5)


def test_a_missing_value_inside_the_limit_is_bridged_and_beyond_it_not() -> None:
    values = np.arange(20.0)
    values[5:7] = np.nan
    values[10:15] = np.nan
    channel = speed(np.arange(20.0), values)
    assert channel.at(5.5)[0] == pytest.approx(5.5)
    assert np.isnan(channel.at(12.0)[0])


def test_directions_go_the_short_way_round() -> None:
    course = speed([0, 1], np.radians([350, 10]), name="course")
    assert np.degrees(course.at(0.5)[0]) % 360 == pytest.approx(0, abs=1e-9)


@given(st.lists(st.floats(0, 2 * np.pi, exclude_max=True), min_size=2, max_size=20))
def test_a_direction_is_never_outside_a_full_turn(turns: list[float]) -> None:
    course = speed(np.arange(len(turns)), turns, name="course")
    found = course.at(np.linspace(0, len(turns) - 1, 97))
    assert np.all((found >= 0) & (found <= 2 * np.pi))


def test_the_delay_is_taken_out_once() -> None:
    channel = speed([0, 1], [1, 2], delay_s=0.2, delay_sd_s=0.02)
    timely = channel.timely()
    assert timely.t_s.tolist() == [-0.2, 0.8]
    assert (timely.delay_s, timely.delay_sd_s) == (0.0, 0.02)
    assert timely.timely().t_s.tolist() == [-0.2, 0.8]


def test_a_channel_moves_only_from_its_own_clock() -> None:
    to_utc = ClockMap(from_clock="log:engine", to_clock="utc", offset_s=100.0)
    moved = speed([0, 1], [1, 2], clock="log:engine").on(to_utc)
    assert (moved.clock, moved.t_s.tolist()) == ("utc", [100.0, 101.0])
    with pytest.raises(ValueError, match="not on"):
        moved.on(to_utc)


def test_windows_and_cuts_keep_their_ends_as_they_say() -> None:
    channel = speed([0, 1, 2, 3], [0, 1, np.nan, 3])
    offsets, values = channel.window(1.0, 1.0)
    assert (offsets.tolist(), values.tolist()) == ([-1.0, 0.0], [0.0, 1.0])
    assert channel.cut(Span(start_s=1.0, stop_s=3.0)).t_s.tolist() == [1.0, 2.0]


@pytest.mark.parametrize(
    ("t", "values", "says"),
    [
        ([0, 0], [1, 2], "must increase"),
        ([1, 0], [1, 2], "must increase"),
        ([0, np.nan], [1, 2], "must be finite"),
        ([0, 1, 2], [1, 2], "two equal rows"),
    ],
)
def test_a_channel_that_cannot_be_is_refused(t: Floats, values: Floats, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        speed(t, values)


def test_a_channel_has_a_known_name() -> None:
    with pytest.raises(ValueError, match="not a channel name"):
        speed([0], [1], name="velocity")


def test_instances_have_keys_of_their_own() -> None:
    assert speed([0], [1], name="engine_speed").key == "engine_speed"
    assert speed([0], [1], name="engine_speed", instance=1).key == "engine_speed.1"


def test_what_a_channel_is_made_of_can_change_without_changing_it() -> None:
    t = np.array([0.0, 1.0])
    channel = speed(t, t)
    t[0] = 9.0
    assert channel.t_s[0] == 0.0
    with pytest.raises(ValueError, match="read-only"):
        channel.t_s[0] = 9.0
    assert not read_only([1.0]).flags.writeable


def test_a_log_spans_all_its_channels() -> None:
    from pathlib import Path

    one, two = speed([0, 5], [1, np.nan]), speed([3, 9], [1, 1], name="water_speed")
    log = Log(name="x", path=Path("x"), format="f", clock="utc", channels={"a": one, "b": two})
    assert log.span is not None
    assert log.span.start_s == 0.0
    assert log.span.holds(9.0)
    empty = Log(name="x", path=Path("x"), format="f", clock="utc", channels={})
    assert empty.span is None
    with pytest.raises(TypeError):
        log.channels["c"] = one  # type: ignore[index]


def test_almost_equal_forgives_rounding_alone() -> None:
    one = speed([0, 1], [1, np.nan])
    assert one.almost_equal(speed([0, 1 + 1e-12], [1, np.nan]))
    assert not one.almost_equal(speed([0, 1], [1, 2]))
    assert not one.almost_equal(speed([0, 1.001], [1, np.nan]))


@given(
    st.lists(st.integers(0, 60), min_size=2, max_size=30, unique=True),
    st.sets(st.integers(0, 60), max_size=10),
    st.integers(-20, 140),
    st.integers(1, 120),
)
def test_what_is_broken_in_a_span_is_what_a_hole_overlaps(
    when: list[int], empty: set[int], start: int, length: int
) -> None:
    t = np.array(sorted(when)) / 2
    values = np.where(np.isin(sorted(when), list(empty)), np.nan, 1.0)
    channel = Channel(name="speed", t_s=t, values=values, clock="utc", max_gap_s=1.5)
    span = Span(start_s=start / 4, stop_s=(start + length) / 4)
    assert channel.broken_in(span) == any(hole.overlap(span) for hole in channel.holes())
