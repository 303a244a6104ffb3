"""How a number lies to the result behind it: rounded rightly, for the boat, against her, or too
finely."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.audit.claims.digits import held
from overlay.audit.claims.figure import Figure
from overlay.audit.claims.measures import BY_NAME
from overlay.figures import plain, round_half_up, step_for
from overlay.sheet.said import Said, read_said
from sync.units import to_si


def of(measure: str, value: float, sd: float, unit: str) -> Figure:
    width = to_si(sd, unit) - to_si(0.0, unit)
    return Figure(run="", measure=BY_NAME[measure], value=to_si(value, unit), sd=width)


@pytest.mark.parametrize(
    ("said", "measure", "value", "sd", "fit", "rounded"),
    [
        ("4.3 s", "time to plane", 4.26, 0.05, "agrees", "rightly"),
        ("4.2 s", "time to plane", 4.26, 0.05, "rounding", "in the boat's favour"),
        ("4.26 s", "time to plane", 4.26, 0.05, "too many digits", "rightly"),
        ("4.23 s", "time to plane", 4.26, 0.05, "too many digits", "in the boat's favour"),
        ("4.26 s", "time to plane", 4.26, 0.009, "agrees", "rightly"),
        ("4.1 s", "time to plane", 4.26, 0.05, "differs", "in the boat's favour"),
        ("5 s", "time to plane", 4.26, 0.05, "rounding", "against the boat"),
        ("39 mph", "top speed", 38.4, 0.09, "rounding", "in the boat's favour"),
        ("38 mph", "top speed", 38.4, 0.09, "agrees", "rightly"),
        ("38 mph", "top speed", 38.6, 0.09, "rounding", "against the boat"),
        ("40 mph", "top speed", 38.4, 0.09, "differs", "in the boat's favour"),
        ("38.5 mph", "top speed", 38.45, 0.01, "agrees", "rightly"),
        ("38.4 mph", "top speed", 38.45, 0.01, "agrees", "rightly"),
        ("12 L/h", "fuel flow", 12.6, 0.1, "rounding", "in the boat's favour"),
        ("13 L/h", "fuel flow", 12.4, 0.1, "rounding", "against the boat"),
        ("136 nmi", "range", 135.2, 0.4, "rounding", "in the boat's favour"),
        ("134 nmi", "range", 135.2, 0.4, "differs", "against the boat"),
        ("3490 rpm", "engine speed", 3496.0, 3.0, "rounding", "neither way"),
        ("3500 rpm", "engine speed", 3496.0, 3.0, "agrees", "rightly"),
    ],
)
def test_worked_by_hand(said, measure, value, sd, fit, rounded):
    read = read_said(said)
    found = held(read, of(measure, value, sd, read.unit))
    assert (found.fit, found.rounded) == (fit, rounded)


def test_constant_acceleration_on_paper():
    """0 to 30 mph at 2 m/s² takes 6.7056 s (check-values, section 12, worked out)."""
    figure = of("time to", 30 * 0.44704 / 2, 0.004, "s")
    assert held(read_said("6.71 s"), figure).fit == "agrees"
    assert held(read_said("6.7 s"), figure).supported_text == "6.71"
    assert held(read_said("6.70 s"), figure).rounded == "in the boat's favour"
    assert held(read_said("6.7 s"), figure).digits == 3


def test_a_result_without_deviation_supports_no_digit():
    found = held(read_said("38 mph"), of("peak speed", 38.4, math.nan, "mph"))
    assert (found.fit, found.step, found.digits) == ("agrees", None, None)


VALUES = st.floats(0.5, 500.0)
DEVIATIONS = st.floats(0.001, 5.0)


@given(value=VALUES, sd=DEVIATIONS)
def test_what_the_results_support_is_always_supported(value, sd):
    step = step_for(sd)
    said = _said(round_half_up(value, step), step)
    assert held(said, of("top speed", value, sd, "kn")).fit == "agrees"


@given(value=VALUES, sd=DEVIATIONS, steps=st.integers(1, 40))
def test_no_number_above_the_rounded_one_is_supported_of_a_speed(value, sd, steps):
    """Whatever the digits, a larger number than the right one is for the boat and is caught."""
    step = step_for(sd)
    right = round_half_up(value, step)
    found = held(_said(right + steps * step, step), of("top speed", value, sd, "kn"))
    assert found.fit in ("rounding", "differs") or _tied(value, step)
    assert found.rounded == "in the boat's favour" or _tied(value, step)


@given(value=VALUES, sd=DEVIATIONS)
def test_a_digit_more_than_is_supported_never_agrees(value, sd):
    fine = step_for(sd) / 10
    found = held(_said(round_half_up(value, fine), fine), of("top speed", value, sd, "kn"))
    assert found.fit == "too many digits"


@given(value=VALUES, sd=DEVIATIONS, off=st.integers(-30, 30))
def test_what_flatters_in_one_sense_is_against_her_in_the_other(value, sd, off):
    step = step_for(sd)
    said = _said(round_half_up(value, step) + off * step, step)
    fast = held(said, of("top speed", value, sd, "kn")).rounded
    low = held(said, of("entry speed", value, sd, "kn")).rounded
    slow = held(_in("L/h", said), of("fuel flow", value, sd, "L/h")).rounded
    turned = {
        "in the boat's favour": "against the boat",
        "against the boat": "in the boat's favour",
    }
    assert slow == turned.get(fast, fast)
    assert low == ("rightly" if fast == "rightly" else "neither way")


def _said(number: Decimal, step: Decimal) -> Said:
    read = read_said(f"{plain(number, step)} kn", f"{step} kn")
    assert read.number == number
    return read


def _in(unit: str, said: Said) -> Said:
    return read_said(f"{plain(said.number, said.step)} {unit}", f"{said.step} {unit}")


def _tied(value: float, step: Decimal) -> bool:
    """A number half way between two may go to either."""
    part = value / float(step) % 1
    return abs(part - 0.5) < 1e-6
