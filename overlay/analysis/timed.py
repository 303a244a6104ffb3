"""Times that the crew asks for by name: how long the drive takes from one trim to another, or
whatever was counted on film from frame to frame.

A movement begins where the gauge was last at the one mark and ends where it is first at the other.
Where a gauge rests at a mark it seldom says exactly that; so it is at a mark from `tol` before it,

::

    tol = max(0.5 %, last digit / 2),    time = T · |to − from| / (|to − from| − 2 tol)

with T between the passages of both lines: the last of the way is taken at the mean pace.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from overlay.analysis.means import Mean
from overlay.analysis.on_film import counted
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

if TYPE_CHECKING:
    from overlay.sheet.timed import Timed
    from overlay.trial import Trial

LEAST_TOL = 0.005
"""How near a mark a gauge may rest, at the least, as a share (own choice)."""

LEAST_DIGIT = 1e-6
"""Steps below this are the arithmetic's."""

HALT_S = 1.0
"""Who lets the button go for so long has halted the movement (own choice)."""

TURNED_BACK = 0.03
"""A gauge that falls back by more than this has turned round on the way (own choice)."""

Way = Literal["there", "back", "once"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedRun:
    """One time that was asked for.

    Parameters
    ----------
    name
        As the sheet has it.
    way
        `there` from the first mark to the second, `back` the other way; `once` on film.
    how
        What it was read from, in words.
    start_s
        UTC at which it began; NaN on film that nothing ties.
    time
        In s; on film the deviation is one frame.
    """

    name: str
    way: Way
    how: str
    start_s: float
    time: Mean


def timed_runs(trial: Trial) -> tuple[tuple[TimedRun, ...], tuple[str, ...]]:
    """All that the sheet has timed, and what could not be, each with the reason."""
    found: list[TimedRun] = []
    told: list[str] = []
    for entry in trial.sheet.timed:
        if entry.channel is None:
            film = counted(trial, entry)
            if isinstance(film, str):
                told.append(f"{entry.name}: {film}")
            else:
                found.append(
                    TimedRun(
                        name=entry.name, way="once", how=film.how, start_s=film.start_s,
                        time=film.time,
                    )
                )  # fmt: skip
            continue
        channel = trial.channels.get(entry.channel)
        runs, why = _by_channel(channel, entry)
        found += runs
        told += [f"{entry.name}: {one}" for one in why]
    return tuple(found), tuple(told)


def _by_channel(channel: Channel | None, entry: Timed) -> tuple[list[TimedRun], list[str]]:
    """Every movement between the marks of one entry, and what is left out."""
    if channel is None:
        return [], [f"no log has {entry.channel}"]
    start, stop = entry.marks
    marks = f"{start * 100:g} % to {stop * 100:g} %"
    runs: list[TimedRun] = []
    left_out: list[str] = []
    for way, first, last in (("there", start, stop), ("back", stop, start)):
        for span, time, why in movements(channel, first, last):
            if why:
                left_out.append(why)
                continue
            runs.append(
                TimedRun(
                    name=entry.name,
                    way="there" if way == "there" else "back",
                    how=f"{entry.channel} from {first * 100:g} % to {last * 100:g} %",
                    start_s=span.start_s,
                    time=time,
                )
            )
    runs.sort(key=lambda one: one.start_s)
    told = [
        f"{left_out.count(why)} of {len(runs) + len(left_out)} movements left out: {why}"
        for why in dict.fromkeys(left_out)
    ]
    if not runs and not left_out:
        known = channel.values[np.isfinite(channel.values)]
        reach = (
            f"it lay between {known.min() * 100:.0f} % and {known.max() * 100:.0f} %"
            if known.size
            else "it has no value"
        )
        told.append(f"{entry.channel} did not go from {marks} or back: {reach}")
    return runs, told


def movements(channel: Channel, first: float, last: float) -> Iterator[tuple[Span, Mean, str]]:
    """Every movement of a channel from one value to another: when, for how long, and why it does
    not count, if it does not.

    Parameters
    ----------
    channel
        On UTC.
    first, last
        The values between which it is timed.
    """
    good = np.isfinite(channel.values)
    t, values = channel.t_s[good], channel.values[good]
    way = 1.0 if last > first else -1.0
    digit = _digit(values)
    tol = max(LEAST_TOL, digit / 2)
    length = abs(last - first)
    if t.size < 2 or length <= 4 * tol:
        return
    # Measured along the way, from 0 at the one mark to `length` at the other.
    gone = way * (values - first)
    for before, after in _legs(gone, tol, length - tol):
        start = _passed(t, gone, before, tol)
        stop = _passed(t, gone, after - 1, length - tol)
        stretched = length / (length - 2 * tol)
        inner = stop - start
        pace = (length - 2 * tol) / inner
        span = Span(start_s=start, stop_s=stop)
        doubt = math.hypot(channel.period_s, digit / pace) / math.sqrt(12)
        yield (
            span,
            Mean(value=inner * stretched, sd=math.sqrt(2) * doubt),
            _spoiled(channel, span, t, gone, (before, after), max(tol, digit)),
        )


def _digit(values: Floats) -> float:
    """The worth of a gauge's last digit: the least step between two values that it had. A gauge
    without digits has steps as small as its noise, or even ones that do no harm."""
    steps = np.diff(np.unique(values))
    steps = steps[steps > LEAST_DIGIT]
    return float(np.min(steps)) if steps.size else 0.0


def _legs(gone: Floats, low: float, high: float) -> Iterator[tuple[int, int]]:
    """The last index at the one mark and the first at the other, for every way from one to the
    other."""
    place = np.where(gone <= low, -1, np.where(gone >= high, 1, 0))
    at_marks = np.flatnonzero(place)
    for before, after in pairwise(at_marks.tolist()):
        if place[before] == -1 and place[after] == 1:
            yield before, after


def _passed(t: Floats, gone: Floats, index: int, level: float) -> float:
    """When the line from one sample to the next passes a level."""
    low, high = float(gone[index]), float(gone[index + 1])
    return float(t[index] + (level - low) / (high - low) * (t[index + 1] - t[index]))


def _spoiled(
    channel: Channel,
    span: Span,
    t: Floats,
    gone: Floats,
    leg: tuple[int, int],
    step: float,
) -> str:
    """Why a movement is no time of the drive's: a hole, a halt, or a way back in it."""
    if channel.broken_in(span):
        return f"the log of {channel.key} has a hole in it"
    part, when = gone[leg[0] : leg[1] + 1], t[leg[0] : leg[1] + 1]
    if float(np.max(np.maximum.accumulate(part) - part)) > max(TURNED_BACK, 3 * step):
        return "it turned back on the way"
    pace = float(part[-1] - part[0]) / span.length_s
    window = max(HALT_S, 3 * channel.period_s, 3 * step / pace)
    inside = (when >= span.start_s) & (when <= span.stop_s - window)
    later = np.interp(when[inside] + window, when, part)
    if np.any(later - part[inside] < step):
        return f"it halted on the way, for {window:.0f} s or more"
    return ""
