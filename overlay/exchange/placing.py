"""Where a recording lies on a sequence of constant rate.

A tie has a rate, for a camera's clock runs a little fast or slow, and a sequence cannot follow
it. So the middle of the recording is laid where its tie has it, and its ends are off by as
little as can be, before all is moved to whole frames:

::

    first frame = round(place(t_utc(middle)) − length / 2)
    off(t)      = sequence(t) − t_utc(t),    largest at an end: |1 − rate| · length / 2

A film in slow motion is shortened to the time that its camera lived through, which the
sequence has as a retiming of the clip.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from overlay.exchange.grid import Grid
from overlay.exchange.sources import Source
from sync.clock import ClockMap
from sync.tie import Tie
from sync.timecode import TimecodeRate


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPart:
    """One file on the sequence: its first frame there, and how many frames of the sequence."""

    source: Source
    start: int
    frames: int

    @property
    def stop(self) -> int:
        """The first frame of the sequence after it."""
        return self.start + self.frames


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedRecording:
    """A recording on the sequence.

    Parameters
    ----------
    off_start_s, off_stop_s
        How much later than its tie has it the recording's first frame, and the end of its last,
        lie on the sequence.
    sd_start_s, sd_stop_s
        One standard deviation of the tie at these two.
    gains_ppm
        How much faster than UTC the camera's clock runs, and `gains_sd_ppm` how sure that is.
    slower
        How many seconds of film show one of life.
    has_sound
        Whether there is any.
    remarks
        What an editor should know of it.
    """

    name: str
    parts: tuple[PlacedPart, ...]
    off_start_s: float
    off_stop_s: float
    sd_start_s: float
    sd_stop_s: float
    gains_ppm: float
    gains_sd_ppm: float
    slower: float
    has_sound: bool
    remarks: tuple[str, ...] = ()

    @property
    def start(self) -> int:
        """Its first frame on the sequence."""
        return self.parts[0].start

    @property
    def stop(self) -> int:
        """The first frame of the sequence after it."""
        return self.parts[-1].stop


def place(
    name: str,
    sources: Sequence[Source],
    *,
    to_utc: ClockMap,
    tie: Tie,
    slower: float,
    grid: Grid,
) -> PlacedRecording:
    """Lay a recording on the sequence so that its ends are off by as little as can be.

    Parameters
    ----------
    to_utc
        From film time to UTC, as `Trial.footage_to_utc` has it.
    tie
        Of its clock, which counts the seconds that the camera lived through.
    slower
        How many seconds of film show one of life.
    """
    pace = _pace(slower)
    start_s, stop_s = sources[0].start_s, sources[-1].stop_s
    exact = grid.place_of(begins_utc_s(sources, to_utc=to_utc, slower=slower))
    parts = _parts(sources, exact, start_s, pace, grid)

    return PlacedRecording(
        name=name,
        parts=parts,
        off_start_s=_off_s(parts[0], start_s, to_utc, pace, grid),
        off_stop_s=_off_s(parts[-1], stop_s, to_utc, pace, grid),
        sd_start_s=tie.sd_at(float(start_s / pace)),
        sd_stop_s=tie.sd_at(float(stop_s / pace)),
        gains_ppm=(1 / tie.map.rate - 1) * 1e6,
        gains_sd_ppm=tie.rate_sd * 1e6,
        slower=slower,
        has_sound=bool(sources[0].film.sound),
        remarks=_remarks(sources, grid.rate, slower, parts),
    )


def begins_utc_s(sources: Sequence[Source], *, to_utc: ClockMap, slower: float) -> Fraction:
    """Where a recording begins on a sequence, before it is moved to whole frames [UTC, s].

    That is not where its tie has its first frame: a clock that runs slow or fast moves it.
    """
    start_s, stop_s = sources[0].start_s, sources[-1].stop_s
    half = (stop_s - start_s) / 2
    return Fraction(to_utc.carry(float(start_s + half))) - half / _pace(slower)


def _pace(slower: float) -> Fraction:
    return Fraction(slower).limit_denominator(10_000)


def _off_s(
    part: PlacedPart, film_s: Fraction, to_utc: ClockMap, pace: Fraction, grid: Grid
) -> float:
    """How much later than its tie has it an instant of a file lies on the sequence."""
    after_s = (film_s - part.source.start_s) / pace
    laid_s = grid.zero_utc_s + part.start / grid.rate.rate_hz + after_s
    return float(laid_s - Fraction(to_utc.carry(float(film_s))))


def _parts(
    sources: Sequence[Source], exact: Fraction, start_s: Fraction, pace: Fraction, grid: Grid
) -> tuple[PlacedPart, ...]:
    """Each file on whole frames, within half a frame of its place and after the one before.

    A file lasts no longer than it has pictures for, so that one of another rate than the
    sequence's may end up to a frame early.
    """
    made: list[PlacedPart] = []
    for source in sources:
        at = exact + (source.start_s - start_s) / pace * grid.rate.rate_hz
        first = math.floor(at + Fraction(1, 2))
        if made and at < made[-1].stop + Fraction(1, 2) + _ROUNDING:
            first = made[-1].stop
        lasts = (source.stop_s - source.start_s) / pace * grid.rate.rate_hz
        frames = source.frames if _same(source, grid, pace) else math.floor(lasts + _ROUNDING)
        made.append(PlacedPart(source=source, start=first, frames=max(1, frames)))
    return tuple(made)


_ROUNDING = Fraction(1, 50)
"""In frames: containers round times, the coarsest to a millisecond, and a frame is no shorter for
it."""


def _same(source: Source, grid: Grid, pace: Fraction) -> bool:
    return pace == 1 and not source.varies and source.rate_hz == grid.rate.rate_hz


def _remarks(
    sources: Sequence[Source], rate: TimecodeRate, slower: float, parts: Sequence[PlacedPart]
) -> tuple[str, ...]:
    told = [f"{one.film.path.name}: {one.remark}" for one in sources if one.remark]
    rates = {one.rate_hz for one in sources}
    if any(one.varies for one in sources):
        told.append(
            "its frame rate varies: a program that takes it for constant shows it out of step, "
            "so make a copy of constant rate first"
        )
    elif rates != {rate.rate_hz}:
        listed = " and ".join(f"{float(one):.5g}" for one in sorted(rates))
        told.append(f"it has {listed} frames a second, and the sequence {float(rate.rate_hz):.5g}")
    if slower != 1:
        told.append(
            f"it plays {slower:g} times slower than life: on the sequence it is sped up to life, "
            "without its sound; the cut lists leave it out, for they do not agree on speed"
        )
    holes = [b.start - a.stop for a, b in pairwise(parts)]
    gone = sum(hole for hole in holes if hole > 0)
    if gone:
        told.append(f"between its files {gone} frame{'s' if gone > 1 else ''} of the sequence "
                    "have no picture")  # fmt: skip
    return tuple(told)
