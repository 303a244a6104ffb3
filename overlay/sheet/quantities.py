"""Quantities as a sheet writes them: text with a unit in, a float in SI out."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from sync.units import parse_quantity, signs


def units_of(name: str) -> str:
    """The first unit sign of a quantity, for an example."""
    return signs(name)[0]


def quantity(
    name: str,
    *,
    low: float | None = None,
    low_open: bool = False,
    high: float | None = None,
) -> Any:
    """The field type of a quantity: `"27 US gal"` becomes 0.1022 m³.

    `low` is the least value that makes sense, in SI; with `low_open` it is left out itself.
    `high` is the greatest.
    """

    def read(value: object) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            units = signs(name)
            message = f"the bare number {value} has no unit; write for example '{value} {units[0]}'"
            raise ValueError(message)  # noqa: TRY004 - pydantic takes a ValueError only
        if not isinstance(value, str):
            message = f"{value} is not text with a number and a unit, such as '3 {units_of(name)}'"
            raise ValueError(message)  # noqa: TRY004 - as above
        si = parse_quantity(value, name)
        if low is not None and (si < low or (low_open and si == low)):
            message = f"{value!r} is too small to be a {name.replace('_', ' ')} here"
            raise ValueError(message)
        if high is not None and abs(si) > high:
            message = f"{value!r} is too much to be a {name.replace('_', ' ')} here"
            raise ValueError(message)
        return si

    units = ", ".join(signs(name))
    return Annotated[
        float,
        BeforeValidator(read),
        WithJsonSchema(
            {
                "type": "string",
                "description": f"a number and a unit of {name.replace('_', ' ')}: {units}",
            }
        ),
    ]


Speed = quantity("speed", low=0)
Length = quantity("length", low=0, low_open=True)
Distance = quantity("length", low=0)
Mass = quantity("mass", low=0)
Power = quantity("power", low=0, low_open=True)
Volume = quantity("volume", low=0, low_open=True)
AmountOfFuel = quantity("volume", low=0)
Angle = quantity("angle")
Temperature = quantity("temperature", low=0)
AirTemperature = quantity("temperature", low=200, high=340)  # as a channel of it may hold
AirPressure = quantity("pressure", low=5e4, high=1.1e5)  # from high lakes to the deepest high
Fraction = quantity("ratio", low=0, high=1)
Setting = quantity("ratio", low=-1, high=1)  # of a drive's trim: below level is negative
Cup = quantity("length", low=0, high=0.05)
MountHeight = quantity("length", high=1.0)
WaveHeight = quantity("length", low=0, high=10)
Depth = quantity("length", low=0, low_open=True, high=12_000)
Duration = quantity("time", high=1e6)
Delay = quantity("time", high=5.0)  # fuel flow lags by a second or two, nothing by five
Earshot = quantity("length", low=0, high=200.0)
Uncertainty = quantity("time", low=0, high=1e6)
