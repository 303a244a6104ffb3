"""Two forms of text for messages off a bus, read line by line.

One message a line, assembled or as raw frames, bytes in hexadecimal::

    2016-04-09T16:41:09.080Z,2,127488,16,255,8,00,92,0c,ff,ff,7f,ff,ff

which is time, priority, parameter group, source, destination, length and bytes; and one frame
a line, as SocketCAN's tools print them, in the log's form or the screen's, the time left out
or not::

    (1502984866.421964) can0 09F112CC#FF725AFF7FFF7FFD
     can0  09F112CC   [8]  FF 72 5A FF 7F FF 7F FD

Knowledge from the sample logs and the public notes of open projects (see the tests). A line
that begins with # is a comment. A line whose bytes are fewer than it says is cut, and left.
"""

from __future__ import annotations

import re
from binascii import Error as HexError
from binascii import unhexlify
from collections.abc import Collection, Iterable

from sync.readers.can_bus import LONGEST, Collector, key_of

NO_STAMP = float("nan")

PLAIN = re.compile(
    rb"[\dT:.,Z _+-]{10,40},[0-7],\d{5,6},\d{1,3},\d{1,3},\d{1,4}(?:,[0-9A-Fa-f]{1,2})*,?\s*"
)
CANDUMP = re.compile(
    rb"\s*(?:\(([^)]*)\)\s+)?([A-Za-z]\S*)\s+(?:[RT]X\s+\S+\s+\S+\s+)?([0-9A-Fa-f]{8})"
    rb"(?:#([0-9A-Fa-f]*)(?:\s+[RT])?|\s+\[(\d+)\]((?:\s+[0-9A-Fa-f]{2})*)(?:\s+'.*')?)\s*"
)
OTHER_FRAME = re.compile(
    rb"\s*(?:\([^)]*\)\s+)?[A-Za-z]\S*\s+(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})(?:#|\s+\[).*"
)
"""A frame with an id of 11 bits, of another length, or without data."""


def sort_plain(lines: Iterable[bytes], wanted: Collection[int], into: Collector) -> None:
    """Take in a plain text log; of other groups than the wanted ones only the number is kept."""
    known = {str(group).encode(): group << 8 for group in wanted}
    counts, unused, number = into.counts, into.unused, 0
    for number, line in enumerate(lines, 1):
        parts = line.split(b",", 6)
        group = known.get(parts[2]) if len(parts) == 7 else None
        if group is None:
            _not_taken(line, parts, counts, unused)
            continue
        try:
            source, length = int(parts[3]), int(parts[5])
            data = unhexlify(parts[6].strip().replace(b",", b""))
        except (ValueError, HexError):
            counts["unreadable"] += 1
            continue
        if len(data) != length or not 0 <= source <= 255 or length > LONGEST:
            counts["cut" if len(data) < length else "unreadable"] += 1
            continue
        stamp = parts[0].lstrip(b"\xef\xbb\xbf") if number == 1 else parts[0]
        into.add(number, stamp, group | source, data)
    counts["lines"] += number


def _not_taken(
    line: bytes, parts: list[bytes], counts: dict[str, int], unused: dict[int, int]
) -> None:
    """Count a line that holds no wanted message."""
    if len(parts) >= 6 and parts[2].isdigit() and len(parts[2]) < 7:
        unused[int(parts[2])] += 1
    elif line.strip() and not line.lstrip(b"\xef\xbb\xbf \t").startswith(b"#"):
        counts["other_lines"] += 1


def sort_candump(lines: Iterable[bytes], wanted: Collection[int], into: Collector) -> None:
    """Take in a log of single frames."""
    known = set(wanted)
    keys: dict[bytes, int] = {}
    counts, unused, number = into.counts, into.unused, 0
    for number, line in enumerate(lines, 1):
        parts = line.split()
        if len(parts) == 3 and parts[2][8:9] == b"#" and parts[0][:1] == b"(":
            key = keys.get(parts[2][:8])  # the log's form, and an id that was there before
            if key is not None and key >> 8 not in known:
                unused[key >> 8] += 1
                continue
        match = CANDUMP.fullmatch(line[3:] if line.startswith(b"\xef\xbb\xbf") else line)
        if match is None:
            _not_a_frame(line, counts)
            continue
        stamp, _, text, packed, length, spaced = match.groups()
        key = keys.get(text)
        if key is None:
            key = keys[text] = key_of(int(text, 16))
        if key >> 8 not in known:
            unused[key >> 8] += 1
            continue
        try:
            data = unhexlify(packed if packed is not None else b"".join(spaced.split()))
        except HexError:
            counts["cut"] += 1
            continue
        if length is not None and int(length) != len(data):
            counts["cut"] += 1
        elif len(data) > 8:
            counts["other_frames"] += 1
        else:
            into.add(number, NO_STAMP if stamp is None else stamp.strip(), key, data)
    counts["lines"] += number


def _not_a_frame(line: bytes, counts: dict[str, int]) -> None:
    """Count a line that holds no frame with an id of 29 bits and data."""
    if OTHER_FRAME.match(line):
        counts["other_frames"] += 1
    elif line.strip() and not line.lstrip(b"\xef\xbb\xbf \t").startswith(b"#"):
        counts["other_lines"] += 1
