"""A log: the channels of a recorded file, the instants that somebody marked in it, and what its
sources said that the time was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from sync.channel import Channel
from sync.clock import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """An instant that somebody or something marked: a clap, a lamp, a button.

    `t_s` is on `clock`, with a standard deviation of `sd_s`; `label` is what the crew calls
    it, and marks with equal labels on two clocks are one instant; `source` says where it was
    found; `typed` that a person wrote it down.
    """

    label: str
    clock: str
    t_s: float
    sd_s: float
    source: str = ""
    typed: bool = False


STAMPS = "stamps:"
"""Begins the name of the clock that stamped the lines of a log whose times are a receiver's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockReading:
    """What a source in a log says that the time is, at an instant on the log's own clock, or on
    that of the logger that stamped its lines.

    `t_log_s` is when the log took it down on `clock`, `t_utc_s` the time that it states, and
    `source` who states it. The statement is late by as long as its sender took.
    """

    clock: str
    t_log_s: float
    t_utc_s: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RawColumn:
    """One column as it stands in the file, before anything was made of it."""

    name: str
    unit: str | None
    channel: str | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Log:
    """A recorded file: its channels and marks, all on one clock, and what was odd about it.

    `columns` lists what the file offered and what became of it, `counts` how often something
    was met (sentences, checksum errors, values without a position), `warnings` whatever a
    person should be told in words. `clock_readings` are the times that sources in it state.
    """

    name: str
    path: Path
    format: str
    clock: str
    channels: Mapping[str, Channel]
    marks: tuple[Mark, ...] = ()
    columns: tuple[RawColumn, ...] = ()
    counts: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    warnings: tuple[str, ...] = ()
    clock_readings: tuple[ClockReading, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "channels", MappingProxyType(dict(self.channels)))
        object.__setattr__(self, "counts", MappingProxyType(dict(self.counts)))

    @property
    def span(self) -> Span | None:
        """From the first value of any channel to the last; None where there is none."""
        spans = [span for channel in self.channels.values() if (span := channel.span)]
        if not spans:
            return None
        return Span(
            start_s=min(span.start_s for span in spans), stop_s=max(span.stop_s for span in spans)
        )
