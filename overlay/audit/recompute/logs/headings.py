"""What the columns of a table hold, read off their headings a second time.

A heading is a name with a unit in brackets (`speed (kn)`) or behind it (`fuel_flow_lph`); some
names say their unit themselves (`rpm`). Engines are told by a side or a number. What is not
understood is left out, as the product leaves it out; a channel that the product took and this did
not is `CannotRecompute` later, with its name.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from overlay.audit.recompute.errors import CannotRecompute
from overlay.audit.recompute.kinds import KINDS
from overlay.audit.recompute.logs.names import (
    A_ENGINE_EACH,
    CHANNEL_OF,
    EVENTS,
    LETTERS,
    SAYS_UNIT,
    SIDES,
    TIME_OF,
)
from overlay.audit.recompute.units import Unit, is_unit, unit

_BRACKETS = re.compile(r"(.*?)\s*[(\[]\s*((?:[^()\[\]]|\([^()]*\))*?)\s*[)\]]\s*(.*)")
_MAPPED = re.compile(r"\s*([a-z_]+)(?:\.(\d+))?\s*(?:[(\[]\s*(.*?)\s*[)\]])?\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """What a column holds: a channel with its unit, a sort of time, an event, or nothing known."""

    place: int
    role: str = ""
    channel: str = ""
    instance: int = 0
    number: int | None = None
    unit: Unit | None = None
    sort: str = ""
    utc: bool = False
    by_sheet: bool = False

    @property
    def key(self) -> str:
        """The channel's key."""
        return f"{self.channel}.{self.instance}" if self.instance else self.channel


def fold(text: str) -> str:
    """A heading in lower case, its words parted by single blanks."""
    return " ".join(re.sub(r"[\s_\-./]+", " ", text.casefold()).split())


def columns_of(
    headings: Sequence[str], stated: Mapping[str, str], units: Sequence[str] = ()
) -> tuple[Column, ...]:
    """What every column holds; of two for one channel the first.

    Parameters
    ----------
    stated
        What the sheet says of a column, by its heading.
    units
        A row of units below the headings, where there is one.
    """
    by_sheet = {fold(heading): text for heading, text in stated.items()}
    found = []
    for place, heading in enumerate(headings):
        text = stated.get(heading) or by_sheet.get(fold(heading))
        below = units[place].strip("[]() ") if units else ""
        if text is not None:
            column = _stated(text)
        elif below and not _BRACKETS.fullmatch(heading):
            column = read_heading(f"{heading} ({below})")
        else:
            column = read_heading(heading)
        found.append(replace(column, place=place))
    return _each_once(_counted(found))


def _stated(text: str) -> Column:
    match = _MAPPED.fullmatch(text)
    if match is None:
        raise CannotRecompute(f"the audit does not understand the column {text!r} of the sheet")
    name, instance, sign = match.groups()
    if name in ("event", "time"):
        known = unit(sign, "time") if sign and is_unit(sign) else None
        utc = (sign or "").casefold() in ("utc", "z", "gmt")
        return Column(place=0, role=name, sort="stamp", unit=known, utc=utc, by_sheet=True)
    if name not in KINDS:
        raise CannotRecompute(
            f"the audit knows no channel {name!r}, which the sheet has a column of"
        )
    quantity = KINDS[name].quantity
    plain = {"ratio": "1", "degrees": "deg N/E"}.get(quantity, "")
    return Column(
        place=0,
        role="channel",
        channel=name,
        instance=int(instance or 0),
        unit=unit(sign or plain, quantity),
        by_sheet=True,
    )


def read_heading(heading: str) -> Column:
    """One heading by itself, an engine's number still as it is written."""
    match = _BRACKETS.fullmatch(heading)
    bracket = match[2] if match else ""
    words = fold(f"{match[1]} {match[3]}" if match else heading).split()
    name = " ".join(words)
    if name in EVENTS:
        return Column(place=0, role="event")
    time = _time(words, bracket)
    if time is not None:
        return time
    side = SIDES.get(bracket.casefold())
    if side is not None:
        bracket = ""
    words, found, number = _engine(words)
    side = found if side is None else side
    return _channel(words, bracket, side, number)


def _time(words: list[str], bracket: str) -> Column | None:
    name = " ".join(words)
    if name not in TIME_OF and len(words) > 1 and not bracket:
        name, bracket = " ".join(words[:-1]), words[-1]
    if name not in TIME_OF:
        return None
    sign = bracket or {"seconds": "s"}.get(name, "")
    utc = "utc" in words or sign.casefold() in ("utc", "z", "gmt")
    known = unit(sign, "time") if is_unit(sign) else None
    return Column(place=0, role="time", sort=TIME_OF[name], unit=known, utc=utc)


def _engine(words: list[str]) -> tuple[list[str], int | None, int | None]:
    """The words without a side and an engine's number, and those."""
    rest: list[str] = []
    side = number = None
    for place, word in enumerate(words):
        joined = re.fullmatch(r"(engine|eng|rpm|throttle|gear|flow|e)(\d)", word)
        if word in SIDES:
            side = SIDES[word]
        elif word in LETTERS and " ".join(words[:place]) in CHANNEL_OF:
            side = LETTERS[word]
        elif len(words) > 1 and re.fullmatch(r"\d", word):
            number = int(word)
        elif joined:
            rest.append(joined[1])
            number = int(joined[2])
        else:
            rest.append(word)
    told = side is not None or number is not None
    if told and len(rest) > 1 and rest[0] in ("engine", "eng", "e"):
        kept = " ".join(rest).startswith(("engine speed", "engine revs"))
        rest = rest if kept else rest[1:]
    return rest, side, number


def _channel(words: list[str], bracket: str, side: int | None, number: int | None) -> Column:
    name, sign = _name_and_unit(words, bracket)
    channel = CHANNEL_OF.get(name)
    if channel is None or (
        channel not in A_ENGINE_EACH and (side is not None or number is not None)
    ):
        return Column(place=0)
    quantity = KINDS[channel].quantity
    if quantity == "degrees" or not sign:
        sign = SAYS_UNIT.get(name, "")
    if not sign:
        return Column(place=0)
    return Column(
        place=0,
        role="channel",
        channel=channel,
        instance=side or 0,
        number=number,
        unit=unit(sign, quantity),
    )


def _name_and_unit(words: list[str], bracket: str) -> tuple[str, str]:
    if bracket or " ".join(words) in CHANNEL_OF:
        return " ".join(words), bracket
    for length in range(len(words) - 1, 0, -1):
        name, behind = " ".join(words[:length]), words[length:]
        if name in CHANNEL_OF:
            spelled = ("/".join(behind), " ".join(behind), "".join(behind))
            return name, next((sign for sign in spelled if is_unit(sign)), spelled[0])
    return " ".join(words), ""


def _counted(columns: list[Column]) -> list[Column]:
    """Engines are numbered from nought or from one: the least number says which."""
    least = min((c.number for c in columns if c.number is not None), default=0)
    return [
        c if c.number is None else replace(c, instance=c.number - min(least, 1)) for c in columns
    ]


def _each_once(columns: list[Column]) -> tuple[Column, ...]:
    seen: set[str] = set()
    out = []
    for column in columns:
        twice = column.role == "channel" and column.key in seen
        out.append(Column(place=column.place) if twice else column)
        if column.role == "channel":
            seen.add(column.key)
    return tuple(out)
