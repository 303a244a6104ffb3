"""Resistance and trim of the planing hull, as an own fit over the volumetric Froude number.

The parts are those of any planing theory: induced drag is the dynamic lift leaning aft with
the trim, friction acts on a wetted surface that shrinks as the hull rises, and around the
hump the boat pays for the wave that it climbs. Trim and drag hold each other: a bow that
stays high costs speed.
"""

from __future__ import annotations

import math

from demo_media.boat import AIR_DENSITY, GRAVITY, WATER_DENSITY, Hull

FRICTION = 0.00265
"""Friction coefficient of a clean hull, roughness allowed for; near ITTC 1957 at 2e7."""

HUMP_FROUDE = 1.75
"""Volumetric Froude number at which the hull works hardest against its own wave."""

HUMP_DRAG = 0.155
"""Wave drag at the hump as a share of the weight."""


def froude(speed_mps: float, hull: Hull) -> float:
    """Volumetric Froude number, V/√(g·∇^⅓)."""
    length = (hull.mass_kg / WATER_DENSITY) ** (1 / 3)
    return abs(speed_mps) / math.sqrt(GRAVITY * length)


def lift_share(fn: float) -> float:
    """Share of the weight that dynamic lift carries, 0 at rest to 1 on the plane."""
    return float(fn * fn / (fn * fn + 2.1**2 * math.exp(-0.35 * fn * fn) + 0.25))


def steady_trim_deg(fn: float, hull: Hull) -> float:
    """Trim at a steady speed: level, bow high over the hump, easing on the plane."""
    if fn <= 1e-6:
        return hull.rest_trim_deg
    hump = 4.6 * math.exp(-(math.log(fn / HUMP_FROUDE) ** 2) / 0.46**2)
    plane = 4.6 * lift_share(fn) * min(1.0, (2.6 / fn) ** 0.52) * min(1.0, (fn / 2.0) ** 2)
    return float(hull.rest_trim_deg + hump + plane)


def resistance_n(speed_mps: float, trim_deg: float, headwind_mps: float, hull: Hull) -> float:
    """Drag through the water and the air, positive against a boat that moves ahead.

    Parameters
    ----------
    speed_mps
        Speed through the water, negative astern.
    trim_deg
        The trim that the boat has now, which in a launch is not the steady one.
    headwind_mps
        Wind from ahead, before the boat's own speed is added.
    """
    fn = froude(speed_mps, hull)
    share = lift_share(fn)
    pressure = 0.5 * WATER_DENSITY * speed_mps * speed_mps
    wetted = hull.wetted_planing_m2 + (hull.wetted_rest_m2 - hull.wetted_planing_m2) * math.exp(
        -((fn / 2.0) ** 2)
    )
    trim = math.radians(max(trim_deg, 0.3))
    induced = hull.weight_n * share * math.tan(trim) * min(1.0, fn / 1.2)
    wave = hull.weight_n * HUMP_DRAG * math.exp(-((math.log(max(fn, 1e-3) / 1.6) / 0.42) ** 2))
    water = pressure * (wetted * FRICTION + hull.appendage_m2) + induced + wave
    slow = 55.0 * speed_mps * math.exp(-((fn / 0.8) ** 2))
    air_speed = speed_mps + headwind_mps
    air = 0.5 * AIR_DENSITY * hull.windage_m2 * air_speed * abs(air_speed)
    return math.copysign(water, speed_mps) + slow + air


__all__ = ["HUMP_FROUDE", "froude", "lift_share", "resistance_n", "steady_trim_deg"]
