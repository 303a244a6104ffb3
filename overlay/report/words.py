"""Times, courses, durations and lists as tables and pages have them, and names made harmless."""

from __future__ import annotations

import datetime as dt
import math
import unicodedata
from collections.abc import Iterable
from decimal import Decimal
from zoneinfo import ZoneInfo

from overlay.figures import NO_VALUE, round_half_up

_TURNS_TEXT_ROUND = {chr(code) for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A))}


def time_of_day(t_utc_s: float, time_zone: str) -> str:
    """A time of day in the trial's zone, to the second: `07:13:13`."""
    return f"{dt.datetime.fromtimestamp(round(t_utc_s), tz=ZoneInfo(time_zone)):%H:%M:%S}"


def instant_of_day(t_utc_s: float, time_zone: str) -> str:
    """A time of day in the trial's zone, to the millisecond: `07:13:13.400`."""
    whole, part = divmod(round(t_utc_s * 1000), 1000)
    return f"{time_of_day(whole, time_zone)}.{part:03d}"


def course(course_rad: float) -> str:
    """A course in whole degrees and three digits: `045°`."""
    if not math.isfinite(course_rad):
        return NO_VALUE
    return f"{round(math.degrees(course_rad)) % 360:03d}°"


def listed(items: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    found = list(items)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} and {found[-1]}"


def hours_minutes(duration_s: float) -> str:
    """A duration to the nearest minute, as a column has it: `7:36`."""
    if not math.isfinite(duration_s):
        return NO_VALUE
    minutes = int(round_half_up(duration_s / 60, Decimal(1)))
    return f"{minutes // 60}:{minutes % 60:02d}"


def one_line(text: str) -> str:
    """A crew's text without what would break a line, hide in it or turn it round."""
    kept = (
        " " if unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp") else letter
        for letter in text
        if letter not in _TURNS_TEXT_ROUND
    )
    return " ".join("".join(kept).split())


def sentence(text: str) -> str:
    """A sentence: a capital first, a full stop or its own question mark last."""
    end = "" if text.endswith(("?", ".")) else "."
    return f"{text[:1].upper()}{text[1:]}{end}"


_UNIT_KEYS = {
    "°": "deg",
    "°/s": "deg_per_s",
    "m/s²": "m_per_s2",
    "km/h": "kmh",
    "%": "pct",
    "dB(A)": "dba",
}


def unit_key(unit: str) -> str:
    """A unit as a heading of a CSV file has it: `mph`, `us_gal_per_h`, `mi_per_us_gal`."""
    if unit in _UNIT_KEYS:
        return _UNIT_KEYS[unit]
    return unit.lower().replace("/", "_per_").replace(" ", "_").replace("°", "deg_")
