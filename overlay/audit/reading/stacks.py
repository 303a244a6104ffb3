"""Pieces of many pictures, one stack for each field, still and pointer, and their reading."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.reading.fonts import Fonts
from overlay.audit.reading.frames import Seen
from overlay.audit.reading.paths import Looker, path_of
from overlay.audit.reading.placing import Placement, piece
from overlay.audit.reading.pointers import UNSEEN, Finder, Place
from overlay.audit.reading.products import Floats
from overlay.audit.reading.readers.base import Reader
from overlay.audit.reading.result import POINTER_COLUMNS, TEXT_COLUMNS, UNREAD, Readings
from overlay.audit.reading.spots import Spot, spots_of
from overlay.audit.reading.texts import Text
from overlay.errors import RenderError
from overlay.ledger import Layout, Lettered, Pointer

if TYPE_CHECKING:
    from pandas import DataFrame

DEEP = 48
"""Pictures that are read at once."""

When = tuple[int, int, float]
"""Frame, time stamp and second."""


class _Stack:
    """Pieces of one spot."""

    def __init__(self, spot: Spot) -> None:
        self.spot = spot
        self.codes: Floats = np.empty((DEEP, *spot.window.shape), np.float32)
        self.when: list[When] = []
        self.found: list[tuple[When, Text]] = []

    def add(self, seen: Seen, place: Placement) -> None:
        window = self.spot.window
        when = (seen.frame, seen.pts, seen.t_s)
        if not window.inside(place, seen.planes[0].shape):
            self.found.append((when, Text(UNREAD, 0.0)))
            return
        self.codes[len(self.when)] = piece(seen.planes[0], window, place)
        self.when.append(when)

    def read(self, reader: Reader) -> None:
        """Read what lies here, and begin anew."""
        if self.when:
            texts = reader.read(self.spot, self.codes[: len(self.when)])
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
        self._colours: Floats = np.empty((DEEP, len(path.share), 3), np.float32)
        self._when: list[When] = []
        self.found: list[tuple[When, Place]] = []

    def add(self, seen: Seen) -> None:
        when = (seen.frame, seen.pts, seen.t_s)
        if not self._looker.inside:
            self.found.append((when, UNSEEN))
            return
        self._colours[len(self._when)] = self._looker.look(seen.planes)
        self._when.append(when)
        if len(self._when) == DEEP:
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
                stack.add(seen, self._place)
                if len(stack.when) == DEEP:
                    stack.read(self._reader)
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
        import pandas as pd

        stacks = self._stacks or []
        for stack in stacks:
            stack.read(self._reader)
        parts = [_table(stack) for stack in stacks if stack.found]
        texts = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=TEXT_COLUMNS)
        texts = texts.sort_values(["frame", "kind", "index"], ignore_index=True)
        for path in self._paths:
            path.read()
        found = [_pointer_table(path) for path in self._paths if path.found]
        pointers = (
            pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=POINTER_COLUMNS)
        )
        pointers = pointers.sort_values(["frame", "index"], ignore_index=True)
        return Readings(texts=texts, pointers=pointers, frames=self._frames)


def _table(stack: _Stack) -> DataFrame:
    import pandas as pd

    spot, found = stack.spot, stack.found
    when, texts = zip(*found, strict=True)
    frames, stamps, seconds = zip(*when, strict=True)
    return pd.DataFrame(
        {
            "frame": np.array(frames, np.int64),
            "pts": np.array(stamps, np.int64),
            "t_clip_s": np.array(seconds, np.float64),
            "kind": spot.kind,
            "index": spot.index,
            "instrument": spot.lettered.instrument,
            "item": spot.item,
            "text": [one.text for one in texts],
            "confidence": np.array([one.confidence for one in texts], np.float64),
            "legible": [one.legible for one in texts],
        },
        columns=TEXT_COLUMNS,
    )


def _pointer_table(path: _PathStack) -> DataFrame:
    import pandas as pd

    when, places = zip(*path.found, strict=True)
    frames, stamps, seconds = zip(*when, strict=True)
    return pd.DataFrame(
        {
            "frame": np.array(frames, np.int64),
            "pts": np.array(stamps, np.int64),
            "t_clip_s": np.array(seconds, np.float64),
            "index": path.index,
            "instrument": path.pointer.instrument,
            "item": path.pointer.item,
            "value": np.array([one.value for one in places], np.float64),
            "sd": np.array([one.sd for one in places], np.float64),
            "legible": [one.legible for one in places],
        },
        columns=POINTER_COLUMNS,
    )
