"""The stamps that loggers put before the messages of a bus, as seconds.

A stamp is text in a form of ISO 8601, with or without an offset from UTC and to any number of
decimals, or a plain number of seconds. Where it has a date, the result counts from 1970.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from sync.arrays import Floats

Stamp = bytes | float

_ISO = re.compile(
    rb"(\d{4}-\d\d-\d\d)[T _-](\d\d:\d\d:\d\d)(?:[.,](\d{1,9})\d*)?\s*(?:(Z)|([+-])(\d\d):?(\d\d))?"
)
_NUMBER = re.compile(rb"\d{1,12}(?:\.\d+)?")

EARLIEST_YEAR, LATEST_YEAR = b"1970", b"2200"
"""NumPy's nanoseconds reach from 1678 to 2262 and wrap around silently beyond."""

DATED_S = 1e8
"""A number of seconds above this counts from 1970 (1e8 s after it was in 1973)."""


def seconds(stamps: Sequence[Stamp]) -> Floats:
    """Stamps in seconds, NaN for those that cannot be read.

    Returns
    -------
    t_s : [shape=(n,), s]
    """
    if _are_common(stamps):
        return _all_alike(stamps)
    texts = [stamp for stamp in stamps if isinstance(stamp, bytes)]
    if len(texts) == len(stamps) and not b"".join(texts).translate(None, b"0123456789."):
        try:
            return np.array(texts, dtype="S").astype(np.float64)
        except ValueError:  # one of them is no number: read them one by one
            pass
    return np.array([_one(stamp) for stamp in stamps])


def _are_common(stamps: Sequence[Stamp]) -> bool:
    """Whether all are ISO stamps with a Z and one number of decimals, as most logs have them."""
    first = stamps[0] if stamps else 0.0
    if not isinstance(first, bytes) or _ISO.fullmatch(first) is None or first[-1:] != b"Z":
        return False
    length = len(first)
    return all(
        isinstance(s, bytes) and len(s) == length and s[-1:] == b"Z" and s[10:11] == b"T"
        for s in stamps
    )


def _all_alike(stamps: Sequence[Stamp]) -> Floats:
    texts = [stamp[:-1] for stamp in stamps if isinstance(stamp, bytes)]
    if min(texts)[:4] >= EARLIEST_YEAR and max(texts)[:4] < LATEST_YEAR:
        try:
            nanoseconds = np.array(texts).astype("datetime64[ns]").astype(np.int64)
        except ValueError:  # one of them is no time: read them one by one
            pass
        else:
            return _to_seconds(nanoseconds)
    return np.array([_one(stamp) for stamp in stamps])


def _to_seconds(nanoseconds: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> Floats:
    whole, part = np.divmod(nanoseconds, 1_000_000_000)
    return np.asarray(whole + part / 1e9, dtype=np.float64)


def _one(stamp: Stamp) -> float:
    if not isinstance(stamp, bytes):
        return stamp
    if _NUMBER.fullmatch(stamp):
        return float(stamp)
    match = _ISO.fullmatch(stamp)
    if match is None or not EARLIEST_YEAR <= stamp[:4] < LATEST_YEAR:
        return float("nan")
    date, clock, decimals, _, sign, hours, minutes = match.groups()
    try:
        whole = np.datetime64(f"{date.decode()}T{clock.decode()}", "s").astype(np.int64)
    except ValueError:
        return float("nan")
    shift = (int(hours) * 3600 + int(minutes) * 60) * (-1 if sign == b"-" else 1) if sign else 0
    return float(whole - shift) + float(b"0." + (decimals or b"0"))
