"""What a plan draws of a trial: its signals, and one run with its marks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from overlay.analysis.signals import Signal
from overlay.figures import UNIT_SETS


@dataclass(frozen=True, slots=True, kw_only=True)
class RunMark:
    """An instant of a run that gets a flag.

    Parameters
    ----------
    t_utc_s
        When the mark is passed.
    label
        What was reached, as it is written: `20 mph`.
    text
        The time it took, with the digits that its uncertainty supports and its unit: `4.3 s`.
    value_s, sd_s
        The time behind the text, and one standard deviation of it.
    """

    t_utc_s: float
    label: str
    text: str
    value_s: float
    sd_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFace:
    """A run as the picture shows it.

    Parameters
    ----------
    kind, title
        What sort of run it is, and its name.
    start_utc_s, stop_utc_s
        The run itself: the time axis counts from its start and fills up to its stop.
    marks
        In order of time.
    origin
        What the time is counted from, in words.
    shown_from_utc_s, shown_to_utc_s
        When the instruments come in and when they go out; half-open.
    """

    kind: str
    title: str
    start_utc_s: float
    stop_utc_s: float
    shown_from_utc_s: float
    shown_to_utc_s: float
    marks: tuple[RunMark, ...] = ()
    origin: str = "from rest"

    def __post_init__(self) -> None:
        if not self.stop_utc_s > self.start_utc_s:
            raise ValueError(f"{self.title!r} cannot stop before it starts")
        if not self.shown_to_utc_s > self.shown_from_utc_s:
            raise ValueError(f"{self.title!r} cannot go out before it comes in")
        times = [mark.t_utc_s for mark in self.marks]
        if times != sorted(times):
            raise ValueError(f"the marks of {self.title!r} are not in order of time")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subject:
    """Everything of a trial that a faceplate may show.

    Parameters
    ----------
    signals
        By the key of their channel.
    units
        A key of `figures.UNIT_SETS`.
    run
        The run that is filmed.
    bands
        Low and high end, in SI, of what is rated for a channel, by the key of the channel
        or its name.
    """

    signals: Mapping[str, Signal]
    units: str
    run: RunFace
    bands: Mapping[str, tuple[float, float]] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        if self.units not in UNIT_SETS:
            raise ValueError(f"{self.units!r} is not one of {', '.join(UNIT_SETS)}")
        object.__setattr__(self, "signals", MappingProxyType(dict(self.signals)))
        object.__setattr__(self, "bands", MappingProxyType(dict(self.bands)))

    def band(self, channel: str) -> tuple[float, float] | None:
        """The rated band of a channel, in SI, if there is one."""
        return self.bands.get(channel) or self.bands.get(channel.partition(".")[0])
