"""How numbers become text."""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.figures import (
    NO_VALUE,
    UNIT_SETS,
    figure,
    figure_of,
    plain,
    round_half_up,
    seconds,
    step_for,
)
from sync.channel import Channel
from sync.channel_kinds import CHANNELS
from sync.units import from_si, to_si


@pytest.mark.parametrize(
    ("value", "step", "text"),
    [
        (4.35, "0.1", "4.4"),  # the float64 lies below 4.35; the value does not
        (2.675, "0.01", "2.68"),
        (0.05, "0.1", "0.1"),
        (-0.05, "0.1", "−0.1"),
        (-0.04, "0.1", "0.0"),
        (5505.0, "10", "5510"),
        (5504.999, "10", "5500"),
        (0.3 + 0.6, "0.1", "0.9"),
        (1e6, "1", "1000000"),
    ],
)
def test_halves_go_up_in_decimal(value: float, step: str, text: str) -> None:
    assert plain(round_half_up(value, Decimal(step)), Decimal(step)) == text


@given(st.integers(-(10**7), 10**7), st.sampled_from(["0.01", "0.1", "1", "10"]))
def test_what_is_already_round_stays_as_it_is(count: int, step: str) -> None:
    exact = count * Decimal(step)
    assert round_half_up(float(exact), Decimal(step)) == exact


@given(st.floats(-1e6, 1e6), st.sampled_from(["0.01", "0.1", "1", "10"]))
def test_rounding_never_moves_by_more_than_half_a_step(value: float, step: str) -> None:
    rounded = float(round_half_up(value, Decimal(step)))
    assert abs(rounded - value) <= float(step) / 2 + 1e-9 + abs(value) * 1e-12


def test_a_missing_value_is_said_to_be_missing() -> None:
    assert figure("speed", "us").text(math.nan) == NO_VALUE
    assert figure("speed", "us").with_unit(math.nan) == f"{NO_VALUE} mph"


@pytest.mark.parametrize("units", UNIT_SETS)
@pytest.mark.parametrize("channel", CHANNELS)
def test_every_channel_can_be_written_in_every_unit_set(channel: str, units: str) -> None:
    written = figure(channel, units)
    value = to_si(12.0, written.unit)
    assert written.text(value).lstrip("−") in {"12", "12.0", "10"}
    assert from_si(value, written.unit) == pytest.approx(12.0)


@pytest.mark.parametrize(
    ("sd", "step"), [(0.0, "0.01"), (0.009, "0.01"), (0.01, "0.01"), (0.025, "0.1"), (0.3, "1")]
)
def test_the_last_digit_is_worth_a_standard_deviation_or_more(sd: float, step: str) -> None:
    assert step_for(sd) == Decimal(step).normalize() or float(step_for(sd)) == float(step)


def test_a_time_carries_the_digits_that_its_doubt_supports() -> None:
    assert seconds(4.3456, 0.004) == "4.35 s"
    assert seconds(4.3456, 0.03) == "4.3 s"
    assert seconds(4.3456, 5.0) == f"{NO_VALUE} s"
    assert seconds(4.3456, math.inf) == f"{NO_VALUE} s"


@pytest.mark.parametrize(("last_digit_kn", "text"), [(0.01, "41.4"), (0.1, "41.4"), (1.0, "41")])
def test_a_value_has_no_more_digits_than_its_log(last_digit_kn: float, text: str) -> None:
    """A step of a knot is uncertain by 0.29 kn = 0.33 mph, so that tenths would be invented."""
    knots = np.tile([0.0, last_digit_kn, 36.0], 4)
    values = knots * 1852 / 3600
    logged = Channel(name="speed", t_s=np.arange(12.0), values=values, clock="utc")
    assert figure_of(logged, "us").text(36 * 1852 / 3600) == text
