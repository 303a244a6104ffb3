"""What a column of a table holds, by its heading.

A heading is a name with a unit: in brackets (`Speed (kn)`, `pitch [deg]`) or as its last word
(`fuel_flow_lph`). A name that implies its unit needs none (`rpm`). A name that does not, such
as a bare `speed`, is not understood until the trial sheet says what it is, since a guess
would be wrong by the ratio of two units. The names stand in `table_names`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sync.channel_kinds import CHANNELS
from sync.errors import LogFormatError, UnitError
from sync.readers.table_names import (
    AMBIGUOUS,
    BY_ENGINE,
    ENGINE_SIDES,
    EVENT_NAMES,
    IMPLIED_UNITS,
    NAME_OF,
    SIDES,
    TIME_NAMES,
    TIME_UNITS,
    fold,
)
from sync.units import signs, unit_of

_BRACKETS = re.compile(r"^(.*?)\s*[\(\[]\s*((?:[^\(\)\[\]]|\([^\(\)]*\))*?)\s*[\)\]]\s*(.*)$")
"""A name and its unit in brackets, which may have brackets of its own: `Level (dB(A))`."""
_MAPPED = re.compile(r"\s*([a-z_]+)(?:\.(\d+))?\s*(?:[\(\[]\s*(.*?)\s*[\)\]])?\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """What one column holds.

    `role` is `channel`, `time`, `event` or empty where it is not understood; `sort` says
    which sort of time (`stamp`, `elapsed`, `epoch`, `date`); `number` is an engine's number
    as written; `note` why it was not taken.
    """

    place: int
    heading: str
    role: str = ""
    channel: str = ""
    instance: int = 0
    unit: str | None = None
    sort: str = ""
    number: int | None = None
    utc: bool = False
    note: str = ""

    @property
    def key(self) -> str:
        """The channel's name with its instance, as `sync.channel.Channel.key` has it."""
        return self.channel if self.instance == 0 else f"{self.channel}.{self.instance}"


def understood(heading: str) -> bool:
    """Whether a heading says anything to us, be its unit right or wrong."""
    try:
        return bool(_read(0, heading).role)
    except UnitError:
        return True


def read_headings(
    headings: Sequence[str],
    mapped: Mapping[str, str],
    *,
    units: Sequence[str] | None = None,
    path: Path | None = None,
    line: int | None = None,
) -> tuple[Column, ...]:
    """What every column of a table holds.

    Parameters
    ----------
    headings
        As they stand in the file.
    mapped
        From the trial sheet: a heading and what its column holds.
    units
        A row of units below the headings, if there is one.

    Raises
    ------
    UnitError
        Where a known name has a unit that does not exist or measures something else.
    LogFormatError
        Where the sheet names a heading that is not there, or a channel that does not exist.
    """
    wanted = _by_heading(headings, mapped, path)
    columns = []
    for place, heading in enumerate(headings):
        below = units[place].strip("[]() ") if units else ""
        try:
            if heading in wanted:
                column = _from_sheet(place, heading, wanted[heading], path)
            elif below and not _BRACKETS.match(heading):
                column = _read(place, f"{heading} ({below})")
            else:
                column = _read(place, heading)
        except UnitError as error:
            raise UnitError(
                error.what, path=path, line=line, key=heading,
                allowed=error.allowed, advice=error.advice,
            ) from error  # fmt: skip
        columns.append(replace(column, heading=heading))
    return _once(_numbered(columns))


def _by_heading(
    headings: Sequence[str], mapped: Mapping[str, str], path: Path | None
) -> dict[str, str]:
    """The sheet's column texts by the file's own headings, however the sheet spells them."""
    folded = {fold(heading): heading for heading in reversed(headings)}
    found = {}
    for name, text in mapped.items():
        heading = name if name in headings else folded.get(fold(name))
        if heading is None:
            near = difflib.get_close_matches(name, headings, n=1, cutoff=0.3)
            raise LogFormatError(
                f"the log has no column {name!r}",
                path=path,
                allowed=tuple(headings[:20]),
                advice=f"did you mean {near[0]!r}" if near else "",
            )
        found[heading] = text
    return found


def _from_sheet(place: int, heading: str, text: str, path: Path | None) -> Column:
    """A column as the trial sheet states it, such as `engine_speed.1 (rpm)`."""
    match = _MAPPED.fullmatch(text)
    name, instance, unit = match.groups() if match else (text, None, None)
    if name == "event":
        return Column(place=place, heading=heading, role="event")
    if name == "time":
        return _time(Column(place=place, heading=heading), "stamp", unit or "")
    if name not in CHANNELS:
        near = difflib.get_close_matches(name, [*CHANNELS, "time", "event"], n=1, cutoff=0.3)
        raise LogFormatError(
            f"the sheet maps the column {heading!r} to {text!r}, which is no channel",
            path=path,
            allowed=(*CHANNELS, "time", "event"),
            advice=f"did you mean {near[0]!r}" if near else "",
        )
    quantity = CHANNELS[name].quantity
    if unit is None and quantity not in ("ratio", "degrees"):
        raise UnitError(
            f"the sheet maps the column {heading!r} to {text!r} without a unit",
            allowed=signs(quantity),
            advice=f"write for example '{name} ({signs(quantity)[0]})'",
        )
    sign = unit_of(unit, quantity).sign if unit else signs(quantity)[-1]
    column = Column(place=place, heading=heading, role="channel", channel=name, unit=sign)
    return replace(column, instance=int(instance or 0))


def _read(place: int, heading: str) -> Column:
    """One heading on its own, an engine's number still as it is written."""
    column = Column(place=place, heading=heading)
    match = _BRACKETS.match(heading)
    bracket = match.group(2) if match else ""
    words = fold(f"{match.group(1)} {match.group(3)}" if match else heading).split()
    side = SIDES.get(bracket.casefold())
    if side is not None:
        bracket = ""
    name = " ".join(words)
    if name in EVENT_NAMES:
        return replace(column, role="event")
    if name in TIME_NAMES:
        return _time(column, TIME_NAMES[name], bracket or TIME_UNITS.get(name, ""))
    if len(words) > 1 and not bracket and " ".join(words[:-1]) in TIME_NAMES:
        return _time(column, TIME_NAMES[" ".join(words[:-1])], words[-1])
    words, found, number = _engine(words)
    side = found if side is None else side
    name, unit = _name_and_unit(words, bracket)
    if name not in NAME_OF:
        return replace(column, note=_unknown(heading, name))
    channel = NAME_OF[name]
    if channel not in BY_ENGINE and (side is not None or number is not None):
        return column
    column = replace(column, instance=side or 0, number=number)
    return _channel(column, channel, name, unit)


def _unknown(heading: str, name: str) -> str:
    """What is to be said of a name that could be one of several channels, or is near to one."""
    could = next(
        (keys for text, keys in AMBIGUOUS.items() if name == text or name.startswith(text + " ")),
        None,
    )
    if could is not None:
        what = " or ".join(could)
        return (
            f"the column {heading!r} could be {what} and was not taken; state which under columns "
            "in the trial sheet"
        )
    near = difflib.get_close_matches(name, NAME_OF, n=1, cutoff=0.75)
    if not near:
        return ""
    return (
        f"the column {heading!r} is not understood and was not taken; if it holds "
        f"{NAME_OF[near[0]]}, as {near[0]!r} would, state that under columns in the trial sheet"
    )


def _channel(column: Column, channel: str, name: str, unit: str) -> Column:
    quantity = CHANNELS[channel].quantity
    if not unit and name not in IMPLIED_UNITS:
        return replace(
            column,
            note=f"the column {column.heading!r} has no unit and was not taken; state it under "
            f"columns in the trial sheet, such as '{channel} ({signs(quantity)[0]})'",
        )
    if quantity == "degrees":
        sign = "deg N/E"
    elif name in IMPLIED_UNITS and not unit:
        sign = IMPLIED_UNITS[name]
    else:
        sign = unit_of(unit, quantity).sign
    return replace(column, role="channel", channel=channel, unit=sign)


def _time(column: Column, sort: str, text: str) -> Column:
    """A column of time with what its bracket or last word says: a zone or a unit."""
    folded = text.casefold()
    utc = "utc" in (folded, *fold(column.heading).split()) or folded in ("z", "gmt")
    if not text or folded in ("utc", "z", "gmt", "local", "iso", "iso 8601", "date", "time"):
        return replace(column, role="time", sort=sort, utc=utc)
    return replace(column, role="time", sort=sort, unit=unit_of(text, "time").sign, utc=utc)


def _name_and_unit(words: list[str], bracket: str) -> tuple[str, str]:
    """The longest known name at the beginning, and the words behind it as a unit."""
    if bracket or " ".join(words) in NAME_OF:
        return " ".join(words), bracket
    for length in range(len(words) - 1, 0, -1):
        name, unit = " ".join(words[:length]), "/".join(words[length:])
        if name in NAME_OF:
            return name, _unit_words(unit)
    return " ".join(words), ""


def _unit_words(text: str) -> str:
    """A unit spelled with blanks for strokes (`l h`), or the words as they are."""
    for spelling in (text, text.replace("/", " "), text.replace("/", "")):
        try:
            return unit_of(spelling).sign
        except UnitError:
            continue
    return text


def _engine(words: list[str]) -> tuple[list[str], int | None, int | None]:
    """The words without a side or an engine's number, and those two."""
    rest, side, number = [], None, None
    for i, word in enumerate(words):
        split = re.fullmatch(r"(engine|eng|rpm|throttle|gear|flow|e)(\d)", word)
        if word in SIDES:
            side = SIDES[word]
        elif word in ENGINE_SIDES and i > 0 and " ".join(words[:i]) in NAME_OF:
            side = ENGINE_SIDES[word]
        elif word.isdecimal() and len(word) == 1 and len(words) > 1:
            number = int(word)
        elif split:
            number = int(split.group(2))
            rest.append(split.group(1))
        else:
            rest.append(word)
    if (number is not None or side is not None) and rest[:1] and rest[0] in ("engine", "eng", "e"):
        shorter = rest[1:]
        if shorter and not " ".join(rest).startswith(("engine speed", "engine revs")):
            rest = shorter
    return rest, side, number


def _numbered(columns: Sequence[Column]) -> list[Column]:
    """Instances from engine numbers, which count from 0 or from 1: the least says which."""
    numbers = [c.number for c in columns if c.number is not None]
    first = min(numbers, default=0)
    return [
        c if c.number is None else replace(c, instance=c.number - min(first, 1)) for c in columns
    ]


def _once(columns: Sequence[Column]) -> tuple[Column, ...]:
    """Two columns for one channel: the first is taken, the other told of."""
    seen: dict[str, str] = {}
    out = []
    for column in columns:
        if column.role == "channel" and column.key in seen:
            note = (
                f"the columns {seen[column.key]!r} and {column.heading!r} both hold "
                f"{column.key}; the first was taken"
            )
            out.append(Column(place=column.place, heading=column.heading, note=note))
            continue
        if column.role == "channel":
            seen[column.key] = column.heading
        out.append(column)
    return tuple(out)
