"""The run of a clip as the ledger's facts have it: its marks, its axis, its stretch of UTC."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from overlay.audit.recompute.errors import CannotRecompute


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkShown:
    """A flag: when it drops, what is on it, and the figure behind it in SI."""

    t_utc_s: float
    label: str
    text: str
    value: float
    sd: float | None
    channel: str

    @property
    def number(self) -> str:
        """What stands on the flag without its unit."""
        number, _, unit = self.text.rpartition(" ")
        return number or unit

    @property
    def unit(self) -> str:
        """The sign of the unit on the flag."""
        number, _, unit = self.text.rpartition(" ")
        return unit if number else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunShown:
    """The run that a clip shows; `axis` is a count of its own: sign, instants, values; `tabs` say
    from when to when what was done."""

    kind: str
    title: str
    start_s: float
    stop_s: float
    from_s: float
    to_s: float
    marks: tuple[MarkShown, ...]
    axis: tuple[str, tuple[float, ...], tuple[float, ...]] | None
    tabs: tuple[tuple[float, float, str], ...]
    to_port: bool

    def mark(self, label: str) -> MarkShown | None:
        """The mark of a label."""
        return next((mark for mark in self.marks if mark.label == label), None)

    @property
    def sign(self) -> str:
        """What its axis counts: `s` or `°`."""
        return "s" if self.axis is None else self.axis[0]

    def along(self, t_s: float) -> float:
        """How far the run has come at an instant: seconds since its start, or what its axis counts;
        never beyond its end."""
        if self.axis is None:
            return min(max(t_s, self.start_s), self.stop_s) - self.start_s
        _, t, value = self.axis
        return float(np.interp(min(t_s, self.stop_s), t, value)) - value[0]


def run_of(facts: Mapping[str, Any]) -> RunShown:
    """The run as the facts of a ledger have it.

    Raises
    ------
    CannotRecompute
        Where the facts have none, or one that is not whole.
    """
    try:
        run = facts["run"]
        axis = run.get("axis")
        return RunShown(
            kind=run["kind"],
            title=run["title"],
            start_s=float(run["start_utc_s"]),
            stop_s=float(run["stop_utc_s"]),
            from_s=float(run["shown_from_utc_s"]),
            to_s=float(run["shown_to_utc_s"]),
            marks=tuple(_mark(row) for row in run["marks"]),
            axis=None
            if axis is None
            else (
                axis["sign"],
                tuple(map(float, axis["t_utc_s"])),
                tuple(map(float, axis["value"])),
            ),
            tabs=tuple(
                (float(tab["t_utc_s"]), float(tab["stop_utc_s"]), str(tab["text"]))
                for tab in run.get("tabs", [])
            ),
            to_port=bool(run.get("to_port", False)),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise CannotRecompute(f"the ledger does not say which run it shows ({error})") from error


def _mark(row: Mapping[str, Any]) -> MarkShown:
    value = row["value"]
    return MarkShown(
        t_utc_s=float(row["t_utc_s"]),
        label=str(row["label"]),
        text=str(row["text"]),
        value=math.nan if value is None else float(value),
        sd=None if row["sd"] is None else float(row["sd"]),
        channel=str(row["channel"]),
    )
