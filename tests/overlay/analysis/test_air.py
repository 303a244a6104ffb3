"""The air's density, held against standards and against the metrologists' own equation."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.analysis.air import STANDARD_KGPM3, air, moist_density, saturation_pa
from overlay.sheet.tested import Conditions


def conditions(**given: str) -> Conditions:
    return Conditions.model_validate(given)


@pytest.mark.parametrize(
    ("celsius", "hpa", "density"),
    [
        # ISO 2533 and the U.S. Standard Atmosphere 1976 at 0, 1000 and 2000 m (from memory).
        (15.0, 1013.25, 1.2250),
        (8.5, 898.76, 1.1117),
        (2.0, 795.01, 1.0066),
        # Dry air at 0 °C and one atmosphere: 1.2929 g/L (handbooks, from memory).
        (0.0, 1013.25, 1.2922),
    ],
)
def test_dry_air_is_the_standards(celsius: float, hpa: float, density: float) -> None:
    found = moist_density(celsius + 273.15, hpa * 100, 0.0)
    assert found == pytest.approx(density, abs=1.5e-4)


@pytest.mark.parametrize(
    ("celsius", "pascal"),
    # Steam tables: saturation pressure of water over liquid (from memory).
    [(0.01, 611.7), (10, 1228), (15, 1705.6), (20, 2339), (25, 3169), (30, 4246), (40, 7384)],
)
def test_water_evaporates_as_in_the_steam_tables(celsius: float, pascal: float) -> None:
    # The coefficients are fitted for 0 to 27 °C; at 40 °C they still hold to 0.2 %.
    assert saturation_pa(celsius + 273.15) == pytest.approx(pascal, rel=2e-3)


def cipm_2007(celsius: float, pascal: float, humidity: float) -> float:
    """The whole equation with compressibility and enhancement, written out on its own.

    Picard, Davis, Gläser and Fujii, Metrologia 45 (2008), 149 (from memory); x_CO2 = 0.0004.
    """
    kelvin = celsius + 273.15
    saturated = math.exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin
    )
    x = humidity * (1.00062 + 3.14e-8 * pascal + 5.6e-7 * celsius**2) * saturated / pascal
    z = (
        1
        - pascal
        / kelvin
        * (
            1.58123e-6 - 2.9331e-8 * celsius + 1.1043e-10 * celsius**2
            + (5.707e-6 - 2.051e-8 * celsius) * x
            + (1.9898e-4 - 2.376e-6 * celsius) * x**2
        )
        + (pascal / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * x**2)
    )  # fmt: skip
    return pascal * 28.96546e-3 / (z * 8.314472 * kelvin) * (1 - x * (1 - 18.01528 / 28.96546))


def test_the_metrologists_equation_is_written_down_right() -> None:
    """20 °C, 1013.25 hPa, half saturated: 1.1992 kg/m³ by the equation of 1981/91, to which the
    one of 2007 adds 0.0064 % for the argon (from memory)."""
    assert cipm_2007(20.0, 101_325.0, 0.5) == pytest.approx(1.1992 * 1.000064, abs=5e-5)


@given(
    celsius=st.floats(0, 35),
    pascal=st.floats(8.5e4, 1.06e5),
    humidity=st.floats(0, 1),
)
def test_moist_air_keeps_to_the_metrologists_equation(
    celsius: float, pascal: float, humidity: float
) -> None:
    """To 0.1 %: ideal gases are enough where a barometer is read to 1 hPa."""
    found = moist_density(celsius + 273.15, pascal, humidity)
    assert found == pytest.approx(cipm_2007(celsius, pascal, humidity), rel=1e-3)


@given(celsius=st.floats(-10, 45), pascal=st.floats(8e4, 1.06e5), humidity=st.floats(0.01, 1))
def test_damp_air_is_lighter_and_denser_when_pressed(
    celsius: float, pascal: float, humidity: float
) -> None:
    kelvin = celsius + 273.15
    moist, dry = (moist_density(kelvin, pascal, h) for h in (humidity, 0.0))
    assert moist < dry
    assert moist_density(kelvin, pascal * 1.01, humidity) > moist
    assert moist_density(kelvin + 1, pascal, humidity) < moist


def test_the_sheets_air_has_its_ratio_and_says_what_was_assumed() -> None:
    damp = air(conditions(air_temperature="30 degC", pressure="1000 hPa", humidity="80 %"))
    dry = air(conditions(air_temperature="30 degC", pressure="1000 hPa"))
    assert damp is not None
    assert dry is not None
    assert damp.assumed == ()
    assert dry.assumed == ("dry air: the sheet states no humidity",)
    # 100 000 · 0.02896442 / (8.31432 · 303.15) = 1.14915, and 0.8 · 4246 / 100 000 · 0.378 less.
    assert dry.density_kgpm3 == pytest.approx(1.14915, abs=2e-5)
    assert damp.density_kgpm3 == pytest.approx(1.14915 * (1 - 0.03397 * 0.378), abs=2e-4)
    assert damp.ratio == pytest.approx(damp.density_kgpm3 / STANDARD_KGPM3)


@pytest.mark.parametrize("given", [{}, {"pressure": "1000 hPa"}, {"air_temperature": "20 degC"}])
def test_air_that_nobody_measured_has_no_density(given: dict[str, str]) -> None:
    assert air(conditions(**given)) is None
