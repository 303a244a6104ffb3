"""Times, units and deviations as tables have them."""

import math

import pytest

from overlay.figures import NO_VALUE
from overlay.report.columns import deviation_text, number, with_deviation
from overlay.report.words import (
    course,
    hours_minutes,
    instant_of_day,
    listed,
    one_line,
    sentence,
    time_of_day,
    unit_key,
)

AT = 1_781_150_400.0  # 2026-06-11T04:00:00Z


def test_times_are_in_the_trial_s_zone() -> None:
    assert time_of_day(AT + 793.4, "Europe/Helsinki") == "07:13:13"
    assert instant_of_day(AT + 793.4, "Europe/Helsinki") == "07:13:13.400"
    assert instant_of_day(AT + 59.9999, "UTC") == "04:01:00.000"


def test_courses_have_three_digits() -> None:
    assert course(math.radians(45.2)) == "045°"
    assert course(math.radians(359.7)) == "000°"
    assert course(math.nan) == NO_VALUE


def test_a_duration_has_hours_and_minutes() -> None:
    assert hours_minutes(7.6 * 3600) == "7:36"
    assert hours_minutes(3599.0) == "1:00"
    assert hours_minutes(math.inf) == NO_VALUE


@pytest.mark.parametrize(
    ("sd", "text"),
    [(0.014, "0.01"), (0.04, "0.04"), (0.44, "0.4"), (0.009, "0.009"), (3.2, "3"), (1e-9, "0.001")],
)
def test_a_deviation_has_its_first_digit_and_is_never_nought(sd: float, text: str) -> None:
    assert deviation_text(sd) == text


def test_what_is_not_known_has_no_deviation() -> None:
    assert with_deviation(math.nan, 0.1) == NO_VALUE
    assert with_deviation(5.0, math.nan) == NO_VALUE
    assert with_deviation(29.643, 0.04) == "29.64 ± 0.04"
    assert with_deviation(331.4, 12.0) == "330 ± 10"
    assert number(29.64, 0.04) == "29.6"


@pytest.mark.parametrize(
    ("unit", "key"),
    [
        ("mph", "mph"),
        ("km/h", "kmh"),
        ("US gal/h", "us_gal_per_h"),
        ("mi/US gal", "mi_per_us_gal"),
        ("m/s²", "m_per_s2"),
        ("°", "deg"),
    ],
)
def test_a_unit_has_a_name_that_programs_take(unit: str, key: str) -> None:
    assert unit_key(unit) == key
    assert key.isascii()


def test_a_name_is_one_line_that_hides_nothing() -> None:
    assert one_line("a\tb\r\nc\x00d\x1b[31m") == "a b c d [31m"
    assert one_line("x\u202egnp.exe\u2066") == "xgnp.exe"


def test_lists_and_sentences() -> None:
    assert [listed(list("abc")[:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
    assert sentence("what is it?") == "What is it?"
    assert sentence("it is so") == "It is so."
