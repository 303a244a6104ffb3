"""From a place that was found to both ends of its shot.

From the line through a window's sightings a shot is followed to both ends of its stretch, and
beyond them where the next cut was none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.audit.edit.fit import misfit_of_each
from overlay.audit.edit.framing import Framing, cells_of, unframed
from overlay.audit.edit.haystack import Line
from overlay.audit.edit.lines import Seen, Straight, straight
from overlay.audit.edit.looking import Sighting
from overlay.audit.edit.searching import AROUND_S, Found, Searcher

if TYPE_CHECKING:
    from numpy.typing import NDArray

FULL = 0.7
"""A frame with less of the shot in it than this is part of a fade."""

STRANGE, STRANGE_CODES = 5.0, 2.5
"""A frame is strange that is off by this many times what frames usually are, and so many codes."""

ON_LINE = 0.7
"""Share of the sightings that a line has to meet."""

BORDER_FRAMES = 2
"""Where a shot ends within a stretch is found to so many frames."""


@dataclass(slots=True, kw_only=True, eq=False)
class Placed:
    """A stretch of film on a source: what was seen of it, and the line through that."""

    source: int
    framing: Framing
    seen: Seen
    line: Straight
    frames: range
    gain: float
    also: tuple[str, ...] = ()


@dataclass(slots=True, kw_only=True, eq=False)
class Follower(Searcher):
    """Follows a place that was found."""

    def followed(self, window: range, found: Found) -> Placed | None:
        """A line through sightings at both ends and in the middle of the window."""
        seen: Seen | None = None
        gains = []
        for at in (0, len(window) // 2, len(window) - 1):
            frames = self.look_frames(window, at)
            sighting = self.look(found.line, found.framing, frames, AROUND_S)
            if sighting is None or not sighting.agrees:
                return None
            here = self._as_seen(found.line.source, frames, sighting)
            seen = here if seen is None else seen + here
            gains.append(float(np.median(sighting.gain)))
        assert seen is not None
        line = straight(seen, found.line.speed, self.sources[found.line.source].step_s)
        if line.hits < ON_LINE * len(seen.t_s):
            return None
        return Placed(
            source=found.line.source,
            framing=found.framing,
            seen=seen,
            line=line,
            frames=window,
            gain=max(gains),
        )

    def _as_seen(self, source: int, frames: NDArray[np.int64], sighting: Sighting) -> Seen:
        times, stops = self.sources[source].times_s, self.sources[source].stops_s()
        return Seen(
            t_s=self.film.times_s[frames],
            low_s=times[sighting.first],
            high_s=stops[sighting.last],
        )

    def extended(self, placed: Placed, limits: range, borders: Sequence[int]) -> None:
        """Follow a placed stretch in both directions, as far as it agrees.

        Parameters
        ----------
        limits
            Frames that belong to no other shot.
        borders
            Where cuts were found: they are reached first, then gone beyond.
        """
        for ahead in (True, False):
            stops = [b for b in borders if limits.start <= b <= limits.stop]
            aims = (
                sorted(b for b in stops if b > placed.frames.stop - 1)
                if ahead
                else sorted((b for b in stops if b <= placed.frames.start), reverse=True)
            )
            if aims and self._reach(placed, aims[0], ahead=ahead):
                for aim in aims[1:]:
                    # Beyond a cut that was one, or into a fade, nothing is taken by halves.
                    edge = placed.frames.stop if ahead else placed.frames.start
                    if not self._holds(placed, edge, aim):
                        break
                    self._grown(placed, aim)

    def _reach(self, placed: Placed, aim: int, *, ahead: bool) -> bool:
        """Follow a line to a border; where it does not come there, as far as it does."""
        reached = placed.frames.stop if ahead else placed.frames.start
        if reached == aim:
            return True
        if self._holds(placed, reached, aim):
            self._grown(placed, aim)
            return True
        near, far = reached, aim
        while abs(far - near) > BORDER_FRAMES:
            middle = (near + far) // 2
            if self._holds(placed, near, middle):
                near = middle
            else:
                far = middle
        self._grown(placed, near)
        return False

    @staticmethod
    def _grown(placed: Placed, to: int) -> None:
        placed.frames = range(min(placed.frames.start, to), max(placed.frames.stop, to))

    def _holds(self, placed: Placed, near: int, far: int) -> bool:
        """Whether the last frames before a border, and those half-way, lie on the line."""
        piece = range(min(near, far), max(near, far))
        source = self.sources[placed.source]
        ahead = far > near
        ends = [len(piece) - 1 if ahead else 0]
        if len(piece) > 12:
            ends.insert(0, len(piece) // 2)
        for at in ends:
            frames = self._close_frames(piece, at)
            distance_s = abs(self.film.times_s[frames].mean() - placed.seen.t_s.mean())
            loose_s = 1.5 * source.step_s * distance_s / max(placed.seen.span_s, 0.2)
            sighting = self.look(
                _line(placed), placed.framing, frames, min(1.0, loose_s + 4 * source.step_s)
            )
            if sighting is None or not sighting.agrees:
                return False
            if sighting.gain.min() < FULL * placed.gain:
                return False
            here = self._as_seen(placed.source, frames, sighting)
            seen = placed.seen + here
            line = straight(seen, placed.line.speed, source.step_s)
            if not _on_line(line, here, source.step_s):
                return False
            placed.seen, placed.line = seen, line
        return True

    def strangers(self, placed: Placed) -> NDArray[np.bool_]:
        """Frames of a placed stretch whose prints do not fit their place: a flash of something
        else [shape=(n,)]."""
        source, frames = self.sources[placed.source], placed.frames
        small = self.film.small[frames.start : frames.stop]
        canonical, seen = unframed(small, placed.framing, self.film.size_px, source.size_px)
        cells, usable = cells_of(canonical, seen)
        instants = _line(placed).along(self.film.times_s[frames.start : frames.stop])
        off = misfit_of_each(cells, source.cells[source.frames_at(instants)], usable)
        strange: NDArray[np.bool_] = off > max(STRANGE * float(np.median(off)), STRANGE_CODES)
        return strange

    @staticmethod
    def _close_frames(piece: range, at: int) -> NDArray[np.int64]:
        first = max(piece.start, min(piece[at] - 1, piece.stop - 3))
        return np.arange(first, min(first + 3, piece.stop))


def _line(placed: Placed) -> Line:
    return Line(source=placed.source, zero_s=0.0, at_s=placed.line.at_s, speed=placed.line.speed)


def _on_line(line: Straight, seen: Seen, step_s: float) -> bool:
    """Whether most sightings lie on a line, to half a frame."""
    at = line.at_s + line.speed * seen.t_s
    near = (at > seen.low_s - step_s / 2) & (at < seen.high_s + step_s / 2)
    return bool(near.mean() >= ON_LINE)
