"""Fuel flow as the trial uses it: where it comes from, and what a filled tank says of it.

A diesel sends fuel back to its tank, so what it burns is supply less return. An engine's own
figure is an estimate from how long its injectors are open; what the tank took between two
fillings to the same mark tells by how much it is out,

::

    factor = refilled / ∫ logged flow of all engines dt

and all flows are multiplied by that, on screen as in the results.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sync.channel import Channel
from sync.clock import Span, utc_seconds

if TYPE_CHECKING:
    from overlay.sheet import TrialSheet

FILLED_SD_M3 = 0.3e-3
"""How well two fillings come to the same mark (own choice: a finger's breadth in a filler pipe)."""

CREDIBLE = (0.7, 1.4)
"""A factor outside this tells of a mistake and not of an engine's estimate (own choice)."""

MOST_LOST = 0.01
"""Share of the stretch that may be missing from the logged flow."""

SOURCES = {
    "engine": "engine-reported",
    "meter": "by a flow meter",
    "weighed": "by weighed fuel",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowSource:
    """Where fuel flow comes from: in words, the factor that is in it, and that factor's
    deviation, which all flows of the trial share."""

    text: str
    factor: float = 1.0
    factor_sd: float = 0.0


NO_FLOW = FlowSource(text="not logged")


def flows_of(
    channels: Mapping[str, Channel], sheet: TrialSheet
) -> tuple[dict[str, Channel], FlowSource, tuple[str, ...]]:
    """The channels with fuel flow made good, where it comes from, and what is to be said of it.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    """
    made = {**channels, **_burnt(channels)}
    flowing = {key: c for key, c in made.items() if c.name == "fuel_flow"}
    if not flowing:
        return made, NO_FLOW, ()
    text = SOURCES[sheet.fuel_flow_from]
    if any(key not in channels for key in flowing):
        text += ", supply less return"
    if sheet.fuel_check is None:
        return made, FlowSource(text=text), ()
    span = Span(
        start_s=utc_seconds(sheet.fuel_check.start), stop_s=utc_seconds(sheet.fuel_check.stop)
    )
    refilled = sheet.fuel_check.refilled
    used = [_used(channel, span) for channel in flowing.values()]
    if (why := _not_told(flowing, used, refilled)) is not None:
        return made, FlowSource(text=text), (f"the fuel check says nothing: {why}",)
    factor = refilled / math.fsum(used)
    sd = factor * FILLED_SD_M3 / refilled
    for key, channel in flowing.items():
        made[key] = replace(channel, values=channel.values * factor, max_gap_s=channel.max_gap_s)
    told = f"{text}, times {factor:.3f} ± {sd:.3f} as {refilled * 1e3:.1f} L refilled have it"
    return made, FlowSource(text=told, factor=factor, factor_sd=sd), ()


def _burnt(channels: Mapping[str, Channel]) -> dict[str, Channel]:
    """Supply less return of each engine whose flow was not logged itself."""
    out = {}
    for supply in channels.values():
        if supply.name != "fuel_supply":
            continue
        back = channels.get(supply.key.replace("fuel_supply", "fuel_return"))
        key = supply.key.replace("fuel_supply", "fuel_flow")
        if back is None or key in channels:
            continue
        out[key] = replace(
            supply,
            name="fuel_flow",
            values=supply.values - back.at(supply.t_s),
            delay_sd_s=max(supply.delay_sd_s, back.delay_sd_s),
            source=f"{supply.source} less {back.source}",
            max_gap_s=supply.max_gap_s,
        )
    return out


def _used(channel: Channel, span: Span) -> float:
    """What flowed in a stretch [m³]; NaN where too much of it was not logged."""
    here = channel.cut(span)
    good = np.isfinite(here.values)
    t, values = here.t_s[good], here.values[good]
    if t.size < 2:
        return math.nan
    holes = (hole.overlap(span) for hole in channel.holes())
    lost = math.fsum(hole.length_s for hole in holes if hole is not None)
    used = float(np.trapezoid(values, t))
    # Before the first value and after the last the engine must not have run.
    ends = values[0] * (t[0] - span.start_s) + values[-1] * (span.stop_s - t[-1])
    if ends > MOST_LOST * used:
        return math.nan
    if lost > MOST_LOST * float(t[-1] - t[0]):
        return math.nan
    return used


def _not_told(flowing: Mapping[str, Channel], used: list[float], refilled_m3: float) -> str | None:
    """Why the check does not tell the factor, if it does not."""
    for key, amount in zip(flowing, used, strict=True):
        if not math.isfinite(amount):
            return (
                f"{key} has holes or no values in its stretch, or fuel flows where its log begins "
                "or ends"
            )
    burnt = math.fsum(used)
    if not burnt > 0:
        return "no fuel flowed in its stretch"
    if not CREDIBLE[0] <= refilled_m3 / burnt <= CREDIBLE[1]:
        return (
            f"{refilled_m3 * 1e3:.1f} L were refilled and {burnt * 1e3:.1f} L logged, which is "
            "no engine's error; look at its times, the litres, and whether all engines are logged"
        )
    return None
