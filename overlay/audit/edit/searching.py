"""The likeliest places of a window of a film, and a closer look at each."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.by_prints import look_at_prints
from overlay.audit.edit.covers import Cover, Edges, hidden_by
from overlay.audit.edit.film import FilmPictures
from overlay.audit.edit.fit import Fitted, ranked
from overlay.audit.edit.framing import (
    Framing,
    canonical_size,
    cells_of,
    likely_framings,
    other_framings,
    picture_box,
    resized,
    unframed,
)
from overlay.audit.edit.haystack import WINDOW_S, Haystack, Line, places
from overlay.audit.edit.looking import Sighting, SourcePictures, look
from overlay.audit.edit.sources import Source

if TYPE_CHECKING:
    from numpy.typing import NDArray

_log = logging.getLogger(__name__)

AROUND_S = 0.25
LOOK_S = 0.4
LOOK_PICTURES = 6
LEAST_FRAMES = 5
"""Fewer cannot show a speed."""
MOST_LOOKS = 6
LIKELY = 3.0
"""A place whose prints are off by more than this many times the best place's is not looked at."""

ALSO = (1.5, 0.3)
"""Where one place agrees, those of other sources are looked at whose prints are off by no more than
so many times as much, and codes more: the same recording with other instruments, or none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How much is tried: parts of the picture left out by turns, unlikely framings, and recordings
    under what transparent renders may hide of them."""

    by_parts: bool = False
    other_framings: bool = False
    covered: bool = False


QUICK, COVERED = Search(), Search(covered=True)
THOROUGH, COVERED_THOROUGH = (replace(one, by_parts=True) for one in (QUICK, COVERED))
FRAMINGS, COVERED_FRAMINGS = (replace(one, other_framings=True) for one in (QUICK, COVERED))


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A place that was looked at."""

    line: Line
    framing: Framing
    misfit: float
    sighting: Sighting


Stacks = tuple[tuple[tuple[float, float], Haystack], ...]
"""Sources of one shape together, with the size of one of them."""


def _stacks(sources: Sequence[Source], members: Iterable[int]) -> Stacks:
    shapes: dict[tuple[int, int], list[int]] = {}
    for number in members:
        if len(sources[number].times_s):
            shapes.setdefault(canonical_size(sources[number].size_px), []).append(number)
    return tuple((sources[alike[0]].size_px, Haystack(sources, alike)) for alike in shapes.values())


@dataclass(slots=True, kw_only=True, eq=False)
class Searcher:
    """What the search for a shot needs, prepared once for a film."""

    film: FilmPictures
    sources: Sequence[Source]
    covers: Sequence[Cover] = ()
    pictures: SourcePictures = field(init=False)
    stacks: Stacks = field(init=False)
    bare: Stacks = field(init=False)

    def __post_init__(self) -> None:
        self.pictures = SourcePictures(self.sources)
        self.stacks = _stacks(self.sources, range(len(self.sources)))
        recordings = [number for number, one in enumerate(self.sources) if not one.clip]
        self.bare = _stacks(self.sources, recordings if self.covers else ())

    def windows(self, piece: range) -> list[range]:
        """The middle of a stretch; then its ends, should there be a cut in it."""
        times = self.film.times_s
        length_s = times[piece[-1]] - times[piece[0]]
        middle = (times[piece[0]] + times[piece[-1]]) / 2
        if length_s <= LOOK_S:
            return [piece]
        whole, part = min(length_s, WINDOW_S), min(length_s / 3, WINDOW_S)
        starts = (
            (middle - whole / 2, whole),
            (times[piece[0]], part),
            (times[piece[-1]] - part, part),
        )
        windows = [
            range(*np.searchsorted(times, (start - 1e-6, start + length + 1e-6)).tolist())
            for start, length in starts
        ]
        return [window for window in windows if len(window) >= LEAST_FRAMES]

    def likely(self, window: range, search: Search) -> list[tuple[Fitted, Framing]]:
        """Places whose prints fit, the best first, of all sources and framings."""
        times = self.film.times_s[window.start : window.stop]
        small = self.film.small[window.start : window.stop]
        chosen = np.unique(np.linspace(0, len(small) - 1, 60).round().astype(int))
        found: list[tuple[Fitted, Framing]] = []
        for size, stack in self.bare if search.covered else self.stacks:
            for framing in self._framings(search, window, size):
                canonical, seen = unframed(small[chosen], framing, self.film.size_px, size)
                cells, usable = cells_of(canonical, seen)
                if usable.sum() < 8:
                    continue
                lines = places(stack, times[chosen], cells, usable, thorough=search.by_parts)
                fitted = ranked(self.sources, lines, times[chosen], cells, usable)
                found += [
                    (one, resized(framing, size, self.sources[one.line.source].size_px))
                    for one in fitted[:MOST_LOOKS]
                ]
        return sorted(found, key=lambda pair: pair[0].misfit)

    def _box(self, window: range) -> tuple[int, int, int, int]:
        """What bars leave of the small pictures of a stretch."""
        small = self.film.small[window.start : window.stop]
        return picture_box(small[:: max(1, len(small) // 12)])

    def _framings(self, search: Search, window: range, size: tuple[float, float]) -> list[Framing]:
        """Ways in which a source of some size may lie in the film, and what may lie over it."""
        film_px, small_px = self.film.size_px, self.film.small.shape[:0:-1]
        framings = (
            other_framings(film_px, size)
            if search.other_framings
            else likely_framings(self._box(window), small_px, film_px, size)
        )
        if not search.covered:
            return list(framings)
        return [
            replace(framing, hidden_px=one) for one in self.hidden(window) for framing in framings
        ]

    def hidden(self, window: range) -> list[tuple[Edges, ...]]:
        """What transparent renders may hide of a stretch: each as large as the film, or as what
        bars leave of it."""
        wide, high = self.film.size_px
        across, down = wide / self.film.small.shape[2], high / self.film.small.shape[1]
        left, top, right, bottom = self._box(window)
        rooms = ((0.0, 0.0, wide, high),
                 (left * across, top * down, right * across, bottom * down))  # fmt: skip
        found = (one for room in rooms for one in hidden_by(self.covers, room))
        return list(dict.fromkeys(found))

    def looked_at(self, window: range, likely: list[tuple[Fitted, Framing]]) -> list[Found]:
        """What a closer look says of likely places, the best first."""
        if not likely:
            return []
        border = LIKELY * likely[0][0].misfit + 1.0
        frames = self.look_frames(window, len(window) // 2)
        found: list[Found] = []
        for one, framing in likely[:MOST_LOOKS]:
            if one.misfit > border:
                break
            agreeing = [other for other in found if other.sighting.agrees]
            if any(
                other.line.source == one.line.source
                or one.misfit > ALSO[0] * other.misfit + ALSO[1]
                for other in agreeing
            ):
                continue
            sighting = self.look(one.line, framing, frames, AROUND_S)
            if sighting is not None:
                _log.debug(
                    "%s misfit %.2f agree %s whole %.3f moving %d",
                    one.line,
                    one.misfit,
                    sighting.agree.round(2),
                    sighting.whole,
                    sighting.moving,
                )
                found.append(
                    Found(line=one.line, framing=framing, misfit=one.misfit, sighting=sighting)
                )
        return found

    def look_frames(self, piece: range, at: int) -> NDArray[np.int64]:
        """Some frames of the film around one of a stretch."""
        times = self.film.times_s
        middle = times[piece[min(at, len(piece) - 1)]]
        near = np.searchsorted(times, (middle - LOOK_S / 2, middle + LOOK_S / 2))
        first, stop = max(int(near[0]), piece.start), min(int(near[1]) + 1, piece.stop)
        step = max(1, (stop - first) // LOOK_PICTURES)
        return np.arange(first, stop, step)

    def look(
        self, line: Line, framing: Framing, frames: NDArray[np.int64], around_s: float
    ) -> Sighting | None:
        """Hold frames of the film against a source around a line; None beyond its ends."""
        source = self.sources[line.source]
        instants = line.along(self.film.times_s[frames])
        around_s = max(around_s, 3 * source.step_s)
        if instants[-1] < source.times_s[0] or instants[0] > source.stops_s()[-1]:
            return None
        ends = source.frames_at(np.array([instants[0] - around_s, instants[-1] + around_s]))
        wanted = range(int(ends[0]), int(ends[1]) + 1)
        canonical, seen = unframed(
            self.film.small[frames], framing, self.film.size_px, source.size_px
        )
        if source.film is None:
            cells, usable = cells_of(canonical, seen)
            its = source.cells[wanted.start : wanted.stop].astype(np.float32)
            return look_at_prints(cells, usable, its, wanted)
        return look(canonical, seen, self.pictures.get(line.source, wanted), wanted)
