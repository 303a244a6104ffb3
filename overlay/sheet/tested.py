"""What was tested, as the trial sheet states it: boat, engines, propeller, load, conditions, fuel.

Every blank costs the figures that need it, and no more.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from overlay.sheet.fields import Instant, Words
from overlay.sheet.quantities import (
    AirPressure,
    AirTemperature,
    AmountOfFuel,
    Angle,
    Cup,
    Depth,
    Fraction,
    Length,
    Mass,
    MountHeight,
    Power,
    Speed,
    Temperature,
    Volume,
    WaveHeight,
)


class Part(BaseModel):
    """A table of the sheet: keys that it does not know are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def in_order(start: dt.datetime, stop: dt.datetime) -> None:
    """Refuse a stretch that ends before it begins."""
    if stop <= start:
        message = "stop must come after start"
        raise ValueError(message)


class Boat(Part):
    """The boat as it was tested."""

    name: str | None = None
    length: Length | None = None
    beam: Length | None = None
    mass: Mass | None = Field(None, description="as weighed or given, with nobody aboard")
    deadrise: Angle | None = None
    bottom: Literal["clean", "foul"] | None = Field(
        None, description="the bottom of the hull: whether anything grows on it"
    )
    bottom_paint: Words | None = Field(
        None, description="what the bottom is painted with, in your own words"
    )


class Engine(Part):
    """One engine, port before starboard."""

    name: str | None = None
    power: Power | None = None
    rated_rpm: tuple[float, float] | None = Field(
        None, description="the maker's band for full throttle, in rpm"
    )
    gear_ratio: Annotated[float, Field(gt=0)] | None = None
    cylinders: Annotated[int, Field(ge=1, le=24)] | None = None
    strokes: Literal[2, 4] | None = None
    mount_height: MountHeight | None = Field(
        None,
        description="of the plate above the propeller over the bottom of the hull; below it is "
        "negative",
    )

    @model_validator(mode="after")
    def _band_in_order(self) -> Self:
        if self.rated_rpm and not 0 < self.rated_rpm[0] < self.rated_rpm[1]:
            message = f"rated_rpm must be two numbers, the lower first, not {self.rated_rpm}"
            raise ValueError(message)
        return self


class Propeller(Part):
    """The propeller as it was fitted."""

    name: str | None = None
    diameter: Length | None = None
    pitch: Length | None = None
    blades: Annotated[int, Field(ge=1, le=12)] | None = None
    cup: Cup | None = Field(
        None, description="how far the trailing edge is cupped, '0 mm' for not at all"
    )


class Load(Part):
    """What was aboard."""

    people: Annotated[int, Field(ge=0)] | None = None
    people_mass: Mass | None = Field(None, description="of all people together")
    gear: Mass | None = None
    fuel: AmountOfFuel | None = None
    fuel_kind: Literal["petrol", "diesel"] = "petrol"
    ethanol: Fraction | None = Field(
        None, description="share of ethanol in the petrol by volume, such as '10 %'"
    )
    seating: Words | None = Field(
        None, description="where people sat in the runs, in your own words"
    )
    test_mass: Mass | None = Field(
        None, description="weighed ready for the trial: boat, engines, people, gear and fuel"
    )
    usable_tank: Volume | None = None

    @model_validator(mode="after")
    def _ethanol_is_of_petrol(self) -> Self:
        if self.ethanol and self.fuel_kind == "diesel":
            message = "ethanol is stated for petrol only, and fuel_kind is 'diesel'"
            raise ValueError(message)
        return self


class Conditions(Part):
    """Wind, water and air on the day."""

    wind: Speed | None = None
    wind_from: Angle | None = None
    air_temperature: AirTemperature | None = None
    water_temperature: Temperature | None = None
    pressure: AirPressure | None = Field(
        None, description="of the air at the place itself, not reduced to sea level"
    )
    humidity: Fraction | None = Field(
        None, description="relative humidity of the air, such as '60 %'"
    )
    sea: str | None = None
    wave_height: WaveHeight | None = Field(None, description="from trough to crest, as judged")
    depth: Depth | None = Field(None, description="of the water where the runs were made")
    place: str | None = None


class FuelCheck(Part):
    """What the tank took between two fillings to the same mark, to check the logged flow by.

    From one full tank to the next, the engine's flow over the stretch must come to what was
    refilled.
    """

    refilled: Volume = Field(description="what filled the tank again after the stretch")
    start: Instant = Field(description="when the tank was full, or any time before the engine ran")
    stop: Instant = Field(description="when it was filled again, the engine having stopped")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        in_order(self.start, self.stop)
        return self
