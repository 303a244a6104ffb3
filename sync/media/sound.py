"""The sound of a recording as samples on the footage clock, be it one file or several."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

import numpy as np

from sync.errors import FootageError
from sync.media.ffmpeg_log import caught
from sync.media.footage import UNKNOWN_CODEC, Footage
from sync.media.sound_blocks import Laying, Samples, sound_blocks
from sync.media.sound_row import Row

if TYPE_CHECKING:
    from numpy.typing import NDArray

Channels = Literal["mean", "each"]

_CLAP_ADVICE = "tie this recording by a typed tie mark instead: align, with a frame and its time"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sound:
    """Samples on the footage clock.

    Parameters
    ----------
    samples : [shape=(n,) or (channels, n), full scale is 1]
        The mean of the track's channels, or each of them for itself; read-only.
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
        return self.start_s + int(self.samples.shape[-1]) / self.rate_hz

    def seconds(self) -> NDArray[np.float64]:
        """When each sample is [shape=(n,), s], on the footage clock."""
        return self.start_s + np.arange(self.samples.shape[-1]) / self.rate_hz


def load_sound(
    footage: Footage,
    *,
    track: int = 0,
    channels: Channels = "mean",
    rate_hz: int | None = None,
    start_s: float | None = None,
    stop_s: float | None = None,
) -> Sound:
    """Decode a sound track, or a stretch of it.

    Parameters
    ----------
    track
        Which of the sound tracks, counted from 0.
    channels
        Their "mean", as one who listens wants it, or "each" for itself: a timecode stands on
        one channel alone, and the mean buries it under the others.
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
    placed = _Placed(
        rate_hz=own_rate_hz, wanted_hz=rate_hz or own_rate_hz, start_s=start_s, stop_s=stop_s
    )
    with (
        caught(this_thread_only=True) as messages,
        closing(sound_blocks(footage, track, start_s)) as blocks,
    ):
        for block_s, block in blocks:
            wanted = block if channels == "each" else block.mean(axis=0, dtype=np.float32)
            if placed.changes(wanted):
                raise FootageError(
                    f"has another number of channels of sound from {float(block_s):.3f} s on, so "
                    "that none can be heard throughout",
                    path=footage.path,
                    advice=_CLAP_ADVICE,
                )
            if not placed.add(block_s, np.asarray(wanted)):
                break
    sound = placed.sound(messages.lines())
    if sound is None:
        raise FootageError(
            f"has no sound that can be decoded in track {track}{_stretch(start_s, stop_s)}",
            path=footage.path,
            advice=_CLAP_ADVICE,
        )
    return sound


def _stretch(start_s: float | None, stop_s: float | None) -> str:
    begin = "" if start_s is None else f" from {start_s:.3f} s"
    return begin + ("" if stop_s is None else f" up to {stop_s:.3f} s")


class _Placed:
    """Blocks laid on a grid of samples that starts with the first of them."""

    def __init__(
        self, *, rate_hz: int, wanted_hz: int, start_s: float | None, stop_s: float | None
    ) -> None:
        self.laying = Laying(rate_hz=rate_hz, start_s=_exact(start_s), stop_s=_exact(stop_s))
        self.row = Row(Fraction(wanted_hz, rate_hz))
        self.wanted_hz = wanted_hz
        self.channels: tuple[int, ...] | None = None

    def changes(self, block: Samples) -> bool:
        """Whether a block has other channels than those before it."""
        return self.channels not in (None, block.shape[:-1])

    def add(self, block_s: Fraction, block: Samples) -> bool:
        """Place a block; False once it lies beyond the stretch that is wanted."""
        before = self.laying.length
        added = self.laying.lay(block_s, block)
        if added is None:
            return False
        self.channels = block.shape[:-1]
        for part in added:
            first, last = self._wanted()
            self.row.add(part[..., max(0, first - before) : max(0, last - before)])
            before += part.shape[-1]
        return True

    def _wanted(self) -> tuple[int, int]:
        """The samples that are wanted, by their numbers from the first that was laid."""
        laid, (start_s, stop_s) = self.laying, self.laying.wanted
        assert laid.origin is not None
        first, last = 0, laid.length
        if start_s is not None:
            first = max(0, round((start_s - laid.origin) * laid.rate_hz))
        if stop_s is not None:
            last = min(last, round((stop_s - laid.origin) * laid.rate_hz))
        return first, max(first, last)

    def sound(self, warnings: tuple[str, ...]) -> Sound | None:
        """What was placed of the stretch that was wanted."""
        laid = self.laying
        if laid.origin is None or not (samples := self.row.whole()).size:
            return None
        samples.setflags(write=False)
        holes = f"{laid.gaps} gaps in the sound are filled with silence" if laid.gaps else ""
        return Sound(
            samples=samples,
            rate_hz=self.wanted_hz,
            start_s=float(laid.origin + Fraction(self._wanted()[0], laid.rate_hz)),
            gaps=laid.gaps,
            silence_s=laid.silent / laid.rate_hz,
            warnings=(*((holes,) if holes else ()), *warnings),
        )


def _exact(t_s: float | None) -> Fraction | None:
    return None if t_s is None else Fraction(t_s)
