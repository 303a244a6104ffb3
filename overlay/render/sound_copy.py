"""Sound tracks, packet by packet as the camera wrote them.

The footage is opened a second time for them, so that the picture's thread need not carry
packets, and a track that is stored far from the picture does not hold it up.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import RenderError
from sync.media import Footage
from sync.media.frames import only
from sync.media.opening import open_footage

if TYPE_CHECKING:
    from av.audio import AudioStream
    from av.audio.codeccontext import AudioCodecContext
    from av.container import InputContainer, OutputContainer
    from av.packet import Packet
    from av.stream import Stream

RUN_UP_S = Fraction(8, 100)
"""Sound kept before a cut, for the codec to settle in; the clip's edit list skips it. RFC 7845,
section 4.6, asks for 80 ms for Opus; other codecs need one packet."""


class SoundCopy:
    """Copies the packets of all sound tracks into a clip, as far as the picture has come.

    Parameters
    ----------
    source, out
        The opened footage, and the clip before its first packet.
    origin_s
        The instant of the footage clock that is 0 in the clip.
    start_s, stop_s
        The stretch to copy, on the footage clock; None for all that there is.
    """

    def __init__(
        self,
        source: InputContainer,
        out: OutputContainer,
        *,
        output: Path,
        origin_s: Fraction,
        start_s: Fraction | None,
        stop_s: Fraction | None,
    ) -> None:
        self.warnings: list[str] = []
        self._origin_s = origin_s
        self._start_s = start_s
        self._stop_s = stop_s
        self._out = out
        self._targets: dict[int, Stream] = {}
        for number, stream in enumerate(source.streams.audio):
            target = self._add(stream, number, output)
            if target is not None:
                self._targets[stream.index] = target
        kept = [s for s in source.streams.audio if s.index in self._targets]
        only(source, *kept)
        self._packets = self._wanted(source, kept)
        self._next = next(self._packets, None)

    def _add(self, stream: AudioStream, number: int, output: Path) -> Stream | None:
        context: AudioCodecContext | None = stream.codec_context  # None: no decoder here
        if context is None:
            self.warnings.append(f"sound track {number} is in a codec unknown here and is left out")
            return None
        codec = context.codec.canonical_name
        refusal = RenderError(
            f"sound track {number} is {codec}, which {output.suffix} files do not hold safely",
            path=output,
            advice="give the clip the ending .mov"
            if output.suffix.lower() == ".mp4"
            else "give the clip the ending .mp4",
        )
        if codec.startswith("pcm_") and output.suffix.lower() == ".mp4":
            raise refusal
        try:
            return self._out.add_stream_from_template(stream)
        except ValueError as error:
            raise refusal from error

    def _wanted(
        self, source: InputContainer, streams: list[AudioStream]
    ) -> Iterator[Packet[Stream]]:
        """Packets of the stretch; where the file breaks off, the sound ends."""
        import av

        if not streams:
            return
        if self._start_s is not None:
            self._seek(source, streams[0])
        done: set[int] = set()
        try:
            for packet in source.demux(*streams):
                if not self._stamped(packet):
                    continue
                begin_s, end_s = _stretch_s(packet)
                if self._stop_s is not None and begin_s >= self._stop_s:
                    done.add(packet.stream_index)
                    if len(done) == len(streams):
                        return
                elif self._start_s is None or end_s > self._start_s - RUN_UP_S:
                    yield packet
        except av.error.MemoryError:
            raise
        except av.FFmpegError:
            self.warnings.append("the sound breaks off where the file does")

    def _stamped(self, packet: Packet[Stream]) -> bool:
        """Whether a packet can be placed; says so once where one cannot."""
        if packet.size == 0:
            return False
        if packet.pts is None:
            packet.pts = packet.dts
        if packet.pts is None:
            lost = "sound packets without a time stamp are left out"
            if lost not in self.warnings:
                self.warnings.append(lost)
            return False
        return True

    def _seek(self, source: InputContainer, stream: AudioStream) -> None:
        import av

        if self._start_s is None or not stream.time_base:
            return
        offset = int((self._start_s - 1) / stream.time_base)
        first = stream.start_time or 0
        try:
            source.seek(max(offset, first), stream=stream, backward=True)
        except av.FFmpegError:
            source.seek(first, stream=stream, backward=True)

    def copy_until(self, t_footage_s: Fraction | None) -> None:
        """Mux what begins up to an instant of the footage clock; None for the rest."""
        while self._next is not None:
            packet = self._next
            if t_footage_s is not None and (packet.pts or 0) * packet.time_base > t_footage_s:
                return
            self._mux(packet)
            self._next = next(self._packets, None)

    def _mux(self, packet: Packet[Stream]) -> None:
        shift = round(self._origin_s / packet.time_base)
        packet.pts = None if packet.pts is None else packet.pts - shift
        packet.dts = packet.pts if packet.dts is None else packet.dts - shift
        packet.stream = self._targets[packet.stream_index]
        self._out.mux(packet)


def _stretch_s(packet: Packet[Stream]) -> tuple[Fraction, Fraction]:
    """Where a packet begins and ends on the footage clock."""
    begin = packet.pts or 0
    return begin * packet.time_base, (begin + (packet.duration or 0)) * packet.time_base


@contextmanager
def sound_copy(
    footage: Footage,
    out: OutputContainer,
    *,
    output: Path,
    origin_s: Fraction,
    start_s: Fraction | None,
    stop_s: Fraction | None,
) -> Iterator[SoundCopy | None]:
    """Open the footage for its sound; None where it has none."""
    if not footage.sound:
        yield None
        return
    with open_footage(footage.path) as source:
        yield SoundCopy(
            source, out, output=output, origin_s=origin_s, start_s=start_s, stop_s=stop_s
        )
