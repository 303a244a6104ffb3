"""Whether the best place for an engine's note is to be trusted, or why it is not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import UTC, Span, utc_text
from sync.clues.note.coarse import APART_S
from sync.clues.note.curve import Curve
from sync.clues.note.fit import Fit, Piece
from sync.clues.note.heard import Heard
from sync.clues.note.rival import contrast
from sync.clues.note.search import Place, path_at
from sync.clues.note.twin import twin_of

LEAST_CHANGE = 1.25
"""A note must change by this factor, 5th to 95th percentile, to tell anything (own choice)."""

LEAST_SCORE = 8.0
"""How far out of the noise the best place must stand: of some 100,000 places, chance alone
brings the best to 5."""

MOST_OF_BEST = 0.95
"""Share of its score from which on another place is nearly as good, however small the noise."""

RIVAL, LOOKED_AT = 0.6, 5
"""Places with this share of the best score, and so many of them, are looked at as closely as
the best; one that nothing speaks against may be the right one, its score lessened by a hole."""

REFUTED_SHARE, REFUTED_AT_ODDS = 0.96, 0.2
"""What speaks clearly against a rival: less of it is there at one offset, or more of its pieces
are at odds."""

LEAST_SHARE = 0.97
"""Share of what all pieces come to on their own that must be there at one offset. Right
places had 0.98 and more, launches of another day 0.95 and less (measured on simulated days)."""

AGREE_SDS = 4.0
MOVING_SD_S, STEADY_SD = 0.012, 0.003
MOST_AT_ODDS = 0.15
"""Pieces agree within four deviations, to which straight lines between the log's samples and
its own noise add these; so large a share of them may be at odds."""

Fits = Sequence[tuple[Place, Fit | None]]

SLOW_S = 0.3
"""A log with longer between its values misses how a launch bends (simulated days: at 0.5 s
one in four right places passes, at 1 s none)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What is asked of the best place.

    Parameters
    ----------
    lead
        By how much the best place must lead the next, in deviations of the noise.
    bends
        Whether the way may be bent to what is heard, so that it refutes less.
    least_moving
        How many pieces must rise or fall.
    most_sd_s
        A peak broader than this says nothing that a launch elsewhere would not say as well.
    """

    least_moving: int
    most_sd_s: float
    lead: float
    bends: bool


ABOARD = Limits(least_moving=2, most_sd_s=0.1, lead=5.0, bends=False)
AFAR = Limits(least_moving=3, most_sd_s=0.02, lead=2.0, bends=True)
"""Where the way may change, a launch of another day is more easily bent into this one; right
places had 3 moving pieces and more, and 8 ms and less (measured on simulated boats that pass)."""


def doubt(
    heard: list[Heard],
    fits: Fits,
    engine: Channel,
    curve: Curve,
    limits: Limits,
    windows: Sequence[Span] = (),
) -> str | None:
    """Why the best place is not to be trusted, or None where it is.

    Parameters
    ----------
    windows
        Where the shift may lie; anywhere where there is none.
    fits
        The fits at the places of `heard[0]`, as far as they were looked at.
    """
    best = heard[0].places[0]
    t = heard[0].note.t_s
    known = path_at(heard[0].note, heard[0].source(curve), t, best.shift_s).known
    there = np.exp(curve.at(t[known] + best.shift_s))
    there = there[np.isfinite(there)]
    if best.score < LEAST_SCORE:
        return (
            "the engine's note does not stand out anywhere in the log; it may be footage of "
            "another time, or drowned in wind, and a clap or a typed tie would settle it"
        )
    if there.size == 0 or _span_of(there) < LEAST_CHANGE:
        return (
            "the engine speed hardly changes where its sound fits best "
            f"({_where(best.shift_s, engine)}), and a note that stays the same fits anywhere; "
            "footage with a launch in it, a clap or a typed tie would settle it"
        )
    if (second := _rival(heard, fits, curve, limits)) is not None:
        return (
            f"the engine's note fits nearly as well {_where(best.shift_s, engine)} and "
            f"{_where(second.shift_s, engine)}; a clap, or a typed tie, would settle it"
        )
    twin = twin_of(curve, t, best.shift_s, engine.period_s, windows)
    if twin is not None:
        return (
            f"the log {_where(best.shift_s, engine)} and {_where(twin, engine)} is so much alike "
            "that the engine's note could be from either; a clap, a typed tie, or a stamp good "
            "enough to rule one of them out, would settle it"
        )
    if (why := _misfit(fits[0][1], limits)) is not None:
        slow = (
            f"the log has a value only every {engine.period_s:.1f} s, too few to follow a launch"
            if engine.period_s > SLOW_S
            else "it may be footage of another time"
        )
        return (
            f"the engine's note is like the log {_where(best.shift_s, engine)}, but {why}; {slow}, "
            "and a clap or a typed tie would settle it"
        )
    return None


def rivals(heard: list[Heard]) -> tuple[Place, ...]:
    """The places that are looked at closely: the best, and what might be it as well."""
    best, *rest = heard[0].places
    apart = (place for place in rest if abs(place.shift_s - best.shift_s) >= APART_S)
    return (best, *(place for place in apart if place.score >= RIVAL * best.score))[:LOOKED_AT]


def _rival(heard: list[Heard], fits: Fits, curve: Curve, limits: Limits) -> Place | None:
    """Another place that the sound may be from, if there is one."""
    best = heard[0].places[0]
    for place in sorted((p for one in heard for p in one.places), key=lambda p: -p.score):
        near = best.score - place.score < limits.lead or place.score > MOST_OF_BEST * best.score
        if near and abs(place.shift_s - best.shift_s) >= APART_S:
            return place
    (_, fit), *others = fits
    if fit is None:
        return None
    source, note = heard[0].source(curve), heard[0].note
    for place, other in others:
        if not limits.bends and other is not None and _refuted(other):
            continue
        there = replace(source, way=place.way), place.shift_s
        if not contrast(note, (source, fit.shift_s), there).settles:
            return place
    return None


def _refuted(fit: Fit) -> bool:
    """Whether what is heard speaks clearly against a fit."""
    if fit.share < REFUTED_SHARE:
        return True
    return any(
        sum(_at_odds(piece, floor) for piece in pieces) > REFUTED_AT_ODDS * len(pieces)
        for pieces, floor in ((fit.moving, MOVING_SD_S), (fit.steady, STEADY_SD))
    )


def _span_of(values: Floats) -> float:
    low, high = np.percentile(values, (5, 95))
    return float(high / low)


def _misfit(fit: Fit | None, limits: Limits) -> str | None:
    """What speaks against a fit, or None where nothing does."""
    if fit is None or fit.sd_s > limits.most_sd_s or len(fit.moving) < limits.least_moving:
        return "too little of it rises or falls to set an offset"
    if fit.share < LEAST_SHARE:
        return f"only {fit.share:.0%} of what is heard is there at one offset"
    for pieces, floor, kind in (
        (fit.moving, MOVING_SD_S, "its rises and falls are not as far apart as the logged ones"),
        (fit.steady, STEADY_SD, "the steady speeds that are heard are not the logged ones"),
    ):
        if sum(_at_odds(piece, floor) for piece in pieces) > MOST_AT_ODDS * len(pieces):
            return kind
    return None


def _at_odds(piece: Piece, floor: float) -> bool:
    return abs(piece.off) > AGREE_SDS * math.hypot(min(piece.sd, 3 * floor), floor)


def _where(shift_s: float, engine: Channel) -> str:
    """A place in words: what the footage's time nought would be."""
    when = utc_text(shift_s, 1) if engine.clock == UTC else f"{shift_s:.1f} s on {engine.clock}"
    return f"with its time 0 at {when}"
