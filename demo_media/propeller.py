"""Thrust and torque of the propeller, with open-water-like coefficients.

::

    J = V_a / (n D)
    K_T = k_T (1 - (J / J_T)^p) (1 - loss)      T = K_T rho n² D⁴
    K_Q = k_Q (1 - (J / J_Q)^q) (1 - loss)      Q = K_Q rho n² D⁵

The advance at which thrust vanishes lies a little beyond the pitch, as on cambered blades. A
propeller that is asked for more than the water around it gives draws air and exhaust gas
down: `airing`, from 0 to 1, lets it slip and the engine flare.
"""

from __future__ import annotations

import math

from demo_media.boat import WATER_DENSITY, Propeller

WAKE = 0.02
"""Share by which the water at the propeller is slower than the boat."""

_KT, _KQ = 0.455, 0.0900
_J_T_OVER_PITCH, _J_Q_OVER_PITCH = 1.065, 1.155
_P, _Q = 1.45, 1.62


def forces(
    rps: float, speed_mps: float, airing: float, propeller: Propeller
) -> tuple[float, float]:
    """Thrust in N and torque in N·m at the propeller.

    Parameters
    ----------
    rps
        Revolutions of the propeller a second, negative astern.
    speed_mps
        Speed of the boat through the water.
    airing
        How much air the propeller draws, 0 to 1.
    """
    sense = math.copysign(1.0, rps)
    turns = max(abs(rps), 0.5)
    ratio = propeller.pitch_m / propeller.diameter_m
    advance = sense * speed_mps * (1 - WAKE) / (turns * propeller.diameter_m)
    starved = 0.31 * max(0.0, 1 - max(advance, 0.0) / (0.75 * ratio))
    head = max(advance, 0.0)
    kt = _KT * (1 - (head / (_J_T_OVER_PITCH * ratio)) ** _P) * (1 - starved)
    kq = _KQ * (1 - (head / (_J_Q_OVER_PITCH * ratio)) ** _Q) * (1 - starved)
    kt = max(kt, -0.10) * (1 - 0.42 * airing)
    kq = max(kq, -0.006) * (1 - 0.47 * airing)
    astern = 1.0 if sense > 0 else 0.55
    load = WATER_DENSITY * turns * turns * propeller.diameter_m**4
    return sense * astern * kt * load, kq * load * propeller.diameter_m


def wanted_airing(rps: float, speed_mps: float, propeller: Propeller) -> float:
    """How much air the propeller would draw if this went on: much when it outruns the boat."""
    outrun = abs(rps) * propeller.pitch_m - 9.0 - 2.0 * abs(speed_mps)
    return min(max(outrun / 7.0, 0.0), 1.0)


def slip(engine_rps: float, speed_mps: float, gear_ratio: float, propeller: Propeller) -> float:
    """Apparent slip, 1 − V/(n·P)."""
    return 1 - speed_mps / (engine_rps / gear_ratio * propeller.pitch_m)
