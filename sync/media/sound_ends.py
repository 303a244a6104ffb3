"""How the sound of a file begins and ends: where, and whether an encoder began there.

An encoder of overlapping blocks begins with a run-up: its first block reaches back to before
the first sample, into silence. A file that was cut out of a longer stream begins in mid-stream
instead, and its first block decodes to half of what was there. That can be heard, whatever the
container says or leaves out: the first block of FFmpeg's AAC encoder lies 28 dB below the ones
after it, and out of mid-stream 7 dB at most (wind and engine of `tests/sounds.py`). For MP3,
AC-3 and Opus the two cannot be told apart like this.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from sync.media.ffmpeg_log import caught
from sync.media.footage import Footage
from sync.media.frames import only
from sync.media.opening import open_footage

if TYPE_CHECKING:
    from av.audio import AudioStream
    from av.container import InputContainer
    from av.packet import Packet

END_S = 2
"""How far before the end the last packets are looked for."""

FIRST_BLOCKS = 8
"""Blocks decoded to hear how a track begins."""

RUN_UP_DB = -16.0
"""A first block weaker than this against the ones after it is a run-up."""

FAINT = 1e-4
"""Below this RMS (full scale 1) there is nothing to hear a run-up by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundEnds:
    """Begin and end of one track, on the file's own clock.

    Parameters
    ----------
    first_s
        Where its first packet begins.
    start_s, stop_s
        Where its sound begins and ends once the run-up and the padding are left out that the
        container declares.
    packet_s
        How long a packet is.
    run_up, cut_short
        Whether the container declares a run-up, and a last packet that is shorter than others.
    """

    first_s: Fraction
    start_s: Fraction
    stop_s: Fraction
    packet_s: Fraction
    run_up: bool
    cut_short: bool


def sound_ends(film: Footage, track: int) -> SoundEnds | None:
    """Where a track of one file begins and ends; None where it has no packet with a time."""
    with caught(this_thread_only=True), open_footage(film.path) as container:
        stream = container.streams.audio[track]
        only(container, stream)
        first = next(stamped(container, stream), None)
        if first is None or stream.time_base is None:
            return None
        tick, rate_hz = stream.time_base, film.sound[track].rate_hz
        length = first.duration or 0
        skipped = _skipped(first) if rate_hz else 0
        begin, stop = first.pts or 0, (first.pts or 0) + length
        cut_short = False
        for packet in _last(container, stream, stop):
            ends = (packet.pts or 0) + (packet.duration or length)
            if ends > stop:
                stop, cut_short = ends, 0 < (packet.duration or length) < length
    return SoundEnds(
        first_s=begin * tick,
        start_s=begin * tick + (Fraction(skipped, rate_hz) if skipped else 0),
        stop_s=stop * tick,
        packet_s=length * tick,
        run_up=skipped > 0,
        cut_short=cut_short,
    )


def stamped(container: InputContainer, stream: AudioStream) -> Iterator[Packet[AudioStream]]:
    """A track's packets that have a time, up to where the file breaks off."""
    import av

    try:
        for packet in container.demux(stream):
            if packet.size and packet.pts is None:
                packet.pts = packet.dts
            if packet.size and packet.pts is not None:
                yield packet
    except av.error.MemoryError:
        raise
    except av.FFmpegError:
        return


def _skipped(packet: Packet[AudioStream]) -> int:
    """Samples that the decoder is told to leave out at the packet's beginning."""
    if not packet.has_sidedata("skip_samples"):
        return 0
    return int.from_bytes(bytes(packet.get_sidedata("skip_samples"))[:4], "little")


def _last(
    container: InputContainer, stream: AudioStream, first_stop: int
) -> Iterator[Packet[AudioStream]]:
    """The last packets, or all where the container cannot go to its end."""
    import av

    begin = stream.start_time or 0
    if stream.time_base and stream.duration:
        target = begin + stream.duration - round(END_S / stream.time_base)
        if target > first_stop:
            try:
                container.seek(target, stream=stream, backward=True)
            except av.FFmpegError:
                container.seek(begin, stream=stream, backward=True)
    return stamped(container, stream)


def begins_in_mid_stream(film: Footage, track: int) -> bool | None:
    """Whether a track's encoder was at work already when the file begins.

    None where that cannot be told: another codec than AAC, or silence.
    """
    if film.sound[track].codec != "aac":
        return None
    levels = _first_levels(film, track)
    if len(levels) < FIRST_BLOCKS // 2:
        return None
    usual = float(np.median(levels[1:]))
    if usual < FAINT:
        return None
    return bool(levels[0] > usual * 10 ** (RUN_UP_DB / 20))


def _first_levels(film: Footage, track: int) -> list[float]:
    """RMS of the first blocks as the decoder gives them, run-up and all."""
    import av
    from av.codec.context import Flags2

    levels: list[float] = []
    with caught(this_thread_only=True), open_footage(film.path) as container:
        stream = container.streams.audio[track]
        only(container, stream)
        stream.codec_context.flags2 |= Flags2.skip_manual
        for packet in stamped(container, stream):
            try:
                frames = packet.decode()
            except av.error.InvalidDataError:
                continue
            for frame in frames:
                block = frame.to_ndarray().astype(np.float64)
                levels.append(float(np.sqrt(np.mean(block**2))))
            if len(levels) >= FIRST_BLOCKS:
                break
    return levels
