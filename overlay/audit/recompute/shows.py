"""What every item of every instrument shows, as a ledger has it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

SIDES: Mapping[str, int] = {"port": 0, "starboard": 1}
"""Which engine the two numbers of one instrument are of."""

SWEPT, ALONG, HELD = "swept", "along", "held"
"""How far a turn has come, how far any run has come, and the greatest value shown in a run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shows:
    """Channel, log and unit of an item; the log is empty where none has the channel."""

    channel: str
    log: str
    unit: str


def shows_of(rows: pd.DataFrame) -> dict[tuple[str, str], Shows]:
    """By the rows of a ledger."""
    each = rows.drop_duplicates(["instrument", "item"])
    return {
        (str(row.instrument), str(row.item)): Shows(
            channel=str(row.channel), log=str(row.log), unit=str(row.unit)
        )
        for row in each.itertuples()
    }


def shows_by_facts(facts: Mapping[str, Any]) -> dict[tuple[str, str], Shows]:
    """By what the facts of a ledger say of its instruments."""
    found = {}
    sources = facts.get("sources", {})
    turning = "turn_rate" if "turn_rate" in sources else "heading"
    for instrument, told in facts.get("instruments", {}).items():
        items = {item: row for item, row in told.items() if item in SIDES}
        if "channel" in told:
            items["value"] = told
        if told.get("kind") == "heading_arc":
            items[SWEPT] = {"channel": turning, "unit": "°"}
        for item, row in items.items():
            key = str(row.get("channel", ""))
            found[str(instrument), item] = Shows(
                channel=key, log=str(sources.get(key, "")), unit=str(row.get("unit", ""))
            )
    return found
