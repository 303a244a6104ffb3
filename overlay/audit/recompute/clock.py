"""From a log's own clock to UTC, and the delay of each channel taken out.

::

    t_utc = offset + rate · t_log − delay

Offset and rate are the tie's, which the ledger keeps; whether the tie is right is another check's
to say. The delay is the sheet's. Where the product estimated one, for want of a word in the sheet,
that is taken from the ledger and told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.recorded import Recorded
from overlay.audit.recompute.sheet import Late, Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """`t_utc = offset_s + rate · t`."""

    offset_s: float
    rate: float


UTC_ITSELF = Line(offset_s=0.0, rate=1.0)


def line_of(facts: Mapping[str, Any], log: str, *, on_utc: bool) -> Line:
    """The straight line from a log's clock to UTC, as the ledger's facts have the tie.

    Raises
    ------
    CannotRecompute
        Where the log has a clock of its own and the ledger no tie of it.
    """
    if on_utc:
        return UTC_ITSELF
    tie = facts.get("log_ties", {}).get(f"log:{log}")
    if tie is None:
        raise CannotRecompute(f"the ledger has no tie of the log {log!r}, which has its own clock")
    return Line(offset_s=float(tie["offset_s"]), rate=float(tie["rate"]))


def late_by(facts: Mapping[str, Any], sheet: Sheet, log: str, key: str) -> Late:
    """By how much a channel is late: as the sheet states, or as the product estimated."""
    by_sheet = sheet.late(log, key)
    fact = facts.get("delays", {}).get(key, {})
    if by_sheet.stated or fact.get("origin") != "estimated" or fact.get("log") != log:
        return by_sheet
    return Late(delay_s=float(fact["delay_s"]), sd_s=float(fact["sd_s"]), stated=False)


def timely(channel: Recorded, line: Line, late: Late) -> Recorded:
    """The channel on UTC, its delay taken out of its times."""
    t_s = line.offset_s + line.rate * channel.t_s if line is not UTC_ITSELF else channel.t_s
    return replace(
        channel,
        t_s=t_s - late.delay_s,
        late_sd_s=late.sd_s,
        period_s=channel.period_s * line.rate,
    )
