"""What ought to stand on the picture, for whoever compares."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from overlay.audit.recompute.recorded import Flags, Floats


def clock_text(t_utc_s: float) -> str:
    """An instant as its time of day on UTC, to a thousandth of a second."""
    when = dt.datetime.fromtimestamp(round(t_utc_s, 3), tz=dt.UTC)
    return f"{when:%H:%M:%S}.{when.microsecond // 1000:03d} UTC"


Texts = tuple[str, ...]
"""The texts that are right at an instant: one; two on a tie; none where nothing is to be seen."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Expected:
    """What an item of an instrument ought to show at some instants.

    Parameters
    ----------
    channel, log
        What it follows from; `log` is empty where no log has such a channel.
    unit
        The sign of the unit of texts and values.
    t_utc_s, t_shown_s
        The instants asked for, and those whose values are shown at them.
    value_si, value
        In SI and in the unit, not rounded; NaN for none. For how far a run has come they are both
        in the unit of its axis.
    on_edge
        Whether an instant lies on the edge of a step, so that what stands before it or behind it
        may rightly be shown; `texts` then has both.
    texts
        For each instant; empty for a pointer that has no text.
    """

    instrument: str
    item: str
    channel: str
    log: str
    unit: str
    t_utc_s: Floats
    t_shown_s: Floats
    value_si: Floats
    value: Floats
    on_edge: Flags
    texts: tuple[Texts, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """A line of a log as it stands in the file, and the instant of UTC that its value was true."""

    log: str
    path: Path
    line: int
    text: str
    t_utc_s: float


FindingKind = Literal[
    "text", "value", "instant", "frame time", "missing", "too many", "fact", "result"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something of a ledger that the logs do not bear out.

    Parameters
    ----------
    kind
        `text`, `value` or `instant` of a row; `frame time`: a frame's UTC is not what its tie
        says; `missing` and `too many`: a row that ought to be there, or not; `fact`: what the
        ledger says of the whole clip; `result`: a figure by its printed definition.
    told
        One sentence on what is wrong.
    found, wanted
        What stands in the ledger, and what ought to stand there.
    frames
        The first and the last frame of the clip that it concerns, and how many; None for facts.
    channel, log
        What it follows from, to look up the rows of the log around `t_shown_s`.
    """

    kind: FindingKind
    told: str
    found: str
    wanted: str
    instrument: str = ""
    item: str = ""
    t_utc_s: float | None = None
    t_shown_s: float | None = None
    frames: tuple[int, int, int] | None = None
    channel: str = ""
    log: str = ""
