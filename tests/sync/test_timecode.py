"""Timecode arithmetic, against published labels, and what a container's timecode is a clue to."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sync.timecode import (
    RATES,
    TimecodeError,
    TimecodeRate,
    behind_s,
    frames_of,
    is_drop_label,
    label_of,
    rate_near,
    seconds_of,
    time_of_day,
)

PLAIN, DROP, DROP_60 = RATES["29.97"], RATES["29.97 drop"], RATES["59.94 drop"]


# OpenTimelineIO, tests/test_opentime.py (commit bc5fe2d78dc3).
@pytest.mark.parametrize(
    ("frame", "label"),
    [
        (1799, "00:00:59;29"),
        (1800, "00:01:00;02"),
        (8991, "00:04:59;29"),
        (8992, "00:05:00;02"),
        (10789, "00:05:59;29"),
        (10790, "00:06:00;02"),
        (17981, "00:09:59;29"),
        (17982, "00:10:00;00"),
        (215783, "01:59:59;29"),
        (215784, "02:00:00;00"),
        (1078919, "09:59:59;29"),
        (1078920, "10:00:00;00"),
        (1084319, "10:03:00;05"),
    ],
)
def test_drop_frame_labels_are_the_published_ones(frame: int, label: str) -> None:
    assert label_of(frame, DROP) == label
    assert frames_of(label, DROP) == frame


# The same source, counted without dropping.
@pytest.mark.parametrize(
    ("frame", "label"),
    [
        (10789, "00:05:59:19"),
        (10790, "00:05:59:20"),
        (17981, "00:09:59:11"),
        (17982, "00:09:59:12"),
        (1084319, "10:02:23:29"),
    ],
)
def test_plain_labels_are_the_published_ones(frame: int, label: str) -> None:
    assert label_of(frame, PLAIN) == label
    assert frames_of(label, PLAIN) == frame


def test_at_59_94_the_first_four_labels_of_a_minute_are_left_out() -> None:
    """The first from OpenTimelineIO's tests, the others worked out by hand."""
    assert label_of(1084319, DROP_60) == "05:01:30;03"
    assert label_of(3599, DROP_60) == "00:00:59;59"
    assert label_of(3600, DROP_60) == "00:01:00;04"
    assert label_of(35964, DROP_60) == "00:10:00;00"


def test_an_hour_and_a_day_have_the_published_number_of_frames() -> None:
    """107,892 and 2,589,408 (drop-frame at 29.97, worked out from 17,982 in ten minutes)."""
    assert frames_of("01:00:00;00", DROP) == 107_892
    assert DROP.frames_in_a_day == 2_589_408
    assert RATES["25"].frames_in_a_day == 2_160_000


@pytest.mark.parametrize("label", ["00:01:00;00", "00:01:00;01", "17:59:00;01"])
def test_a_label_that_was_left_out_is_refused_in_one_sentence(label: str) -> None:
    with pytest.raises(TimecodeError, match=r"leaves out; the first of that minute ends in ;02\."):
        frames_of(label, DROP)


@pytest.mark.parametrize(
    ("label", "rate", "words"),
    [
        ("24:00:00:00", "25", "beyond"),
        ("10:60:00:00", "25", "beyond"),
        ("10:00:00:25", "25", "frame 24"),
        ("10:00:00;00", "25", "does not drop"),
        ("10:00:00;00", "23.976", "does not drop"),
        ("10:00:00:00", "29.97 drop", "which drops"),
        ("10:00:00", "25", "no timecode"),
        ("noon", "25", "no timecode"),
    ],
)
def test_what_cannot_be_a_label_is_refused(label: str, rate: str, words: str) -> None:
    with pytest.raises(TimecodeError, match=words):
        frames_of(label, RATES[rate])


@given(rate=st.sampled_from(list(RATES.values())), data=st.data())
@settings(max_examples=300, deadline=None)
def test_frames_and_labels_are_inverses_and_days_roll_over(
    rate: TimecodeRate, data: st.DataObject
) -> None:
    frame = data.draw(st.integers(0, rate.frames_in_a_day - 1))
    label = label_of(frame, rate)
    assert frames_of(label, rate) == frame
    assert label_of(frame + rate.frames_in_a_day, rate) == label
    assert label_of(frame - rate.frames_in_a_day, rate) == label
    assert is_drop_label(label) == rate.drop


@pytest.mark.parametrize("rate", RATES.values(), ids=lambda rate: rate.key)
def test_the_last_label_of_a_day_is_followed_by_the_first(rate: TimecodeRate) -> None:
    last = label_of(rate.frames_in_a_day - 1, rate)
    assert last[:8] == "23:59:59"
    assert last[-2:] == f"{rate.counted - 1:02d}"
    assert label_of(rate.frames_in_a_day, rate)[:8] == "00:00:00"


def test_labels_fall_behind_the_time_of_day_by_the_published_amounts() -> None:
    """3.6 s an hour without dropping; with it they are 86.4 ms a day ahead (worked out)."""
    assert behind_s(3600, PLAIN) == pytest.approx(3.6, abs=0.004)
    assert behind_s(3600, RATES["23.976"]) == pytest.approx(3.6, abs=0.004)
    assert behind_s(86_400, DROP) == pytest.approx(-0.0864, abs=1e-6)
    assert behind_s(86_400, RATES["25"]) == 0.0
    assert DROP.keeps_time
    assert not PLAIN.keeps_time


def test_frames_last_what_their_rate_says_exactly() -> None:
    assert seconds_of(30, PLAIN) == Fraction(1001, 1000)
    assert RATES["23.976"].frame_s == Fraction(1001, 24000)


def test_a_rate_is_known_by_its_frames_a_second() -> None:
    assert rate_near(Fraction(30000, 1001)).key == "29.97"
    assert rate_near(29.97, drop=True).key == "29.97 drop"
    assert rate_near(29.9998).key == "30"
    with pytest.raises(TimecodeError, match=r"drop-frame timecode counts 25\.000"):
        rate_near(25, drop=True)
    with pytest.raises(TimecodeError, match=r"15\.000 frames a second \(allowed: 23\.976, 24"):
        rate_near(15)


def test_a_label_reads_as_a_time_of_day_and_drop_frame_steps_are_evened_out() -> None:
    assert time_of_day(frames_of("10:20:30:12", RATES["25"]), RATES["25"]) == Fraction(930762, 25)
    assert time_of_day(frames_of("01:00:00:15", PLAIN), PLAIN) == Fraction(7201, 2)
    assert time_of_day(frames_of("01:00:00;00", DROP), DROP) == 3600
    for minute in range(10):
        last = time_of_day(frames_of(f"03:0{minute}:59;29", DROP), DROP)
        assert float(last) == pytest.approx(3 * 3600 + minute * 60 + 60 - 1 / 30, abs=0.067)
