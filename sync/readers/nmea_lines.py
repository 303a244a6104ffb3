"""From the bytes of an NMEA 0183 log to sentences, sorted by address and counted.

Plain sentences are found for the whole log at once (`nmea_bulk`). pynmea2 judges the odd ones:
whether they can be taken apart and whether their checksum holds. What stands around a sentence
in a log (tag blocks, a logger's time stamps, lines cut short) is dealt with here.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from sync.readers.nmea_bulk import MOST_CHARACTERS, Outline, Places, outline

if TYPE_CHECKING:
    from numpy.typing import NDArray

USED_KINDS = frozenset(
    ("RMC", "VTG", "GGA", "GLL", "ZDA", "HDT", "HDM", "HDG", "ROT", "VHW", "XDR", "RPM")
)
"""Sentences that a channel or a time can come from. All others are counted and left."""

SENTENCE = re.compile(rb"[$!](?:P[A-Za-z0-9]{3,}|[A-Za-z0-9]{5}),[^$!\r\n]*")
"""A sentence in raw bytes: a proprietary one, or one with a talker and a kind."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Text:
    """A log as text, a character a byte, and where its commas stand."""

    text: str
    commas: Places


@dataclass(slots=True, kw_only=True, eq=False)
class Sentences:
    """All sentences of one address (talker and kind), in the order of the log.

    Parameters
    ----------
    order : [shape=(n,)]
        Lines, counted from 1, and so where to look in the file.
    leads : [shape=(n,)]
        Where in the text the line of each begins.
    starts, stops : [shape=(n,)]
        Where in the text its fields begin and end.
    bare : [shape=(n,)]
        Which have no checksum.
    """

    address: str
    of: Text
    order: Places
    leads: Places
    starts: Places
    stops: Places
    bare: NDArray[np.bool_]
    widths: Places = field(init=False)
    _comma: Places = field(init=False)
    _known: dict[int, list[str]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._comma = np.searchsorted(self.of.commas, self.starts)
        self.widths = np.searchsorted(self.of.commas, self.stops) - self._comma + 1

    @property
    def talker(self) -> str:
        """Who speaks: `GP` of `GPRMC`."""
        return self.address[:-3]

    @property
    def kind(self) -> str:
        """What is said: `RMC` of `GPRMC`."""
        return self.address[-3:]

    def __len__(self) -> int:
        return self.order.size

    def column(self, place: int) -> list[str]:
        """One field of every sentence, empty where a sentence is too short to have it."""
        if place not in self._known:
            self._known[place] = self._column(place)
        return self._known[place]

    def _column(self, place: int) -> list[str]:
        commas, last = self.of.commas, self.of.commas.size - 1
        has = self.widths > place
        if not has.any():
            return [""] * len(self)
        begin, end = self.starts, self.stops
        if place:
            begin = commas[np.minimum(self._comma + place - 1, last)] + 1
        inner = self.widths > place + 1
        if inner.any():
            end = np.where(inner, commas[np.minimum(self._comma + place, last)], end)
        text = self.of.text
        spans = zip(np.where(has, begin, 0).tolist(), np.where(has, end, 0).tolist(), strict=True)
        return [text[a:b] for a, b in spans]

    def rows(self) -> Iterator[list[str]]:
        """The fields of every sentence, one sentence after the other."""
        for a, b in zip(self.starts.tolist(), self.stops.tolist(), strict=True):
            yield self.of.text[a:b].split(",")

    def heads(self) -> Iterator[str]:
        """What stands before every sentence in its line."""
        begins = self.starts - len(self.address) - 2
        for a, b in zip(self.leads.tolist(), begins.tolist(), strict=True):
            yield self.of.text[a:b]

    def only(self, keep: NDArray[np.bool_]) -> Sentences:
        """Some of the sentences."""
        return Sentences(
            address=self.address, of=self.of, order=self.order[keep], leads=self.leads[keep],
            starts=self.starts[keep], stops=self.stops[keep], bare=self.bare[keep],
        )  # fmt: skip

    def whole(self) -> Sentences:
        """All but those without a checksum that are shorter than is usual here: they were cut."""
        if not self.bare.any():
            return self
        checked = self.widths[~self.bare]
        usual = int(np.argmax(np.bincount(checked if checked.size else self.widths)))
        return self.only(~self.bare | (self.widths >= usual))


@dataclass(slots=True)
class Sorted:
    """The sentences of a log by address, and how often what was met."""

    by_address: dict[str, Sentences]
    unused: Counter[str]
    counts: Counter[str]


Found = tuple[int, int, int, int, bool]
"""Of an odd sentence that is used: its line, where that and its fields begin, where they end,
and whether it has no checksum."""


def sort_sentences(data: bytes) -> Sorted:
    """Every usable sentence of a log.

    The counts are `lines`, `sentences` (sound, used or not), `checksum_errors`,
    `without_checksum`, `unreadable` (a sentence began and could not be parsed, or is longer
    than any), `cut` (broken off by another sentence or by the end of the log), `prefixed`
    (something stood before the sentence: a tag block or a time stamp) and `other_lines` (no
    sentence at all).
    """
    whole = outline(data)
    text = Text(text=data.decode("latin-1"), commas=np.flatnonzero(whole.raw == ord(",")))
    unused: Counter[str] = Counter()
    counts: Counter[str] = Counter()
    odd = _judge(whole, text.text, unused, counts)
    found = _gather(whole, text, odd, unused)
    before = whole.starts[whole.plain]
    for i in np.flatnonzero(whole.at > before).tolist():
        counts["prefixed"] += bool(text.text[before[i] : whole.at[i]].strip())
    by_address: dict[str, Sentences] = {}
    for entry in found:
        kept = entry.whole()
        counts["without_checksum"] += int(np.sum(kept.bare))
        counts["cut"] += len(entry) - len(kept)
        by_address[entry.address] = kept
    counts["sentences"] = sum(map(len, by_address.values())) + unused.total()
    counts["lines"] = whole.starts.size
    return Sorted(by_address=by_address, unused=unused, counts=counts)


def _gather(
    whole: Outline, text: Text, odd: dict[str, list[Found]], unused: Counter[str]
) -> list[Sentences]:
    """Plain and odd sentences together, by address in the order in which those came up."""
    names, which = whole.addresses()
    place_of = {name: place for place, name in enumerate(names)}
    first, stop = whole.first, whole.stop
    found = []
    for address in {*names, *odd}:
        rows = np.flatnonzero(which == place_of.get(address, -1))
        if not _used(address):
            unused[address] += len(rows)
            continue
        more = np.array(odd.get(address, []), dtype=np.int64).reshape(-1, 5).T
        lines = whole.plain[rows]
        parts = (lines + 1, whole.starts[lines], first[rows], stop[rows], np.zeros(len(rows)))
        table = np.concatenate([np.array(parts, dtype=np.int64), more], axis=1)
        order, leads, starts, stops, bare = table[:, np.argsort(table[0], kind="stable")]
        found.append(
            Sentences(
                address=address, of=text, order=order, leads=leads, starts=starts, stops=stops,
                bare=bare.astype(bool),
            )
        )  # fmt: skip
    return sorted(found, key=lambda entry: int(entry.order[0]))


def _used(address: str) -> bool:
    return len(address) == 5 and address[0] != "P" and address[2:] in USED_KINDS


def _judge(
    whole: Outline, text: str, unused: Counter[str], counts: Counter[str]
) -> dict[str, list[Found]]:
    """What pynmea2 says of the lines that are not plain, one after the other."""
    import pynmea2  # late: 0.05 s that only odd lines need

    found: dict[str, list[Found]] = {}
    for row in whole.odd().tolist():
        lead, end = int(whole.starts[row]), int(whole.ends[row])
        start = _begin(text, lead, end, unused, counts)
        if start is None:
            continue
        if end - start > MOST_CHARACTERS:
            counts["unreadable"] += 1
            continue
        line = text[start:end]
        address = line[1:12].partition(",")[0].strip().upper()
        try:
            pynmea2.parse(line)
        except pynmea2.ChecksumError:
            counts["checksum_errors"] += 1
        except pynmea2.SentenceTypeError:
            unused[address] += 1
        except pynmea2.ParseError:
            counts["unreadable"] += 1
        else:
            if not _used(address):
                unused[address] += 1
                continue
            star = line.find("*")
            last = star if star >= 0 else len(line.rstrip())
            first = start + line.index(",") + 1
            entry = found.setdefault(address, [])
            entry.append((row + 1, lead, first, start + last, star < 0))
    return found


def _begin(
    text: str, lead: int, end: int, unused: Counter[str], counts: Counter[str]
) -> int | None:
    """Where the sentence of a line begins, what stands before it counted; None for none."""
    start = text.rfind("$", lead, end)
    if start >= 0:
        cut = text.find("$", lead, start) >= 0
        if text[lead:start].strip():
            counts["cut" if cut else "prefixed"] += 1
        return start
    other = text.rfind("!", lead, end)
    if other >= 0:
        unused[text[other + 1 : min(other + 9, end)].partition(",")[0].upper()] += 1
    elif text[lead:end].strip():
        counts["other_lines"] += 1
    return None
