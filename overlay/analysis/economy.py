"""Fuel against distance: economy, range and endurance."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Economy:
    """What a fuel flow at a speed comes to; all in SI.

    `per_volume_m` is the distance on one cubic metre. Range and endurance are NaN where the
    tank is not known.
    """

    per_volume_m: float
    range_m: float
    endurance_s: float


def economy(
    speed_mps: float, fuel_flow: float, *, usable_tank: float | None, reserve: float
) -> Economy:
    """Economy, range and endurance at a steady speed.

    ::

        range = speed × endurance,  endurance = (1 − reserve) × usable tank / fuel flow

    Parameters
    ----------
    speed_mps
        Speed over ground [m/s].
    fuel_flow
        Of all engines together [m³/s].
    usable_tank
        What can be drawn from a full tank [m³], None where it is not known.
    reserve
        Share of it that is kept back.
    """
    if not (math.isfinite(speed_mps) and math.isfinite(fuel_flow) and fuel_flow > 0):
        return Economy(per_volume_m=math.nan, range_m=math.nan, endurance_s=math.nan)
    endurance = math.nan if usable_tank is None else (1.0 - reserve) * usable_tank / fuel_flow
    return Economy(
        per_volume_m=speed_mps / fuel_flow,
        range_m=speed_mps * endurance,
        endurance_s=endurance,
    )
