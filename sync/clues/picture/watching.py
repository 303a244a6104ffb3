"""One look at all frames of a recording for all who want to know something of its picture."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sync.clock import Span
from sync.clues.picture.flashes import Flash, FlashFinder
from sync.clues.picture.turning import Turning, TurnMeter
from sync.media.small import SmallFrame


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Watched:
    """What was seen in a recording: its flashes, and how its picture turned."""

    flashes: tuple[Flash, ...]
    turning: Turning


def watched(frames: Iterable[SmallFrame], turning: Span | None) -> Watched:
    """Look at every frame once, as it is decoded.

    Parameters
    ----------
    turning
        The stretch in which it is measured how the picture turns, which takes as long as to
        decode it; nowhere where there is none.
    """
    finder, meter = FlashFinder(), TurnMeter()
    for frame in frames:
        finder.add(frame)
        if turning is not None and turning.holds(frame.t_s):
            meter.add(frame)
    return Watched(flashes=finder.flashes(), turning=meter.turning())
