"""Cutting a film into files, as a camera does that starts a new one without stopping.

Nothing is encoded anew. Each file begins on a key frame, and its times count from there. A
decoder of AAC needs the block before the first for what overlaps, so a file brings that along
and its edit list hides it: the sound of all files in a row is that of the whole, sample for
sample.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import av

if TYPE_CHECKING:
    from av.packet import Packet

Piece = tuple[Path, float, str]
"""Where a file goes, where in the whole it begins, and the container's stamp."""


def cut_film(whole: Path, pieces: tuple[Piece, ...]) -> None:
    """Write the files of a film.

    Raises
    ------
    ValueError
        Where no key frame stands at a cut, or no block of sound begins there.
    """
    ends = [*(Fraction(begin).limit_denominator(1000) for _, begin, _ in pieces[1:]), None]
    for (path, begin, stamp), end in zip(pieces, ends, strict=True):
        _write(whole, path, Fraction(begin).limit_denominator(1000), end, stamp)


def _write(whole: Path, path: Path, begin: Fraction, end: Fraction | None, stamp: str) -> None:
    with (
        av.open(str(whole)) as source,
        av.open(
            str(path),
            "w",
            format="mp4",
            options={"movflags": "+faststart", "movie_timescale": "90000"},
        ) as film,
    ):
        film.metadata["creation_time"] = stamp
        places = {stream.index: film.add_stream_from_template(stream) for stream in source.streams}
        first: set[str] = set()
        for packet in source.demux():
            if packet.pts is None or packet.duration is None:
                continue  # the end of a stream, which no file needs
            t = packet.pts * packet.time_base
            sound = packet.stream.type == "audio"
            lead = packet.duration * packet.time_base if sound and begin > 0 else Fraction(0)
            if (begin > 0 and t < begin - lead) or (end is not None and t >= end):
                continue
            if begin > 0 and packet.stream.type not in first:
                _check_start(packet, t, begin - lead)
                first.add(packet.stream.type)
            shift = int(begin / packet.time_base)
            packet.pts -= shift
            packet.dts = None if packet.dts is None else packet.dts - shift
            packet.stream = places[packet.stream.index]
            film.mux(packet)


def _check_start(packet: Packet[Any], t: Fraction, wanted: Fraction) -> None:
    if t != wanted or not packet.is_keyframe:
        raise ValueError(
            f"the film cannot be cut at {float(wanted):.3f} s, but at {float(t):.3f} s"
        )
