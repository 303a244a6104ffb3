"""The frames of a sequence and their labels, held against published ones and OpenTimelineIO's."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from zoneinfo import ZoneInfo

import opentimelineio as otio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.exchange.grid import Grid, counted_at, grid_from, most_common_rate
from sync.timecode import RATES, TimecodeError, behind_s, frames_of, label_of

DROP_30, DROP_60 = Fraction(30000, 1001), Fraction(60000, 1001)

# OpenTimelineIO's tests/test_opentime.py has the 29.97 labels; those at 59.94 follow from SMPTE
# ST 12-1's rule with four labels a minute.
GOLDEN = [
    (DROP_30, 1799, "00:00:59;29"),
    (DROP_30, 1800, "00:01:00;02"),
    (DROP_30, 8991, "00:04:59;29"),
    (DROP_30, 8992, "00:05:00;02"),
    (DROP_30, 10789, "00:05:59;29"),
    (DROP_30, 10790, "00:06:00;02"),
    (DROP_30, 17981, "00:09:59;29"),
    (DROP_30, 17982, "00:10:00;00"),
    (DROP_30, 107892, "01:00:00;00"),
    (DROP_30, 215783, "01:59:59;29"),
    (DROP_30, 215784, "02:00:00;00"),
    (DROP_30, 1078919, "09:59:59;29"),
    (DROP_30, 1078920, "10:00:00;00"),
    (DROP_30, 1084319, "10:03:00;05"),
    (DROP_60, 3599, "00:00:59;59"),
    (DROP_60, 3600, "00:01:00;04"),
    (DROP_60, 35964, "00:10:00;00"),
    (DROP_60, 1084319, "05:01:30;03"),
]
SMPTE_RATES = [rate for rate in RATES.values() if rate.counted in (24, 25, 30, 50, 60)]
SUMMER = dt.datetime(2026, 6, 11, 4, 12, 56, 700_000, tzinfo=dt.UTC).timestamp()


@pytest.mark.parametrize(("rate_hz", "frame", "label"), GOLDEN)
def test_labels_drop_as_published(rate_hz: Fraction, frame: int, label: str) -> None:
    grid = Grid(rate=counted_at(rate_hz), zero_utc_s=Fraction(0), first=frame, time_zone="UTC")
    assert grid.label(0) == label
    assert frames_of(label, grid.rate) == frame
    assert otio.opentime.RationalTime(frame, float(rate_hz)).to_timecode() == label


@pytest.mark.parametrize("frames", ["00", "01"])
def test_labels_that_are_left_out_are_refused(frames: str) -> None:
    """OpenTimelineIO takes them for others; a sequence never has them."""
    with pytest.raises(TimecodeError, match="leaves out"):
        frames_of(f"00:01:00;{frames}", RATES["29.97 drop"])


@given(frame=st.integers(0, 5_000_000), rate=st.sampled_from(SMPTE_RATES))
def test_every_label_is_opentimelineios(frame: int, rate) -> None:
    number = frame % rate.frames_in_a_day
    hz = float(rate.rate_hz)
    theirs = otio.opentime.RationalTime(number, hz).to_timecode(hz, rate.drop)
    assert label_of(number, rate) == theirs


@pytest.mark.parametrize(
    ("rate_hz", "key"),
    [
        (DROP_30, "29.97 drop"),
        (DROP_60, "59.94 drop"),
        (Fraction(30), "30"),
        (Fraction(24000, 1001), "23.976"),
        (Fraction(25), "25"),
    ],
)
def test_labels_drop_wherever_they_can(rate_hz: Fraction, key: str) -> None:
    assert counted_at(rate_hz).key == key


def test_a_rate_that_no_timecode_counts_is_refused() -> None:
    with pytest.raises(TimecodeError, match=r"120\.000 frames a second"):
        counted_at(Fraction(120))


def test_most_recordings_have_it() -> None:
    rates = [Fraction(25), DROP_30, None, DROP_30, Fraction(120)]
    assert most_common_rate(rates).key == "29.97 drop"
    assert most_common_rate([Fraction(50), Fraction(25)]).key == "50"
    assert most_common_rate([Fraction(120), None]).key == "30"


@given(
    t_s=st.floats(1.7e9, 1.9e9),
    rate=st.sampled_from(list(RATES.values())),
    zone=st.sampled_from(["UTC", "Europe/Helsinki", "Asia/Kathmandu", "America/St_Johns"]),
)
def test_a_grid_begins_just_before_and_with_the_time_of_day(t_s: float, rate, zone: str) -> None:
    grid = grid_from(t_s, rate, zone)
    assert grid.frame_at(t_s) >= 0
    assert t_s - float(grid.zero_utc_s) < 2 + float(rate.frame_s) * 4
    local = dt.datetime.fromtimestamp(float(grid.zero_utc_s), tz=ZoneInfo(zone))
    hours, minutes, rest = grid.label(0).replace(";", ":").split(":", 2)
    seconds, frames = map(int, rest.split(":"))
    shown = 3600 * int(hours) + 60 * int(minutes) + seconds + frames / rate.counted
    wall = 3600 * local.hour + 60 * local.minute + local.second + local.microsecond / 1e6
    apart = (shown - wall + 43200) % 86400 - 43200
    assert abs(apart) <= 2 * rate.dropped / rate.counted + 2e-6


def test_the_place_of_an_instant_is_exact_all_day() -> None:
    """After 10 h at 29.97, frames still begin where they must: n · 1001 / 30000 s."""
    grid = grid_from(SUMMER, RATES["29.97 drop"], "Europe/Helsinki")
    for frame in (0, 1, 1_000_000, 1_078_921):
        begins = grid.zero_utc_s + frame * Fraction(1001, 30000)
        assert grid.place_of(begins) == frame
        assert grid.frame_at(float(begins)) == frame
        assert grid.nearest(float(begins) + 0.4 * 1001 / 30000) == frame
        assert grid.nearest(float(begins) - 0.4 * 1001 / 30000) == frame


def test_labels_are_the_places_time_of_day() -> None:
    grid = grid_from(SUMMER, RATES["25"], "Europe/Helsinki")
    assert grid.label(0) == "07:12:56:00"
    assert grid.label(grid.frame_at(SUMMER)) == "07:12:56:17"
    assert float(grid.zero_utc_s) == SUMMER - 0.7


def test_how_labels_leave_the_time_of_day() -> None:
    """3.6 s an hour where none drop, 86.4 ms a day where they do (SMPTE ST 12-1)."""
    assert behind_s(3600, RATES["29.97"]) == pytest.approx(3.6, abs=0.005)
    assert behind_s(86400, RATES["29.97 drop"]) == pytest.approx(-0.0864, abs=0.0001)
