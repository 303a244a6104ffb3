"""NMEA 0183 logs a second time: every sentence taken apart by pynmea2, its fields by their names.

Speed, course and place come from RMC before VTG, GGA and GLL, headings from HDT, HDG, HDM and VHW,
and so on as `WAYS` has it; of several sentences for one channel the first is taken, unless a later
one holds over a fifth more values. Where the times of the log do not go on from each other, or its
dates do not, nothing of it is worked out anew: that is the product's to put right and to tell.
"""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.recompute.logs.epochs import Epochs, epochs_of
from overlay.audit.recompute.recorded import Floats, Recorded, recorded
from overlay.audit.recompute.units import unit

if TYPE_CHECKING:
    from overlay.audit.recompute.sheet import LogEntry, Sheet

USED = "RMC|VTG|GGA|GLL|ZDA|HDT|HDM|HDG|ROT|VHW|XDR|RPM"
SENTENCE = re.compile(rf"\$[A-Z0-9]{{2}}(?:{USED}),[^$!\r\n]*")
ANY_SENTENCE = re.compile(r"[$!][A-Z0-9]{5},")

CLEARLY_MORE = 1.2
"""So many times the values of a less preferred sentence must be there for it to be taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """One sentence: its talker and kind, its line of the file, and its fields by name."""

    talker: str
    kind: str
    line: int
    fields: tuple[str, ...]
    places: Mapping[str, int]

    @property
    def address(self) -> str:
        """Talker and kind."""
        return self.talker + self.kind

    def field(self, name: str) -> str:
        """A field; empty where the sentence is too short to have it."""
        place = self.places[name]
        return self.fields[place] if place < len(self.fields) else ""

    def number(self, name: str) -> float:
        """A field as a number; NaN where it holds none."""
        return number(self.field(name))


def number(text: str) -> float:
    """A text as a finite number, else NaN."""
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def claims(text: str) -> bool:
    """Whether most lines of a beginning hold a sentence."""
    lines = [line for line in text.splitlines() if line.strip()]
    return bool(lines) and 2 * sum(bool(ANY_SENTENCE.search(one)) for one in lines) > len(lines)


def _sentences(text: str) -> Iterator[Sentence]:
    """All sound sentences of the kinds that are used."""
    import pynmea2

    for line, whole in enumerate(text.splitlines(), start=1):
        for match in SENTENCE.finditer(whole):
            try:
                told = pynmea2.parse(match[0].rstrip())
            except pynmea2.ParseError:
                continue
            yield Sentence(
                talker=told.talker,
                kind=told.sentence_type,
                line=line,
                fields=tuple(told.data),
                places=told.name_to_idx,
            )


Taken = Callable[[Sentence], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to a channel: from which kind of sentence, in which unit, and what of it."""

    channel: str
    kind: str
    sign: str
    take: Taken
    means: str = "measured"


def _valid(one: Sentence) -> bool:
    if one.kind == "RMC":
        return one.field("status") == "A" and one.field("mode_indicator") != "N"
    if one.kind == "VTG":
        return one.field("faa_mode") != "N"
    if one.kind == "GGA":
        return one.field("gps_qual") in ("1", "2", "3", "4", "5")
    if one.kind == "GLL":
        old = len(one.fields) < 6
        return (old or one.field("status") == "A") and one.field("faa_mode") != "N"
    return one.kind not in ("ROT", "RPM") or one.field("status") == "A"


def _plain(name: str) -> Taken:
    return lambda one: one.number(name) if _valid(one) else math.nan


def _knots(one: Sentence) -> float:
    """Knots, or from the km/h where those are empty."""
    names = ("water_speed_knots", "water_speed_km")
    if one.kind == "VTG":
        names = ("spd_over_grnd_kts", "spd_over_grnd_kmph")
        if len(one.fields) == 4:  # the old form has no letters between its numbers
            names = ("mag_track", "mag_track_sym")
    knots = one.number(names[0])
    if math.isnan(knots):
        knots = one.number(names[1]) * 1000 / 1852
    return knots if _valid(one) else math.nan


def _place(which: str, positive: str, negative: str) -> Taken:
    def take(one: Sentence) -> float:
        value = one.number(which)
        sign = {positive: 1.0, negative: -1.0}.get(one.field(f"{which}_dir"), math.nan)
        if not (_valid(one) and value >= 0):
            return math.nan
        whole, minutes = divmod(value, 100.0)
        return sign * (whole + minutes / 60) if minutes < 60 else math.nan

    return take


def _correction(one: Sentence, name: str, side: str) -> float:
    return one.number(name) * {"E": 1.0, "W": -1.0}.get(one.field(side), math.nan)


def _compass(one: Sentence) -> float:
    stated = one.field("deviation") != ""
    return one.number("heading") + (_correction(one, "deviation", "dev_dir") if stated else 0.0)


def _compass_true(one: Sentence) -> float:
    return _compass(one) + _correction(one, "variation", "var_dir")


def _leans(*names: str) -> Taken:
    def take(one: Sentence) -> float:
        for place in range(0, len(one.fields) - 3, 4):
            kind, value, sign, name = one.fields[place : place + 4]
            if kind == "A" and sign == "D" and name.strip().upper() in names:
                return number(value)
        return math.nan

    return take


WAYS: tuple[Way, ...] = (
    Way(channel="speed", kind="RMC", sign="kn", take=_plain("spd_over_grnd"), means="doppler"),
    Way(channel="speed", kind="VTG", sign="kn", take=_knots, means="doppler"),
    Way(channel="course", kind="RMC", sign="°", take=_plain("true_course"), means="doppler"),
    Way(channel="course", kind="VTG", sign="°", take=_plain("true_track"), means="doppler"),
    *(
        Way(channel=name, kind=kind, sign="deg N/E", take=_place(name[:3], *ends))
        for name, ends in (("latitude", ("N", "S")), ("longitude", ("E", "W")))
        for kind in ("RMC", "GGA", "GLL")
    ),
    Way(channel="altitude", kind="GGA", sign="m", take=_plain("altitude")),
    Way(channel="heading", kind="HDT", sign="°", take=_plain("heading")),
    Way(channel="heading", kind="HDG", sign="°", take=_compass_true),
    Way(channel="heading", kind="VHW", sign="°", take=_plain("heading_true")),
    Way(channel="magnetic_heading", kind="HDG", sign="°", take=_compass),
    Way(channel="magnetic_heading", kind="HDM", sign="°", take=_plain("heading")),
    Way(channel="magnetic_heading", kind="VHW", sign="°", take=_plain("heading_magnetic")),
    Way(channel="turn_rate", kind="ROT", sign="°/min", take=_plain("rate_of_turn")),
    Way(channel="water_speed", kind="VHW", sign="kn", take=_knots),
    Way(channel="pitch", kind="XDR", sign="°", take=_leans("PITCH", "PTCH")),
    Way(channel="roll", kind="XDR", sign="°", take=_leans("ROLL", "HEEL")),
)
"""For each channel the sentences that give it, the preferred first."""


def read_sentences(text: str, entry: LogEntry, sheet: Sheet) -> dict[str, Recorded]:
    """All channels of an NMEA 0183 log, by key, on UTC.

    Raises
    ------
    CannotRecompute
        Where it has no times, or they do not go on from each other.
    """
    by_address: dict[str, list[Sentence]] = defaultdict(list)
    for one in _sentences(text):
        by_address[one.address].append(one)
    epochs = epochs_of(by_address, entry, sheet)
    found: dict[str, Recorded] = {}
    for name in dict.fromkeys(way.channel for way in WAYS):
        offers = [
            (row, way, np.array([way.take(one) for one in row]))
            for way in WAYS
            for row in by_address.values()
            if way.channel == name and way.kind == row[0].kind
        ]
        best = _chosen([int(np.isfinite(values).sum()) for _, _, values in offers])
        if best is not None:
            made = _made(name, *offers[best], epochs, entry)
            found |= {} if made is None else {name: made}
    return found | _engines(by_address, epochs, entry)


def _chosen(counts: list[int]) -> int | None:
    best: int | None = None
    for place, count in enumerate(counts):
        least = 0.0 if best is None else CLEARLY_MORE * counts[best]
        if count > least:
            best = place
    return best


def _made(
    key: str, row: list[Sentence], way: Way, printed: Floats, epochs: Epochs, entry: LogEntry
) -> Recorded | None:
    worth = unit(way.sign)
    own = way.kind in ("XDR", "RPM")  # these hold many things; only those that hold this one count
    t_s = epochs.times(row, np.isfinite(printed) if own else np.ones(len(row), dtype=bool))
    return recorded(
        key=key,
        log=entry.name,
        path=entry.path,
        t_s=t_s,
        values=printed * float(worth.factor),
        lines=np.array([one.line for one in row], dtype=np.int64),
        printed=printed,
        worth_si=float(worth.factor),
        means=way.means,
    )


def _engines(
    by_address: Mapping[str, list[Sentence]], epochs: Epochs, entry: LogEntry
) -> dict[str, Recorded]:
    """Engine speed from RPM: even numbers to port, odd ones to starboard, nought in the middle."""
    found: dict[str, Recorded] = {}
    for row in by_address.values():
        if row[0].kind != "RPM":
            continue
        way = Way(channel="engine_speed", kind="RPM", sign="rpm", take=_plain("speed"))
        named = Counter(one.field("engine_no") for one in row if one.field("source") == "E")
        for instance, engine in enumerate(sorted(named, key=_from_port)):
            mine = np.array(
                [
                    abs(way.take(one))
                    if (one.field("source"), one.field("engine_no")) == ("E", engine)
                    else math.nan
                    for one in row
                ]
            )
            key = f"engine_speed.{instance}" if instance else "engine_speed"
            made = _made(key, row, way, mine, epochs, entry)
            if made is not None:
                found.setdefault(key, made)
    return found


def _from_port(engine: str) -> float:
    value = number(engine)
    if not value > 0:
        return 0.0
    return value if value % 2 else -value
