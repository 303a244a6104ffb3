"""Columns of NMEA 0183 fields to arrays in SI, a whole column at a time.

Field places are those of the sentences' published descriptions, as pynmea2 lists them. An
empty field is no value, and never nought.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sync.arrays import Floats
from sync.readers.days import DAY_S, day_number
from sync.readers.nmea_lines import Sentences

Flags = NDArray[np.bool_]

KNOT = 1852.0 / 3600.0
"""Metres a second; the nautical mile is 1852 m exactly (BIPM SI Brochure)."""

KMH = 1.0 / 3.6


def numbers(texts: Sequence[str]) -> Floats:
    """Texts as numbers, NaN where there is none: an empty field, or one that is damaged."""
    try:
        if "" not in texts:
            return np.fromiter(map(float, texts), dtype=np.float64, count=len(texts))
        return np.array([float(text) if text else np.nan for text in texts], dtype=np.float64)
    except ValueError:
        return np.array([_number(text) for text in texts], dtype=np.float64)


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def where(texts: Sequence[str], wanted: str) -> Flags:
    """Whether each text is one of the letters of `wanted`."""
    letters = set(wanted)
    found: Flags
    found = np.array([text in letters for text in texts], dtype=bool)
    return found


def signed(values: Floats, letters: Sequence[str], positive: str, negative: str) -> Floats:
    """Values with the sign that a letter gives them, NaN where the letter is neither."""
    sign = {positive: 1.0, negative: -1.0}
    signs = np.array([sign.get(letter, np.nan) for letter in letters], dtype=np.float64)
    signed_values: Floats = values * signs
    return signed_values


def time_of_day(texts: Sequence[str]) -> Floats:
    """Seconds of the day from `hhmmss.ss`, NaN where that is not a time."""
    value = numbers(texts)
    value[~np.isfinite(value)] = np.nan
    hours, rest = np.divmod(value, 10000.0)
    minutes, seconds = np.divmod(rest, 100.0)
    with np.errstate(invalid="ignore"):
        good = (value >= 0) & (hours < 24) & (minutes < 60) & (seconds < 61)
    tod = hours * 3600.0 + minutes * 60.0 + np.round(seconds, 9)
    return np.where(good & (tod <= DAY_S), tod, np.nan)


def degrees(texts: Sequence[str], letters: Sequence[str], positive: str, negative: str) -> Floats:
    """Latitude or longitude in degrees from `dddmm.mmm` and its hemisphere."""
    value = numbers(texts)
    value[~np.isfinite(value)] = np.nan
    whole, minutes = np.divmod(value, 100.0)
    with np.errstate(invalid="ignore"):
        good = (value >= 0) & (minutes < 60)
    return signed(np.where(good, whole + minutes / 60.0, np.nan), letters, positive, negative)


def dates(parts: Sequence[tuple[str, str, str]]) -> Floats:
    """Days since 1970 from day, month and year; NaN where there is no such day."""
    known = {one: _day(*one) for one in set(parts)}
    return np.array([known[one] for one in parts], dtype=np.float64)


def _day(day: str, month: str, year: str) -> float:
    """Days since 1970; a year of two digits lies between 1970 and 2069 (a receiver's choice)."""
    try:
        full = int(year)
        if len(year) <= 2:
            full += 1900 if full >= 70 else 2000
        return float(day_number(dt.date(full, int(month), int(day))))
    except (ValueError, OverflowError):
        return float("nan")


def rmc_valid(of: Sentences) -> Flags:
    """Status A, and a mode other than N where the sentence has one.

    The navigational status behind it is no ground to refuse: V there means that the receiver
    does not give one (from memory of IEC 61162-1), and common receivers always send V.
    """
    valid: Flags = where(of.column(1), "A") & ~where(of.column(11), "N")
    return valid


def gll_valid(of: Sentences) -> Flags:
    """Status A, or none in the oldest form; and a mode other than N."""
    status = of.column(5)
    old = of.widths < 6
    valid: Flags = (where(status, "A") | old) & ~where(of.column(6), "N")
    return valid


def gga_valid(of: Sentences) -> Flags:
    """A quality between 1 and 5, as pynmea2's validity table has it."""
    return where(of.column(5), "12345")


def knots_or_kmh(of: Sentences, knots: int, kmh: int) -> Floats:
    """Metres a second from the field in knots, or where that is empty from the one in km/h."""
    speed = numbers(of.column(knots)) * KNOT
    if np.isnan(speed).any():
        speed = np.where(np.isnan(speed), numbers(of.column(kmh)) * KMH, speed)
    return speed


def speed_of_vtg(of: Sentences) -> Floats:
    """Metres a second from a VTG, from the knots or where they are empty from the km/h.

    The old form has no letters: course, magnetic course, knots, km/h.
    """
    speed = knots_or_kmh(of, 4, 6)
    old = of.widths == 4
    if old.any():
        speed = np.where(old, knots_or_kmh(of, 2, 3), speed)
    return np.where(where(of.column(8), "N"), np.nan, speed)
