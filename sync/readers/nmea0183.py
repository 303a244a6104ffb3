"""NMEA 0183: the text sentences of marine receivers and instruments.

Knowledge from pynmea2's descriptions of the sentences, the public notes of the gpsd project
on them, and test sentences of open projects (see the tests). Read are RMC, VTG, GGA, GLL,
ZDA, HDT, HDM, HDG, ROT, VHW, XDR (pitch and roll) and RPM; all others are counted by address.
A tag block or a logger's time stamp before a sentence tells how the logger's clock is set, and
no more. Not covered: AIS, proprietary sentences, GNS, and times of a logger in place of a
receiver's.

A sentence whose status says so, or whose fields are empty, gives a time without a value, so
that the hole shows. What belongs to which time is told in `nmea_epochs`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from sync.errors import EmptyLogError
from sync.log import Log, RawColumn
from sync.readers.base import LogSettings, plural, read_bytes
from sync.readers.days import DAY_S, EPOCH_DAY
from sync.readers.nmea_channels import Built, build_channels
from sync.readers.nmea_epochs import Epochs, find_epochs
from sync.readers.nmea_lines import SENTENCE, Sentences, Sorted, sort_sentences
from sync.readers.nmea_stamps import stamp_readings
from sync.readers.nmea_ways import gives

KEY = "nmea0183"

RECEIVER_KINDS = ("RMC", "VTG", "GGA", "GLL")
"""Sentences that a positioning receiver sends whether or not it knows where it is."""


def claims(head: bytes) -> bool:
    """Whether most lines of the beginning hold a sentence."""
    lines = [line for line in head.splitlines() if line.strip()]
    if not lines or b"\0" in head[:512]:
        return False
    return sum(1 for line in lines if SENTENCE.search(line)) * 2 > len(lines)


def read(path: Path, name: str, settings: LogSettings) -> Log:
    """Read an NMEA 0183 log.

    Raises
    ------
    EmptyLogError
        Where no sentence is sound, none has a time, or the receiver never knew anything.
    LogFormatError
        Where neither the log nor the settings know a date.
    """
    data = sort_sentences(read_bytes(path))
    if not data.counts["sentences"]:
        raise EmptyLogError(
            "the log holds no sound NMEA 0183 sentence"
            + (
                f" ({plural(data.counts['checksum_errors'], 'checksum error')})"
                if data.counts["checksum_errors"]
                else ""
            ),
            path=path,
        )
    if not any(entry.kind in (*RECEIVER_KINDS, "ZDA") for entry in data.by_address.values()):
        _nothing_to_use(data, path)
    _demand_receiver(data, path)
    epochs = find_epochs(data.by_address, settings, path)
    built = build_channels(data.by_address, epochs, settings.clock_name(name))
    if not built.channels:
        raise EmptyLogError("no sentence of the log gives a value that has a time", path=path)
    return Log(
        name=name,
        path=path,
        format=KEY,
        clock=settings.clock_name(name),
        channels=built.channels,
        columns=(*built.columns, *_unused(data)),
        counts=_counts(data, epochs, built),
        warnings=(
            *_warnings(data, epochs, settings),
            *_speed_rule(built, epochs, data.by_address),
            *built.warnings,
        ),
        clock_readings=stamp_readings(data.by_address, epochs, name),
    )


def _nothing_to_use(data: Sorted, path: Path) -> None:
    found = sorted({*data.by_address, *data.unused})
    raise EmptyLogError(
        "no sentence of the log carries a time or a position "
        f"(found: {', '.join(found[:8])}{' and others' if len(found) > 8 else ''})",
        path=path,
        advice="log RMC, GGA, GLL or ZDA along with the others",
    )


def _demand_receiver(data: Sorted, path: Path) -> None:
    """A receiver in the log must have known a speed or a place at least once."""
    receivers = [e for e in data.by_address.values() if e.kind in RECEIVER_KINDS and len(e)]
    if not receivers or any(gives(entry, ("speed", "latitude")) for entry in receivers):
        return
    sent = ", ".join(f"{len(entry)} {entry.address}" for entry in receivers)
    raise EmptyLogError(
        f"the receiver never had a position or a speed (sentences without one: {sent})",
        path=path,
        advice="check that the receiver's aerial saw the sky, or use another log",
    )


def _unused(data: Sorted) -> tuple[RawColumn, ...]:
    return tuple(
        RawColumn(name=address, unit=None, channel=None) for address in sorted(data.unused)
    )


def _counts(data: Sorted, epochs: Epochs, built: Built) -> Mapping[str, int]:
    """Everything that was counted; what never happened is left out, but for the main ones."""
    counts = {key: data.counts[key] for key in ("lines", "sentences", "checksum_errors")}
    counts["epochs"] = int(np.sum(np.isfinite(epochs.t_s)))
    more = dict(data.counts) | {
        "repeated_epochs": epochs.order.repeated,
        "stray_epochs": epochs.order.stray,
        "overlapping_epochs": epochs.order.overlapping,
        "breaks": epochs.order.breaks,
    }
    more |= epochs.righted.counts | built.counts
    more |= {f"sentences:{s.address}": len(s) for s in data.by_address.values()}
    more |= {f"unused:{address}": count for address, count in sorted(data.unused.items())}
    return counts | {key: count for key, count in more.items() if count and key not in counts}


def _warnings(data: Sorted, epochs: Epochs, settings: LogSettings) -> list[str]:
    found: list[str] = []
    bad, good = data.counts["checksum_errors"], data.counts["sentences"]
    if bad:
        found.append(f"{plural(bad, 'sentence')} of {bad + good:,} had a wrong checksum")
    if data.counts["without_checksum"]:
        found.append(f"{plural(data.counts['without_checksum'], 'sentence')} had no checksum")
    found.extend(epochs.righted.told)
    order = epochs.order
    if order.stray or order.repeated:
        out = order.stray + order.repeated
        found.append(f"{plural(out, 'epoch')} out of the order of time left out")
    if order.first_break is not None:
        found.append(
            f"time runs backwards {plural(order.breaks, 'time')}, first at line "
            f"{int(epochs.first[order.first_break])}; {plural(order.overlapping, 'epoch')} "
            "at times that a longer stretch also holds left out"
        )
    if epochs.dated and settings.date is not None:
        found.extend(_other_date(epochs, settings.date))
    return found


def _other_date(epochs: Epochs, date: dt.date) -> list[str]:
    """A word where the log's own date is not the sheet's, a day either way for the zone."""
    t = epochs.t_s[np.isfinite(epochs.t_s)]
    first = dt.date.fromordinal(int(t.min() // DAY_S) + EPOCH_DAY)
    last = dt.date.fromordinal(int(t.max() // DAY_S) + EPOCH_DAY)
    if (first - date).days <= 1 and (date - last).days <= 1:
        return []
    return [f"the log is dated {first}, the trial {date}"]


def _speed_rule(built: Built, epochs: Epochs, by_address: Mapping[str, Sentences]) -> list[str]:
    """How a speed without a time of its own got one, since that can be a period out."""
    speed = built.channels.get("speed")
    if speed is None or speed.source[-3:] != "VTG":
        return []
    side = "before" if epochs.leads(by_address[speed.source]) else "behind"
    told = f"{speed.source} has no time of its own and is taken to stand {side} the time of its "
    return [f"{told}epoch, as it does where the log begins"]
