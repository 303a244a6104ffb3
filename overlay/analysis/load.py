"""What the boat weighed in the trial: on the scales, or summed from what the sheet states."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from overlay.sheet import TrialSheet

PERSON_KG = 80.0
"""A person whose mass nobody states (own choice; bags go under `gear`)."""

FUEL_KGPM3 = {"petrol": 745.0, "diesel": 840.0}
"""Petrol 720 to 775 (EN 228, from memory), diesel 820 to 845 kg/m³ at 15 °C (EN 590)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MassAsTested:
    """The mass as tested, in kg, and how it was come by.

    `parts` are the summands by name; `not_stated` what the sum lacks, so that it is too small.
    """

    value_kg: float
    origin: Literal["weighed", "summed"]
    parts: tuple[tuple[str, float], ...] = ()
    not_stated: tuple[str, ...] = ()


def mass_as_tested(sheet: TrialSheet) -> MassAsTested | None:
    """The mass of boat, engines, people, gear and fuel; None where not even the boat's is known."""
    load = sheet.load
    if load.test_mass is not None:
        return MassAsTested(value_kg=load.test_mass, origin="weighed")
    if sheet.boat.mass is None:
        return None
    people = load.people_mass
    if people is None and load.people is not None:
        people = PERSON_KG * load.people
    fuel = None if load.fuel is None else load.fuel * FUEL_KGPM3[load.fuel_kind]
    given = (("boat", sheet.boat.mass), ("people", people), ("gear", load.gear), ("fuel", fuel))
    parts = tuple((name, mass) for name, mass in given if mass is not None)
    return MassAsTested(
        value_kg=sum(mass for _, mass in parts),
        origin="summed",
        parts=parts,
        not_stated=tuple(name for name, mass in given if mass is None),
    )


def power_w(sheet: TrialSheet) -> float | None:
    """The rated power of all engines; None where one of them does not state it."""
    powers = [engine.power for engine in sheet.engines]
    known = [power for power in powers if power is not None]
    return sum(known) if known and len(known) == len(powers) else None
