"""Steps a second time: the means of their passes, and the mean both ways.

Over ground a pass is the boat's own velocity, which turns round with her, and the stream, which may
change with time. Written as complex numbers, east and north as real and imaginary part, with s = ±1
for the way,

::

    g_i = s_i W + c₀ + c₁ t_i + c₂ t_i²,    speed = |W|

and W follows by least squares, each pass weighted by its own doubt. The stream changes evenly from
three passes on and as a parabola from four, unless that leaves W less sure than 1.25 times what two
passes would; speeds are averaged and never times.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from overlay.audit.recompute.day import Day
from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.recorded import Floats

RECIPROCAL_RAD = math.radians(30.0)
MOST_GAIN = 1.25
ENGINE_SHARE, ENGINE_LEAST_RPS = 0.02, 50 / 60
SPEED_SHARE, SPEED_LEAST_MPS = 0.03, 0.3 * 1852 / 3600
FAN_RAD = math.radians(20.0)
SMOOTH_S = 1.25
LEAST_S = 8.0

Spans = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class PassAgain:
    """One pass: its stretches of UTC, its mean speed and course, and its other means."""

    spans: Spans
    speed_mps: float
    course_rad: float
    engine_rps: float
    flow_m3ps: float
    pitch_rad: float

    @property
    def middle_s(self) -> float:
        """Half way from its beginning to its end."""
        return (self.spans[0][0] + self.spans[-1][1]) / 2


def pass_over(day: Day, spans: Spans) -> PassAgain:
    """The means of a pass over the stretches in which it was steady, each by its length.

    Raises
    ------
    CannotRecompute
        Where speed or course are not to be had there.
    """
    speed, course = _over(day, "speed", spans), day.channels.get("course")
    if math.isnan(speed) or course is None:
        raise CannotRecompute("speed or course are not logged in a pass")
    ways = [np.exp(1j * course.within(*span).values) for span in spans]
    if not all(one.size for one in ways):
        raise CannotRecompute("course breaks off in a pass")
    lengths = [stop - start for start, stop in spans]
    way = sum(
        length * np.mean(one) / abs(np.mean(one)) for one, length in zip(ways, lengths, strict=True)
    )
    engines = [key for key in day.channels if key.partition(".")[0] == "engine_speed"]
    flows = [key for key in day.channels if key.partition(".")[0] == "fuel_flow"]
    return PassAgain(
        spans=spans,
        speed_mps=speed,
        course_rad=math.atan2(way.imag, way.real) % math.tau,
        engine_rps=float(np.mean([_over(day, key, spans) for key in engines] or [math.nan])),
        flow_m3ps=math.fsum(_over(day, key, spans) for key in flows) if flows else math.nan,
        pitch_rad=_over(day, "pitch", spans),
    )


def _over(day: Day, key: str, spans: Spans) -> float:
    channel = day.channels.get(key)
    if channel is None:
        return math.nan
    total = math.fsum(stop - start for start, stop in spans)
    return math.fsum(channel.mean(*span) * (span[1] - span[0]) / total for span in spans)


def both_ways(passes: Sequence[PassAgain], sds: Sequence[float]) -> tuple[float, int] | None:
    """The speed of passes both ways, the stream taken out, and the degree of the stream's change;
    None where they are not both ways.

    Parameters
    ----------
    sds
        What each pass's mean speed is sure to, by which it is weighted.
    """
    ways = ways_of(passes)
    if ways is None or 0 in ways or -1 not in ways:
        return None
    ground = np.array([p.speed_mps * np.exp(1j * (math.pi / 2 - p.course_rad)) for p in passes])
    times = np.array([one.middle_s for one in passes])
    times = (times - times.mean()) / max(float(np.ptp(times)), 1.0)
    weights = 1 / np.maximum(np.array(sds), 1e-6)
    for degree in range(min(len(passes) - 2, 2), -1, -1):
        columns = [np.array(ways, dtype=np.float64), *(times**k for k in range(degree + 1))]
        table = np.stack(columns, axis=1)
        found = _solved(table, ground, weights, free=degree == 0)
        if found is not None:
            return found, degree
    return None


def _solved(table: Floats, ground: Any, weights: Floats, *, free: bool) -> float | None:
    """|W| by the normal equations; None where the passes cannot tell it from the stream."""
    normal = table.T @ (table * weights[:, None] ** 2)
    if np.linalg.cond(normal) > 1e12:
        return None
    pull = np.linalg.solve(normal, table.T * weights**2)
    # With passes alike, two of them give W to √½ of one.
    if not free and float(np.linalg.norm(pull[0])) > MOST_GAIN * math.sqrt(0.5):
        return None
    return float(abs(pull[0] @ ground))


def ways_of(passes: Sequence[PassAgain]) -> list[int] | None:
    """+1 along the first pass, -1 against it, 0 for neither."""
    if len(passes) < 2:
        return None
    first = passes[0].course_rad
    out = []
    for one in passes:
        off = abs(math.remainder(one.course_rad - first, math.tau))
        out.append(1 if off <= RECIPROCAL_RAD else -1 if math.pi - off <= RECIPROCAL_RAD else 0)
    return out


def counted_alike(values: Sequence[float], ways: Sequence[int] | None) -> float:
    """The mean of each way's mean; of all where they went one way only."""
    there = [value for value, way in zip(values, ways or [1] * len(values), strict=True) if way > 0]
    back = [value for value, way in zip(values, ways or [1] * len(values), strict=True) if way < 0]
    if not back:
        return float(np.mean(values))
    return (float(np.mean(there)) + float(np.mean(back))) / 2


def unsteady(day: Day, span: tuple[float, float]) -> str | None:
    """Why a stretch is not steady by the printed definition, if it is not.

    Engine speed within 2 % or 50 rpm of its median, speed within 3 % or 0.3 kn, the course within
    20°, for eight seconds and more, all as means over 1.25 s.
    """
    start, stop = span
    if stop - start < LEAST_S - 1e-6:
        return f"it lasts {stop - start:.1f} s"
    rows = [("speed", SPEED_SHARE, SPEED_LEAST_MPS)]
    rows += [
        (key, ENGINE_SHARE, ENGINE_LEAST_RPS)
        for key in day.channels
        if key.partition(".")[0] == "engine_speed"
    ]
    for key, share, least in rows:
        values = _smooth(day, key, start, stop)
        if not values.size:
            return f"{key} has no value in it"
        middle = float(np.median(values))
        # What is read off at other instants than the product's may lie a little beyond.
        if np.any(np.abs(values - middle) > 1.1 * max(share * middle, least)):
            return f"{key} does not keep to its band"
    course = day.channels.get("course")
    if course is not None:
        ways = np.unwrap(course.within(start, stop).values)
        if ways.size and float(np.ptp(_mean_about(ways, 5))) > 1.1 * FAN_RAD:
            return "the course does not keep to 20°"
    return None


def _smooth(day: Day, key: str, start_s: float, stop_s: float) -> Floats:
    channel = day.channels[key]
    middles = np.arange(start_s, stop_s, 0.25)
    means = [channel.mean(t - SMOOTH_S / 2, t + SMOOTH_S / 2) for t in middles.tolist()]
    return np.array([value for value in means if math.isfinite(value)])


def _mean_about(values: Floats, count: int) -> Floats:
    return np.convolve(values, np.full(count, 1 / count), mode="valid")


def spans_of(row: Mapping[str, Any]) -> Spans:
    """The stretches of a pass as a document of results has them."""
    return [(float(one["start_s"]), float(one["stop_s"])) for one in row["spans"]]
