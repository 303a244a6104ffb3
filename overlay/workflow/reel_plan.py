"""What a reel is made of, laid on its grid of frames: which piece begins where, how it comes and
how it goes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from overlay.errors import SheetError
from overlay.render.upright import upright_of
from overlay.sheet.reels import Reel, ReelPart
from sync.clock import TIME_TOLERANCE_S
from sync.media import Footage, FrameTimes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Size = tuple[int, int]

WITHOUT_CLIPS: tuple[Size, Fraction] = ((1920, 1080), Fraction(30))
"""Size and rate of a reel that has cards alone and names neither."""

USUAL_RATES = (
    *(Fraction(n * 1000, 1001) for n in (24, 30, 60)),
    *(Fraction(n) for n in (24, 25, 30, 48, 50, 60)),
)
"""Rates that a reel takes by itself: those that any player keeps up with."""

SLOWEST_HZ = 23
"""A rate below this would show in the fades."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Card:
    """A still that is shown, and the card that it is."""

    image: NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """A stretch of a clip that is shown, its start on the clip's own clock."""

    film: Footage
    times: FrameTimes
    start_s: Fraction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One piece of a reel before it has its place.

    Parameters
    ----------
    name, where
        The card or the clip; and the part of the sheet that it comes from, for messages.
    path
        The file that it rests on: the clip, or the sheet that a card's results come from.
    frames, fade, overlap
        How long it and its changes are, in frames of the reel.
    """

    kind: Literal["card", "clip"]
    name: str
    where: str
    path: Path
    source: Card | Stretch
    frames: int
    fade: int
    overlap: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """How a piece comes or goes: from or to black, or over the piece beside it."""

    over: bool
    frames: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """A piece in its place: the frame of the reel that is its first, and its two changes."""

    piece: Piece
    start: int
    coming: Change
    going: Change

    @property
    def stop(self) -> int:
        """The first frame that it is gone on."""
        return self.start + self.piece.frames


def lay(pieces: Sequence[Piece], *, path: Path, rate_hz: Fraction) -> tuple[Laid, ...]:
    """Put pieces one behind the other.

    Raises
    ------
    SheetError
        Where a piece is too short for its changes.
    """
    laid: list[Laid] = []
    start = 0
    for number, piece in enumerate(pieces):
        after = pieces[number + 1] if number + 1 < len(pieces) else None
        one = Laid(
            piece=piece,
            start=start,
            coming=_change(piece, piece.overlap if number else 0),
            going=_change(piece, after.overlap if after else 0),
        )
        _must_fit(one, path, rate_hz)
        laid.append(one)
        start = one.stop - (one.going.frames if one.going.over else 0)
    return tuple(laid)


def _change(piece: Piece, overlap: int) -> Change:
    return Change(over=overlap > 0, frames=overlap or piece.fade)


def _must_fit(one: Laid, path: Path, rate_hz: Fraction) -> None:
    needed = one.coming.frames + one.going.frames
    if needed <= one.piece.frames:
        return
    coming, going = (
        f"{'overlap' if change.over else 'fade'} of {float(change.frames / rate_hz):g} s"
        for change in (one.coming, one.going)
    )
    raise SheetError(
        f"it is shown for {float(one.piece.frames / rate_hz):.4g} s, which is shorter than the "
        f"{coming} at its start and the {going} at its end together",
        path=path,
        key=one.piece.where,
        advice="show it for longer, or name a shorter fade or overlap",
    )


def in_frames(seconds: float | Fraction, rate_hz: Fraction) -> int:
    """A length of time on the reel's grid."""
    return round(Fraction(seconds).limit_denominator(1_000_000) * rate_hz)


def stretch_of(
    part: ReelPart, film: Footage, times: FrameTimes, *, path: Path, where: str
) -> tuple[Stretch, Fraction]:
    """What a part shows of its clip, and how long that is in seconds.

    Raises
    ------
    SheetError
        Where the part goes beyond the clip.
    """
    first = int(times.pts[0]) * times.time_base
    whole = times.stop_pts * times.time_base - first
    start = Fraction(part.start or 0.0).limit_denominator(1_000_000)
    stop = whole if part.stop is None else Fraction(part.stop).limit_denominator(1_000_000)
    if start >= whole or stop > whole + Fraction(TIME_TOLERANCE_S):
        raise SheetError(
            f"the clip {part.clip!r} is {float(whole):.2f} s long, and this part of it runs from "
            f"{float(start):g} s to {float(stop):g} s",
            path=path,
            key=where,
            advice="name a start and a stop inside the clip",
        )
    return Stretch(film=film, times=times, start_s=first + start), stop - start


def upright_size(film: Footage) -> tuple[Fraction, Fraction]:
    """Width and height of a clip's pictures as they are shown: upright, with square pixels."""
    wide, high = film.width * film.sample_aspect, Fraction(film.height)
    return (high, wide) if upright_of(film).turned else (wide, high)


def form_of(reel: Reel, first: Footage | None) -> tuple[Size, Fraction]:
    """Size and rate of a reel: what the sheet says, else about those of its first clip."""
    size, rate_hz = WITHOUT_CLIPS
    if first is not None:
        wide, high = upright_size(first)
        size = 2 * round(wide / 2), 2 * round(high / 2)
        if first.average_rate_hz:
            # A slow one is taken some whole number of times, so that all its frames last as long.
            own = first.average_rate_hz
            own *= max(1, math.ceil(SLOWEST_HZ / own))
            rate_hz = min(USUAL_RATES, key=lambda usual: abs(usual - own))
    if reel.size is not None:
        width, _, height = reel.size.partition("x")
        size = int(width), int(height)
    return size, reel.rate or rate_hz
