"""Shared sound: two recordings on different clocks that heard the same.

Both microphones hear engine, slaps of the hull, voices and wind in the rigging; each has a wind
of its own besides. The loudness of bands tells about where the two sounds are the same
(`sound.places`), their phases to a fraction of a millisecond (`sound.fit`), and pieces from the
beginning to the end how fast the clocks drift apart. A sound comes to two places at different
times, and nobody knows from where:

::

    sd² = (scatter of the pieces)² + (distance / c)² / 3

How it can mislead: an engine at a steady speed sounds the same from one firing to the next, and
what is left is any multiple of that; then nothing is said. What both heard from elsewhere, a
broadcast in the cabin or the same horn twice, would tie them to that.
"""

from __future__ import annotations

import math

import numpy as np

from sync.clue import Clue, Doubt, Finding
from sync.clues.clap import sound_speed
from sync.clues.sound.fit import SoundFit, fit_sounds
from sync.clues.sound.places import LEAST_SHARED_S, Heard, Place, likely_places

LEAST_SCORE = 9.0
"""By how many deviations the best line must stand out of all lines: chance brings the best of
some hundred thousand to 6 (measured)."""

MOST_OF_BEST = 0.7
"""Share of the best line's score from which on another is nearly as good."""

WORTH_A_FIT = 0.4
"""Share of the best place's score from which on another is looked at more closely."""

LEAST_PIECES = 4
"""Pieces that must say the same."""

LEAST_SD_S = 20e-6
"""Deviation that no number of pieces takes away: microphones and converters differ by phase."""

AIR_K = 288.15


def shared_sound_clues(
    one_clock: str,
    one: Heard,
    other_clock: str,
    other: Heard,
    *,
    apart_m: float = 0.0,
    air_temperature_k: float = AIR_K,
) -> Finding:
    """Two clues on how the clocks of two recordings lie to each other, one early, one late.

    Parameters
    ----------
    one_clock, other_clock
        Of the two recordings.
    one, other
        Their sounds.
    apart_m
        How far the two microphones were from each other.
    air_temperature_k
        For the speed of sound.
    """
    names = " and ".join(clock.partition(":")[2] or clock for clock in (one_clock, other_clock))
    if (why := _hopeless(one) or _hopeless(other)) is not None:
        return _none(f"{names}: {why}")
    fits = _fits(one, other, likely_places(one, other))
    if (why := _doubt(fits)) is not None:
        return _none(f"{names}: {why}")
    best = fits[0]
    way_sd = apart_m / sound_speed(air_temperature_k) / math.sqrt(3.0)
    way = Doubt(name=f"how sound came to {one_clock} and {other_clock}", sd_s=way_sd)
    clues = tuple(_clue(one_clock, other_clock, best, sign, apart_m, way) for sign in (-1.0, 1.0))
    return Finding(clues=clues)


def _hopeless(sound: Heard) -> str | None:
    """Why there is no use in comparing, if there is none."""
    if sound.length_s < LEAST_SHARED_S:
        return (
            f"{sound.length_s:.0f} s of sound are too few to be compared; {LEAST_SHARED_S:.0f} s "
            "that both heard would settle it"
        )
    if not np.all(np.isfinite(sound.samples)) or float(np.ptp(sound.samples)) == 0.0:
        return "one of the sounds is silence; a typed tie would settle it"
    return None


def _fits(one: Heard, other: Heard, places: list[Place]) -> list[SoundFit]:
    """The lines near the likely places, the best first, each line once."""
    found: list[SoundFit] = []
    for place in (p for p in places if p.score > WORTH_A_FIT * places[0].score):
        fit = fit_sounds(one, other, place)
        if fit is not None:
            found.append(fit)
    return sorted(found, key=lambda fit: fit.score, reverse=True)


def _doubt(fits: list[SoundFit]) -> str | None:
    """Why the best line is not to be trusted, or None where it is."""
    if not fits or fits[0].score < LEAST_SCORE or fits[0].used < LEAST_PIECES:
        return (
            "their sounds are not alike anywhere; they may be of different times, and a clap that "
            "both hear would settle it"
        )
    best = fits[0]
    others = [(best.second, best.second_s)]
    others += [(fit.score, fit.offset_s) for fit in fits[1:]]
    second, where_s = max(others)
    if second > MOST_OF_BEST * best.score:
        return (
            f"their sounds are nearly as alike {where_s:.4f} s apart as {best.offset_s:.4f} s, as "
            "those of a steady engine are; a clap that both hear, or a stretch in which the engine "
            "changes speed, would settle it"
        )
    return None


def _clue(
    one_clock: str, other_clock: str, fit: SoundFit, sign: float, apart_m: float, way: Doubt
) -> Clue:
    """What the line says so far before or after its middle that the two clues' errors have
    nothing to do with each other."""
    turn = sign * fit.spread_s
    own_sd = math.hypot(math.sqrt(2.0) * fit.sd_s, LEAST_SD_S)
    return Clue(
        kind="shared_sound",
        from_clock=one_clock,
        to_clock=other_clock,
        offset_s=fit.offset_s + fit.drift * turn,
        sd_s=math.hypot(own_sd, way.sd_s),
        at_s=fit.at_s + turn,
        text=(
            f"the same sound in {fit.used} of {fit.pieces} pieces, {1e6 * fit.drift:+.1f} ppm; "
            f"± {1e3 * own_sd:.2f} ms from the sound and ± {1e3 * way.sd_s:.2f} ms from its ways, "
            f"{apart_m:g} m apart"
        ),
        doubts=(way,) if way.sd_s > 0 else (),
    )


def _none(remark: str) -> Finding:
    return Finding(remarks=(remark,))
