"""Sound tracks, packet by packet as the camera wrote them.

The footage is opened a second time for them, so that the picture's thread need not carry
packets, and a track that is stored far from the picture does not hold it up. The files of a
recording in several follow on each other packet by packet.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import RenderError
from sync.media import Footage
from sync.media.footage import Part, parts_of
from sync.media.frames import only
from sync.media.opening import open_footage
from sync.media.sound_blocks import bare

if TYPE_CHECKING:
    from av.audio import AudioStream
    from av.audio.codeccontext import AudioCodecContext
    from av.container import InputContainer, OutputContainer
    from av.packet import Packet
    from av.stream import Stream

RUN_UP_S = Fraction(8, 100)
"""Sound kept before a cut, for the codec to settle in; the clip's edit list skips it. RFC 7845,
section 4.6, asks for 80 ms for Opus; other codecs need one packet."""


LATE_S = 1
"""A file's sound may begin this much before its picture and no more."""

if TYPE_CHECKING:
    _Placed = tuple[Packet[Stream], Stream, Fraction]


class SoundCopy:
    """Copies the packets of all sound tracks into a clip, as far as the picture has come.

    Parameters
    ----------
    footage, out
        The recording, and the clip before its first packet.
    origin_s
        The instant of the footage clock that is 0 in the clip.
    start_s, stop_s
        The stretch to copy, on the footage clock; None for all that there is.
    """

    def __init__(
        self,
        footage: Footage,
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
        self._targets: list[Stream | None] = []
        parts = parts_of(footage)
        with open_footage(parts[0].film.path) as source:
            for number, stream in enumerate(source.streams.audio):
                self._targets.append(self._add(stream, number, output))
        self._packets = self._all_wanted(parts)
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

    def _all_wanted(self, parts: tuple[Part, ...]) -> Iterator[_Placed]:
        """Packets of the stretch out of all files, with their targets and places."""
        if not any(self._targets):
            return
        for number, part in enumerate(parts):
            following = parts[number + 1] if number + 1 < len(parts) else None
            if self._start_s is not None and following is not None:
                starts = [s.start_s for s in following.sound if s.start_s is not None]
                if starts and max(starts) <= self._start_s - RUN_UP_S:
                    continue
            if self._stop_s is not None and part.start_s > self._stop_s + LATE_S:
                return
            yield from self._wanted(part)

    def _wanted(self, part: Part) -> Iterator[_Placed]:
        """Packets of the stretch out of one file; where it breaks off, the sound ends."""
        import av

        with open_footage(part.film.path) as source:
            places = [
                (stream, target, sound)
                for stream, target, sound in zip(
                    source.streams.audio, self._targets, part.sound, strict=True
                )
                if target is not None
            ]
            only(source, *(stream for stream, _, _ in places))
            if self._start_s is not None:
                self._seek(source, places[0][0], self._start_s - places[0][2].shift_s)
            by_index = {stream.index: (target, sound) for stream, target, sound in places}
            done: set[int] = set()
            try:
                for packet in source.demux(*(stream for stream, _, _ in places)):
                    if not self._stamped(packet):
                        continue
                    target, sound = by_index[packet.stream_index]
                    shift_s = sound.shift_s
                    begin_s, end_s = (t + shift_s for t in _stretch_s(packet))
                    if sound.is_repeated(begin_s - shift_s):
                        continue
                    if self._stop_s is not None and begin_s >= self._stop_s:
                        done.add(packet.stream_index)
                        if len(done) == len(by_index):
                            return
                    elif self._start_s is None or end_s > self._start_s - RUN_UP_S:
                        yield (bare(packet) if part.runs_on else packet), target, shift_s
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

    def _seek(self, source: InputContainer, stream: AudioStream, start_s: Fraction) -> None:
        import av

        if not stream.time_base:
            return
        offset = int((start_s - 1) / stream.time_base)
        first = stream.start_time or 0
        try:
            source.seek(max(offset, first), stream=stream, backward=True)
        except av.FFmpegError:
            source.seek(first, stream=stream, backward=True)

    def copy_until(self, t_footage_s: Fraction | None) -> None:
        """Mux what begins up to an instant of the footage clock; None for the rest."""
        while self._next is not None:
            packet, target, shift_s = self._next
            begin_s = (packet.pts or 0) * packet.time_base + shift_s
            if t_footage_s is not None and begin_s > t_footage_s:
                return
            self._mux(packet, target, shift_s)
            self._next = next(self._packets, None)

    def _mux(self, packet: Packet[Stream], target: Stream, shift_s: Fraction) -> None:
        shift = round((self._origin_s - shift_s) / packet.time_base)
        packet.pts = None if packet.pts is None else packet.pts - shift
        packet.dts = packet.pts if packet.dts is None else packet.dts - shift
        packet.stream = target
        self._out.mux(packet)


def _stretch_s(packet: Packet[Stream]) -> tuple[Fraction, Fraction]:
    """Where a packet begins and ends on the footage clock."""
    begin = packet.pts or 0
    return begin * packet.time_base, (begin + (packet.duration or 0)) * packet.time_base
