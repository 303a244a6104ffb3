"""Pieces of many pictures, one stack for each field, still and pointer, and their reading."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from overlay.audit.reading.fonts import Fonts
from overlay.audit.reading.frames import Seen
from overlay.audit.reading.keeping import Codes
from overlay.audit.reading.paths import Looker, path_of
from overlay.audit.reading.placing import Cutter, Placement
from overlay.audit.reading.pointers import UNSEEN, Finder, Place
from overlay.audit.reading.products import Floats
from overlay.audit.reading.readers.base import Reader
from overlay.audit.reading.result import UNREAD, Readings
from overlay.audit.reading.spots import Spot, spots_of
from overlay.audit.reading.tables import When, pointers_table, texts_table
from overlay.audit.reading.texts import Text
from overlay.errors import RenderError
from overlay.ledger import Layout, Lettered, Pointer

DEEP, MOST_BYTES = (32, 240), 4_000_000
"""Pictures that are read at once, at least and at most; in between as many as fill so much."""

PATHS_DEEP = 48
"""The same for paths."""


class _Stack:
    """Pieces of one spot."""

    def __init__(self, spot: Spot) -> None:
        self.spot = spot
        self._codes: Codes = np.empty((0,))
        self._shape: tuple[int, ...] = ()
        self._cut: Cutter | None = None
        self.when: list[When] = []
        self.found: list[tuple[When, Text]] = []

    def add(self, seen: Seen, place: Placement, reader: Reader) -> None:
        """Cut out of a picture what lies here, and read what there is if that is enough."""
        when, luma = (seen.frame, seen.pts, seen.t_s), seen.planes[0]
        if luma.shape != self._shape:
            self.read(reader)
            self._cut, self._shape = self.spot.window.cutter(place, luma.shape), luma.shape
            self._codes = np.empty((0,))
        if self._cut is None or self.spot.too_small:
            self.found.append((when, Text(UNREAD, 0.0)))
            return
        found = self._cut(luma)
        if not len(self._codes):
            deep = int(np.clip(MOST_BYTES // found.nbytes, *DEEP))
            self._codes = np.empty((deep, *found.shape), found.dtype)
        self._codes[len(self.when)] = found
        self.when.append(when)
        if len(self.when) == len(self._codes):
            self.read(reader)

    def read(self, reader: Reader) -> None:
        """Read what lies here, and begin anew."""
        if self.when:
            texts = reader.read(self.spot, self._codes[: len(self.when)])
            self.found.extend(zip(self.when, texts, strict=True))
            self.when.clear()


class _PathStack:
    """Colours along one pointer's path."""

    def __init__(self, index: int, pointer: Pointer, layout: Layout, place: Placement, seen: Seen):
        self.index = index
        self.pointer = pointer
        path = path_of(pointer)
        self._looker = Looker(path, place, seen.planes)
        self._finder = Finder(pointer, path, layout, seen.depth)
        self._colours: Floats = np.empty((PATHS_DEEP, len(path.share), 3), np.float32)
        self._when: list[When] = []
        self.found: list[tuple[When, Place]] = []

    def add(self, seen: Seen) -> None:
        when = (seen.frame, seen.pts, seen.t_s)
        if not self._looker.inside:
            self.found.append((when, UNSEEN))
            return
        self._colours[len(self._when)] = self._looker.look(seen.planes)
        self._when.append(when)
        if len(self._when) == PATHS_DEEP:
            self.read()

    def read(self) -> None:
        """Find the mark in what lies here, and begin anew."""
        if self._when:
            places = self._finder.find(self._colours[: len(self._when)])
            self.found.extend(zip(self._when, places, strict=True))
            self._when.clear()


class Stacks:
    """All stacks of a layout.

    Parameters
    ----------
    clock
        From the clip's seconds to UTC; without one everything is looked for on every frame.
    """

    def __init__(
        self,
        layout: Layout,
        fonts: Fonts,
        place: Placement,
        reader: Reader,
        clock: Callable[[float], float] | None,
    ) -> None:
        self._layout = layout
        self._fonts = fonts
        self._place = place
        self._reader = reader
        self._clock = clock
        self._stacks: list[_Stack] | None = None
        self._paths: list[_PathStack] = []
        self._depth = 0
        self._frames = 0

    def add(self, seen: Seen) -> None:
        """Cut what is looked for out of a picture."""
        if self._stacks is None:
            spots = spots_of(self._layout, self._fonts, self._place, seen.depth)
            self._stacks = [_Stack(spot) for spot in spots]
            self._paths = [
                _PathStack(n, pointer, self._layout, self._place, seen)
                for n, pointer in enumerate(self._layout.pointers)
            ]
            self._depth = seen.depth
        if seen.depth != self._depth:
            raise RenderError(
                "the pictures of this clip change their depth",
                advice="export it anew from the editing program",
            )
        self._frames += 1
        utc_s = None if self._clock is None else self._clock(seen.t_s)
        for stack in self._stacks:
            if self._shown(stack.spot.lettered, utc_s):
                stack.add(seen, self._place, self._reader)
        for path in self._paths:
            if self._shown(path.pointer, utc_s):
                path.add(seen)

    def _shown(self, one: Lettered | Pointer, utc_s: float | None) -> bool:
        if utc_s is None:
            return True
        begins, ends = self._layout.shown_utc_s
        begins = begins if one.from_utc_s is None else max(begins, one.from_utc_s)
        ends = ends if one.to_utc_s is None else min(ends, one.to_utc_s)
        return begins <= utc_s < ends

    def finish(self) -> Readings:
        """Read what is left, and give all of it."""
        stacks = self._stacks or []
        for stack in stacks:
            stack.read(self._reader)
        for path in self._paths:
            path.read()
        return Readings(
            texts=texts_table([(stack.spot, stack.found) for stack in stacks]),
            pointers=pointers_table([(one.index, one.pointer, one.found) for one in self._paths]),
            frames=self._frames,
        )
