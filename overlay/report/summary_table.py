"""The figures that a trial is run for, each with how it was had: both ways, or single."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from overlay.analysis.means import NONE, Mean
from overlay.figures import NO_VALUE, figure, unit_for
from overlay.report.columns import (
    Column,
    Heading,
    Table,
    make_table,
    rounded,
    with_deviation,
    words,
)
from overlay.report.run_tables import economy_unit
from overlay.report.words import course, listed
from sync.units import from_si

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.analysis.steps import Step
    from overlay.sheet import TrialSheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One figure: its text, its value in the reader's unit, and how it was had."""

    what: str
    text: str
    how: str
    value: float
    sd: float
    unit: str
    marked: bool = False


def summary_table(results: Results, sheet: TrialSheet) -> Table:
    """Full throttle first, then what the boat did."""
    facts = [fact for part in _PARTS for fact in part(results, sheet)]
    columns: list[Column[Fact]] = [
        words("figure", lambda one: one.what),
        Column(
            heading=Heading(text="value", kind="number"),
            text=lambda one: one.text,
            raw=(
                ("value", lambda one: one.value),
                ("sd", lambda one: one.sd),
                ("unit", lambda one: one.unit),
            ),
        ),
        words("how it was had", lambda one: one.how, key="how", kind="prose"),
    ]
    return make_table(
        "summary",
        "summary",
        facts,
        columns,
        notes=["± is one standard deviation."],
        marked=[n for n, fact in enumerate(facts) if fact.marked],
    )


def full_throttle_fact(results: Results, sheet: TrialSheet) -> Fact:
    """Engine speed at full throttle against the maker's band, or why it cannot be said."""
    found = results.set_up.full_throttle
    if found is None:
        return Fact(
            what="full throttle", text=NO_VALUE, how=why_no_full_throttle(results, sheet),
            value=math.nan, sd=math.nan, unit="rpm", marked=True,
        )  # fmt: skip
    low, high = (round(rps * 60) for rps in found.rated_rps)
    return Fact(
        what="full throttle",
        text=figure("engine_speed", sheet.units).with_unit(found.engine_speed.value),
        how=f"{found.verdict} the maker's band of {low} to {high} rpm",
        value=found.engine_speed.value * 60,
        sd=found.engine_speed.sd * 60,
        unit="rpm",
        marked=True,
    )


def why_no_full_throttle(results: Results, sheet: TrialSheet) -> str:
    """What keeps one from saying how the engine stands at full throttle."""
    if not sheet.engines or sheet.engines[0].rated_rpm is None:
        return "the sheet does not state the maker's band (engines.rated_rpm)"
    if not any(step.engine_speed.known for step in results.steps):
        return "no step has an engine speed"
    return "no step was held with the throttle open"


def _full_throttle(results: Results, sheet: TrialSheet) -> list[Fact]:
    return [full_throttle_fact(results, sheet)]


def how_had(step: Step) -> str:
    """Whether a step's figure is a mean both ways or single."""
    if step.ways == "both":
        return f"mean both ways at {step.name}, {len(step.passes)} passes"
    return f"single, on {course(step.passes[0].course_rad)} at {step.name}: current and wind in it"


def _top(results: Results, sheet: TrialSheet) -> list[Fact]:
    unit = unit_for("speed", sheet.units)
    step = next((one for one in results.steps if one.name == results.set_up.top), None)
    if step is None:
        return []
    mean = _scaled(step.speed, unit, "speed")
    return [_fact("top speed", mean, unit, how_had(step))]


def _launches(results: Results, _sheet: TrialSheet) -> list[Fact]:
    return [
        _fact(
            f"from rest to {row.label}",
            row.time_s,
            "s",
            f"mean both ways, {len(row.launches)} launches, {row.spread_s:.2f} s apart",
        )
        for row in results.both_ways.times
    ]


def _economy(results: Results, sheet: TrialSheet) -> list[Fact]:
    unit, factor = economy_unit(sheet.units)
    out = []
    steps = {step.name: step for step in results.steps}
    for what, name in (
        ("best economy", results.set_up.best),
        ("best economy on the plane", results.set_up.best_planing),
    ):
        if name:
            per = steps[name].economy.per_volume_m
            mean = Mean(value=per.value * factor, sd=per.sd * factor)
            out.append(_fact(what, mean, unit, how_had(steps[name])))
    return out


def _planing(results: Results, sheet: TrialSheet) -> list[Fact]:
    name = results.set_up.lowest_planing
    lowest = next((step for step in results.steps if step.name == name), None)
    if lowest is None:
        return []
    unit = unit_for("speed", sheet.units)
    mean = _scaled(lowest.speed, unit, "speed")
    return [_fact("lowest planing step", mean, unit, how_had(lowest))]


def _weighted_flow(results: Results, sheet: TrialSheet) -> list[Fact]:
    found = results.set_up.weighted_flow
    if not found.flow.known:
        return []
    unit = unit_for("volume_flow", sheet.units)
    how = "by the speeds of E4 on this boat's own curve; certifies nothing"
    return [_fact("weighted fuel flow", _scaled(found.flow, unit, "volume_flow"), unit, how)]


def _mass(results: Results, sheet: TrialSheet) -> list[Fact]:
    mass = results.set_up.mass
    if mass is None:
        return []
    unit, power = unit_for("mass", sheet.units), unit_for("power", sheet.units)
    lacks = f", without {listed(mass.not_stated)}" if mass.not_stated else ""
    value = from_si(mass.value_kg, unit, "mass")
    out = [_stated("mass as tested", value, unit, "1", f"{mass.origin}{lacks}")]
    if math.isfinite(results.set_up.power_to_mass):
        # Mass for one unit of power, as the trade quotes it.
        share = from_si(results.set_up.power_to_mass, power, "power") / from_si(1.0, unit, "mass")
        out.append(
            _stated("mass to power", 1 / share, f"{unit}/{power}", "0.1", "rated power, as stated")
        )
    return out


def _air(results: Results, _sheet: TrialSheet) -> list[Fact]:
    """How dense the air was: printed, and never used to correct a speed."""
    found = results.air
    if found is None:
        return []
    how = "; ".join(("of the standard's 1.225 kg/m³, by the conditions stated", *found.assumed))
    return [_stated("density of the air", found.ratio, "", "0.001", how)]


_PARTS: tuple[Callable[[Results, TrialSheet], list[Fact]], ...] = (
    _full_throttle,
    _top,
    _launches,
    _economy,
    _planing,
    _weighted_flow,
    _mass,
    _air,
)
"""What the summary has, in order; another figure is another function here."""


def _scaled(mean: Mean, unit: str, quantity: str) -> Mean:
    if not mean.known:
        return NONE
    return Mean(value=from_si(mean.value, unit, quantity), sd=from_si(mean.sd, unit, quantity))


def _fact(what: str, mean: Mean, unit: str, how: str) -> Fact:
    return Fact(
        what=what,
        text=f"{with_deviation(mean.value, mean.sd)} {unit}",
        how=how,
        value=mean.value,
        sd=mean.sd,
        unit=unit,
    )


def _stated(what: str, value: float, unit: str, step: str, how: str) -> Fact:
    return Fact(
        what=what, text=f"{rounded(value, step)} {unit}".strip(), how=how, value=value, sd=math.nan,
        unit=unit,
    )  # fmt: skip
