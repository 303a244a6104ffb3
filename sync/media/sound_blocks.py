"""Decoded sound, block by block, on the clock of a recording in one file or several.

Where a track runs on from one file to the next, one decoder reads on across the cut, as it
would have done had the camera not cut; each block of such a track follows on the last. Where
every file has an encoder's beginning and end of its own, each is decoded by itself, and the
padding at its end is cut away.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from contextlib import ExitStack
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sync.media.footage import Footage, Part, parts_of
from sync.media.frames import only
from sync.media.opening import open_footage
from sync.media.sound_ends import stamped

if TYPE_CHECKING:
    from av import AudioFrame
    from av.audio import AudioStream
    from av.container import InputContainer
    from av.packet import Packet

Samples = NDArray[np.float32]
Block = tuple[Fraction, Samples]

PREROLL_S = Fraction(1, 2)
"""Decoding starts this much before the stretch that is wanted: codecs need a run-up."""

LEAST_GAP_S = 0.002
"""Time stamps in coarse units jitter; only a step larger than this is a gap."""


def sound_blocks(
    footage: Footage, track: int, start_s: float | Fraction | None = None
) -> Generator[Block, None, None]:
    """Decoded blocks, each with the instant of its first sample on the recording's clock.

    Parameters
    ----------
    track
        Which of the sound tracks, counted from 0.
    start_s
        What ends before this instant may be left out; everything is given where None.

    Yields
    ------
    Fraction, [shape=(channels, n), full scale is 1]
    """
    parts = parts_of(footage)
    begin = None if start_s is None else Fraction(start_s) - PREROLL_S
    first = 0
    if begin is not None:
        first = max((n for n, part in enumerate(parts) if part.start_s <= begin), default=0)
    for chain in _chains(parts[first:]):
        following = first + len(chain)
        ends = _end(chain[-1], parts[following] if following < len(parts) else None, track)
        yield from _until(_chain_blocks(chain, track, begin), ends, footage.sound[track].rate_hz)
        first, begin = following, None


def _chains(parts: Sequence[Part]) -> Iterator[list[Part]]:
    """Parts in groups that one decoder reads through."""
    chain = [parts[0]]
    for part in parts[1:]:
        if not part.runs_on:
            yield chain
            chain = []
        chain.append(part)
    yield chain


def _end(part: Part, following: Part | None, track: int) -> Fraction | None:
    """Where a part's sound is over, if another part comes after it.

    Not before the next one's picture or sound begins, whichever is later, unless its own sound
    ends before: what lies behind that is padding.
    """
    if following is None:
        return None
    own, their = part.sound[track].stop_s, following.sound[track].start_s
    seam = following.start_s if their is None else max(following.start_s, their)
    return seam if own is None else min(own, seam)


def _until(blocks: Iterator[Block], end_s: Fraction | None, rate_hz: int) -> Iterator[Block]:
    for block_s, block in blocks:
        if end_s is None:
            yield block_s, block
            continue
        room = round((end_s - block_s) * rate_hz)
        if room <= 0:
            return
        yield block_s, block[:, :room]


def _chain_blocks(chain: Sequence[Part], track: int, begin: Fraction | None) -> Iterator[Block]:
    """The blocks of parts that one decoder reads through: that of the first of them."""
    with ExitStack() as opened:
        decoder: AudioStream | None = None
        following: Fraction | None = None
        for number, part in enumerate(chain):
            # The first stays open until the last is read: its decoder belongs to it.
            container = opened.enter_context(open_footage(part.film.path))
            stream = container.streams.audio[track]
            only(container, stream)
            shift_s = part.sound[track].shift_s
            if begin is not None and number == 0:
                _seek(container, stream, begin - shift_s)
            decoder = decoder or stream
            for packet in stamped(container, stream):
                if part.sound[track].is_repeated(_stamp_s(packet)):
                    continue
                plain = packet if number == 0 else bare(packet)
                for frame in _decoded(decoder, plain):
                    block = channels_of(frame)
                    block_s = following
                    if number == 0 or block_s is None:
                        block_s = _stamp_s(frame) + shift_s
                    following = block_s + Fraction(block.shape[1], frame.sample_rate)
                    yield block_s, block


def bare(packet: Packet[Any]) -> Packet[Any]:
    """A packet without what its container says of a run-up, which it has none of in mid-stream."""
    import av

    plain: Packet[Any] = av.Packet(bytes(packet))
    plain.time_base = packet.time_base
    plain.pts, plain.dts, plain.duration = packet.pts, packet.dts, packet.duration
    plain.is_keyframe = packet.is_keyframe
    return plain


def _seek(container: InputContainer, stream: AudioStream, begin_s: Fraction) -> None:
    import av

    if not stream.time_base:
        return
    first = stream.start_time or 0
    try:
        offset = round(begin_s / stream.time_base)
        container.seek(max(offset, first), stream=stream, backward=True)
    except av.FFmpegError:
        container.seek(first, stream=stream, backward=True)


def _decoded(decoder: AudioStream, packet: Packet[AudioStream]) -> list[AudioFrame]:
    import av

    try:
        frames = decoder.codec_context.decode(packet)
    except (av.error.InvalidDataError, av.error.EOFError):
        return []
    except av.error.MemoryError:
        raise
    return [f for f in frames if f.pts is not None and f.time_base is not None]


def _stamp_s(piece: AudioFrame | Packet[Any]) -> Fraction:
    assert piece.time_base is not None
    return (piece.pts or 0) * piece.time_base


def channels_of(frame: AudioFrame) -> Samples:
    """A block's samples, full scale being 1 [shape=(channels, n)]."""
    values = frame.to_ndarray()
    if not frame.format.is_planar:
        values = values.reshape(-1, frame.layout.nb_channels).T
    if values.dtype == np.uint8:
        return (values.astype(np.float32) - 128.0) / np.float32(128.0)
    if values.dtype.kind == "i":
        return values.astype(np.float32) / np.float32(2.0 ** (8 * values.dtype.itemsize - 1))
    return values.astype(np.float32)


class Laying:
    """Blocks laid on a grid of samples that starts with the first of them.

    What is missing between two blocks becomes silence, and is counted; what two blocks both
    claim belongs to the first.
    """

    def __init__(self, *, rate_hz: int, start_s: Fraction | None, stop_s: Fraction | None) -> None:
        self.rate_hz = rate_hz
        self.wanted = (start_s, stop_s)
        self.origin: Fraction | None = None
        self.length = 0
        self.gaps = 0
        self.silent = 0

    def lay(self, block_s: Fraction, block: Samples) -> list[Samples] | None:
        """What a block adds to the row of samples; None once it lies beyond the stretch."""
        start_s, stop_s = self.wanted
        if stop_s is not None and block_s >= stop_s:
            return None
        block_stop_s = block_s + Fraction(block.shape[-1], self.rate_hz)
        if start_s is not None and block_stop_s <= start_s:
            return []
        if self.origin is None:
            self.origin = block_s
        step = round((block_s - self.origin) * self.rate_hz) - self.length
        added = []
        if step > LEAST_GAP_S * self.rate_hz:
            self.gaps += 1
            self.silent += step
            added.append(np.zeros((*block.shape[:-1], step), dtype=np.float32))
        elif step < -LEAST_GAP_S * self.rate_hz:
            block = block[..., -step:]
        added.append(block)
        self.length += sum(piece.shape[-1] for piece in added)
        return added
