"""The files of a recording as an editing program opens them: their rates and their timecodes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from sync.media import Footage, FrameTimes
from sync.media.fit import is_constant, rate_hz
from sync.media.footage import parts_of
from sync.media.frames import file_times
from sync.timecode import TimecodeError, frames_of, is_drop_label, rate_near


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One file of a recording as an editing program opens it.

    Parameters
    ----------
    film
        The file; `proxy` its twin in a smaller picture, on the same clock.
    rate_hz
        Its frames a second, exactly where a timecode counts them; for a film of varying rate
        that of the sequence, and `varies` says so.
    first
        The number of its first frame by its own timecode; 0 where it has none.
    label
        That timecode, if there is one.
    frames
        How many frames of `rate_hz` it lasts.
    start_s, stop_s
        Where it begins and ends on the recording's film time.
    remark
        What was odd about its timecode.
    """

    film: Footage
    proxy: Footage | None
    rate_hz: Fraction
    first: int
    label: str | None
    frames: int
    start_s: Fraction
    stop_s: Fraction
    varies: bool = False
    remark: str | None = None


def sources_of(footage: Footage, fallback_hz: Fraction) -> tuple[Source, ...]:
    """The files of a recording, each with its rate and its timecode.

    Parameters
    ----------
    fallback_hz
        The rate in which a film of varying rate is counted.
    """
    proxies = [part.film for part in parts_of(footage.proxy)] if footage.proxy else []
    found = []
    for number, part in enumerate(parts_of(footage)):
        times = file_times(part.film)
        proxy = proxies[number] if number < len(proxies) else None
        found.append(_source(part.film, proxy, times, part.shift_s, fallback_hz))
    return tuple(found)


def _source(
    film: Footage,
    proxy: Footage | None,
    times: FrameTimes,
    shift_s: Fraction,
    fallback_hz: Fraction,
) -> Source:
    start_s = int(times.pts[0]) * times.time_base + shift_s
    stop_s = times.stop_pts * times.time_base + shift_s
    varies = not is_constant(times)
    rate = fallback_hz if varies else _exact_rate(times)
    first, remark = _first_frame(film.timecode, rate)
    return Source(
        film=film,
        proxy=proxy,
        rate_hz=rate,
        first=first,
        label=None if remark else film.timecode,
        frames=math.floor((stop_s - start_s) * rate) if varies else len(times),
        start_s=start_s,
        stop_s=stop_s,
        varies=varies,
        remark=remark,
    )


def _exact_rate(times: FrameTimes) -> Fraction:
    measured = rate_hz(times) or 1 / float(times.stop_pts * times.time_base)
    try:
        return rate_near(measured).rate_hz
    except TimecodeError:
        return Fraction(measured).limit_denominator(1001)


def _first_frame(label: str | None, rate: Fraction) -> tuple[int, str | None]:
    """The number that a file's timecode gives its first frame, or why it gives none."""
    if label is None:
        return 0, None
    try:
        return frames_of(label, rate_near(rate, drop=is_drop_label(label))), None
    except TimecodeError as error:
        return 0, f"its timecode is left out: {str(error).rstrip('.')}"
