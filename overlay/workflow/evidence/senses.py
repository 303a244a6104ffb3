"""What cameras heard and saw, each recording decoded once for all who want to know."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sync.clues import watched
from sync.media import load_sound, small_frames

if TYPE_CHECKING:
    from sync.clues import Watched
    from sync.media import Footage, Sound

COMPARED_HZ = 12_000
"""Two recordings are held against each other at this rate: what is above 6 kHz, wind and spray
drown."""


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

    def seen(self, footage: Footage) -> Watched:
        """The flashes in a recording's picture, and how it turned.

        Raises
        ------
        FootageError
            Where it cannot be decoded.
        """
        if footage.path not in self._seen:
            self._seen[footage.path] = watched(small_frames(footage))
        return self._seen[footage.path]
