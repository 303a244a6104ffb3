"""Where one stretch of a film was cut from.

A window of it is looked for among the prints of all sources; the likeliest places are looked at
in the sources' own pictures; the one that agrees is followed from there.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from overlay.audit.edit.following import Follower, Placed
from overlay.audit.edit.framing import Framing, snapped, unframed
from overlay.audit.edit.nudge import nudged
from overlay.audit.edit.searching import (
    AROUND_S,
    COVERED,
    COVERED_FRAMINGS,
    COVERED_THOROUGH,
    FRAMINGS,
    QUICK,
    THOROUGH,
    Found,
    Search,
)

_log = logging.getLogger(__name__)

SAME_WHOLE = 0.01
"""Two sources whose pictures agree this equally show the same thing."""

ITS_OWN = 0.88
"""Where less than this agrees of all of the picture, still parts and all, something is laid over it
(own choice; of untouched shots it is higher)."""

COVERS = 0.04
"""A render lies over a shot where without what it hides so much more of the picture agrees (own
choice)."""


@dataclass(slots=True, kw_only=True, eq=False)
class Placer(Follower):
    """Finds a place, and follows it to its ends."""

    def place(self, piece: range) -> tuple[Placed | None, tuple[Found, ...]]:
        """Where a stretch lies; without a place, what it looks like."""
        resembling: list[Found] = []
        still: list[Found] = []
        for search, window in self._tries(self.windows(piece)):
            if still and not search.covered:
                break
            found = self.looked_at(window, self.likely(window, search))
            if self.bare and not search.covered:
                found = self._under_others(window, found)
            placed = self._settled(window, found)
            if placed is not None:
                return placed, ()
            resembling += found
            if not still and _is_still(found):
                still = found
        return None, tuple(still or resembling)

    def _tries(self, windows: list[range]) -> Iterator[tuple[Search, range]]:
        """What is tried, one after the other: what is quick, and likely, first."""
        for search, among in (
            (QUICK, windows[:1]),
            (COVERED, windows),
            (THOROUGH, windows),
            (COVERED_THOROUGH, windows),
            (FRAMINGS, windows[:1]),
            (COVERED_FRAMINGS, windows[:1]),
        ):
            if self.bare or not search.covered:
                yield from ((search, window) for window in among)

    def _settled(self, window: range, found: list[Found]) -> Placed | None:
        """The place that agrees, with its line; None where none does, or two moments do."""
        agreeing = [one for one in found if one.sighting.agrees]
        if not agreeing:
            return None
        most = max(one.sighting.whole for one in agreeing)
        best = [one for one in agreeing if one.sighting.whole >= most - SAME_WHOLE]
        best.sort(key=lambda one: (not self.sources[one.line.source].clip, one.misfit))
        chosen = self._uncovered(window, best[0])
        framing = self._framed(window, chosen)
        placed = self.followed(window, replace(chosen, framing=framing))
        if placed is not None:
            placed.also = tuple(
                dict.fromkeys(
                    self.sources[one.line.source].name
                    for one in best
                    if one.line.source != chosen.line.source
                )
            )
        return placed

    def _under_others(self, window: range, found: list[Found]) -> list[Found]:
        """What was found; where that is a clip under other instruments than its own, the recording
        that is there under a transparent render."""
        agreeing = [one.sighting.whole for one in found if one.sighting.agrees]
        if not agreeing or max(agreeing) > ITS_OWN:
            return found
        under = [
            one
            for one in self.looked_at(window, self.likely(window, COVERED))
            if one.sighting.agrees and one.sighting.whole > max(agreeing) + COVERS
        ]
        return under or found

    def _uncovered(self, window: range, found: Found) -> Found:
        """The same, less what a transparent render hides, where one lies over it: its framing is
        then found by the footage alone."""
        if self.sources[found.line.source].clip or found.framing.hidden_px:
            return found
        frames = self.look_frames(window, len(window) // 2)
        better = found
        for hidden in self.hidden(window):
            framing = replace(found.framing, hidden_px=hidden)
            sighting = self.look(found.line, framing, frames, AROUND_S)
            if sighting is None or not sighting.agrees:
                continue
            if sighting.whole > max(found.sighting.whole + COVERS, better.sighting.whole):
                better = replace(found, framing=framing, sighting=sighting)
        return better

    def _framed(self, window: range, found: Found) -> Framing:
        """The framing put right by the pictures that were looked at."""
        source = self.sources[found.line.source]
        if source.film is None:
            return snapped(found.framing, self.film.size_px, source.size_px)
        frames = self.look_frames(window, len(window) // 2)
        framing = found.framing
        pairs = np.concatenate(
            [self.pictures.get(found.line.source, range(n, n + 1)) for n in found.sighting.best]
        )
        for _ in range(6):
            canonical, seen = unframed(
                self.film.small[frames], framing, self.film.size_px, source.size_px
            )
            framing, moved = nudged(framing, source.size_px, canonical, pairs, seen)
            if moved < 0.01 * source.size_px[0] / canonical.shape[2]:
                break
        _log.debug("framing %s", framing)
        return snapped(framing, self.film.size_px, source.size_px)


def _is_still(found: list[Found]) -> bool:
    """Whether the likeliest places are pictures in which nothing moves, and look like the shot."""
    return bool(found) and all(one.sighting.still and one.sighting.whole > 0.6 for one in found[:2])
