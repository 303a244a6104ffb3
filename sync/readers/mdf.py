"""MDF 4: measurement data files (ASAM), read with asammdf, which is an extra.

Signals are named as the columns of a delimited table, their units beside them. Each group of
signals has times of its own, counted from the start that the file states, and becomes
channels on those times. The clock is the logger's own, since nobody vouches for it.

asammdf trusts what it reads: a damaged file can make it take all memory, never end, or write
to standard error. So the links of a file are checked first, and asammdf runs in a process of
its own, with its time and memory limited (`mdf_child`).
"""

from __future__ import annotations

import importlib.util
import json
import struct
import subprocess
import sys
import tempfile
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import UTC
from sync.errors import LogFormatError
from sync.log import Log
from sync.readers.base import OWN, LogSettings, read_bytes
from sync.readers.columnar import Said, channel_of, notes, nothing, ordered, raw_columns
from sync.readers.table_headings import Column, read_headings

KEY = "mdf"

MAGIC = b"MDF     "

LEAST_TIME_S, BYTES_A_SECOND = 60.0, 1e6
"""How long the child may take: far longer than it ever does with a sound file."""

_HEADER = struct.Struct("<QQ")


def claims(head: bytes) -> bool:
    """Whether it begins as every measurement data file does."""
    return head.startswith(MAGIC)


def read(path: Path, name: str, settings: LogSettings) -> Log:
    """Read an MDF file.

    Raises
    ------
    EmptyLogError
        Where no signal in it is understood or holds a value.
    LogFormatError
        Where the file is damaged or older than version 4, or asammdf is not installed.
    UnitError
        Where a signal has a unit that does not exist or measures something else.
    """
    said = Said()
    signals, start_s = _signals(path, said)
    headings = [heading for heading, *_ in signals]
    units = [unit for _, unit, *_ in signals]
    columns = read_headings(headings, settings.columns, units=units, path=path)
    clock, shift_s = _clock(settings, name, start_s, path)
    channels: dict[str, Channel] = {}
    for column, (_, _, t, values) in zip(columns, signals, strict=True):
        if column.role != "channel" or column.key in channels:
            continue
        order = ordered(t, said, path)
        at = t[order.take] + shift_s
        channel = channel_of(column, values[order.take], at, clock, said)
        if channel is not None:
            channels[channel.key] = channel
    if not channels:
        raise nothing(columns, path)
    told = tuple(_plain(column) for column in columns)
    return Log(
        name=name,
        path=path,
        format=KEY,
        clock=clock,
        channels=channels,
        columns=raw_columns(columns, channels, ()),
        counts={key: count for key, count in said.counts.items() if count},
        warnings=tuple(dict.fromkeys((*said.warnings, *notes(told)))),
    )


def _plain(column: Column) -> Column:
    """A column of time among the signals is no news: every group has its own."""
    return replace(column, heading="") if column.role == "time" else column


def _clock(
    settings: LogSettings, name: str, start_s: float | None, path: Path
) -> tuple[str, float]:
    """The log's clock, and what to add to its times."""
    given = settings.clock_start
    start = start_s if given is None else given.timestamp()
    if start is not None:
        start = float(settings.to_utc(np.array([start]))[0])
    clock = settings.clock_name(name, implied=OWN)
    if clock == UTC and start is None:
        raise LogFormatError(
            "the log counts from its own start and cannot be on UTC",
            path=path,
            advice="leave its clock 'own', or state the instant of its start",
        )
    return clock, start or 0.0


Signal = tuple[str, str, Floats, Floats]


def _signals(path: Path, said: Said) -> tuple[list[Signal], float | None]:
    """Name, unit, times and values of every signal of numbers, and the start of the file."""
    data = read_bytes(path)
    if importlib.util.find_spec("asammdf") is None:
        raise LogFormatError(
            "measurement data files need asammdf, which is not installed",
            path=path,
            advice="install trialreel[mdf]",
        )
    if not claims(data):
        raise LogFormatError("this is no measurement data file", path=path)
    if not data[8:12].strip(b"\0 ").startswith(b"4"):
        raise LogFormatError(
            "this measurement data file is older than version 4",
            path=path,
            advice="convert it to MDF 4, or export it as CSV",
        )
    if not is_whole(data):
        raise LogFormatError(
            "the measurement data file is damaged or broke off",
            path=path,
            advice="read what is left with the program that wrote it, and export that as CSV",
        )
    with tempfile.TemporaryDirectory(prefix="trialreel-") as folder:
        return _from_child(path, Path(folder) / "signals.npz", len(data), said)


def _from_child(
    path: Path, place: Path, size: int, said: Said
) -> tuple[list[Signal], float | None]:
    """Have a process of its own take the file apart, and take over what it found."""
    limit_s = LEAST_TIME_S + size / BYTES_A_SECOND
    command = [sys.executable, "-m", "sync.readers.mdf_child", str(path), str(place)]
    try:
        ran = subprocess.run(  # noqa: S603 -- our own module, and no shell
            command, capture_output=True, text=True, timeout=limit_s, check=False
        )
        why = (ran.stderr.strip().splitlines() or ["no word of why"])[-1][:120]
    except subprocess.TimeoutExpired:
        why = f"it was not read within {limit_s:.0f} s"
    try:
        with np.load(place, allow_pickle=False) as box:
            found = json.loads(str(box["about"]))
            signals = [
                (name, unit, box[f"t{i}"], box[f"v{i}"])
                for i, (name, unit) in enumerate(found["signals"])
            ]
    except (OSError, ValueError, KeyError, zipfile.BadZipFile) as error:
        raise LogFormatError(
            f"the measurement data file cannot be taken apart ({why})", path=path
        ) from error
    said.counts["other_signals"] = found["others"]
    return signals, found["start_s"]


def is_whole(data: bytes) -> bool:
    """Whether every block that can be reached is there: the links of a file that was closed.

    A block begins with its sort (``##`` and two letters), 4 spare bytes, its length, the
    number of its links (8 bytes each) and the links; the first stands at 64.
    """
    seen: set[int] = set()
    ahead = [64]
    while ahead:
        at = ahead.pop()
        if at in seen:
            continue
        seen.add(at)
        if at + 24 > len(data) or data[at : at + 2] != b"##":
            return False
        length, links = _HEADER.unpack_from(data, at + 8)
        if length < 24 + 8 * links or at + length > len(data):
            return False
        ahead += [link for link in struct.unpack_from(f"<{links}Q", data, at + 24) if link]
    return True
