"""Sound tracks decoded and encoded anew, for recordings whose files do not run on.

Each sample stands on the recording's clock as `load_sound` has it: the run-up and the padding
of each file's encoder are left out, and holes are silence.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from overlay.errors import RenderError
from sync.media import Footage, SoundTrack
from sync.media.footage import UNKNOWN_CODEC, parts_of
from sync.media.opening import open_footage
from sync.media.sound_blocks import Laying, Samples, sound_blocks

if TYPE_CHECKING:
    from av.audio import AudioStream
    from av.container import OutputContainer

ENCODERS = {"mp3": "libmp3lame", "opus": "libopus", "vorbis": "libvorbis"}
"""Encoders whose names are not those of their codecs."""

LEAST_BITS_A_CHANNEL = 96_000
"""Bits a second and channel of a coded track, or the camera's own if it spent more: the second
encoding is to add nothing that can be heard."""

ANEW = (
    "each file of the recording begins its sound anew, so the sound is decoded, joined and "
    "encoded once more"
)


class SoundEncode:
    """Encodes all sound tracks into a clip, as far as the picture has come.

    The parameters are those of `overlay.render.sound_copy.SoundCopy`.
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
        self.warnings = [ANEW]
        rates = _bit_rates(footage)
        self._tracks: list[_Track] = []
        for track, bit_rate in zip(footage.sound, rates, strict=True):
            if track.codec == UNKNOWN_CODEC:
                self.warnings.append(
                    f"sound track {track.track} is in a codec unknown here and is left out"
                )
                continue
            stream = _stream(out, track, bit_rate, output)
            samples = _laid(footage, track.track, start_s, stop_s)
            self._tracks.append(_Track(out, stream, track, samples, origin_s))

    def copy_until(self, t_footage_s: Fraction | None) -> None:
        """Mux what begins up to an instant of the footage clock; None for the rest."""
        for track in self._tracks:
            track.encode_until(t_footage_s)


class _Track:
    """One track: its samples still to come, and the encoder that takes them."""

    def __init__(
        self,
        out: OutputContainer,
        stream: AudioStream,
        track: SoundTrack,
        samples: Iterator[tuple[Fraction, Samples]],
        origin_s: Fraction,
    ) -> None:
        self._out, self._stream, self._samples = out, stream, samples
        self._rate_hz, self._layout, self._origin_s = track.rate_hz, track.layout, origin_s
        self._reached: Fraction | None = None
        self._done = False

    def encode_until(self, t_footage_s: Fraction | None) -> None:
        """Encode what begins up to an instant; None for the rest."""
        while not self._done:
            reached = self._reached
            if t_footage_s is not None and reached is not None and reached > t_footage_s:
                return
            entry = next(self._samples, None)
            if entry is None:
                self._done = True
                self._out.mux(self._stream.encode(None))
                return
            begin_s, block = entry
            self._encode(begin_s, block)
            self._reached = begin_s + Fraction(block.shape[1], self._rate_hz)

    def _encode(self, begin_s: Fraction, block: Samples) -> None:
        from av import AudioFrame

        frame = AudioFrame.from_ndarray(np.ascontiguousarray(block), "fltp", self._layout)
        frame.sample_rate = self._rate_hz
        frame.time_base = Fraction(1, self._rate_hz)
        frame.pts = round((begin_s - self._origin_s) * self._rate_hz)
        self._out.mux(self._stream.encode(frame))


def _laid(
    footage: Footage, track: int, start_s: Fraction | None, stop_s: Fraction | None
) -> Iterator[tuple[Fraction, Samples]]:
    """The samples of a stretch without hole or overlap, in blocks with their instants."""
    rate_hz = footage.sound[track].rate_hz
    laying = Laying(rate_hz=rate_hz, start_s=start_s, stop_s=stop_s)
    with closing(sound_blocks(footage, track, start_s)) as blocks:
        for block_s, block in blocks:
            before = laying.length
            added = laying.lay(block_s, block)
            if added is None:
                return
            if laying.origin is None:
                continue
            begin_s = laying.origin + Fraction(before, rate_hz)
            for piece in added:
                yield from _within(begin_s, piece, rate_hz, start_s, stop_s)
                begin_s += Fraction(piece.shape[1], rate_hz)


def _within(
    begin_s: Fraction,
    piece: Samples,
    rate_hz: int,
    start_s: Fraction | None,
    stop_s: Fraction | None,
) -> Iterator[tuple[Fraction, Samples]]:
    """What of a piece lies in the stretch."""
    first = 0 if start_s is None else max(0, round((start_s - begin_s) * rate_hz))
    last = piece.shape[1]
    if stop_s is not None:
        last = min(last, round((stop_s - begin_s) * rate_hz))
    if first < last:
        yield begin_s + Fraction(first, rate_hz), piece[:, first:last]


def _stream(out: OutputContainer, track: SoundTrack, bit_rate: int, output: Path) -> AudioStream:
    from av.audio import AudioStream

    if track.codec.startswith("pcm_") and output.suffix.lower() == ".mp4":
        raise RenderError(
            f"sound track {track.track} is {track.codec}, which .mp4 files do not hold safely",
            path=output,
            advice="give the clip the ending .mov",
        )
    stream = out.add_stream(_encoder(track.codec), rate=track.rate_hz)
    assert isinstance(stream, AudioStream)
    stream.codec_context.layout = track.layout
    if not track.codec.startswith("pcm_"):
        stream.codec_context.bit_rate = max(bit_rate, LEAST_BITS_A_CHANNEL * track.channels)
    return stream


def _encoder(codec: str) -> str:
    """The camera's own codec where there is an encoder for it, else AAC."""
    import av

    name = ENCODERS.get(codec, codec)
    try:
        av.Codec(name, "w")
    except ValueError:
        return "aac"
    return name


def _bit_rates(footage: Footage) -> list[int]:
    with open_footage(parts_of(footage)[0].film.path) as source:
        return [stream.bit_rate or 0 for stream in source.streams.audio]
