"""What a plan draws of a trial: its signals, and one run with its marks."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

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
        The figure of that instant, with the digits that its uncertainty supports and its unit:
        `4.3 s`.
    value, sd
        The figure behind the text, in SI, and one standard deviation of it where it is known.
    channel
        What it follows from.
    """

    t_utc_s: float
    label: str
    text: str
    value: float
    sd: float | None
    channel: str = "speed"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTab:
    """A stretch of a run for which a tab says what is being done: `pass 1 of 2, 045°`."""

    t_utc_s: float
    stop_utc_s: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunAxis:
    """How far a run has come, as its time axis counts it.

    Parameters
    ----------
    sign
        Of what it counts: `s` for time since the start, or for the time spent in passes; `°` for
        the angle that the heading has swept.
    t_utc_s, value
        Instants in order, and how far the run had come by then, never falling; straight lines
        between them.
    """

    sign: Literal["s", "°"]
    t_utc_s: tuple[float, ...]
    value: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.t_utc_s) != len(self.value) or len(self.t_utc_s) < 2:
            raise ValueError("an axis needs two instants and more, each with a value")
        for name, row in (("instants", self.t_utc_s), ("values", self.value)):
            if list(row) != sorted(row):
                raise ValueError(f"the {name} of an axis are not in order")
        if not self.length > 0:
            raise ValueError("a run that comes nowhere has no axis")

    @property
    def length(self) -> float:
        """How far the whole run comes."""
        return self.value[-1] - self.value[0]

    def along(self, t_utc_s: float) -> float:
        """How far the run has come at an instant; at an end of it beyond."""
        if t_utc_s <= self.t_utc_s[0]:
            return 0.0
        after = bisect_right(self.t_utc_s, t_utc_s)
        if after == len(self.t_utc_s):
            return self.length
        low, high = self.t_utc_s[after - 1], self.t_utc_s[after]
        rise = self.value[after] - self.value[after - 1]
        return self.value[after - 1] - self.value[0] + rise * (t_utc_s - low) / (high - low)


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
    axis
        What the time axis counts; seconds since the start where nothing is said.
    tabs
        In order of time.
    to_port
        Whether a turn is one to port.
    """

    kind: str
    title: str
    start_utc_s: float
    stop_utc_s: float
    shown_from_utc_s: float
    shown_to_utc_s: float
    marks: tuple[RunMark, ...] = ()
    origin: str = "from rest"
    axis: RunAxis | None = None
    tabs: tuple[RunTab, ...] = ()
    to_port: bool = False

    def __post_init__(self) -> None:
        if not self.stop_utc_s > self.start_utc_s:
            raise ValueError(f"{self.title!r} cannot stop before it starts")
        if not self.shown_to_utc_s > self.shown_from_utc_s:
            raise ValueError(f"{self.title!r} cannot go out before it comes in")
        for name, row in (("marks", self.marks), ("tabs", self.tabs)):
            times = [one.t_utc_s for one in row]
            if times != sorted(times):
                raise ValueError(f"the {name} of {self.title!r} are not in order of time")

    @property
    def counted(self) -> RunAxis:
        """What the time axis counts."""
        if self.axis is not None:
            return self.axis
        # A mark may lie a little past the stop: the axis goes on to it.
        last = max([self.stop_utc_s, *(mark.t_utc_s for mark in self.marks)])
        return RunAxis(
            sign="s",
            t_utc_s=(self.start_utc_s, last),
            value=(0.0, last - self.start_utc_s),
        )


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
    brackets
        What counts as steady in the step that is filmed, by the key of the channel: for each pass
        from when on, and low and high end in SI.
    lacks
        Why there is no signal of a channel that was logged, by its key, as a clause.
    facts
        What a note may say of the trial, by a word for it: `boat`, `engine`, `conditions`.
    decimal_sign
        What stands before the decimals of every number that is measured.
    sides
        Which engine is at port and which at starboard, where there are two.
    rest_utc_s
        The stretch of rest that pitch is levelled by, if there is one.
    """

    signals: Mapping[str, Signal]
    units: str
    run: RunFace
    bands: Mapping[str, tuple[float, float]] = field(default_factory=lambda: MappingProxyType({}))
    brackets: Mapping[str, tuple[tuple[float, float, float], ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    lacks: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    decimal_sign: str = "."
    sides: tuple[int, int] = (0, 1)
    rest_utc_s: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if self.units not in UNIT_SETS:
            raise ValueError(f"{self.units!r} is not one of {', '.join(UNIT_SETS)}")
        object.__setattr__(self, "signals", MappingProxyType(dict(self.signals)))
        for name in ("bands", "brackets", "lacks", "facts"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    def band(self, channel: str) -> tuple[float, float] | None:
        """The rated band of a channel, in SI, if there is one."""
        return self.bands.get(channel) or self.bands.get(channel.partition(".")[0])

    def bracket(self, channel: str, t_utc_s: float) -> tuple[float, float] | None:
        """Within what a channel counts as steady at an instant of this step, in SI."""
        bands = self.brackets.get(channel, ())
        begun = [band for band in bands if band[0] <= t_utc_s] or list(bands[:1])
        return begun[-1][1:] if begun else None
