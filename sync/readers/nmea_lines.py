"""From the bytes of an NMEA 0183 log to sentences, sorted by address and counted.

pynmea2 takes the sentences apart and holds their checksums; what stands around a sentence in
a log (tag blocks, a logger's time stamps, lines cut short) is dealt with here.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from itertools import zip_longest

USED_KINDS = frozenset(
    ("RMC", "VTG", "GGA", "GLL", "ZDA", "HDT", "HDM", "HDG", "ROT", "VHW", "XDR", "RPM")
)
"""Sentences that a channel or a time can come from. All others are counted and left."""

SENTENCE = re.compile(rb"[$!](?:P[A-Za-z0-9]{3,}|[A-Za-z0-9]{5}),[^$!\r\n]*")
"""A sentence in raw bytes: a proprietary one, or one with a talker and a kind."""


FLUSH_ROWS = 512
"""Rows are turned into columns after so many of them: as millions of small lists they would keep
the garbage collector busy for a third of the time (measured on an hour at 10 Hz)."""


@dataclass(slots=True)
class Sentences:
    """All sentences of one address (talker and kind), in the order of the log.

    `order` counts lines from 1 and so is also where to look in the file; `widths` is how many
    fields each sentence has; `columns` holds the fields as text, a list for every place;
    `bare` lists those without a checksum.
    """

    address: str
    order: list[int] = field(default_factory=list)
    widths: list[int] = field(default_factory=list)
    columns: list[list[str]] = field(default_factory=list)
    bare: list[int] = field(default_factory=list)
    pending: list[list[str]] = field(default_factory=list)

    @property
    def talker(self) -> str:
        """Who speaks: `GP` of `GPRMC`."""
        return self.address[:-3]

    @property
    def kind(self) -> str:
        """What is said: `RMC` of `GPRMC`."""
        return self.address[-3:]

    def __len__(self) -> int:
        return len(self.order)

    def flush(self) -> None:
        """Turn the rows that came in since the last time into columns."""
        rows, before = self.pending, len(self.widths)
        if not rows:
            return
        self.widths.extend(map(len, rows))
        turned = list(zip_longest(*rows, fillvalue=""))
        while len(self.columns) < len(turned):
            self.columns.append([""] * before)
        for place, column in enumerate(self.columns):
            column.extend(turned[place] if place < len(turned) else [""] * len(rows))
        self.pending = []

    def column(self, place: int) -> list[str]:
        """One field of every sentence, empty where a sentence is too short to have it."""
        return self.columns[place] if place < len(self.columns) else [""] * len(self)

    def drop_cut(self) -> int:
        """Leave out sentences without a checksum that are shorter than is usual here."""
        if not self.bare:
            return 0
        bare = set(self.bare)
        whole = [width for i, width in enumerate(self.widths) if i not in bare]
        usual = Counter(whole or self.widths).most_common(1)[0][0]
        cut = {i for i in bare if self.widths[i] < usual}
        keep = [i for i in range(len(self)) if i not in cut]
        self.order = [self.order[i] for i in keep]
        self.widths = [self.widths[i] for i in keep]
        self.columns = [[column[i] for i in keep] for column in self.columns]
        self.bare = []
        return len(cut)


@dataclass(slots=True)
class Sorted:
    """The sentences of a log by address, and how often what was met."""

    by_address: dict[str, Sentences]
    unused: Counter[str]
    counts: Counter[str]


def sort_sentences(data: bytes) -> Sorted:
    """Every usable sentence of a log.

    The counts are `lines`, `sentences` (sound, used or not), `checksum_errors`,
    `without_checksum`, `unreadable` (a sentence began and could not be parsed), `cut` (broken
    off by another sentence or by the end of the log), `prefixed` (something stood before the
    sentence: a tag block or a time stamp) and `other_lines` (no sentence at all).
    """
    import pynmea2  # late: 0.05 s that only this format needs

    parse, checksum_error = pynmea2.parse, pynmea2.ChecksumError
    heads: dict[str, Sentences] = {}
    found: dict[str, Sentences] = {}
    unused: Counter[str] = Counter()
    counts: Counter[str] = Counter()
    lines = data.decode("latin-1").split("\n")
    for number, whole in enumerate(lines, 1):
        line = whole if whole.rfind("$") == 0 else _from_sentence(whole, unused, counts)
        if not line:
            continue
        try:
            sentence = parse(line)
        except checksum_error:
            counts["checksum_errors"] += 1
            continue
        except pynmea2.SentenceTypeError:
            unused[_address(line)] += 1
            continue
        except pynmea2.ParseError:
            counts["unreadable"] += 1
            continue
        entry = heads.get(line[:7])
        if entry is None:
            entry = _entry(line, found)
            if entry is None:
                unused[_address(line)] += 1
                continue
            heads[line[:7]] = entry
        if "*" not in line:
            entry.bare.append(len(entry.order))
        entry.order.append(number)
        entry.pending.append(sentence.data)
        if len(entry.pending) == FLUSH_ROWS:
            entry.flush()
    _flush(found)
    _drop_cut(found, counts)
    counts["sentences"] = sum(map(len, found.values())) + unused.total()
    counts["lines"] = len(lines) - (not lines[-1])
    return Sorted(by_address=found, unused=unused, counts=counts)


def _address(line: str) -> str:
    return line[1:12].partition(",")[0].strip().upper()


def _entry(line: str, found: dict[str, Sentences]) -> Sentences | None:
    """Where the sentences of this line's address go; None for one that is not used."""
    address = _address(line)
    if len(address) != 5 or address[0] == "P" or address[2:] not in USED_KINDS:
        return None
    return found.setdefault(address, Sentences(address=address))


def _from_sentence(line: str, unused: Counter[str], counts: Counter[str]) -> str:
    """The part of a line that is a sentence, what stands around it counted; else nothing."""
    start = line.rfind("$")
    if start > 0:
        counts["cut" if "$" in line[:start] else "prefixed"] += bool(line[:start].strip())
        return line[start:]
    if "!" in line:
        unused[line.rpartition("!")[2].partition(",")[0][:8].upper()] += 1
    elif line.strip():
        counts["other_lines"] += 1
    return ""


def _flush(found: dict[str, Sentences]) -> None:
    for entry in found.values():
        entry.flush()


def _drop_cut(found: dict[str, Sentences], counts: Counter[str]) -> None:
    for entry in found.values():
        bare = len(entry.bare)
        cut = entry.drop_cut()
        counts["without_checksum"] += bare - cut
        counts["cut"] += cut
