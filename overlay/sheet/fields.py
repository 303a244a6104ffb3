"""The types of a sheet's fields that are not quantities: names, files, channels, instants."""

from __future__ import annotations

import datetime as dt
import difflib
from typing import Annotated

from pydantic import AfterValidator, Field

from sync.channel_kinds import CHANNELS
from sync.units import unit_of


def _known_channel(key: str) -> str:
    name, _, instance = key.partition(".")
    if name not in CHANNELS:
        near = difflib.get_close_matches(name, CHANNELS, n=1, cutoff=0.5)
        hint = f"; did you mean {near[0]!r}" if near else f"; channels are {', '.join(CHANNELS)}"
        message = f"{key!r} is not a channel{hint}"
        raise ValueError(message)
    if instance and not instance.isdigit():
        message = f"{key!r} must end in the number of an engine, such as engine_speed.1"
        raise ValueError(message)
    return key


def _file_name(text: str) -> str:
    if not text.strip() or "\0" in text:
        message = "a file needs a name"
        raise ValueError(message)
    return text


def _plain_name(text: str) -> str:
    if not text.strip() or any(mark in text for mark in "/\\\0\n") or text in (".", ".."):
        message = f"{text!r} cannot be a name: it must be one line of text without slashes"
        raise ValueError(message)
    return text


def _known_zone(name: str) -> str:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        message = f"{name!r} is not a time zone; write for example 'Europe/Helsinki' or 'UTC'"
        raise ValueError(message) from None
    return name


def _words(text: str) -> str:
    if not text.strip() or any(ord(mark) < 32 for mark in text) or len(text) > MOST_WORDS:
        message = f"{text[:40]!r} must be one line of words, {MOST_WORDS} characters at the most"
        raise ValueError(message)
    return text.strip()


def _day(day: dt.date) -> dt.date:
    """A day of an age that has receivers and cameras."""
    if not EARLIEST <= day.year <= LATEST:
        message = f"{day.isoformat()} is not a day of any trial"
        raise ValueError(message)
    return day


def _speed_unit(text: str) -> str:
    return unit_of(text, "speed").sign


MOST_WORDS = 200
"""Characters that one line of the crew's own words may have."""

ChannelKey = Annotated[str, AfterValidator(_known_channel)]
FileName = Annotated[str, AfterValidator(_file_name)]
Name = Annotated[str, AfterValidator(_plain_name)]
Words = Annotated[str, AfterValidator(_words)]
Day = Annotated[dt.date, Field(strict=True), AfterValidator(_day)]
Share = Annotated[float, Field(ge=0, lt=1)]


EARLIEST, LATEST = 1990, 2100


def _instant(value: dt.datetime) -> dt.datetime:
    """A time with its zone, of an age that has receivers and cameras."""
    if value.tzinfo is None:
        message = f"{value.isoformat()} has no zone; end it in Z for UTC"
        raise ValueError(message)
    if not EARLIEST <= value.year <= LATEST:
        message = f"{value.isoformat()} is not a time of any trial"
        raise ValueError(message)
    return value


Instant = Annotated[dt.datetime, AfterValidator(_instant)]
TimeZone = Annotated[str, AfterValidator(_known_zone)]
SpeedUnit = Annotated[str, AfterValidator(_speed_unit)]


def safe_name(text: str) -> str:
    """A name of the crew's as a file name that every system takes.

    Raises
    ------
    ValueError
        Where nothing of the name is left.
    """
    kept = "".join(c if c.isalnum() or c in "-_." else "-" for c in text.strip()).strip(".-")
    if not kept:
        message = f"{text!r} leaves no letter or digit for a file name"
        raise ValueError(message)
    # Names that Windows keeps for devices, whatever their ending.
    device = kept.partition(".")[0].upper()
    if device in {"CON", "PRN", "AUX", "NUL"} or (
        device[:3] in {"COM", "LPT"} and len(device) == 4
    ):
        kept = f"{kept}-"
    return kept[:120]
