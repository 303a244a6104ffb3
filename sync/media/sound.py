"""The sound of a recording as samples on the footage clock.

Every decoded block stands where its time stamp puts it. What is missing between two blocks is
silence, and is counted; what two blocks both claim belongs to the first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sync.errors import FootageError
from sync.media.ffmpeg_log import caught
from sync.media.frames import only
from sync.media.opening import open_footage
from sync.media.probe import UNKNOWN_CODEC, Footage

if TYPE_CHECKING:
    from av import AudioFrame
    from av.audio import AudioStream
    from av.container import InputContainer

Samples = NDArray[np.float32]

PREROLL_S = 0.5
"""Decoding starts this much before the stretch that is wanted: codecs need a run-up."""

LEAST_GAP_S = 0.002
"""Time stamps in coarse units jitter; only a step larger than this is a gap."""

_CLAP_ADVICE = "tie this recording by a typed tie mark instead: align, with a frame and its time"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sound:
    """Mono samples on the footage clock.

    Parameters
    ----------
    samples : [shape=(n,), full scale is 1]
        The mean of the track's channels, read-only.
    rate_hz
        Samples a second.
    start_s
        When the first sample is, on the footage clock.
    gaps, silence_s
        How many holes there were, and the silence that fills them.
    """

    samples: Samples
    rate_hz: int
    start_s: float
    gaps: int
    silence_s: float
    warnings: tuple[str, ...] = ()

    @property
    def stop_s(self) -> float:
        """When the last sample ends, on the footage clock."""
        return self.start_s + len(self.samples) / self.rate_hz

    def seconds(self) -> NDArray[np.float64]:
        """When each sample is [shape=(n,), s], on the footage clock."""
        return self.start_s + np.arange(len(self.samples)) / self.rate_hz


def load_sound(
    footage: Footage,
    *,
    track: int = 0,
    rate_hz: int | None = None,
    start_s: float | None = None,
    stop_s: float | None = None,
) -> Sound:
    """Decode a sound track, or a stretch of it.

    Parameters
    ----------
    track
        Which of the sound tracks, counted from 0.
    rate_hz
        Sample rate wanted; the track's own where None.
    start_s, stop_s
        The stretch wanted, on the footage clock; the whole track where None.

    Raises
    ------
    FootageError
        Where there is no such track, it cannot be decoded, or it has nothing in the stretch.
    """
    if not footage.sound:
        raise FootageError("has no sound", path=footage.path, advice=_CLAP_ADVICE)
    if not 0 <= track < len(footage.sound):
        raise FootageError(
            f"has no sound track {track}",
            path=footage.path,
            allowed=tuple(str(known.track) for known in footage.sound),
        )
    with caught(this_thread_only=True) as messages, open_footage(footage.path) as container:
        stream = container.streams.audio[track]
        if footage.sound[track].codec == UNKNOWN_CODEC:
            raise FootageError(
                f"has a sound track {track} in a codec that cannot be decoded here",
                path=footage.path,
                advice=_CLAP_ADVICE,
            )
        only(container, stream)
        own_rate_hz = stream.codec_context.sample_rate
        placed = _Placed(rate_hz=own_rate_hz, start_s=start_s, stop_s=stop_s)
        for block_s, block in _blocks(container, stream, start_s):
            if not placed.add(block_s, block):
                break
    sound = placed.sound(messages.lines())
    if sound is None:
        raise FootageError(
            f"has no sound that can be decoded in track {track}{_stretch(start_s, stop_s)}",
            path=footage.path,
            advice=_CLAP_ADVICE,
        )
    return sound if rate_hz in (None, own_rate_hz) else _resampled(sound, int(rate_hz or 0))


def _stretch(start_s: float | None, stop_s: float | None) -> str:
    begin = "" if start_s is None else f" from {start_s:.3f} s"
    return begin + ("" if stop_s is None else f" up to {stop_s:.3f} s")


def _blocks(
    container: InputContainer, stream: AudioStream, start_s: float | None
) -> Iterator[tuple[Fraction, Samples]]:
    """Decoded blocks as mono, each with the time stamp of its first sample in seconds."""
    import av

    if start_s is not None and stream.time_base:
        offset = round((Fraction(start_s) - Fraction(PREROLL_S)) / stream.time_base)
        first = stream.start_time or 0
        try:
            container.seek(max(offset, first), stream=stream, backward=True)
        except av.FFmpegError:
            container.seek(first, stream=stream, backward=True)
    try:
        for packet in container.demux(stream):
            try:
                frames = packet.decode()
            except (av.error.InvalidDataError, av.error.EOFError):
                continue
            for frame in frames:
                if frame.pts is not None and frame.time_base is not None:
                    yield frame.pts * frame.time_base, mono(frame)
    except av.error.MemoryError:
        raise
    except av.FFmpegError:
        return  # cut off: the sound ends here


def mono(frame: AudioFrame) -> Samples:
    """The mean of a block's channels, full scale being 1 [shape=(n,)]."""
    values = frame.to_ndarray()
    if not frame.format.is_planar:
        values = values.reshape(-1, frame.layout.nb_channels).T
    if values.dtype == np.uint8:
        scaled = (values.astype(np.float32) - 128.0) / 128.0
    elif values.dtype.kind == "i":
        scaled = values.astype(np.float32) / 2.0 ** (8 * values.dtype.itemsize - 1)
    else:
        scaled = values.astype(np.float32)
    return np.asarray(scaled.mean(axis=0, dtype=np.float32))


class _Placed:
    """Blocks laid on a grid of samples that starts with the first of them."""

    def __init__(self, *, rate_hz: int, start_s: float | None, stop_s: float | None) -> None:
        self.rate_hz = rate_hz
        self.wanted = (start_s, stop_s)
        self.origin: Fraction | None = None
        self.parts: list[Samples] = []
        self.length = 0
        self.gaps = 0
        self.silent = 0

    def add(self, block_s: Fraction, block: Samples) -> bool:
        """Place a block; False once it lies beyond the stretch that is wanted."""
        start_s, stop_s = self.wanted
        if stop_s is not None and block_s >= Fraction(stop_s):
            return False
        block_stop_s = block_s + Fraction(len(block), self.rate_hz)
        if start_s is not None and block_stop_s <= Fraction(start_s):
            return True
        if self.origin is None:
            self.origin = block_s
        at = round((block_s - self.origin) * self.rate_hz)
        step = at - self.length
        if step > LEAST_GAP_S * self.rate_hz:
            self.gaps += 1
            self.silent += step
            self._append(np.zeros(step, dtype=np.float32))
        elif step < -LEAST_GAP_S * self.rate_hz:
            block = block[-step:]
        self._append(block)
        return True

    def _append(self, block: Samples) -> None:
        self.parts.append(block)
        self.length += len(block)

    def sound(self, warnings: tuple[str, ...]) -> Sound | None:
        """What was placed, cut to the stretch that was wanted."""
        if self.origin is None or self.length == 0:
            return None
        start_s, stop_s = self.wanted
        first, last = 0, self.length
        if start_s is not None:
            first = max(0, round((Fraction(start_s) - self.origin) * self.rate_hz))
        if stop_s is not None:
            last = min(last, round((Fraction(stop_s) - self.origin) * self.rate_hz))
        samples = np.concatenate(self.parts)[first : max(first, last)]
        if not len(samples):
            return None
        samples.setflags(write=False)
        holes = f"{self.gaps} gaps in the sound are filled with silence" if self.gaps else ""
        return Sound(
            samples=samples,
            rate_hz=self.rate_hz,
            start_s=float(self.origin + Fraction(first, self.rate_hz)),
            gaps=self.gaps,
            silence_s=self.silent / self.rate_hz,
            warnings=(*((holes,) if holes else ()), *warnings),
        )


def _resampled(sound: Sound, rate_hz: int) -> Sound:
    from scipy.signal import resample_poly  # 1 s: only where another rate is asked for

    ratio = Fraction(rate_hz, sound.rate_hz)
    samples = resample_poly(sound.samples, ratio.numerator, ratio.denominator)
    samples = np.asarray(samples, dtype=np.float32)
    samples.setflags(write=False)
    return Sound(
        samples=samples,
        rate_hz=rate_hz,
        start_s=sound.start_s,
        gaps=sound.gaps,
        silence_s=sound.silence_s,
        warnings=sound.warnings,
    )
