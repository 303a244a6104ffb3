"""GNSS time: what receivers that a log has heard say of its clock.

A bus log holds the logger's stamps and, beside them, the time that receivers state. Their
difference is how the logger's clock is set:

::

    offset = median(t_utc - t_log)

How it can mislead: a statement is taken down some tenths of a second after the instant that
it names, and that lateness stays in the offset; channels of the same receiver share it, so
that they come out right, while others come out early by it. A receiver can also be wrong by
whole seconds, when it has not had its leap seconds or counts from an old table. So the
receivers must agree with each other: where they do not, there are hints and no clue.

Where the readings go on long enough to tell a rate there are two clues, one of the first third
of them and one of the last. How late the receiver's statements are is the same in both: it is
a `Doubt` that they share, so that the offset is never surer than that, while the rate, to
which it is nothing, is as sure as the scatter of the readings makes it.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.clock import UTC, utc_text
from sync.clue import Clue, Doubt, Finding
from sync.log import STAMPS, ClockReading, Log

LATENESS_SD_S = 0.1
"""How much later than another a receiver may send its time (common practice, no published
source: 0.1 to 0.3 s from the instant to the message)."""

LEAST_READINGS = 5

LEAST_SD_S = 1e-4
"""Times are stated in ten thousandths of a second at best (PGN 129029)."""

THIRDS = 3
"""The two outer thirds of evenly spread readings tell a rate nearly as well as all of them: its
deviation is √(9/8), or 1.06, times that of a straight line."""

RATE_SPAN_S = 300.0
"""Over less, a few hundredths of a second of scatter hide what crystals drift (20 ppm)."""

WITHIN_SDS = 3.0

DATED_S = 1e8
"""A log that counts from its own start has smaller times than this."""

STAMPS_SD_S = 40.0
"""A logger's clock that nobody checked lies within two minutes (as that of a camera)."""

_POSITION = re.compile(r"PGN 129029\b|RMC|GGA|GLL")
_CRYSTAL = "crystal"


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceTime:
    """How a log's clock is set, by one source.

    Parameters
    ----------
    source
        Who says so.
    offset_s, sd_s
        ``t_utc = t_log + offset_s`` in the middle of the log, with one standard deviation.
    scatter_s
        Robust spread of single readings.
    count
        How many readings there are.
    t_log_s, span_s
        The middle of the readings on the log's clock, and how long they go on.
    rate, rate_sd
        ``t_utc`` seconds to one of the log's, and one standard deviation; None where the
        readings do not span time enough.
    """

    source: str
    offset_s: float
    sd_s: float
    scatter_s: float
    count: int
    t_log_s: float
    span_s: float
    rate: float | None = None
    rate_sd: float | None = None


def source_times(readings: Iterable[ClockReading]) -> tuple[SourceTime, ...]:
    """What every source with enough readings says, the steadiest first."""
    by_source: dict[str, list[ClockReading]] = defaultdict(list)
    for reading in readings:
        by_source[reading.source].append(reading)
    found = [
        _source_time(source, mine)
        for source, mine in by_source.items()
        if len(mine) >= LEAST_READINGS
    ]
    return tuple(sorted(found, key=lambda one: (one.sd_s, one.source)))


def _source_time(source: str, readings: Sequence[ClockReading]) -> SourceTime:
    t = np.array([reading.t_log_s for reading in readings])
    offsets = np.array([reading.t_utc_s for reading in readings]) - t
    middle, span = float(np.median(t)), float(np.ptp(t))
    offset = float(np.median(offsets))
    rate = rate_sd = None
    drift = 0.0
    spread = _spread(offsets - offset)
    if span >= RATE_SPAN_S:
        slope, slope_sd = _slope(t - middle, offsets)
        spread = _spread(offsets - offset - slope * (t - middle))
        rate, rate_sd = 1.0 + slope, slope_sd
        if abs(slope) > WITHIN_SDS * slope_sd:
            drift = abs(slope) * span / math.sqrt(12.0)
    sd = math.hypot(LATENESS_SD_S, spread * 1.2533 / math.sqrt(t.size), drift)
    return SourceTime(
        source=source, offset_s=offset, sd_s=sd, scatter_s=spread, count=t.size,
        t_log_s=middle, span_s=span, rate=rate, rate_sd=rate_sd,
    )  # fmt: skip


def _spread(residuals: Floats) -> float:
    """A standard deviation that single wild readings do not move: 1.4826 times the median."""
    return float(1.4826 * np.median(np.abs(residuals)))


def _slope(t: Floats, offsets: Floats) -> tuple[float, float]:
    """Slope of a straight line through readings, those beyond four spreads left out."""
    keep = np.ones(t.size, dtype=bool)
    for _ in range(3):
        fit = np.polynomial.polynomial.polyfit(t[keep], offsets[keep], 1)
        residuals = offsets - fit[0] - fit[1] * t
        spread = max(_spread(residuals[keep]), 1e-6)
        keep = np.abs(residuals) <= 4.0 * spread
    deviation = spread / math.sqrt(float(np.sum((t[keep] - np.mean(t[keep])) ** 2)))
    return float(fit[1]), float(deviation)


def gnss_time_clues(log: Log) -> Finding:
    """A clue from a log's own clock to UTC, or hints where its sources are at odds.

    A receiver that states its time with its position is heard in place of the system time
    from the same address, and a crystal only where there is nothing else. All that are then
    left must agree; the clue is that of the steadiest.

    Parameters
    ----------
    log
        Any log. One that is on UTC gets a remark where its receivers contradict it.
    """
    here = [reading for reading in log.clock_readings if not reading.clock.startswith(STAMPS)]
    sources = _preferred(source_times(here))
    if not sources:
        return _without(log) + Finding(remarks=_logger(log))
    if log.clock == UTC:
        return Finding(remarks=_contradiction(log, sources))
    apart = _disagreeing(sources)
    if not apart:
        return Finding(clues=_ends(log, sources[0]) or (_clue(log, sources[0], hint=False),))
    clues = tuple(_clue(log, one, hint=True) for one in sources)
    told = ", ".join(f"{one.source} {_side(one.offset_s)}" for one in sources)
    remark = (
        f"{log.name}: the receivers in it disagree about its clock ({told}); tie it by a mark "
        "that another log shares"
    )
    return Finding(clues=clues, remarks=(remark,))


def _preferred(sources: tuple[SourceTime, ...]) -> tuple[SourceTime, ...]:
    """Receivers before relays: see `gnss_time_clues`."""
    placed = {_address(one) for one in sources if _POSITION.search(one.source)}
    kept = [o for o in sources if _POSITION.search(o.source) or _address(o) not in placed]
    sure = [one for one in kept if _CRYSTAL not in one.source]
    return tuple(sure or kept)


def _address(one: SourceTime) -> str:
    match = re.search(r"from (\d+)", one.source)
    return match.group(1) if match else one.source


def _disagreeing(sources: Sequence[SourceTime]) -> bool:
    return any(
        abs(a.offset_s - b.offset_s) > WITHIN_SDS * math.hypot(a.sd_s, b.sd_s)
        for i, a in enumerate(sources)
        for b in sources[i + 1 :]
    )


def _side(offset_s: float) -> str:
    """An offset in words: a clock that must be put back is ahead."""
    if abs(offset_s) >= DATED_S:
        return f"at nought at {utc_text(offset_s)}"
    return f"{abs(offset_s):.3f} s {'ahead' if offset_s < 0 else 'behind'}"


def _clue(log: Log, one: SourceTime, *, hint: bool) -> Clue:
    return Clue(
        kind="gnss_time",
        from_clock=log.clock,
        to_clock=UTC,
        offset_s=one.offset_s,
        sd_s=one.sd_s,
        hint=hint,
        text=_text(one, f"{one.count} times"),
        at_s=one.t_log_s,
    )


def _ends(log: Log, one: SourceTime) -> tuple[Clue, ...]:
    """Two clues that tell the rate too; none where the readings do not span time enough.

    ::

        own sd = 1.2533 · spread of the single readings / √count     for each third
    """
    if one.rate is None:
        return ()
    mine = sorted(
        (reading.t_log_s, reading.t_utc_s)
        for reading in log.clock_readings
        if reading.source == one.source
    )
    t, utc = np.array(mine).T
    first, last = t[0] + one.span_s / THIRDS, t[-1] - one.span_s / THIRDS
    late = Doubt(name=f"lateness of {one.source} on {log.clock}", sd_s=LATENESS_SD_S, sign=-1.0)
    clues = []
    for which, part in (("first", t <= first), ("last", t >= last)):
        if int(part.sum()) < LEAST_READINGS:
            return ()
        at = float(np.mean(t[part]))
        level = utc[part] - t[part] - (one.rate - 1.0) * (t[part] - at)
        own = max(1.2533 * one.scatter_s / math.sqrt(part.sum()), LEAST_SD_S)
        clues.append(
            Clue(
                kind="gnss_time",
                from_clock=log.clock,
                to_clock=UTC,
                offset_s=float(np.median(level)),
                sd_s=math.hypot(own, LATENESS_SD_S),
                text=_text(one, f"{int(part.sum())} of {one.count} times, the {which} third,"),
                at_s=at,
                doubts=(late,),
            )
        )
    return tuple(clues)


def _text(one: SourceTime, count: str) -> str:
    text = f"{count} from {one.source}: the log's clock is {_side(one.offset_s)}"
    if one.rate is not None and one.rate_sd is not None:
        text += f", its rate {(1.0 - one.rate) * 1e6:+.0f} ± {one.rate_sd * 1e6:.0f} ppm"
    return text


def _contradiction(log: Log, sources: Sequence[SourceTime]) -> tuple[str, ...]:
    off = [one for one in sources if abs(one.offset_s) > WITHIN_SDS * one.sd_s]
    return tuple(
        f"{log.name} is taken to be on UTC, and {one.source} in it says that its clock is "
        f"{_side(one.offset_s)}; leave its clock 'own' to have that put right"
        for one in off
    )


def _logger(log: Log) -> tuple[str, ...]:
    """How the clock stands that stamped a log whose own times are a receiver's."""
    stamps = _preferred(source_times(r for r in log.clock_readings if r.clock.startswith(STAMPS)))
    return tuple(
        f"{log.name}: by {one.count} {one.source}, the clock of the logger that stamped its lines "
        f"is {_side(one.offset_s)} (± {one.sd_s:.1f} s); the log's times are the receiver's own"
        for one in stamps[:1]
    )


def _without(log: Log) -> Finding:
    """A log that is dated and has no receiver: its stamps are a hint, and no more."""
    span = log.span
    if log.clock == UTC or log.format != "canbus" or span is None or span.start_s < DATED_S:
        return Finding()
    clue = Clue(
        kind="gnss_time",
        from_clock=log.clock,
        to_clock=UTC,
        offset_s=0.0,
        sd_s=STAMPS_SD_S,
        hint=True,
        text="the logger's own stamps, which no receiver in the log confirms",
    )
    remark = (
        f"{log.name}: its stamps have a date and no receiver in it states the time; state "
        "clock = 'utc' for it in the trial sheet if the logger's clock was right"
    )
    return Finding(clues=(clue,), remarks=(remark,))
