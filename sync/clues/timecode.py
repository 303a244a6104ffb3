"""Timecode as a clue: labels of frames, from a container's track or off a sound channel.

How it can mislead: labels are a time of day only if somebody set them to it. Many cameras
count what they have recorded, from 00:00:00:00 or on from the clip before, and nothing in a
label shows it. So a timecode is a hint, as wrong as a camera's own clock may be, until the
sheet says what it is: the time of day in UTC or in the trial's zone, or set together with that
of another recording, and then it ties those two to each other.

A time of day still has no date: the day is that on which the footage meets the logs, or the one
in the user bits. Counts at 23.976 and 29.97 frames that do not drop labels fall behind by
3.6 s an hour from when they were set, so without that instant they too are no more than a hint.
A camera without a common picture clock begins its frames anywhere within one of the code:

::

    sd² = frame² / 12 + (the generator's own clock)²

the latter shared by all that took their timecode from it. Linear timecode in the sound is read
to microseconds, at two instants far apart, so that it tells the rates of the clocks as well.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from sync.clock import UTC, Span, utc_text
from sync.clue import Clue, Doubt, Finding
from sync.clues.labels.pair import LONGEST_SET_S, MOST_FIRM_SD_S, together_clues
from sync.clues.labels.read import Labels, code_labels, container_labels
from sync.clues.stamps import STAMP_SD_S
from sync.timecode import TimecodeRate, behind_s, time_of_day

__all__ = [
    "Labels",
    "Meaning",
    "Setting",
    "TrialDay",
    "code_labels",
    "container_labels",
    "timecode_clues",
    "together_clues",
]

GENERATOR_SD_S = 0.05
"""How far the clock that a timecode comes from may be out, one standard deviation, where nobody
says: set in the morning by a receiver and left alone at 1 to 2 ppm (common practice, no
published source)."""

GENERATOR_RATE_SD = 2e-6
"""How far it may run off true, seconds a second (the same)."""

Meaning = Literal["utc", "local"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What is known of the clock that a timecode comes from.

    Parameters
    ----------
    meaning
        What its labels are: the time of day in UTC, or in the trial's zone; None where nobody
        says so.
    set_utc_s
        When it was set to the time of day.
    sd_s
        How far it may be out, as one standard deviation.
    """

    meaning: Meaning | None = None
    set_utc_s: float | None = None
    sd_s: float = GENERATOR_SD_S


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialDay:
    """The day of the trial in its own zone, and the stretch of UTC that its logs cover."""

    date: dt.date | None = None
    time_zone: str | None = None
    logs: Span | None = None


def timecode_clues(labels: Sequence[Labels], setting: Setting, day: TrialDay) -> Finding:
    """What labels say of the time of day: clues where the sheet says that they are it.

    Parameters
    ----------
    labels
        Of one recording.
    setting
        What they are said to be.
    day
        The trial's day, zone and logs, which give them a date.
    """
    finding = Finding()
    for one in labels:
        if setting.meaning is None:
            finding += _hints(one, day)
        else:
            finding += _stated(one, setting.meaning, setting, day)
    return Finding(clues=finding.clues, remarks=tuple(dict.fromkeys(finding.remarks)))


def _hints(one: Labels, day: TrialDay) -> Finding:
    """The readings that fall on the logs, as good as a camera's own clock; a count that starts
    at a whole hour is no time of day but where people begin to count."""
    if one.label[2:9] == ":00:00:" or day.logs is None or one.turn_s > 0:
        return Finding()
    clues: list[Clue] = []
    readings: tuple[Meaning, ...] = ("utc", "local")
    for meaning in readings:
        for t_utc_s in _instants(one, meaning, day)[:1]:
            late = behind_s(0.5 * LONGEST_SET_S, one.rate)
            clue = Clue(
                kind=one.kind,
                from_clock=one.clock,
                to_clock=UTC,
                offset_s=t_utc_s + late - one.at_s,
                sd_s=math.hypot(STAMP_SD_S, _fallen_sd_s(one.rate)),
                hint=True,
                text=f"timecode {one.label}, if it is the time of day {_zone(meaning, day)}",
            )
            if all(abs(clue.offset_s - other.offset_s) > 1.0 for other in clues):
                clues.append(clue)
    return Finding(clues=tuple(clues))


def _stated(one: Labels, meaning: Meaning, setting: Setting, day: TrialDay) -> Finding:
    name = one.clock.partition(":")[2] or one.clock
    if meaning == "local" and day.time_zone is None:
        return _none(
            f"{name}: its timecode is said to be local time, and the trial has no time_zone, which "
            "would settle it"
        )
    found = _instants(one, meaning, day)
    if len(found) != 1:
        return _none(f"{name}: {_which_day(one, meaning, found, day)}")
    late, late_sd = behind_s(0.5 * LONGEST_SET_S, one.rate), _fallen_sd_s(one.rate)
    if setting.set_utc_s is not None:
        late, late_sd = behind_s(_since_set(found[0], setting.set_utc_s, one.rate), one.rate), 0.0
    clock_sd = math.hypot(setting.sd_s, late_sd)
    doubts = [Doubt(name="the timecode's own clock", sd_s=clock_sd)] if clock_sd > 0 else []
    if one.turn_s:
        wrong = Doubt(
            name=f"the rate of the timecode on {one.clock}",
            sd_s=abs(one.turn_s) * GENERATOR_RATE_SD,
            sign=math.copysign(1.0, one.turn_s),
        )
        doubts.append(wrong)
    firm = late_sd <= MOST_FIRM_SD_S
    clue = Clue(
        kind=one.kind,
        from_clock=one.clock,
        to_clock=UTC,
        offset_s=found[0] + late - one.at_s,
        sd_s=math.hypot(one.own_sd_s, *(doubt.sd_s for doubt in doubts)),
        hint=not firm,
        at_s=one.at_s,
        text=f"timecode {one.label} at {one.at_s:.3f} s, time of day {_zone(meaning, day)}",
        doubts=tuple(doubts),
    )
    if firm:
        return Finding(clues=(clue,))
    remark = (
        f"{name}: its timecode counts {one.rate.key} frames without dropping labels and falls "
        "behind the time of day by 3.6 s an hour; when it was set (timecode_set) would settle it"
    )
    return Finding(clues=(clue,), remarks=(remark,))


def _fallen_sd_s(rate: TimecodeRate) -> float:
    """Deviation of how far labels have fallen behind, set anywhen in the last half a day."""
    return abs(behind_s(LONGEST_SET_S, rate)) / math.sqrt(12.0)


def _since_set(t_utc_s: float, set_utc_s: float, rate: TimecodeRate) -> float:
    """How long before an instant, read off labels that may have fallen behind, they were set."""
    shown = t_utc_s - set_utc_s
    return shown / (1.0 - behind_s(1.0, rate))


def _zone(meaning: Meaning, day: TrialDay) -> str:
    return "in UTC" if meaning == "utc" else f"in {day.time_zone}"


def _instants(one: Labels, meaning: Meaning, day: TrialDay) -> list[float]:
    """UTC of the label on every day on which the footage meets the logs.

    A local time that the zone skips is none, and one that it has twice is two.
    """
    if meaning == "local" and day.time_zone is None:
        return []
    zone = dt.UTC if meaning == "utc" or day.time_zone is None else ZoneInfo(day.time_zone)
    of_day = time_of_day(one.frame, one.rate)
    seconds, rest = divmod(of_day, 1)
    found: set[float] = set()
    for date in _dates(one, day):
        wall = dt.datetime.combine(date, dt.time()) + dt.timedelta(seconds=int(seconds))
        for fold in (0, 1):
            aware = wall.replace(tzinfo=zone, fold=fold)
            t_utc_s = aware.timestamp() + float(rest)
            back = dt.datetime.fromtimestamp(aware.timestamp(), tz=zone).replace(tzinfo=None)
            if back == wall and _meets(one, t_utc_s, day.logs):
                found.add(t_utc_s)
    return sorted(found)


def _dates(one: Labels, day: TrialDay) -> list[dt.date]:
    """Days that a label may be of: that in its user bits, or those about trial and logs."""
    if one.date is not None and (day.date is None or abs((one.date - day.date).days) <= 1):
        return [one.date]
    if day.logs is None:
        return [] if day.date is None else [day.date]
    first, last = (
        dt.datetime.fromtimestamp(t, tz=dt.UTC).date() for t in (day.logs.start_s, day.logs.stop_s)
    )
    count = (last - first).days + 3
    return [first + dt.timedelta(days=k - 1) for k in range(count)]


def _meets(one: Labels, t_utc_s: float, logs: Span | None) -> bool:
    """Whether the footage meets the logs if its label is of that instant."""
    if logs is None:
        return True
    start = t_utc_s + one.span.start_s - one.at_s
    slack = STAMP_SD_S if one.rate.keeps_time else behind_s(LONGEST_SET_S, one.rate)
    return start - slack < logs.stop_s and start + one.span.length_s + slack > logs.start_s


def _which_day(one: Labels, meaning: Meaning, found: list[float], day: TrialDay) -> str:
    """Why a label has no one instant."""
    said = f"its timecode {one.label} as the time of day {_zone(meaning, day)}"
    if found:
        times = " and ".join(utc_text(t, 0) for t in found[:2])
        return f"{said} is both {times}; a typed tie mark would settle it"
    if day.logs is None and day.date is None:
        return f"{said} has no date, since neither sheet nor logs have one; a date would settle it"
    return (
        f"{said} falls on no log: it may count what was recorded, be of another zone, or of "
        "another day, and a typed tie mark would settle it"
    )


def _none(remark: str) -> Finding:
    return Finding(remarks=(remark,))
