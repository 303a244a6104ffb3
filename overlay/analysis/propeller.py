"""Propeller and engine: full throttle against the rated band, slip, and hints of plausibility.

::

    slip = 1 − v / v₀,    v₀ = pitch · engine speed / gear ratio

with v the speed through the water, so the two-way mean; over ground in one direction slip has
the current in it and may come out below nothing. Crouch's law is a hint whether a top speed
can be true, and never a result:

::

    v [mph] = C · √(shaft power [hp] / displacement [lb]),    C = 172 for an average runabout

Volumetric Froude number Fn∇ = v / √(g ∇^⅓) tells how far a boat is on the plane.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from overlay.analysis.means import NONE, Mean
from overlay.analysis.steady import OPENED
from overlay.analysis.steps import Step, both_ways
from sync.units import from_si, to_si

SLIP_LOW, SLIP_HIGH = 0.0, 0.25
"""Slip of a planing boat outside this is a warning (from memory; typically 5 to 20 %)."""

PLANING_FROUDE = 2.5
"""Volumetric Froude number from which a step is taken to be planing (from memory; texts have
2.5 or 3, and crews call it earlier)."""

CROUCH = (172.0, 265.0)
"""Constants of Crouch's law in mph, hp and lb: an average runabout, and a racing catamaran, the
fastest of the table; both as tables of the trade print them."""

PLAUSIBLE_SHARE = 0.15
"""A top speed may exceed the fastest constant's by so much before it is doubted (own choice)."""

WATER_KGPM3 = 1025.0
GRAVITY_MPS2 = 9.80665

Verdict = Literal["below", "inside", "above"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FullThrottle:
    """The highest engine speed that was held, that of each engine, and where it lies to the maker's
    rated band: the verdict is of the worse engine."""

    engine_speed: Mean
    engines: tuple[Mean, ...]
    rated_rps: tuple[float, float]
    verdict: Verdict


def full_throttle(
    steps: Sequence[Step], rated_rpm: tuple[float, float] | None, throttle: Sequence[float]
) -> FullThrottle | None:
    """How the engine stands at full throttle; None where nobody stated the band, or where no
    step was held with the throttle open.

    Parameters
    ----------
    throttle
        The mean throttle of each step, NaN where none is logged: then the highest step counts.
    """
    top = wide_open(steps, throttle)
    if rated_rpm is None or top is None:
        return None
    ways = [run.way for run in top.passes]
    engines = [
        both_ways([run.engines[i] for run in top.passes], ways)
        for i in range(min((len(run.engines) for run in top.passes), default=0))
    ]
    low, high = (rpm / 60 for rpm in rated_rpm)
    # With two engines the worse one counts: a mean inside the band may have neither there.
    turns = [one.value for one in engines if one.known] or [top.engine_speed.value]
    verdict: Verdict = "inside"
    if max(turns) > high:
        verdict = "above"
    if min(turns) < low:
        verdict = "below"
    return FullThrottle(
        engine_speed=top.engine_speed,
        engines=tuple(engines),
        rated_rps=(low, high),
        verdict=verdict,
    )


def wide_open(steps: Sequence[Step], throttle: Sequence[float]) -> Step | None:
    """The step at full throttle: the highest of those that were held with the throttle open."""
    wide = [
        step
        for step, opened in zip(steps, throttle, strict=True)
        if step.engine_speed.known and not opened < OPENED
    ]
    return max(wide, key=lambda step: step.engine_speed.value, default=None)


def slip(step: Step, pitch_m: float | None, gear_ratio: float | None) -> Mean:
    """Slip by nominal pitch; none where pitch or gear ratio is not stated."""
    if pitch_m is None or gear_ratio is None or not step.speed.known:
        return NONE
    if not step.engine_speed.known or step.engine_speed.value <= 0:
        return NONE
    ideal = pitch_m * step.engine_speed.value / gear_ratio
    share = step.speed.value / ideal
    doubt = math.hypot(
        step.speed.sd / step.speed.value, step.engine_speed.sd / step.engine_speed.value
    )
    return Mean(value=1 - share, sd=share * doubt)


def froude(speed_mps: float, mass_kg: float | None) -> float:
    """Volumetric Froude number in sea water; NaN where the mass is not known.

    Source: check against Savitsky and Brown 1976 in the tests.
    """
    if mass_kg is None or mass_kg <= 0:
        return math.nan
    return speed_mps / math.sqrt(GRAVITY_MPS2 * (mass_kg / WATER_KGPM3) ** (1 / 3))


def planes(speed_mps: float, mass_kg: float | None) -> bool | None:
    """Whether a boat of a mass planes at a speed; None where the mass is not known."""
    number = froude(speed_mps, mass_kg)
    return None if math.isnan(number) else number >= PLANING_FROUDE


def crouch(power_w: float, mass_kg: float, constant: float) -> float:
    """Speed by Crouch's law [m/s]; see the module for its units."""
    ratio = from_si(power_w, "hp", "power") / from_si(mass_kg, "lb", "mass")
    return to_si(constant * math.sqrt(ratio), "mph", "speed")


def implausible(top_mps: float, power_w: float | None, mass_kg: float | None) -> str | None:
    """What speaks against a top speed, or None."""
    if power_w is None or mass_kg is None or not power_w > 0 or not mass_kg > 0:
        return None
    most = crouch(power_w, mass_kg, CROUCH[1])
    if top_mps <= most * (1 + PLAUSIBLE_SHARE):
        return None
    return (
        f"a hint: {from_si(top_mps, 'mph', 'speed'):.0f} mph is more than the "
        f"{from_si(most, 'mph', 'speed'):.0f} mph that Crouch's law has for the fastest hulls of "
        "this power and mass; look at power, mass and the speed's log"
    )
