"""Torque and fuel of the outboard.

Torque follows a full-throttle curve and the share of it that the throttle lets in; fuel
follows the indicated work (what the gas does, friction included), so that an idling engine
burns fuel and gives none of it to the boat.
"""

from __future__ import annotations

import math
from typing import overload

import numpy as np

from demo_media.boat import FUEL_DENSITY, FUEL_HEAT, Engine
from demo_media.noise import Floats

INDICATED_EFFICIENCY = 0.375
"""Share of the fuel's heat that becomes work on the pistons at part load."""


def full_torque_nm(rps: float, engine: Engine) -> float:
    """Brake torque at full throttle: rated power at the middle of the rated band.

    ::

        T(n) = T_rated * (1 + 0.16 * (1 - x) - 0.52 * (1 - x)²),   x = n / n_rated
    """
    rated_rps = sum(engine.rated_rpm) / 120
    at_rated = engine.power_w / (2 * math.pi * rated_rps)
    short = 1 - rps / rated_rps
    curve = 1 + 0.16 * short - 0.52 * short * short
    fade = 1 / (1 + math.exp((rps * 60 - engine.limit_rpm) / 40))
    return at_rated * curve * fade


@overload
def friction_nm(rps: float, opening: float) -> float: ...
@overload
def friction_nm(rps: float | Floats, opening: float | Floats) -> float | Floats: ...
def friction_nm(rps: float | Floats, opening: float | Floats) -> float | Floats:
    """Torque lost inside the engine: bearings and pistons, and pumping past the throttle."""
    return 11.0 + 0.26 * rps + 9.0 * (1 - opening)


def filling(opening: float, rps: float) -> float:
    """Share of a full charge that gets past the throttle; less opening is enough when slow."""
    bend = 1.0 + 2.2 * max(0.0, 1 - rps / 100)
    return float(1 - (1 - min(max(opening, 0.0), 1.0)) ** bend)


def brake_torque_nm(opening: float, rps: float, engine: Engine) -> float:
    """Torque at the crankshaft; the idle governor keeps a throttled engine alive."""
    lost = friction_nm(rps, opening)
    driven = (full_torque_nm(rps, engine) + friction_nm(rps, 1.0)) * filling(opening, rps) - lost
    idle = 7.0 * (engine.idle_rpm / 60 - rps)
    return max(driven, min(idle, 60.0), -lost)


@overload
def fuel_flow_lph(torque_nm: float, opening: float, rps: float) -> float: ...
@overload
def fuel_flow_lph(torque_nm: Floats, opening: Floats, rps: Floats) -> Floats: ...
def fuel_flow_lph(
    torque_nm: float | Floats, opening: float | Floats, rps: float | Floats
) -> float | Floats:
    """Fuel burned, from the work on the pistons and the mixture.

    Near full throttle the mixture is enriched to keep the engine cool; at light load a
    larger part of the heat is lost to the walls.
    """
    indicated_w = np.maximum(torque_nm + friction_nm(rps, opening), 0.0) * 2 * math.pi * rps
    load = np.clip(np.maximum(torque_nm, 0.0) / 190.0, None, 1.2)
    rich = 1 + 0.17 / (1 + np.exp(-(load - 0.82) / 0.05))
    cold_walls = 1 + 0.75 * np.exp(-load / 0.09)
    kg_per_s = indicated_w / (INDICATED_EFFICIENCY * FUEL_HEAT) * rich * cold_walls
    flow = kg_per_s / FUEL_DENSITY * 3600
    return flow if isinstance(flow, np.ndarray) else float(flow)
