"""How values become text a second time, against figures on paper and against the product's."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from overlay import figures
from overlay.audit.recompute.rounding import (
    Writing,
    duration_texts,
    half_up,
    plain,
    with_doubt_texts,
    worth_for,
)
from overlay.audit.recompute.units import unit

TENTH = Fraction(1, 10)


def written(sign: str, value: float, worth: Fraction = TENTH, decimal_sign: str = ".") -> tuple:
    return Writing(unit=unit(sign), worth=worth, decimal_sign=decimal_sign).texts(value)


@pytest.mark.parametrize(
    ("value", "worth", "text"),
    [
        (Fraction(434, 100), TENTH, "4.3"),
        (Fraction(436, 100), TENTH, "4.4"),
        (Fraction(-436, 100), TENTH, "−4.4"),
        (Fraction(-4, 100), TENTH, "0.0"),
        (Fraction(5246), Fraction(10), "5250"),
        (Fraction(2, 1000), Fraction(1, 100), "0.00"),
        (Fraction(12), Fraction(1), "12"),
    ],
)
def test_known_on_paper(value: Fraction, worth: Fraction, text: str) -> None:
    assert plain(half_up(value, worth), worth) == text


def test_halves_go_away_from_nought() -> None:
    assert half_up(Fraction(435, 100), TENTH) == Fraction(44, 10)
    assert half_up(Fraction(-435, 100), TENTH) == Fraction(-44, 10)
    assert half_up(Fraction(445, 100), TENTH) == Fraction(45, 10)


def test_within_a_billionth_of_a_tie_both_neighbours_are_right() -> None:
    assert written("m/s", 4.35) == ("4.3", "4.4")
    assert written("m/s", 4.35 + 0.9e-9) == ("4.3", "4.4")
    assert written("m/s", 4.35 + 3e-9) == ("4.4",)
    assert written("m/s", 4.35 - 3e-9) == ("4.3",)


def test_what_a_value_may_be_off_widens_that() -> None:
    told = Writing(unit=unit("m/s"), worth=TENTH, decimal_sign=".")
    assert told.texts(4.35 + 1e-6) == ("4.4",)
    assert told.texts(4.35 + 1e-6, off=2e-6) == ("4.3", "4.4")


def test_no_value_and_the_decimal_sign() -> None:
    assert written("m/s", math.nan) == ("––",)
    assert written("kn", 10.0, decimal_sign=",") == ("19,4",)


# 20 mph, 20 kn and 80 km/h by hand: 8.9408, 10.2889 and 22.2222 m/s (check-values, section 1).
@pytest.mark.parametrize(
    ("sign", "value", "text"),
    [("mph", 8.9408, "20.0"), ("kn", 10.28888889, "20.0"), ("km/h", 22.22222222, "80.0")],
)
def test_speeds_on_paper(sign: str, value: float, text: str) -> None:
    assert written(sign, value) == (text,)


@pytest.mark.parametrize(
    ("sd", "worth"),
    [(0.025, TENTH), (0.009, Fraction(1, 100)), (0.11, Fraction(1)), (0.0, Fraction(1, 100))],
)
def test_digits_that_a_deviation_supports(sd: float, worth: Fraction) -> None:
    assert worth_for(sd) == worth


def test_durations() -> None:
    assert duration_texts(4.48302, 0.0273, ".") == ("4.5",)
    assert duration_texts(4.48302, 0.0073, ".") == ("4.48",)
    assert duration_texts(4.48302, 1.2, ".") == ("––",)
    assert with_doubt_texts(22.617, 0.0075, ",") == ("22,62",)


@pytest.mark.parametrize("sign", ["mph", "kn", "km/h", "rpm", "°", "°/s", "L/h", "US gal/h", "%"])
def test_the_product_writes_one_of_them(sign: str) -> None:
    """Two thousand values each, of which some lie on ties."""
    quantity = unit(sign).quantity
    worth = Fraction(10) if sign == "rpm" else Fraction(1) if sign in ("°", "%") else TENTH
    how = figures.Figure(
        quantity=quantity, unit=sign, step=figures.Decimal(str(float(worth))), greatest=1.0
    )
    told = Writing(unit=unit(sign), worth=worth, decimal_sign=".")
    for count in range(2000):
        value = float(unit(sign).factor) * (count * 0.05 - 20.0) * float(worth) * 10
        assert how.text(value) in told.texts(value)
