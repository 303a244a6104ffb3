"""The density of the air on the day: what the engine breathed, and what the boat pushed aside.

Moist air is a mixture of two ideal gases, lighter the more water is in it,

::

    ρ = p Mₐ / (R T) · (1 − x (1 − Mᵥ / Mₐ)),    x = h · pₛ(T) / p

with pₛ the vapour pressure of water at saturation and h the relative humidity. What real gases
add to that is 0.1 % at the most in weather that boats are tested in, which is far less than a
crew's thermometer and barometer leave open. The ratio to the standard atmosphere is printed, and
no speed is ever corrected with it: how much an engine gains by it is the engine's own affair.

Source: ISO 2533:1975 for dry air and the standard density; the vapour pressure is that of
CIPM-2007 (Picard, Davis, Gläser and Fujii, Metrologia 45, 2008; coefficients from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from overlay.sheet.tested import Conditions

STANDARD_KGPM3 = 1.225
"""Air at sea level in ISO 2533: 15 °C, 1013.25 hPa, dry."""

GAS_CONSTANT = 8.31432
"""In J/(mol K), as ISO 2533 has it."""

DRY_KGPMOL, WATER_KGPMOL = 28.964420e-3, 18.01528e-3
"""Molar masses of dry air (ISO 2533) and of water."""

_SATURATION = (1.2378847e-5, -1.9121316e-2, 33.93711047, -6.3431645e3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air on the day: its density, the ratio to the standard's, and what was assumed."""

    density_kgpm3: float
    ratio: float
    assumed: tuple[str, ...] = ()


def air(conditions: Conditions) -> Air | None:
    """The air's density from what the sheet states; None where temperature or pressure is not.

    Without humidity the air is taken to be dry, which makes it denser than it was by 1 % at
    20 °C and by 2 % at 30 °C at the most.
    """
    temperature, pressure = conditions.air_temperature, conditions.pressure
    if temperature is None or pressure is None:
        return None
    humidity = conditions.humidity
    density = moist_density(temperature, pressure, humidity or 0.0)
    return Air(
        density_kgpm3=density,
        ratio=density / STANDARD_KGPM3,
        assumed=("dry air: the sheet states no humidity",) if humidity is None else (),
    )


def moist_density(temperature_k: float, pressure_pa: float, humidity: float) -> float:
    """The density of moist air in kg/m³; see the module for the formula and its source.

    Parameters
    ----------
    temperature_k, pressure_pa
        Of the air at the place.
    humidity
        Relative, as a share of one. Vapour cannot be more than all of the air.
    """
    share = min(humidity * saturation_pa(temperature_k) / pressure_pa, 1.0)
    dry = pressure_pa * DRY_KGPMOL / (GAS_CONSTANT * temperature_k)
    return dry * (1.0 - share * (1.0 - WATER_KGPMOL / DRY_KGPMOL))


def saturation_pa(temperature_k: float) -> float:
    """The vapour pressure of water at saturation.

    ::

        pₛ = 1 Pa · exp(A T² + B T + C + D / T)
    """
    a, b, c, d = _SATURATION
    return math.exp(a * temperature_k**2 + b * temperature_k + c + d / temperature_k)
