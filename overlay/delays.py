"""How late each channel stands in its log: as the sheet states, as clues tell, or as doubtful.

A clock that is right does not make a value timely. What the sheet states is taken; for a
channel that it does not speak of, the clues may have settled it (two ways to one clock, of
which one does not depend on the channel); what is left is 0 with a doubt that shows in
every figure.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from sync.channel import Channel
from sync.clue import delay_name

if TYPE_CHECKING:
    from overlay.sheet import TrialSheet
    from sync.tie import Ties

UNSTATED_SD_S = 0.2
"""Doubt about the delay of a channel that nobody stated: receivers filter speed by 0.1 to
0.3 s, gateways hold engine data back by 0.1 to 0.5 s (common practice, no published source)."""

LAGGING = ("speed", "engine_speed", "throttle", "fuel_flow")

UNSTATED_ATTITUDE_SD_S = 0.1
"""The same for how the boat lies and turns, which gyros tell: filters and a bus take some tens of
milliseconds, a slow one a tenth of a second (common practice, no published source)."""

ATTITUDE = ("turn_rate", "heading", "pitch", "roll", "acceleration")

AT_ODDS = 3.0
"""Deviations from which on clues contradict a delay that the sheet states."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Delay:
    """How late a channel is, with one standard deviation, and who says so."""

    delay_s: float
    sd_s: float
    origin: Literal["stated", "estimated", "unstated"]


def stated_delay(key: str, log: str, sheet: TrialSheet) -> Delay:
    """The delay of a channel by the sheet alone.

    Parameters
    ----------
    key, log
        The channel's key, such as `engine_speed` or `engine_speed.1`, and its log's name.
    """
    unstated_sd = _unstated_sd(key.partition(".")[0])
    for sensor in sheet.sensors:
        if sensor.log == log and sensor.channel == key and sensor.delay is not None:
            sd = unstated_sd if sensor.delay_sd is None else sensor.delay_sd
            return Delay(delay_s=sensor.delay, sd_s=sd, origin="stated")
    return Delay(delay_s=0.0, sd_s=unstated_sd, origin="unstated")


def _unstated_sd(name: str) -> float:
    if name in LAGGING:
        return UNSTATED_SD_S
    return UNSTATED_ATTITUDE_SD_S if name in ATTITUDE else 0.0


def delay_of(channel: Channel, log: str, sheet: TrialSheet, ties: Ties) -> Delay:
    """The delay of a channel on its log's own clock, by the sheet and by what ties say."""
    by_sheet = stated_delay(channel.key, log, sheet)
    found = ties.doubts.get(delay_name(channel.clock, channel.key))
    if by_sheet.origin == "stated" or found is None or not found.narrowed:
        return by_sheet
    return Delay(delay_s=found.value_s, sd_s=found.sd_s, origin="estimated")


def contradicted(channel: Channel, log: str, sheet: TrialSheet, ties: Ties) -> str | None:
    """What the clues have against a delay that the sheet states, in words."""
    by_sheet = stated_delay(channel.key, log, sheet)
    found = ties.doubts.get(delay_name(channel.clock, channel.key))
    if by_sheet.origin != "stated" or found is None or found.odds < AT_ODDS:
        return None
    return (
        f"the sheet has {channel.key} in {log!r} {by_sheet.delay_s:.2f} ± {by_sheet.sd_s:.2f} s "
        f"late, and the clues together would have {by_sheet.delay_s + found.value_s:.2f} s; "
        "look at the delay, or at what ties the clocks"
    )


def with_delay(channel: Channel, delay: Delay) -> Channel:
    """The channel with its delay as a fact, not yet taken out."""
    return replace(channel, delay_s=delay.delay_s, delay_sd_s=delay.sd_s)
