"""What the demo's footage is made to, and the name under which a cache keeps it."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from demo_media.cache import key_of


@dataclass(frozen=True, slots=True, kw_only=True)
class FootageRecipe:
    """Size, length and encoder settings of the footage.

    Parameters
    ----------
    width_px, height_px
        Picture; both even.
    rate
        Frames a second.
    length_s
        Length from the recording's start, which the scenario fixes.
    crf, preset, threads
        x264's settings; its pictures depend on the number of threads, which is fixed.
    sound_rate_hz
        Samples of sound a second.
    """

    width_px: int = 1280
    height_px: int = 720
    rate: int = 30
    length_s: float = 40.0
    crf: float = 20.0
    preset: str = "veryfast"
    threads: int = 2
    sound_rate_hz: int = 48000

    def __post_init__(self) -> None:
        if self.width_px % 2 or self.height_px % 2 or min(self.width_px, self.height_px) < 64:
            raise ValueError("the picture's sides must be even and at least 64 pixels")
        if not 0 < self.length_s <= 120 or self.rate < 1:
            raise ValueError("footage needs a rate and a length of up to two minutes")

    @property
    def frames(self) -> int:
        """Number of frames."""
        return round(self.length_s * self.rate)

    def key(self) -> str:
        """A name that changes with the recipe and with any line of this package."""
        return key_of(json.dumps(asdict(self), sort_keys=True))
