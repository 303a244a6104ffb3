"""What a log holds: quantities over time, and instants that somebody marked.

A `Channel` is one quantity with its unit in SI, its clock and its delay. Its holes stay
holes: between two samples further apart than the channel's own limit there is no value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from sync.clock import TIME_TOLERANCE_S, ClockMap, Span

Floats = NDArray[np.float64]

LEAST_GAP_S = 0.5
"""Shortest gap that may count as a hole, however fast the channel is sampled (design rule)."""

GAP_PERIODS = 3.0
"""A gap counts as a hole from this many median sample periods (design rule)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelKind:
    """What a channel of a given name measures.

    `quantity` names its dimension in `sync.units`; `low` and `high` bound what is physically
    possible, in SI, and anything outside is a spike; `turns` says that the value is a
    direction, which wraps around at a full turn.
    """

    name: str
    quantity: str
    text: str
    low: float = -np.inf
    high: float = np.inf
    turns: bool = False


def _kinds(*kinds: ChannelKind) -> Mapping[str, ChannelKind]:
    return MappingProxyType({kind.name: kind for kind in kinds})


_TURN = 2 * np.pi

CHANNELS: Mapping[str, ChannelKind] = _kinds(
    ChannelKind(name="speed", quantity="speed", text="speed over ground", low=0, high=100),
    ChannelKind(name="water_speed", quantity="speed", text="speed through water", low=0, high=100),
    ChannelKind(name="course", quantity="angle", text="course over ground", turns=True),
    ChannelKind(name="heading", quantity="angle", text="true heading", turns=True),
    ChannelKind(name="magnetic_heading", quantity="angle", text="magnetic heading", turns=True),
    ChannelKind(name="latitude", quantity="degrees", text="latitude", low=-90, high=90),
    ChannelKind(name="longitude", quantity="degrees", text="longitude", low=-180, high=180),
    ChannelKind(name="altitude", quantity="length", text="altitude", low=-500, high=9000),
    ChannelKind(name="engine_speed", quantity="rotation", text="engine speed", low=0, high=300),
    ChannelKind(name="throttle", quantity="ratio", text="throttle opening", low=-0.2, high=1.2),
    ChannelKind(name="fuel_flow", quantity="volume_flow", text="fuel flow", low=0, high=1e-3),
    ChannelKind(
        name="fuel_supply", quantity="volume_flow", text="fuel to the engine", low=0, high=1e-2
    ),
    ChannelKind(
        name="fuel_return", quantity="volume_flow", text="fuel back to the tank", low=0, high=1e-2
    ),
    ChannelKind(
        name="gear", quantity="ratio", text="gear: -1 astern, 0 neutral, 1 ahead", low=-1, high=1
    ),
    ChannelKind(
        name="pitch", quantity="angle", text="pitch, bow up", low=-_TURN / 4, high=_TURN / 4
    ),
    ChannelKind(name="roll", quantity="angle", text="roll, starboard down", low=-_TURN, high=_TURN),
    ChannelKind(
        name="turn_rate", quantity="turn_rate", text="rate of turn, to starboard", low=-9, high=9
    ),
    ChannelKind(
        name="acceleration",
        quantity="acceleration",
        text="acceleration, forward",
        low=-400,
        high=400,
    ),
    ChannelKind(
        name="rudder", quantity="angle", text="rudder, to starboard", low=-_TURN / 4, high=_TURN / 4
    ),
    ChannelKind(
        name="variation", quantity="angle", text="magnetic variation, east", low=-4, high=4
    ),
    ChannelKind(name="trim", quantity="ratio", text="drive trim", low=-1.3, high=1.3),
    ChannelKind(name="engine_load", quantity="ratio", text="engine load", low=0, high=1.3),
    ChannelKind(name="engine_torque", quantity="ratio", text="engine torque", low=-1.3, high=1.3),
    ChannelKind(name="engine_hours", quantity="time", text="engine hours", low=0, high=1e9),
    ChannelKind(
        name="engine_temperature",
        quantity="temperature",
        text="coolant temperature",
        low=200,
        high=700,
    ),
    ChannelKind(
        name="oil_temperature", quantity="temperature", text="oil temperature", low=200, high=900
    ),
    ChannelKind(name="oil_pressure", quantity="pressure", text="oil pressure", low=0, high=5e6),
    ChannelKind(
        name="coolant_pressure", quantity="pressure", text="coolant pressure", low=0, high=5e6
    ),
    ChannelKind(name="fuel_pressure", quantity="pressure", text="fuel pressure", low=0, high=5e8),
    ChannelKind(name="boost_pressure", quantity="pressure", text="boost pressure", low=0, high=2e6),
    ChannelKind(name="voltage", quantity="voltage", text="alternator voltage", low=0, high=1000),
    ChannelKind(
        name="gear_oil_pressure", quantity="pressure", text="gear oil pressure", low=0, high=1e7
    ),
    ChannelKind(
        name="gear_oil_temperature",
        quantity="temperature",
        text="gear oil temperature",
        low=200,
        high=900,
    ),
    ChannelKind(name="trip_fuel", quantity="volume", text="fuel since reset", low=0, high=1e3),
    ChannelKind(name="fuel_level", quantity="ratio", text="fuel level", low=0, high=1.1),
    ChannelKind(
        name="water_temperature",
        quantity="temperature",
        text="water temperature",
        low=265,
        high=320,
    ),
    ChannelKind(
        name="air_temperature", quantity="temperature", text="air temperature", low=200, high=340
    ),
    ChannelKind(
        name="engine_room_temperature",
        quantity="temperature",
        text="engine room temperature",
        low=200,
        high=500,
    ),
    ChannelKind(
        name="exhaust_temperature",
        quantity="temperature",
        text="exhaust temperature",
        low=200,
        high=1500,
    ),
    ChannelKind(name="humidity", quantity="ratio", text="relative humidity", low=0, high=1.1),
    ChannelKind(name="air_pressure", quantity="pressure", text="air pressure", low=8e4, high=1.1e5),
    ChannelKind(
        name="apparent_wind_speed", quantity="speed", text="apparent wind speed", low=0, high=120
    ),
    ChannelKind(
        name="apparent_wind_angle", quantity="angle", text="apparent wind, from the bow", turns=True
    ),
    ChannelKind(name="true_wind_speed", quantity="speed", text="true wind speed", low=0, high=120),
    ChannelKind(
        name="true_wind_angle", quantity="angle", text="true wind, from the bow", turns=True
    ),
    ChannelKind(name="wind_from", quantity="angle", text="direction of the wind", turns=True),
    ChannelKind(
        name="sound_level", quantity="level", text="A-weighted sound level", low=0, high=160
    ),
)
"""Every channel name that the project knows. Angles are in radians and engine speed in
revolutions a second; places alone stay in degrees, as geodesy libraries take them.

The bounds are own choices, with no published source, but for those that a definition sets
(latitude, longitude, a quarter turn of pitch and rudder, shares of one with some room): wide
enough for every craft that is tested, so that what lies outside is a fault and no feat."""


def read_only(values: NDArray[np.generic] | list[float] | Floats) -> Floats:
    """A float64 copy of an array that nobody can write to."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def _any_finite(values: Floats) -> bool:
    """Whether any value is finite; mostly the very first is, and the others are not looked at."""
    return values.size > 0 and bool(np.isfinite(values[0]) or np.any(np.isfinite(values)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channel:
    """One quantity over time.

    Parameters
    ----------
    name
        A key of `CHANNELS`.
    instance
        Which of several like it: engine 0 is the only or the port one, 1 starboard.
    clock
        The clock that `t_s` counts on.
    t_s : [shape=(n,), s]
        Times, strictly increasing.
    values : [shape=(n,), SI]
        Values; NaN where the instrument said that it had none.
    delay_s, delay_sd_s
        By how much the value stands later in the log than it was true, and one standard
        deviation of that. It is a fact about the channel until `timely` takes it out.
    source
        Where it comes from, for a reader: sentence, column or parameter group.
    means
        How it was had: `measured`, `doppler`, or `differenced` from something else.
    max_gap_s
        Longest gap across which a value may be worked out; None for the design rule.
    """

    name: str
    t_s: Floats
    values: Floats
    clock: str
    instance: int = 0
    delay_s: float = 0.0
    delay_sd_s: float = 0.0
    source: str = ""
    means: str = "measured"
    max_gap_s: float | None = None
    _worked_out: dict[str, float] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        if self.name not in CHANNELS:
            raise ValueError(f"{self.name!r} is not a channel name")
        t, values = read_only(self.t_s), read_only(self.values)
        if t.ndim != 1 or t.shape != values.shape:
            raise ValueError(f"times {t.shape} and values {values.shape} are not two equal rows")
        if t.size and not np.all(np.isfinite(t)):
            raise ValueError("times must be finite")
        if np.any(np.diff(t) <= 0):
            raise ValueError("times must increase")
        object.__setattr__(self, "t_s", t)
        object.__setattr__(self, "values", values)
        if self.max_gap_s is None:
            held = t[np.isfinite(values)]
            period = float(np.median(np.diff(held))) if held.size > 1 else 0.0
            object.__setattr__(self, "max_gap_s", max(GAP_PERIODS * period, LEAST_GAP_S))

    @property
    def key(self) -> str:
        """The name by which sheets and faceplates call it: `engine_speed`, `engine_speed.1`."""
        return self.name if self.instance == 0 else f"{self.name}.{self.instance}"

    @property
    def kind(self) -> ChannelKind:
        """What a channel of its name measures."""
        return CHANNELS[self.name]

    @property
    def period_s(self) -> float:
        """Median time between two samples that hold a value; NaN for fewer than two."""
        if "period_s" not in self._worked_out:
            t = self.t_s[np.isfinite(self.values)]
            period = float(np.median(np.diff(t))) if t.size > 1 else float("nan")
            self._worked_out["period_s"] = period
        return self._worked_out["period_s"]

    @property
    def resolution(self) -> float:
        """What the last digit of its values is worth, SI, as far as they tell: the least step
        between two of them, where they come back to the same ones again and again. NaN where
        they do not."""
        known = self.values[np.isfinite(self.values)]
        changed = known[1:][np.diff(known) != 0]
        distinct = np.unique(known)
        if 2 * distinct.size > changed.size:
            return float("nan")
        steps = np.diff(distinct)
        # Steps far below the largest value's own float spacing are conversion, not data.
        steps = steps[steps > 1e-9 * max(float(np.nanmax(np.abs(self.values), initial=0)), 1e-9)]
        return float(np.min(steps)) if steps.size else float("nan")

    @property
    def span(self) -> Span | None:
        """From the first value to just after the last; None where there is no value."""
        t = self.t_s[np.isfinite(self.values)]
        if t.size == 0:
            return None
        return Span(start_s=float(t[0]), stop_s=float(np.nextafter(t[-1], np.inf)))

    def holes(self) -> tuple[Span, ...]:
        """The stretches inside the channel's span that have no value."""
        t = self.t_s[np.isfinite(self.values)]
        wide = np.flatnonzero(np.diff(t) > self._limit)
        return tuple(Span(start_s=float(t[i]), stop_s=float(t[i + 1])) for i in wide)

    def broken_in(self, span: Span) -> bool:
        """Whether one of the `holes` has a part in a span; looks at no more than is near it."""
        reach = self._limit
        first, last = np.searchsorted(
            self.t_s, (span.start_s - reach, span.stop_s + reach), side="left"
        )
        t = self.t_s[first:last][np.isfinite(self.values[first:last])]
        # What lies beyond counts as one more sample, just out of reach.
        if _any_finite(self.values[:first][::-1]):
            t = np.concatenate([[min([span.start_s, *t[:1]]) - 2 * reach], t])
        if _any_finite(self.values[last:]):
            t = np.concatenate([t, [max([span.stop_s, *t[-1:]]) + 2 * reach]])
        wide = np.flatnonzero(np.diff(t) > reach)
        return bool(np.any((t[wide] < span.stop_s) & (t[wide + 1] > span.start_s)))

    def at(self, t_s: Floats | float) -> Floats:
        """Straight lines between neighbouring values, NaN outside them and across holes.

        Directions go the short way around; the result of a direction lies in [0, 2π).
        """
        wanted = np.atleast_1d(np.asarray(t_s, dtype=np.float64))
        out = np.full(wanted.shape, np.nan)
        asked = wanted[np.isfinite(wanted)]
        if asked.size == 0:
            return out
        # What lies further off than the longest gap is neighbour to none of them.
        near = slice(
            np.searchsorted(self.t_s, asked.min() - self._limit, side="left"),
            np.searchsorted(self.t_s, asked.max() + self._limit, side="right"),
        )
        good = np.isfinite(self.values[near])
        t, values = self.t_s[near][good], self.values[near][good]
        if t.size == 0:
            return out
        if self.kind.turns:
            values = np.unwrap(values)
        after = np.clip(np.searchsorted(t, wanted, side="left"), 0, t.size - 1)
        before = np.clip(np.searchsorted(t, wanted, side="right") - 1, 0, t.size - 1)
        gap = t[after] - t[before]
        share = np.divide(wanted - t[before], gap, out=np.zeros_like(wanted), where=gap > 0)
        inside = (wanted >= t[0]) & (wanted <= t[-1]) & (gap <= self._limit)
        out[inside] = (values[before] + share * (values[after] - values[before]))[inside]
        return np.mod(out, _TURN) if self.kind.turns else out

    def window(self, t_s: float, half_s: float) -> tuple[Floats, Floats]:
        """The samples with a value within `half_s` of an instant, ends included.

        Returns
        -------
        offsets : [shape=(m,), s]
            Their times less `t_s`.
        values : [shape=(m,), SI]
        """
        start = int(np.searchsorted(self.t_s, t_s - half_s - TIME_TOLERANCE_S, side="left"))
        stop = int(np.searchsorted(self.t_s, t_s + half_s + TIME_TOLERANCE_S, side="right"))
        t, values = self.t_s[start:stop], self.values[start:stop]
        good = np.isfinite(values)
        return t[good] - t_s, values[good]

    def cut(self, span: Span) -> Channel:
        """The samples inside a span."""
        first, last = np.searchsorted(self.t_s, (span.start_s, span.stop_s), side="left")
        return replace(self, t_s=self.t_s[first:last], values=self.values[first:last])

    def on(self, clock_map: ClockMap) -> Channel:
        """The channel on another clock, its delay still a fact about it."""
        if clock_map.from_clock != self.clock:
            raise ValueError(f"{self.key} is on {self.clock!r}, not on {clock_map.from_clock!r}")
        return replace(self, t_s=clock_map.carry(self.t_s), clock=clock_map.to_clock)

    def timely(self) -> Channel:
        """The channel with its delay taken out of its times; the doubt about it stays."""
        return replace(self, t_s=self.t_s - self.delay_s, delay_s=0.0)

    def almost_equal(self, other: Channel, *, t_tol_s: float = 1e-9, tol: float = 1e-9) -> bool:
        """Whether two channels agree in all but rounding."""
        return (
            (self.key, self.clock, self.means) == (other.key, other.clock, other.means)
            and self.t_s.shape == other.t_s.shape
            and bool(np.allclose(self.t_s, other.t_s, rtol=0, atol=t_tol_s))
            and bool(np.allclose(self.values, other.values, rtol=0, atol=tol, equal_nan=True))
            and abs(self.delay_s - other.delay_s) <= t_tol_s
        )

    @property
    def _limit(self) -> float:
        assert self.max_gap_s is not None  # set in __post_init__
        return self.max_gap_s + TIME_TOLERANCE_S


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
