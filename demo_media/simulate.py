"""The boat's day, step by step: from the helmsman's commands to everything that is logged.

One state is carried through fixed steps of a hundredth of a second. Engine, propeller, hull
and trim work on each other in every step, so that engine speed, speed, pitch and fuel flow
belong together. The axes are x to the east and y to the north; pitch is bow up, roll is
starboard down, the rate of turn is to starboard.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_media import engine as engines
from demo_media import hull as hulls
from demo_media import propeller as propellers
from demo_media.boat import GRAVITY, Setup
from demo_media.hand import Hand
from demo_media.script import Command, Script, gear_of, opening_of
from demo_media.swell import Swell

Floats = NDArray[np.float64]

STEP_S = 0.01
"""Length of a step; the fastest thing in the model (the propeller) takes five of them."""

SURGE_MASS = 1.08
"""Mass of the boat with the water that moves along with it, over the boat's own."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Day:
    """Everything about the day, noise-free, at every step [shape of each: (n,)].

    `speed_mps` is over ground and `water_mps` through the water, negative astern; `heave_m` is
    how far the helm stands above its place at rest, waves included; `airing` is how much air
    the propeller draws.
    """

    t_s: Floats
    x_m: Floats
    y_m: Floats
    heading_rad: Floats
    course_rad: Floats
    speed_mps: Floats
    water_mps: Floats
    acceleration_mps2: Floats
    pitch_rad: Floats
    roll_rad: Floats
    turn_rate_radps: Floats
    heave_m: Floats
    engine_rps: Floats
    torque_nm: Floats
    lever: Floats
    gear: Floats
    fuel_flow_lph: Floats
    airing: Floats

    def at(self, name: str, t_s: Floats | float) -> Floats:
        """A series at other times, on straight lines between steps."""
        return np.asarray(np.interp(np.atleast_1d(t_s), self.t_s, getattr(self, name)))


@dataclass(slots=True, kw_only=True)
class _State:
    """What the next step needs to know of the last; angles in radians."""

    x: float = 0.0
    y: float = 0.0
    heading: float = 0.0
    turn_rate: float = 0.0
    speed: float = 0.0
    acceleration: float = 0.0
    pitch: float = 0.0
    pitch_rate: float = 0.0
    roll: float = 0.0
    roll_rate: float = 0.0
    heave: float = 0.0
    heave_rate: float = 0.0
    rps: float = 0.0
    torque: float = 0.0
    opening: float = 0.0
    airing: float = 0.0
    gear: int = 0
    lever: float = 0.0


def simulate(script: Script, setup: Setup, swell: Swell) -> Day:
    """Run a script on a boat.

    Returns
    -------
    day : Day
        Noise-free series, one value a step, both ends included.
    """
    hand = Hand(script)
    state = _State(
        heading=math.radians(script.heading_deg),
        rps=setup.engine.idle_rpm / 60,
        pitch=math.radians(setup.hull.rest_trim_deg),
        lever=hand.lever,
        gear=gear_of(hand.lever),
        speed=1.3,
    )
    current = _current(setup)
    rows = []
    for step in range(round(script.length_s / STEP_S) + 1):
        t = step * STEP_S
        lever = hand.move(t, STEP_S, state.rps * 60, state.speed)
        forced = max((a.share for a in script.airings if a.start_s <= t < a.stop_s), default=0.0)
        s = state
        rows.append(
            (t, s.x, s.y, s.heading, s.speed, s.acceleration, s.pitch, s.roll, s.turn_rate,
             s.heave, s.rps, s.torque, lever, s.gear, s.opening, s.airing)
        )  # fmt: skip
        _advance(state, t, lever, hand.command, setup, swell, current, forced)
    return _day(np.array(rows, dtype=np.float64).T, current)


def _current(setup: Setup) -> tuple[float, float]:
    """The current's pace to the east and to the north."""
    to = math.radians(setup.weather.current_to_deg)
    return setup.weather.current_mps * math.sin(to), setup.weather.current_mps * math.cos(to)


def _day(columns: Floats, current: tuple[float, float]) -> Day:
    """The day from what each step left behind, and what follows from that."""
    t, x, y, heading, speed, gain, pitch, roll, turn, heave, rps, torque, lever, gear = columns[:14]
    opening, airing = columns[14:]
    vx, vy = speed * np.sin(heading) + current[0], speed * np.cos(heading) + current[1]
    return Day(
        t_s=t, x_m=x, y_m=y, heading_rad=heading, course_rad=np.arctan2(vx, vy),
        speed_mps=np.hypot(vx, vy), water_mps=speed, acceleration_mps2=gain, pitch_rad=pitch,
        roll_rad=roll, turn_rate_radps=turn, heave_m=heave, engine_rps=rps, torque_nm=torque,
        lever=lever, gear=gear, fuel_flow_lph=engines.fuel_flow_lph(torque, opening, rps),
        airing=airing,
    )  # fmt: skip


def _advance(
    s: _State,
    t: float,
    lever: float,
    command: Command,
    setup: Setup,
    swell: Swell,
    current: tuple[float, float],
    forced: float,
) -> None:
    """One step; `forced` is how much air the propeller is made to draw."""
    vx = s.speed * math.sin(s.heading) + current[0]
    vy = s.speed * math.cos(s.heading) + current[1]
    s.lever = lever
    thrust = _drive(s, setup, forced)
    excess = _surge(s, thrust, setup)
    _steer(s, command, setup)
    _sway(s, t, excess, setup, swell, current)
    s.x += vx * STEP_S
    s.y += vy * STEP_S


def _drive(s: _State, setup: Setup, forced: float) -> float:
    """Engine, gear and propeller; returns the thrust in N."""
    engine = setup.engine
    gear = gear_of(s.lever)
    if gear != 0 and s.gear == 0:  # the dog clutch lets the engine spin the propeller up
        s.rps *= engine.rotor_inertia / (engine.rotor_inertia + engine.propeller_inertia)
    s.gear = gear
    s.opening += (opening_of(s.lever) - s.opening) * STEP_S / 0.09
    s.torque = engines.brake_torque_nm(s.opening, s.rps, engine)
    thrust, load, inertia = 0.0, 0.0, engine.rotor_inertia
    if gear != 0:
        shaft = gear * s.rps / engine.gear_ratio
        wanted = max(propellers.wanted_airing(shaft, s.speed, setup.propeller), forced)
        s.airing += (wanted - s.airing) * STEP_S / (0.22 if wanted > s.airing else 0.55)
        thrust, torque = propellers.forces(shaft, s.speed, s.airing, setup.propeller)
        load = torque / (engine.gear_ratio * engine.gear_efficiency)
        inertia += engine.propeller_inertia
    s.rps = max(s.rps + (s.torque - load) / (2 * math.pi * inertia) * STEP_S, 1.0)
    return thrust


def _surge(s: _State, thrust: float, setup: Setup) -> float:
    """Speed ahead; returns the excess of thrust over drag as a share of the weight."""
    hull, weather = setup.hull, setup.weather
    headwind = weather.wind_mps * math.cos(math.radians(weather.wind_from_deg) - s.heading)
    drag = hulls.resistance_n(s.speed, math.degrees(s.pitch), headwind, hull)
    turning = (s.speed * s.turn_rate / GRAVITY) ** 2 * 0.36 * hull.weight_n
    force = thrust - drag - math.copysign(turning, s.speed)
    s.acceleration = force / (hull.mass_kg * SURGE_MASS)
    s.speed += s.acceleration * STEP_S
    return force / hull.weight_n


def _steer(s: _State, command: Command, setup: Setup) -> None:
    """Rate of turn and heading; a course is held with a little wandering of the hands."""
    if command.course_deg is None:
        helm = command.helm
    else:
        off = math.remainder(math.radians(command.course_deg) - s.heading, 2 * math.pi)
        helm = min(max(1.6 * off - 1.1 * s.turn_rate, -1.0), 1.0)
    angle = math.radians(30.0) * helm
    wash = 0.5 if s.gear > 0 else 0.1
    wanted = (abs(s.speed) + wash) * angle / (0.95 * setup.hull.length_m)
    most = 0.72 * GRAVITY / max(abs(s.speed), 2.0)
    s.turn_rate += (min(max(wanted, -most), most) - s.turn_rate) * STEP_S / 0.55
    s.heading += s.turn_rate * STEP_S


def _sway(
    s: _State, t: float, excess: float, setup: Setup, swell: Swell, current: tuple[float, float]
) -> None:
    """Pitch, roll and heave as damped swings about what speed, thrust and waves ask for.

    The waves ride on the current.
    """
    fn = hulls.froude(s.speed, setup.hull)
    height, ahead, abeam = swell.at(
        s.x - current[0] * t, s.y - current[1] * t, t, s.heading, abs(s.speed)
    )
    trim = hulls.steady_trim_deg(fn, setup.hull) + 5.0 * excess
    lean = math.atan(s.speed * s.turn_rate / GRAVITY) * 0.75 * hulls.lift_share(fn)
    rise = 0.16 * hulls.lift_share(fn) + height
    pull = 2.7**2 * (math.radians(trim) + ahead - s.pitch) - 2 * 0.48 * 2.7 * s.pitch_rate
    s.pitch_rate += pull * STEP_S
    s.pitch += s.pitch_rate * STEP_S
    s.roll_rate += (3.0**2 * (lean + abeam - s.roll) - 2 * 0.3 * 3.0 * s.roll_rate) * STEP_S
    s.roll += s.roll_rate * STEP_S
    s.heave_rate += (5.0**2 * (rise - s.heave) - 2 * 0.6 * 5.0 * s.heave_rate) * STEP_S
    s.heave += s.heave_rate * STEP_S
