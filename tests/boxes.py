"""A reader of MP4 boxes for tests, written from ISO/IEC 14496-12 and sharing no code with FFmpeg.

It reads what decides when a sample is shown: the tables of times (stts, ctts), the edit list
(elst) and the two time scales; and of the sample entry, its boxes, the colour box among them.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

CONTAINERS = {b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"dinf", b"udta"}


@dataclass(frozen=True, kw_only=True)
class Box:
    kind: bytes
    body: bytes
    offset: int
    children: tuple[Box, ...] = ()

    def find(self, *kinds: bytes) -> Box | None:
        box: Box | None = self
        for kind in kinds:
            box = next((c for c in box.children if c.kind == kind), None) if box else None
        return box

    def need(self, *kinds: bytes) -> Box:
        box = self.find(*kinds)
        assert box is not None, f"no box {b'/'.join(kinds)!r}"
        return box


def read_boxes(data: bytes, start: int = 0, stop: int | None = None) -> tuple[Box, ...]:
    """Boxes of a stretch of bytes (ISO/IEC 14496-12, 4.2: 32-bit size, type, body)."""
    boxes = []
    stop = len(data) if stop is None else stop
    while start + 8 <= stop:
        size, kind = struct.unpack_from(">I4s", data, start)
        head = 8
        if size == 1:
            (size,) = struct.unpack_from(">Q", data, start + 8)
            head = 16
        size = size or stop - start
        inner = read_boxes(data, start + head, start + size) if kind in CONTAINERS else ()
        boxes.append(
            Box(kind=kind, body=data[start + head : start + size], offset=start, children=inner)
        )
        start += size
    return tuple(boxes)


@dataclass(frozen=True, kw_only=True)
class TrackTimes:
    """One track of a movie: what it holds, and when each of its samples is shown."""

    handler: str
    timescale: int
    shown_s: tuple[Fraction, ...]
    edit_s: Fraction | None
    box: Box
    matrix: tuple[int, ...]


def movie(path: Path) -> Box:
    """The movie as one box, its top-level boxes as children."""
    data = path.read_bytes()
    return Box(kind=b"file", body=b"", offset=0, children=read_boxes(data))


def tracks(path: Path) -> tuple[TrackTimes, ...]:
    """All tracks of a movie file."""
    moov = movie(path).need(b"moov")
    movie_scale = _timescale(moov.need(b"mvhd"))
    return tuple(_track(t, movie_scale) for t in moov.children if t.kind == b"trak")


def _timescale(box: Box) -> int:
    """Time scale of a movie or media header: after two times of 4 or 8 bytes each."""
    version = box.body[0]
    return int(struct.unpack_from(">I", box.body, 20 if version else 12)[0])


def _track(trak: Box, movie_scale: int) -> TrackTimes:
    media = trak.need(b"mdia")
    scale = _timescale(media.need(b"mdhd"))
    table = media.need(b"minf", b"stbl")
    decoded, t = [], 0
    for count, step in _pairs(table.need(b"stts"), "I"):
        for _ in range(count):
            decoded.append(t)
            t += step
    offsets = [0] * len(decoded)
    ctts = table.find(b"ctts")
    if ctts is not None:
        signed = "i" if ctts.body[0] else "I"
        offsets = [offset for count, offset in _pairs(ctts, signed) for _ in range(count)]
    delay, skipped, edit_s = _edits(trak.find(b"edts", b"elst"), movie_scale)
    shown = tuple(
        Fraction(dts + offset - skipped, scale) + delay
        for dts, offset in zip(decoded, offsets, strict=True)
    )
    handler = media.need(b"hdlr").body[8:12].decode()
    return TrackTimes(handler=handler, timescale=scale, shown_s=shown, edit_s=edit_s, box=trak,
                      matrix=_matrix(trak.need(b"tkhd")))  # fmt: skip


def _matrix(tkhd: Box) -> tuple[int, ...]:
    """The nine numbers of a track header by which its picture is turned (8.3.2): in version 0
    they follow on 40 bytes, in version 1 on 52."""
    return struct.unpack_from(">9i", tkhd.body, 52 if tkhd.body[0] else 40)


def _pairs(box: Box, second: str) -> list[tuple[int, int]]:
    (count,) = struct.unpack_from(">I", box.body, 4)
    return [struct.unpack_from(f">I{second}", box.body, 8 + 8 * n) for n in range(count)]


def _edits(elst: Box | None, movie_scale: int) -> tuple[Fraction, int, Fraction | None]:
    """Delay of a track in seconds, the media ticks that its first edit skips, and how long
    that edit lasts (8.6.6)."""
    if elst is None:
        return Fraction(0), 0, None
    layout = ">Qqi" if elst.body[0] else ">Iii"
    (count,) = struct.unpack_from(">I", elst.body, 4)
    delay = Fraction(0)
    for n in range(count):
        at = 8 + n * struct.calcsize(layout)
        length, media_time, _ = struct.unpack_from(layout, elst.body, at)
        if media_time >= 0:
            return delay, media_time, Fraction(length, movie_scale)
        delay += Fraction(length, movie_scale)
    return delay, 0, None


def box_names(box: Box) -> list[str]:
    """Names of a box and of all that are in it, down to what this reader looks into."""
    return [box.kind.decode(), *(name for child in box.children for name in box_names(child))]


def picture_entry(track: TrackTimes) -> tuple[Box, ...]:
    """The boxes of the one sample entry of a track of pictures, after its own fields, which are
    given as a box of its name (12.1.3: 78 bytes)."""
    (entry,) = read_boxes(track.box.need(b"mdia", b"minf", b"stbl", b"stsd").body, 8)
    fields = Box(kind=entry.kind, body=entry.body[:78], offset=entry.offset)
    return (fields, *read_boxes(entry.body, 78))


def colour_box(track: TrackTimes) -> tuple[int, int, int, bool] | None:
    """Primaries, transfer, matrix and full range of a colour box of type nclx (12.1.5)."""
    body = track.box.need(b"mdia", b"minf", b"stbl", b"stsd").body
    at = body.find(b"colrnclx")
    if at < 0:
        return None
    primaries, transfer, matrix, full = struct.unpack_from(">HHHB", body, at + 8)
    return primaries, transfer, matrix, bool(full >> 7)
