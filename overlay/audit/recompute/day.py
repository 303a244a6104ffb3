"""All channels of a day on UTC, timely, as the audit reads them, and what it could not read."""

from __future__ import annotations

import logging
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np

from overlay.audit.recompute.clock import late_by, line_of, timely
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.laws import Curve, curve_of
from overlay.audit.recompute.logs import read_log
from overlay.audit.recompute.recorded import SAME_S, Recorded
from overlay.audit.recompute.sheet import FuelCheck, Sheet

_log = logging.getLogger(__name__)

CREDIBLE = (0.7, 1.4)
"""A factor of a fuel check outside this is no engine's error, and is not applied (printed)."""

MOST_LOST = 0.01
"""So much of a fuel check's stretch may be missing from the flow."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Day:
    """The day's channels by key, and by log why one could not be had."""

    channels: Mapping[str, Recorded]
    unread: Mapping[str, str]

    def channel(self, key: str, log: str = "") -> Recorded | None:
        """A channel, or None where no log has it.

        Raises
        ------
        CannotRecompute
            Where the log that it is said to come from could not be read, or gave none of it here.
        """
        if log in self.unread:
            raise CannotRecompute(self.unread[log])
        found = self.channels.get(key)
        if found is None and log:
            raise CannotRecompute(f"the audit finds no {key} in the log {log!r}")
        return found

    def curve(self, key: str) -> Curve | None:
        """A channel under its law."""
        channel = self.channels.get(key)
        return None if channel is None else curve_of(channel, self.channels)


def read_day(sheet: Sheet, facts: Mapping[str, Any]) -> Day:
    """Read all logs of a sheet and put them on UTC by the ties that a ledger states."""
    channels: dict[str, Recorded] = {}
    unread: dict[str, str] = {}
    for entry in sheet.logs:
        try:
            found, on_utc = read_log(entry, sheet)
            line = line_of(facts, entry.name, on_utc=on_utc) if found else None
        except CannotRecompute as error:
            unread[entry.name] = error.why
            _log.info("not read a second time: %s", error.why)
            continue
        for key, channel in found.items():
            if key not in channels and line is not None:
                late = late_by(facts, sheet, entry.name, key)
                channels[key] = timely(channel, line, late)
    channels |= _burnt(channels)
    return Day(
        channels=MappingProxyType(_by_tank(channels, sheet.fuel_check)),
        unread=MappingProxyType(unread),
    )


def _burnt(channels: Mapping[str, Recorded]) -> dict[str, Recorded]:
    """Supply less return, for an engine whose flow is not logged itself."""
    found = {}
    for key, supply in channels.items():
        name, dot, number = key.partition(".")
        flow, back = f"fuel_flow{dot}{number}", channels.get(f"fuel_return{dot}{number}")
        if name != "fuel_supply" or back is None or flow in channels:
            continue
        values = supply.values - Curve(back, "neighbours").values(supply.t_s)
        good = np.isfinite(values)
        found[flow] = replace(
            supply,
            key=flow,
            t_s=supply.t_s[good],
            values=values[good],
            lines=supply.lines[good],
            printed=values[good] / supply.worth_si,
            late_sd_s=max(supply.late_sd_s, back.late_sd_s),
        )
    return found


def _by_tank(channels: dict[str, Recorded], check: FuelCheck | None) -> dict[str, Recorded]:
    """Flows times what filled the tank over what was logged, where the sheet has a fuel check."""
    flows = [key for key in channels if key.partition(".")[0] == "fuel_flow"]
    if check is None or not flows:
        return channels
    burnt = math.fsum(_poured(channels[key], check) for key in flows)
    factor = check.refilled_m3 / burnt if burnt > 0 else math.nan
    if not CREDIBLE[0] <= factor <= CREDIBLE[1]:
        return channels
    made = dict(channels)
    for key in flows:
        flow = channels[key]
        made[key] = replace(flow, values=flow.values * factor, worth_si=flow.worth_si * factor)
    return made


def _poured(flow: Recorded, check: FuelCheck) -> float:
    """What flowed in the stretch of a fuel check [m³]; NaN where too much was not logged."""
    here = flow.within(check.start_s, check.stop_s)
    if here.t_s.size < 2:
        return math.nan
    steps = np.diff(here.t_s)
    poured = float(np.sum(steps * (here.values[1:] + here.values[:-1]) / 2))
    ends = here.values[0] * (here.t_s[0] - check.start_s)
    ends += here.values[-1] * (check.stop_s - here.t_s[-1])
    lost = float(np.sum(steps[steps > flow.longest_gap_s + SAME_S]))
    if ends > MOST_LOST * poured or lost > MOST_LOST * float(np.sum(steps)):
        return math.nan
    return poured
