"""Channels from the messages of a bus, and which sender each is taken from.

Several senders often offer the same: three receivers, two compasses. One is taken for the
whole log, and the others are listed and counted. It is the first in the order of the tables
and then of addresses, lowest first, unless a later one holds over a fifth more values. Speed,
course and position are taken from one receiver together, since no two receivers have the same
delay: the one chosen so for speed, or for position where none has speed. Only what it does
not send at all is taken from another.

An engine's number is the channel's instance: 0 the only or the port one, 1 starboard.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.log import RawColumn
from sync.readers.base import bounded, plural
from sync.readers.can_bus import Bus, Bytes, Integers
from sync.readers.can_signals import GNSS, J1939, NMEA2000, Signal
from sync.readers.can_values import meets, values_of
from sync.readers.order import increasing

if TYPE_CHECKING:
    from numpy.typing import NDArray

CLEARLY_MORE = 1.2
"""How many times the values a less preferred sender must hold to be taken (own choice)."""

MOST_INSTANCE, MOST_TANK = 252, 14
"""Numbers of engines and of tanks above are "not available" and the like."""

J1939_GROUPS = frozenset(signal.group for signal in J1939)


def _width(signal: Signal) -> int:
    """How many bytes of a message a signal looks at."""
    places = [one.byte for one in signal.only]
    places += [b for b in (signal.engine, signal.tank, signal.apart) if b is not None]
    return max(signal.byte + signal.size, *(place + 1 for place in places), 0)


WIDTHS = {
    group: max(_width(s) for s in (*NMEA2000, *J1939) if s.group == group)
    for group in {s.group for s in (*NMEA2000, *J1939)}
}
"""The same for all signals of a group."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Offer:
    """What one sender has for one channel.

    `t_s` and `values` are in order of time; `given` says how many values are there.
    """

    signal: Signal
    source: int
    instance: int
    apart: int
    t_s: Floats
    values: Floats
    given: int

    @property
    def text(self) -> str:
        """Group, sender and, where it has several sensors, which of them."""
        apart = "" if self.signal.apart is None else f", sensor {self.apart}"
        return f"PGN {self.signal.group} from {self.source}{apart}"


@dataclass(slots=True)
class Built:
    """Channels as they come together, what was counted, and what became of every sender."""

    channels: dict[str, Channel] = field(default_factory=dict)
    columns: list[RawColumn] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    warnings: list[str] = field(default_factory=list)


def build_channels(bus: Bus, clock: str, delay_sd_s: float = 0.0) -> Built:
    """All channels that the messages give.

    Parameters
    ----------
    bus
        Messages, fast packets assembled.
    delay_sd_s
        What is not known about the times of all of them.

    Raises
    ------
    LogFormatError
        Where time runs wild.
    """
    built = Built()
    offers = _offers(bus, built)
    receiver = _receiver(offers)
    by_key: dict[tuple[str, int], list[Offer]] = defaultdict(list)
    for offer in offers:
        by_key[offer.signal.channel, offer.instance].append(offer)
    for rivals in by_key.values():
        taken = _choose(rivals, receiver)
        for offer in rivals:
            channel = _channel(offer, clock, delay_sd_s, built) if offer is taken else None
            if channel is not None:
                built.channels[channel.key] = channel
            elif offer.given:
                built.counts[f"not_taken:{offer.signal.channel} of {offer.text}"] += offer.given
            built.columns.append(
                RawColumn(
                    name=f"{offer.text} {offer.signal.channel}",
                    unit=None,
                    channel=None if channel is None else channel.key,
                )
            )
        _tell_of_twins(rivals, taken, built)
    return built


def _offers(bus: Bus, built: Built) -> list[Offer]:
    """What every sender has, in the order of the tables and then of addresses."""
    rows_of = _rows_by_key(bus)
    engines = sorted({key & 0xFF for key in rows_of if key >> 8 in J1939_GROUPS})
    tables = {key: bus.table(rows, WIDTHS.get(key >> 8, 8)) for key, rows in rows_of.items()}
    ways = Ways(bus=bus, built=built)
    offers: list[Offer] = []
    for signal in (*NMEA2000, *J1939):
        for key in sorted(key for key in rows_of if key >> 8 == signal.group):
            rows, table = rows_of[key], tables[key]
            good = meets(table, signal.only)
            values = values_of(signal, table, bus.size[rows])
            for instance, apart, mine in _split(signal, key & 0xFF, table, engines, built):
                here = np.flatnonzero(good & mine)
                here = here[ways.order(rows[here])]
                if here.size:
                    offers.append(
                        Offer(
                            signal=signal,
                            source=key & 0xFF,
                            instance=instance,
                            apart=apart,
                            t_s=bus.t_s[rows[here]],
                            values=values[here],
                            given=int(np.sum(np.isfinite(values[here]))),
                        )
                    )
    ways.tell()
    return offers


def _split(
    signal: Signal, source: int, table: Bytes, engines: list[int], built: Built
) -> list[tuple[int, int, NDArray[np.bool_]]]:
    """Instance, sensor and rows of all that one sender's messages are about."""
    everything = np.ones(len(table), dtype=bool)
    if signal.group in J1939_GROUPS:
        return [(engines.index(source), 0, everything)]
    byte = next((b for b in (signal.engine, signal.tank, signal.apart) if b is not None), None)
    if byte is None:
        return [(0, 0, everything)]
    tank = signal.tank is not None
    numbers = table[:, byte] & (0x0F if tank else 0xFF)
    found = []
    for number in np.unique(numbers).tolist():
        mine = numbers == number
        known = number <= (MOST_TANK if tank else MOST_INSTANCE)
        if signal.engine is not None and not known:
            built.counts[f"without_instance:{signal.group}"] = int(np.sum(mine))
        elif signal.apart is not None:
            found.append((0, number, mine))
        else:  # a lone tank need not be numbered
            found.append((number if known else 0, 0, mine))
    return found


def _rows_by_key(bus: Bus) -> dict[int, Integers]:
    """The rows of every group from every sender, in the order of the log."""
    by_key = np.argsort(bus.key, kind="stable")
    keys, starts = np.unique(bus.key[by_key], return_index=True)
    return dict(zip(keys.tolist(), np.split(by_key, starts[1:]), strict=True))


@dataclass(slots=True)
class Ways:
    """Puts rows in order of time and remembers which were left out, each once."""

    bus: Bus
    built: Built
    known: dict[bytes, NDArray[np.intp]] = field(default_factory=dict)
    repeated: set[int] = field(default_factory=set)
    astray: set[int] = field(default_factory=set)
    breaks: int = 0
    first_line: int = 0

    def order(self, rows: Integers) -> NDArray[np.intp]:
        """Which of some rows to keep, in order of time.

        Raises
        ------
        LogFormatError
            Where time runs wild.
        """
        name = rows.tobytes()
        if name in self.known:
            return self.known[name]
        t = self.bus.t_s[rows]
        found = increasing(t)
        out = np.setdiff1d(np.arange(rows.size), found.take)
        same = out[(out > 0) & (t[out] == t[out - 1])]
        self.repeated.update(rows[same].tolist())
        self.astray.update(rows[np.setdiff1d(out, same)].tolist())
        if found.breaks > self.breaks and found.first_break is not None:
            self.breaks = found.breaks
            self.first_line = int(self.bus.line[rows[found.first_break]])
        self.known[name] = found.take
        return found.take

    def tell(self) -> None:
        """Count what was left out, and say where time ran backwards."""
        counts, warnings = self.built.counts, self.built.warnings
        counts["repeated"], counts["astray"] = len(self.repeated), len(self.astray)
        counts["breaks"] = self.breaks
        if self.breaks:
            warnings.append(
                f"time runs backwards {plural(self.breaks, 'time')}, first near line "
                f"{self.first_line}; what a longer stretch also holds was left out"
            )
        if self.astray:
            warnings.append(
                f"{plural(len(self.astray), 'message')} out of the order of time left out"
            )


def _receiver(offers: list[Offer]) -> int | None:
    """The address of the receiver to take."""
    for name in ("speed", "latitude"):
        best = _most([offer for offer in offers if offer.signal.channel == name])
        if best is not None:
            return best.source
    return None


def _most(rivals: list[Offer]) -> Offer | None:
    """The first offer, unless a later one clearly holds more; None where none holds any."""
    best: Offer | None = None
    for offer in rivals:
        if offer.given > (best.given * CLEARLY_MORE if best is not None else 0):
            best = offer
    return best


def _choose(rivals: list[Offer], receiver: int | None) -> Offer | None:
    ours = [o for o in rivals if o.signal.family == GNSS and o.source == receiver]
    return _most(ours) or _most(rivals)


def _channel(offer: Offer, clock: str, delay_sd_s: float, built: Built) -> Channel | None:
    name = offer.signal.channel
    values, spikes = bounded(offer.values, name)
    if spikes:
        built.counts[f"spikes:{name}"] += spikes
        built.warnings.append(
            f"{plural(spikes, 'value')} of {name} in {offer.text} cannot be: left out as no value"
        )
    if offer.given < values.size:
        built.counts[f"not_available:{name}"] += values.size - offer.given
    if not np.isfinite(values).any():
        return None
    return Channel(
        name=name,
        instance=offer.instance,
        t_s=offer.t_s,
        values=values,
        clock=clock,
        delay_sd_s=delay_sd_s,
        source=offer.text,
        means=offer.signal.means,
    )


def _tell_of_twins(rivals: list[Offer], taken: Offer | None, built: Built) -> None:
    """Two senders that speak of one engine: they may be two engines with one number."""
    if taken is None or taken.signal.channel != "engine_speed":
        return
    others = [o for o in rivals if o is not taken and o.given and o.signal == taken.signal]
    for other in others:
        built.warnings.append(
            f"the addresses {taken.source} and {other.source} both send engine speed as engine "
            f"{taken.instance}; {taken.source} was taken, and if these are two engines, number "
            "them apart in their gateways"
        )
