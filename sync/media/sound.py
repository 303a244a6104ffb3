"""The sound of a recording as samples on the footage clock, be it one file or several."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from sync.errors import FootageError
from sync.media.ffmpeg_log import caught
from sync.media.footage import UNKNOWN_CODEC, Footage
from sync.media.sound_blocks import Laying, Samples, sound_blocks

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
    if footage.sound[track].codec == UNKNOWN_CODEC:
        raise FootageError(
            f"has a sound track {track} in a codec that cannot be decoded here",
            path=footage.path,
            advice=_CLAP_ADVICE,
        )
    own_rate_hz = footage.sound[track].rate_hz
    placed = _Placed(rate_hz=own_rate_hz, start_s=start_s, stop_s=stop_s)
    with (
        caught(this_thread_only=True) as messages,
        closing(sound_blocks(footage, track, start_s)) as blocks,
    ):
        for block_s, block in blocks:
            if not placed.add(block_s, np.asarray(block.mean(axis=0, dtype=np.float32))):
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


class _Placed:
    """Mono blocks laid on a grid of samples that starts with the first of them."""

    def __init__(self, *, rate_hz: int, start_s: float | None, stop_s: float | None) -> None:
        self.laying = Laying(rate_hz=rate_hz, start_s=_exact(start_s), stop_s=_exact(stop_s))
        self.parts: list[Samples] = []

    def add(self, block_s: Fraction, block: Samples) -> bool:
        """Place a block; False once it lies beyond the stretch that is wanted."""
        added = self.laying.lay(block_s, block)
        if added is None:
            return False
        self.parts += added
        return True

    def sound(self, warnings: tuple[str, ...]) -> Sound | None:
        """What was placed, cut to the stretch that was wanted."""
        laid, rate_hz = self.laying, self.laying.rate_hz
        if laid.origin is None or laid.length == 0:
            return None
        start_s, stop_s = laid.wanted
        first, last = 0, laid.length
        if start_s is not None:
            first = max(0, round((start_s - laid.origin) * rate_hz))
        if stop_s is not None:
            last = min(last, round((stop_s - laid.origin) * rate_hz))
        samples = np.concatenate(self.parts)[first : max(first, last)]
        if not len(samples):
            return None
        samples.setflags(write=False)
        holes = f"{laid.gaps} gaps in the sound are filled with silence" if laid.gaps else ""
        return Sound(
            samples=samples,
            rate_hz=rate_hz,
            start_s=float(laid.origin + Fraction(first, rate_hz)),
            gaps=laid.gaps,
            silence_s=laid.silent / rate_hz,
            warnings=(*((holes,) if holes else ()), *warnings),
        )


def _exact(t_s: float | None) -> Fraction | None:
    return None if t_s is None else Fraction(t_s)


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
