"""The invented boat, engine and propeller of the demo, and the water they work in.

Nobody builds any of them. Sizes and coefficients are chosen so that the whole behaves as an
open six-metre planing boat does; `tests/demo_media` holds what comes out against rules of
the trade.
"""

from __future__ import annotations

from dataclasses import dataclass

GRAVITY = 9.80665
"""Standard gravity in m/s²."""

WATER_DENSITY = 1005.0
"""Brackish water of a northern inland sea in kg/m³."""

AIR_DENSITY = 1.22
"""Air at 15 °C in kg/m³."""

FUEL_DENSITY = 0.745
"""Petrol in kg/L, inside the 0.720 to 0.775 kg/L of EN 228 (from memory)."""

FUEL_HEAT = 43.4e6
"""Lower heating value of petrol in J/kg (US DOE AFDC, Properties of Fuels)."""

INCH = 0.0254
HORSEPOWER = 745.699872
"""Mechanical horsepower (550 ft·lbf/s) in watts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hull:
    """A planing hull, weighed as tested: engine, crew and fuel are on board."""

    name: str
    length_m: float
    beam_m: float
    mass_kg: float
    deadrise_deg: float
    rest_trim_deg: float
    wetted_rest_m2: float
    wetted_planing_m2: float
    appendage_m2: float
    windage_m2: float

    @property
    def weight_n(self) -> float:
        """Weight in newtons."""
        return self.mass_kg * GRAVITY


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """A four-stroke petrol outboard."""

    name: str
    power_w: float
    rated_rpm: tuple[float, float]
    idle_rpm: float
    limit_rpm: float
    gear_ratio: float
    gear_efficiency: float
    cylinders: int
    rotor_inertia: float
    propeller_inertia: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Propeller:
    """A three-bladed propeller; the inertia of its shaft counts with the engine."""

    name: str
    diameter_m: float
    pitch_m: float
    blades: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Wind and current over the whole day; directions in degrees from north."""

    wind_mps: float
    wind_from_deg: float
    current_mps: float
    current_to_deg: float
    air_c: float
    water_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What is on trial, and in what conditions."""

    hull: Hull
    engine: Engine
    propeller: Propeller
    weather: Weather


DEMO = Setup(
    hull=Hull(
        name="Ottervik 600 open",
        length_m=6.0,
        beam_m=2.25,
        mass_kg=1180.0,
        deadrise_deg=19.0,
        rest_trim_deg=0.6,
        wetted_rest_m2=8.6,
        wetted_planing_m2=3.12,
        appendage_m2=0.0014,
        windage_m2=1.0,
    ),
    engine=Engine(
        name="Skarvhult 150",
        power_w=150 * HORSEPOWER,
        rated_rpm=(5000.0, 6000.0),
        idle_rpm=680.0,
        limit_rpm=6200.0,
        gear_ratio=2.0,
        gear_efficiency=0.96,
        cylinders=4,
        rotor_inertia=0.14,
        propeller_inertia=0.03,
    ),
    propeller=Propeller(
        name="Skarvhult stainless",
        diameter_m=14.0 * INCH,
        pitch_m=21.0 * INCH,
        blades=3,
    ),
    weather=Weather(
        wind_mps=2.6,
        wind_from_deg=40.0,
        current_mps=0.8 * 1852 / 3600,
        current_to_deg=218.0,
        air_c=17.0,
        water_c=14.0,
    ),
)
"""The set-up of the demo trial."""
