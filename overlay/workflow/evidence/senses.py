"""What cameras heard and saw, each recording decoded once for all who want to know."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sync.clock import Span
from sync.clues import Watched, watched
from sync.media import frame_times, load_sound, small_frames

if TYPE_CHECKING:
    from sync.media import Footage, Sound

COMPARED_HZ = 12_000
"""Two recordings are held against each other at this rate: what is above 6 kHz, wind and spray
drown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The stretches of a recording that are looked at, in order and apart. `turning` is the one,
    inside one of them, in which the picture's turning is wanted."""

    spans: tuple[Span, ...]
    turning: Span | None


class Senses:
    """The senses of recordings, and what was seen in their pictures."""

    def __init__(self) -> None:
        self._heard: dict[Path, Sound] = {}
        self._small: dict[Path, Sound] = {}
        self._seen: dict[Path, Watched] = {}

    def heard(self, footage: Footage) -> Sound:
        """A recording's first sound track.

        Raises
        ------
        FootageError
            Where it has none that can be decoded.
        """
        if footage.path not in self._heard:
            self._heard[footage.path] = load_sound(footage)
        return self._heard[footage.path]

    def heard_small(self, footage: Footage) -> Sound:
        """The same at a rate that two sounds are compared at; an hour of it is 173 MB.

        Raises
        ------
        FootageError
            As `heard`.
        """
        if footage.path not in self._small:
            self._small[footage.path] = load_sound(footage, rate_hz=COMPARED_HZ)
        return self._small[footage.path]

    def seen(self, footage: Footage, look: Look | None = None) -> Watched:
        """The flashes in a recording's picture, and how it turned.

        Parameters
        ----------
        look
            What to look at; what has been looked at before is not looked at again, and all of it
            is where nobody says.

        Raises
        ------
        FootageError
            Where it cannot be decoded.
        """
        if footage.path not in self._seen:
            self._seen[footage.path] = _watched(footage, look or _all_of(footage))
        return self._seen[footage.path]


def _all_of(footage: Footage) -> Look:
    film = frame_times(footage).span
    return Look(spans=(film,), turning=film)


def _watched(footage: Footage, look: Look) -> Watched:
    """What is seen in the stretches that are looked at, each decoded once."""
    parts = [watched(small_frames(footage, span=span), look.turning) for span in look.spans]
    turning = max((part.turning for part in parts), key=lambda one: one.t_s.size)
    return Watched(flashes=tuple(f for part in parts for f in part.flashes), turning=turning)
