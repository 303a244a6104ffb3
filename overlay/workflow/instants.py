"""An instant of a recording as a person names it: a time on it, a timecode, or the time of day."""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

from overlay.errors import WishError
from overlay.render.tags import timecode_rate
from sync.clock import ClockMap
from sync.errors import SyncError
from sync.media import Footage, FrameTimes
from sync.timecode import frames_of
from sync.units import parse_quantity

_TIMECODE = re.compile(r"\d{1,2}:\d{2}:\d{2}[:;]\d{2}")
_TIME_OF_DAY = re.compile(r"(\d{1,2}):(\d{2}):(\d{2}(?:\.\d+)?)")

FORMS = (
    "write 12.5 s on the recording, its timecode as 10:20:30:12, or the time of day as 10:20:30.5"
)


def footage_instant(
    text: str, footage: Footage, times: FrameTimes, to_utc: ClockMap, time_zone: str | None
) -> float:
    """The instant of the footage clock that a person named.

    Parameters
    ----------
    text
        `12.5 s` counts from the recording's first frame; `10:20:30:12` is the recording's own
        timecode, with a semicolon before the frames where it drops; `10:20:30.5` is the time of
        day, in the trial's zone or in UTC, on whichever day the recording was shot.

    Raises
    ------
    WishError
        Where it is none of these, or the recording has no such timecode.
    """
    given = text.strip()
    if _TIMECODE.fullmatch(given):
        return _by_timecode(given, footage, times)
    found = _TIME_OF_DAY.fullmatch(given)
    if found is not None:
        return _by_time_of_day(found, times, to_utc, time_zone)
    try:
        return times.time_s(0) + parse_quantity(given, "time")
    except SyncError as error:
        raise WishError(f"{text!r} is no instant of a recording", advice=FORMS) from error


def _by_timecode(label: str, footage: Footage, times: FrameTimes) -> float:
    if footage.timecode is None:
        raise WishError(
            f"the recording has no timecode to find {label} by",
            path=footage.path,
            advice="name the time on the recording, such as 12.5 s, or the time of day",
        )
    try:
        rate = timecode_rate(footage.timecode, footage.average_rate_hz)
        index = (frames_of(label, rate) - frames_of(footage.timecode, rate)) % rate.frames_in_a_day
    except SyncError as error:
        raise WishError(error.what, path=footage.path, advice=error.advice or FORMS) from error
    # One frame past the last is where a clip may end.
    if index < len(times):
        return times.time_s(index)
    if index == len(times):
        return times.span.stop_s
    raise WishError(
        f"the recording's timecode, which begins at {footage.timecode}, does not come to {label}",
        path=footage.path,
        advice=f"it has {len(times)} frames",
    )


def _by_time_of_day(
    found: re.Match[str], times: FrameTimes, to_utc: ClockMap, time_zone: str | None
) -> float:
    """Of the days around the recording, the one on which the instant lies nearest to it."""
    hours, minutes, seconds = int(found[1]), int(found[2]), float(found[3])
    if hours > 23 or minutes > 59 or seconds >= 60:
        raise WishError(f"{found[0]} is no time of day", advice=FORMS)
    zone = ZoneInfo(time_zone or "UTC")
    middle_s = to_utc.carry((times.span.start_s + times.span.stop_s) / 2)
    day = dt.datetime.fromtimestamp(middle_s, tz=zone).date()
    shown = dt.timedelta(hours=hours, minutes=minutes, seconds=seconds)
    instants = [
        (dt.datetime.combine(day + dt.timedelta(days=n), dt.time()) + shown)
        .replace(tzinfo=zone)
        .timestamp()
        for n in (-1, 0, 1)
    ]
    return float(to_utc.inverse().carry(min(instants, key=lambda t: abs(t - middle_s))))
