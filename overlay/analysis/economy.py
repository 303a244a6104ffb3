"""Fuel against distance: economy, range and endurance."""

from __future__ import annotations

import math
from dataclasses import dataclass

from overlay.analysis.means import NONE, Mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """What can be drawn from a full tank [m³], None where it is not known, the share of it that
    is kept back, and by which share all flows may be out together."""

    usable: float | None
    reserve: float
    flow_share_sd: float = 0.0


NO_TANK = Tank(usable=None, reserve=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Economy:
    """What a fuel flow at a speed comes to; all in SI.

    `per_volume_m` is the distance on one cubic metre. Range and endurance have no value where
    the tank is not known, and none of the three where speed or flow has none.
    """

    per_volume_m: Mean
    range_m: Mean
    endurance_s: Mean


def economy(speed: Mean, flow: Mean, tank: Tank = NO_TANK) -> Economy:
    """Economy, range and endurance at a steady speed.

    ::

        range = speed × endurance,  endurance = (1 − reserve) × usable tank / fuel flow

    Parameters
    ----------
    speed
        Over ground [m/s], or with the stream taken out.
    flow
        Of all engines together [m³/s].
    """
    if not (speed.known and flow.known and flow.value > 0 and speed.value > 0):
        return Economy(per_volume_m=NONE, range_m=NONE, endurance_s=NONE)
    # Speed and flow are independent of each other: their shares of doubt add in quadrature.
    both = math.hypot(speed.sd / speed.value, flow.sd / flow.value)
    per = Mean(value=speed.value / flow.value, sd=speed.value / flow.value * both)
    if tank.usable is None:
        return Economy(per_volume_m=per, range_m=NONE, endurance_s=NONE)
    volume = (1.0 - tank.reserve) * tank.usable
    return Economy(
        per_volume_m=per,
        range_m=Mean(value=volume * per.value, sd=volume * per.sd),
        endurance_s=Mean(value=volume / flow.value, sd=volume / flow.value * flow.sd / flow.value),
    )
