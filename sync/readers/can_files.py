"""Files of bus frames that python-can reads: ASC, TRC and BLF.

python-can knows a file by its ending, ends at the first damaged frame, takes times in a
header for those of the machine that it runs on, and in one case goes round for ever. So its
readers get the lines of frames alone, are set going again behind a damaged one, and see no
date: times count from the start of the recording, on the log's own clock.
"""

from __future__ import annotations

import io
import logging
import re
import struct
import zlib
from collections.abc import Callable, Collection, Iterable, Iterator
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from sync.errors import LogFormatError
from sync.readers.can_bus import Collector, key_of

if TYPE_CHECKING:
    from can import Message

logging.getLogger("can").addHandler(logging.NullHandler())  # else it writes to standard error

ASC_HEAD = re.compile(rb"\s*date\s[^\r\n]*\s+base\s+(?:hex|dec)\b", re.IGNORECASE)
TRC_RULER = re.compile(rb"^;-+\+-", re.MULTILINE)
BLF_HEAD = b"LOGG"

_ASC_BASE = re.compile(
    r"\s*base\s+(hex|dec)(?:\s+timestamps\s+(absolute|relative))?.*", re.IGNORECASE
)
_ASC_FRAME = re.compile(r"\s*\d{1,9}\.\d{1,9}\s+(?:\d{1,3}|CANFD)\s.*")
_TRC_HEADER = re.compile(r";\$(?:FILEVERSION=[\d.]+|COLUMNS=[A-Za-z](?:,[A-Za-z])*)\s*")
_TRC_FRAME = re.compile(r"\s*\d{1,12}\)?\s+\d{1,12}(?:\.\d+)?\s.*")

DAMAGED = (ValueError, IndexError, KeyError, OverflowError, struct.error, zlib.error)
"""What python-can raises at bytes that are not as they should be."""


class Lines:
    """Lines for a reader that wants an open file; what one reader left, the next goes on with."""

    def __init__(self, head: Iterable[str], rest: Iterator[str]) -> None:
        self._head = iter(head)
        self._rest = rest

    def __iter__(self) -> Lines:
        return self

    def __next__(self) -> str:
        line = next(self._head, None)
        return next(self._rest) if line is None else line

    def close(self) -> None:
        """Nothing is open."""


def sort_asc(data: bytes, wanted: Collection[int], into: Collector, path: Path) -> None:
    """Take in an ASC recording."""
    from can.io.asc import ASCReader  # late: python-can takes a tenth of a second

    lines = data.decode("latin-1").splitlines()
    base = next((match for line in lines[:50] if (match := _ASC_BASE.fullmatch(line))), None)
    head = [f"base {base.group(1) if base else 'hex'}", "internal events logged"]
    kept = _kept(lines, _ASC_FRAME, "//", into)
    found = _resuming(lambda rest: ASCReader(cast("Any", Lines(head, rest))), kept, into)
    relative = base is not None and (base.group(2) or "").lower() == "relative"
    _take(found, wanted, into, path, relative=relative)


def sort_trc(data: bytes, wanted: Collection[int], into: Collector, path: Path) -> None:
    """Take in a TRC recording of version 1.0, 1.1, 1.3, 2.0 or 2.1."""
    from can.io.trc import TRCReader  # late: python-can takes a tenth of a second

    lines = data.decode("latin-1").splitlines()
    head = [line for line in lines[:100] if _TRC_HEADER.fullmatch(line)]
    kept = _kept(lines, _TRC_FRAME, ";", into)
    found = _resuming(lambda rest: TRCReader(cast("Any", Lines(head, rest))), kept, into)
    try:
        _take(found, wanted, into, path)
    except NotImplementedError as error:  # how python-can refuses a version it does not know
        raise LogFormatError(
            "this version of TRC is not read",
            path=path,
            allowed=("1.0", "1.1", "1.3", "2.0", "2.1"),
        ) from error


def sort_blf(data: bytes, wanted: Collection[int], into: Collector, path: Path) -> None:
    """Take in a BLF recording, up to the first container that is damaged."""
    from can.io.blf import BLFReader  # late: python-can takes a tenth of a second

    try:
        reader = BLFReader(io.BytesIO(_sound_blf(data, into)))
        start_s = reader.start_timestamp
    except DAMAGED as error:
        raise LogFormatError("the head of this BLF recording is damaged", path=path) from error
    _take(_until_damaged(reader, into), wanted, into, path, start_s=start_s)


def _kept(lines: list[str], frame: re.Pattern[str], comment: str, into: Collector) -> list[str]:
    """Lines that can be frames; of the others those that are no comment are counted."""
    kept = [line for line in lines if frame.fullmatch(line)]
    said = [line for line in lines if line.strip() and not line.lstrip().startswith(comment)]
    into.counts["other_lines"] += len(said) - len(kept)
    return kept


def _resuming(
    make: Callable[[Iterator[str]], Iterable[Message]], lines: list[str], into: Collector
) -> Iterator[Message]:
    """All frames that can be read, with a new reader after each that cannot."""
    taken = 0

    def rest() -> Iterator[str]:
        nonlocal taken
        while taken < len(lines):
            taken += 1
            yield lines[taken - 1]

    before = -1
    while before < taken < len(lines):  # a head that cannot be read would fail for ever
        before = taken
        try:
            yield from make(rest())
        except DAMAGED:
            into.counts["unreadable"] += 1


def _until_damaged(reader: Iterable[Message], into: Collector) -> Iterator[Message]:
    from can.io.blf import BLFParseError  # late, as above

    try:
        yield from reader
    except (*DAMAGED, BLFParseError):
        into.counts["damaged"] += 1


def _take(
    messages: Iterator[Message],
    wanted: Collection[int],
    into: Collector,
    path: Path,
    *,
    relative: bool = False,
    start_s: float = 0.0,
) -> None:
    """Take in the wanted ones of the frames that python-can has read."""
    known = set(wanted)
    times: list[float] = []
    frames: list[tuple[int, int, bytes]] = []
    for number, message in enumerate(messages, 1):
        times.append(message.timestamp - start_s)
        data = bytes(message.data)
        if not message.is_extended_id or message.is_remote_frame or message.is_error_frame:
            into.counts["other_frames"] += 1
        elif len(data) != message.dlc:
            into.counts["cut"] += 1
        elif (key := key_of(message.arbitration_id)) >> 8 not in known or len(data) > 8:
            into.unused[key >> 8] += 1
        else:
            frames.append((number, key, data))
    if not times:
        raise LogFormatError("the recording holds no frame that can be read", path=path)
    if relative:
        times = list(accumulate(times))
    for number, key, data in frames:
        into.add(number, times[number - 1], key, data)
    into.counts["lines"] += len(times)


CONTAINER = 10
"""Type of a BLF object that holds others (python-can's description of the format)."""

LEAST_OBJECT = 32
"""Bytes of the shortest object; one that says it is shorter makes python-can go round."""

MOST_INFLATED = 64 * 2**20
"""A container holds 128 KiB by custom; one that inflates beyond this is no recording."""

_OBJECT = struct.Struct("<4sHHLL")


def _sound_blf(data: bytes, into: Collector) -> bytes:
    """The recording up to the first object that is cut or whose sizes cannot be."""
    at = max(struct.unpack_from("<L", data, 4)[0], 72)
    tail = b""
    while at + LEAST_OBJECT <= len(data):
        signature, _, _, size, sort = _OBJECT.unpack_from(data, at)
        if signature != b"LOBJ" or size < LEAST_OBJECT or at + size > len(data):
            into.counts["damaged"] += 1
            return data[:at]
        if sort == CONTAINER:
            inner = _inflated(data[at + _OBJECT.size : at + size])
            left = None if inner is None else _walked(tail + inner)
            if left is None:
                into.counts["damaged"] += 1
                return data[:at]
            tail = left
        at += size + size % 4
    return data[:at]


def _inflated(container: bytes) -> bytes | None:
    method = struct.unpack_from("<H", container)[0]
    body = container[16:]
    if method != 2:
        return body if method == 0 else b""
    inflate = zlib.decompressobj()
    try:
        found = inflate.decompress(body, MOST_INFLATED)
    except zlib.error:
        return None
    return None if inflate.unconsumed_tail else found


def _walked(data: bytes) -> bytes | None:
    """What is left behind the last whole object; None where the sizes cannot be."""
    at = 0
    while True:
        found = data.find(b"LOBJ", at, at + 8)
        if found < 0:
            return data[at:] if at + 8 > len(data) else None
        if found + _OBJECT.size > len(data):
            return data[at:]
        size = _OBJECT.unpack_from(data, found)[3]
        if size < LEAST_OBJECT:
            return None
        if found + size > len(data):
            return data[at:]
        at = found + size
