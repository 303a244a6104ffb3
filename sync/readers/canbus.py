"""Logs of a CAN bus: NMEA 2000 and SAE J1939, in every form that we know.

Read are plain text with a message a line, the text of SocketCAN's tools, and the files that
python-can reads (ASC, TRC, BLF). What the messages hold stands in `can_signals`. Not covered:
J1939 messages of more than one frame, 11-bit ids, CAN FD, and parameter groups of makers.

The messages are decoded by column, group by group, and not one by one: over an hour of a busy
bus that is two to ten times as fast as a decoder's loop (measured, see tests/bench).

The stamps are those of the logger, whose clock is seldom right: a log is on a clock of its
own, and what receivers on the bus say of the time is kept in `Log.clock_readings`. A log
without stamps is put on UTC by those readings alone.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sync.clock import UTC
from sync.errors import EmptyLogError, LogFormatError
from sync.log import Log, RawColumn
from sync.readers import can_files, can_text
from sync.readers.base import OWN, LogSettings, plural, read_bytes
from sync.readers.can_bus import Bus, Collector
from sync.readers.can_channels import Built, build_channels
from sync.readers.can_clock import placed, readings
from sync.readers.can_packets import assemble
from sync.readers.can_signals import FAST, WANTED
from sync.readers.can_stamps import DATED_S

KEY = "canbus"

LOOK_LINES = 400

FILES = {"asc": can_files.sort_asc, "trc": can_files.sort_trc, "blf": can_files.sort_blf}
TEXTS = {"plain": can_text.sort_plain, "candump": can_text.sort_candump}


def claims(head: bytes) -> bool:
    """Whether the beginning is one of the forms that are read."""
    return carrier(head) is not None


def carrier(head: bytes) -> str | None:
    """Which form a file has: a key of `FILES` or `TEXTS`, or None."""
    if head.startswith(can_files.BLF_HEAD):
        return "blf"
    if b"\0" in head[:512]:
        return None
    text = head.removeprefix(b"\xef\xbb\xbf")
    if can_files.ASC_HEAD.match(text):
        return "asc"
    if text.lstrip().startswith(b";") and can_files.TRC_RULER.search(text):
        return "trc"
    lines = [line for line in text.split(b"\n")[:LOOK_LINES] if line.strip()]
    lines = [line for line in lines if not line.lstrip().startswith(b"#")]
    for key, pattern in (("plain", can_text.PLAIN), ("candump", can_text.CANDUMP)):
        if sum(1 for line in lines if pattern.fullmatch(line)) * 2 > len(lines) > 0:
            return key
    return None


def read(path: Path, name: str, settings: LogSettings) -> Log:
    """Read a log of a CAN bus.

    Raises
    ------
    EmptyLogError
        Where no message in it gives a value that has a time.
    LogFormatError
        Where its form is none of those that are read, or its times are wild.
    """
    collected = _collected(path)
    whole = assemble(collected.bus(), FAST, collected.counts)
    if not whole.t_s.size:
        _nothing(collected, path)
    timed = _timed(whole, settings, name, path)
    try:
        built = build_channels(timed.bus, timed.clock, timed.delay_sd_s)
    except LogFormatError as error:
        raise LogFormatError(error.what, path=path, advice=error.advice) from error
    stated = () if timed.by_readings else readings(timed.bus, timed.clock)
    if not built.channels:
        _nothing(collected, path, plural(whole.t_s.size, "message"))
    return Log(
        name=name,
        path=path,
        format=KEY,
        clock=timed.clock,
        channels=built.channels,
        columns=(*built.columns, *_unused(collected)),
        counts=_counts(collected, timed, built),
        warnings=(*timed.warnings, *built.warnings, *_warnings(collected.counts)),
        clock_readings=stated,
    )


def _collected(path: Path) -> Collector:
    """Every wanted message and frame of the file."""
    into = Collector()
    try:
        with path.open("rb") as file:
            form = carrier(file.read(65536))
            file.seek(0)
            if form in TEXTS:
                TEXTS[form](file, WANTED, into)
    except OSError as error:
        raise LogFormatError(
            f"the log cannot be read ({error.strerror or error})",
            path=path,
            advice="check the path in the trial sheet",
        ) from error
    if form is None:
        raise LogFormatError(
            "this is no log of a CAN bus in a form that is read",
            path=path,
            advice="export it as candump text, ASC, TRC or BLF",
        )
    if form in FILES:
        FILES[form](read_bytes(path), WANTED, into, path)
    return into


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Timed:
    """Messages with their times on one clock."""

    bus: Bus
    clock: str
    by_readings: bool = False
    delay_sd_s: float = 0.0
    untimed: int = 0
    warnings: tuple[str, ...] = ()


def _timed(bus: Bus, settings: LogSettings, name: str, path: Path) -> Timed:
    """The messages on the clock that the log, the settings and their content allow."""
    stamped = np.isfinite(bus.t_s)
    if not stamped.any():
        return _by_readings(bus, settings, name, path)
    t = bus.t_s
    untimed = int(np.sum(~stamped))
    warnings: list[str] = []
    if untimed:
        warnings.append(f"{plural(untimed, 'message')} without a readable stamp left out")
    dated = bool(np.nanmedian(t) >= DATED_S)
    if dated:
        t = settings.to_utc(t)
    elif settings.clock_start is not None:
        t = t + settings.clock_start.timestamp()
        dated = True
    clock = settings.clock_name(name, implied=OWN)
    if clock == UTC and not dated:
        raise LogFormatError(
            "the log counts from its own start and cannot be on UTC",
            path=path,
            advice="leave its clock 'own', or state the instant of its start",
        )
    kept = _rows(replace(bus, t_s=t), stamped)
    return Timed(bus=kept, clock=clock, untimed=untimed, warnings=tuple(warnings))


def _by_readings(bus: Bus, settings: LogSettings, name: str, path: Path) -> Timed:
    """A log without stamps, timed by what receivers on the bus say."""
    t, sd_s = placed(bus)
    known = np.isfinite(t)
    if not known.any():
        raise EmptyLogError(
            "the log has neither stamps nor a receiver's time in it",
            path=path,
            advice="record it with time stamps (candump -l, or -t a)",
        )
    warning = (
        "the log has no stamps: its times are those of the receiver on the bus, and good to "
        f"{sd_s:.1f} s"
    )
    return Timed(
        bus=_rows(replace(bus, t_s=t), known),
        clock=settings.clock_name(name),
        by_readings=True,
        delay_sd_s=sd_s,
        untimed=int(np.sum(~known)),
        warnings=(warning,),
    )


def _rows(bus: Bus, kept: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> Bus:
    return replace(
        bus,
        t_s=bus.t_s[kept],
        line=bus.line[kept],
        key=bus.key[kept],
        start=bus.start[kept],
        size=bus.size[kept],
    )


def _nothing(collected: Collector, path: Path, seen: str = "") -> None:
    found = ", ".join(f"{group}" for group, _ in collected.unused.most_common(8))
    raise EmptyLogError(
        "no message of the log gives a value that is used"
        + (f" ({seen} without one)" if seen else "")
        + (f" (other parameter groups in it: {found})" if found else ""),
        path=path,
    )


def _unused(collected: Collector) -> tuple[RawColumn, ...]:
    return tuple(
        RawColumn(name=f"PGN {group}", unit=None, channel=None)
        for group in sorted(collected.unused)
    )


def _counts(collected: Collector, timed: Timed, built: Built) -> dict[str, int]:
    """Everything that was counted; what never happened is left out, but for the main ones."""
    groups, sizes = np.unique(timed.bus.key >> 8, return_counts=True)
    counts = {
        "lines": collected.counts["lines"],
        "messages": int(timed.bus.t_s.size) + timed.untimed,
    }
    more = Counter(collected.counts)
    more["untimed"] += timed.untimed
    more += built.counts
    for group, size in zip(groups.tolist(), sizes.tolist(), strict=True):
        more[f"messages:{group}"] = size
    for group, size in sorted(collected.unused.items()):
        more[f"unused:{group}"] = size
    return counts | {key: count for key, count in more.items() if count and key not in counts}


def _warnings(counts: Counter[str]) -> list[str]:
    told = {
        "unreadable": ("line", "could not be read"),
        "cut": ("line", "broke off"),
        "broken_packets": ("message of several frames", "lacked a frame"),
        "damaged": ("part of the file", "is damaged, and all after it was left out"),
    }
    many = {"message of several frames": "messages of several frames", "part of the file": "parts"}
    return [
        f"{plural(counts[key], what, many.get(what))} {became}"
        for key, (what, became) in told.items()
        if counts[key]
    ]
