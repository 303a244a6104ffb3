"""Spans and clock maps."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sync.clock import TIME_TOLERANCE_S, ClockMap, Span, utc_seconds, utc_text

offsets = st.floats(-1e9, 1e9)
rates = st.floats(0.99, 1.01)
times = st.floats(0, 1e5)


def test_a_span_holds_its_start_and_not_its_end() -> None:
    span = Span(start_s=1.0, stop_s=2.0)
    assert span.holds(1.0)
    assert not span.holds(2.0)
    assert span.length_s == 1.0


def test_spans_that_only_touch_share_nothing() -> None:
    span = Span(start_s=1.0, stop_s=2.0)
    assert span.overlap(Span(start_s=2.0, stop_s=3.0)) is None
    assert span.overlap(Span(start_s=1.5, stop_s=3.0)) == Span(start_s=1.5, stop_s=2.0)


def test_a_span_cannot_end_before_it_starts_or_nowhere() -> None:
    with pytest.raises(ValueError, match="before it starts"):
        Span(start_s=2.0, stop_s=1.0)
    with pytest.raises(ValueError, match="before it starts"):
        Span(start_s=2.0, stop_s=float("nan"))


@given(offsets, rates, times)
def test_a_map_and_its_inverse_undo_each_other(offset: float, rate: float, t: float) -> None:
    there = ClockMap(from_clock="a", to_clock="b", offset_s=offset, rate=rate)
    again = there.inverse().carry(there.carry(t))
    assert again == pytest.approx(t, abs=TIME_TOLERANCE_S)
    assert there.then(there.inverse()).rate == pytest.approx(1.0)


@given(offsets, rates, offsets, rates, times)
def test_maps_in_a_row_are_one_map(a: float, p: float, b: float, q: float, t: float) -> None:
    one = ClockMap(from_clock="a", to_clock="b", offset_s=a, rate=p)
    two = ClockMap(from_clock="b", to_clock="c", offset_s=b, rate=q)
    both = one.then(two)
    assert (both.from_clock, both.to_clock) == ("a", "c")
    assert both.carry(t) == pytest.approx(two.carry(one.carry(t)), rel=1e-12, abs=1e-6)


def test_maps_that_do_not_meet_are_not_joined() -> None:
    one = ClockMap(from_clock="a", to_clock="b", offset_s=0.0)
    with pytest.raises(ValueError, match="cannot go on"):
        one.then(one)


@pytest.mark.parametrize("rate", [0.0, -1.0, float("nan")])
def test_a_clock_runs_forwards(rate: float) -> None:
    with pytest.raises(ValueError, match="cannot run"):
        ClockMap(from_clock="a", to_clock="b", offset_s=0.0, rate=rate)


def test_arrays_are_carried_whole() -> None:
    there = ClockMap(from_clock="a", to_clock="b", offset_s=10.0, rate=2.0)
    np.testing.assert_array_equal(there.carry(np.array([0.0, 1.0])), [10.0, 12.0])


@pytest.mark.parametrize(
    ("t", "digits", "text"),
    [
        (0.0, 3, "1970-01-01T00:00:00.000Z"),
        (1396515252.0, 0, "2014-04-03T08:54:12Z"),  # Signal K nmea0183-signalk, test/RMC.ts
        (1079020812.71, 2, "2004-03-11T16:00:12.71Z"),  # Signal K (ZDA)
        (0.9996, 3, "1970-01-01T00:00:01.000Z"),
        (-0.5, 1, "1969-12-31T23:59:59.5Z"),
    ],
)
def test_instants_print_as_iso_8601(t: float, digits: int, text: str) -> None:
    assert utc_text(t, digits) == text


def test_an_instant_needs_its_zone() -> None:
    assert utc_seconds(dt.datetime(2014, 4, 3, 8, 54, 12, tzinfo=dt.UTC)) == 1396515252.0
    with pytest.raises(ValueError, match="no time zone"):
        utc_seconds(dt.datetime(2014, 4, 3))  # noqa: DTZ001
