"""The channels of an NMEA 0183 log, made from its sentences by the table in `nmea_ways`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.log import RawColumn
from sync.readers.base import bounded, plural
from sync.readers.nmea_epochs import Epochs
from sync.readers.nmea_lines import Sentences
from sync.readers.nmea_ways import FIELDS, Field, engine_speed

CLEARLY_MORE = 1.2
"""How many times the values a less preferred sentence must hold to be taken (own choice)."""


@dataclass(slots=True)
class Built:
    """Channels as they come together, what was counted, and what became of every address."""

    channels: dict[str, Channel] = field(default_factory=dict)
    columns: list[RawColumn] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    warnings: list[str] = field(default_factory=list)

    def add(self, channel: Channel | None) -> None:
        """Take in a channel, if anything came of it."""
        if channel is not None:
            self.channels[channel.key] = channel


def build_channels(by_address: Mapping[str, Sentences], epochs: Epochs, clock: str) -> Built:
    """All channels that the sentences give."""
    built = Built()
    for name in dict.fromkeys(way.channel for way in FIELDS):
        offers = [
            (entry, way, way.take(entry))
            for way in FIELDS
            if way.channel == name
            for entry in by_address.values()
            if entry.kind == way.kind
        ]
        best = _choose([values for _, _, values in offers])
        for place, (entry, way, values) in enumerate(offers):
            if place == best:
                built.add(_channel(way, entry, values, epochs, clock, built))
            elif best is not None and np.isfinite(values).any():
                built.counts[f"not_taken:{name} of {entry.address}"] += 1
            taken = name if place == best and name in built.channels else None
            column = RawColumn(name=f"{entry.address} {name}", unit=way.unit, channel=taken)
            built.columns.append(column)
    _engines(by_address, epochs, clock, built)
    return built


def _choose(offers: list[Floats]) -> int | None:
    """The place of the offer to take; None where no offer holds a value."""
    best: int | None = None
    most = 0.0
    for place, values in enumerate(offers):
        count = int(np.sum(np.isfinite(values)))
        if count > most * (1.0 if best is None else CLEARLY_MORE):
            best, most = place, count
    return best


def _channel(
    way: Field,
    entry: Sentences,
    values: Floats,
    epochs: Epochs,
    clock: str,
    built: Built,
    instance: int = 0,
) -> Channel | None:
    """A channel from one address; None where none of its values has a time."""
    values, spikes = bounded(values, way.channel)
    wanted = np.isfinite(values)
    if way.kind in ("XDR", "RPM"):
        t = epochs.times(entry, wanted)
    else:
        t = epochs.times(entry, np.ones(values.size, dtype=bool))
    timed = np.flatnonzero(np.isfinite(t))
    timed = timed[np.argsort(t[timed], kind="stable")]
    fresh = np.diff(t[timed], prepend=-np.inf) > 0
    take = timed[fresh]
    built.counts["untimed"] += int(np.sum(wanted & ~np.isfinite(t)))
    built.counts[f"repeated:{way.channel}"] += int(np.sum(~fresh))
    if spikes:
        built.counts[f"spikes:{way.channel}"] += spikes
        built.warnings.append(
            f"{plural(spikes, 'value')} of {way.channel} in {entry.address} cannot be: "
            "left out as no value"
        )
    if not np.isfinite(values[take]).any():
        return None
    return Channel(
        name=way.channel,
        instance=instance,
        t_s=t[take],
        values=values[take],
        clock=clock,
        source=entry.address,
        means=way.means,
    )


def _engines(by_address: Mapping[str, Sentences], epochs: Epochs, clock: str, built: Built) -> None:
    """Engine speed from RPM, an instance for every engine, counted from port to starboard.

    Engines are numbered from the centre line: 0 single or in the middle, odd to starboard,
    even to port (from memory of IEC 61162-1). Shafts turn slower than engines and feed no
    channel.
    """
    way = Field(channel="engine_speed", kind="RPM", unit="rpm", take=engine_speed)
    for entry in by_address.values():
        if entry.kind != "RPM":
            continue
        source, number = np.array(entry.column(0)), np.array(entry.column(1))
        values = engine_speed(entry)
        engines = sorted(set(number[source == "E"]), key=_from_port)
        for instance, engine in enumerate(engines):
            mine = np.where((source == "E") & (number == engine), values, np.nan)
            channel = _channel(way, entry, mine, epochs, clock, built, instance)
            if channel is not None and channel.key not in built.channels:
                built.add(channel)
                built.columns.append(
                    RawColumn(name=f"{entry.address} E {engine}", unit="rpm", channel=channel.key)
                )
        if np.any(source == "S"):
            built.columns.append(RawColumn(name=f"{entry.address} S", unit="rpm", channel=None))


def _from_port(engine: str) -> tuple[int, int]:
    """Sort key that puts engine numbers from port to starboard."""
    number = int(engine) if engine.isdecimal() and len(engine) < 5 else 0
    if number == 0:
        return (1, 0)
    return (2, number) if number % 2 else (0, -number)
