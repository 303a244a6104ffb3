"""The engine's note: its firing frequency in the footage's sound, held against its logged speed.

No mark is needed. An engine fires

::

    f = n · cylinders / 2 (four-stroke)    or    f = n · cylinders (two-stroke),    n in 1/s

and the sound has that and its multiples (`note_sound`). Every offset is tried (`note_search`),
and the best place is taken only where piece by piece the sound is what was logged (`note_fit`).
The tie is to the engine speed as it was when it was true: the channel's delay is taken out of
its times, and the doubts about that delay and about how long the sound took to the microphone
are in the deviation, once:

::

    sd² = peak² + (share of the log's period)² + delay² + sound's way²

How it can mislead: a note that stays the same fits anywhere it was ever held, one launch
sounds like the next, and a launch of another day much like one of this. The first has no
score here, as only change counts. The others score high: so the lead over the next place must
be clear, and what is left between heard and logged must be no more than noise. Launches that
are alike to the last tenth of a second and half per cent would pass if only one of them is in
the log and it is the wrong one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sync.clock import UTC, Span, utc_text
from sync.clues.base import Clue, Doubt, Finding, delay_doubt
from sync.clues.note_fit import Fit, Piece, fit_at
from sync.clues.note_search import APART_S, Place, best_places
from sync.clues.note_sound import Note, Spectra, note_of, spectra_of
from sync.log import Channel

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_CYLINDERS = 12

LEAST_SHARED_S = 15.0
"""Least that sound and log must share (own choice: a launch takes about that)."""

LEAST_CHANGE = 1.25
"""A note must change by this factor, 5th to 95th percentile, to tell anything (own choice)."""

LEAST_SCORE = 8.0
"""How far out of the noise the best place must stand: of some 100,000 places, chance alone
brings the best to 5."""

LEAD = 5.0
MOST_OF_BEST = 0.92
"""By how much the best place must lead the next, in deviations of the noise, and the share of
its score from which on another is nearly as good however small the noise."""

LEAST_SHARE = 0.97
"""Share of what all pieces come to on their own that must be there at one offset. Right
places had 0.98 and more, launches of another day 0.95 and less (measured on simulated days)."""

LEAST_MOVING = 2
AGREE_SDS = 4.0
MOVING_SD_S, STEADY_SD = 0.012, 0.003
MOST_AT_ODDS = 0.15
"""Pieces agree within four deviations, to which straight lines between the log's samples and
its own noise add these; so large a share of them may be at odds."""

MOST_SD_S = 0.1
"""A peak broader than this says nothing that a launch elsewhere would not say as well."""

PERIOD_SHARE = 0.03
"""Deviation that stays of a log's sample period: its stamps' jitter and the straight lines
between its samples (measured on simulated days)."""

SLOW_S = 0.3
"""A log with longer between its values misses how a launch bends (simulated days: at 0.5 s
one in four right places passes, at 1 s none)."""

RANKED = 3
RANK_EVERY = 4
"""Where the engine is not known, only so many kinds of it are tried on all frames, the best of
all on each fourth."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Heard:
    """One kind of engine: its ignitions a revolution, what was heard, and the best places."""

    firing: float
    note: Note
    places: tuple[Place, ...]

    @property
    def score(self) -> float:
        return self.places[0].score if self.places else -math.inf


def engine_note_clues(
    *,
    clock: str,
    samples: NDArray[np.float32],
    rate_hz: float,
    start_s: float,
    channel: Channel,
    cylinders: int | None = None,
    strokes: int | None = None,
    windows: Sequence[Span] = (),
    sound_delay_s: float = 0.0,
    sound_delay_sd_s: float = 0.0,
) -> Finding:
    """A clue on how the footage lies to the clock of an engine speed, or why there is none.

    Parameters
    ----------
    clock
        Of the footage.
    samples : [shape=(n,)]
        Its sound, of which the first sample is at `start_s`.
    channel
        Engine speed on its log's clock, with its delay and the doubt about it.
    cylinders, strokes
        Of the engine; None where they are not known, and then up to `MOST_CYLINDERS` are tried.
    windows
        Where the offset, log less footage, may lie; anywhere where there is none.
    sound_delay_s, sound_delay_sd_s
        How long the sound takes from the engine to the microphone, and how sure that is.
    """
    name = clock.partition(":")[2] or clock
    engine = channel.timely()
    if (why := _hopeless(samples, rate_hz, engine)) is not None:
        return _none(f"{name}: {why}")
    spectra = spectra_of(samples, rate_hz, start_s)
    if spectra is None:
        return _none(f"{name}: its sound is too short for the engine's note")
    shifted = tuple(
        Span(start_s=w.start_s - sound_delay_s, stop_s=w.stop_s - sound_delay_s) for w in windows
    )
    heard = _hear(spectra, engine, _firings(cylinders, strokes), shifted)
    if not heard:
        return _none(
            f"{name}: nowhere do its sound and the engine's log share {LEAST_SHARED_S:.0f} s; "
            "footage of a launch that the log holds whole would settle it"
        )
    best = heard[0]
    fit = fit_at(best.note, engine, best.firing, best.places[0].shift_s)
    if (why := _doubt(heard, fit, engine)) is not None:
        return _none(f"{name}: {why}")
    assert fit is not None  # `_doubt` has said so otherwise
    way = Doubt(name=f"the sound's way to {clock}", sd_s=sound_delay_sd_s)
    return Finding(clues=(_clue(clock, channel, fit, best, sound_delay_s, way),))


def _hopeless(samples: NDArray[np.float32], rate_hz: float, engine: Channel) -> str | None:
    """Why there is no use in listening, if there is none."""
    if samples.size < LEAST_SHARED_S * rate_hz:
        return (
            f"{samples.size / rate_hz:.0f} s of sound are too few for the engine's note; "
            f"{LEAST_SHARED_S:.0f} s with a launch in them would settle it"
        )
    if not np.all(np.isfinite(samples)) or float(np.ptp(samples)) == 0.0:
        return "its sound is silence, so no engine can be heard; a typed tie would settle it"
    running = engine.values[np.isfinite(engine.values) & (engine.values > 0)]
    if running.size < 2 or running.max() / running.min() < LEAST_CHANGE:
        return (
            "the logged engine speed hardly changes, and a note that stays the same fits "
            "anywhere; a log with a launch in it would settle it"
        )
    return None


def _firings(cylinders: int | None, strokes: int | None) -> tuple[float, ...]:
    """Ignitions a revolution that the engine may have."""
    counts = range(1, MOST_CYLINDERS + 1) if cylinders is None else (cylinders,)
    turns = (2.0, 1.0) if strokes is None else (strokes / 2.0,)
    # A two-stroke fires like a four-stroke of twice the cylinders: beyond the most that a
    # four-stroke is taken to have, only one whose strokes are known is looked for.
    most = MOST_CYLINDERS / 2 if cylinders is None and strokes is None else math.inf
    return tuple(sorted({n / turn for n in counts for turn in turns if n / turn <= most}))


def _hear(
    spectra: Spectra, engine: Channel, firings: tuple[float, ...], windows: tuple[Span, ...]
) -> list[_Heard]:
    """The kinds of engine that were tried and heard somewhere, the best first."""
    if len(firings) > RANKED:
        coarse = Spectra(
            start_s=spectra.start_s,
            hop_s=spectra.hop_s * RANK_EVERY,
            whitened=spectra.whitened[::RANK_EVERY],
        )
        ranked = sorted(
            (_hear_one(coarse, engine, firing, windows) for firing in firings),
            key=lambda one: one.score,
            reverse=True,
        )
        firings = tuple(one.firing for one in ranked[:RANKED])
    heard = [_hear_one(spectra, engine, firing, windows) for firing in firings]
    return sorted((one for one in heard if one.places), key=lambda one: one.score, reverse=True)


def _hear_one(
    spectra: Spectra, engine: Channel, firing: float, windows: tuple[Span, ...]
) -> _Heard:
    running = engine.values[np.isfinite(engine.values) & (engine.values > 0)] * firing
    low, high = np.percentile(running, (0.5, 99.9))
    note = note_of(spectra, float(low) * 0.87, float(high) * 1.15)
    return _Heard(
        firing=firing,
        note=note,
        places=best_places(note, engine, firing, windows, LEAST_SHARED_S),
    )


def _doubt(heard: list[_Heard], fit: Fit | None, engine: Channel) -> str | None:
    """Why the best place is not to be trusted, or None where it is."""
    best = heard[0].places[0]
    second = max(
        (p for one in heard for p in one.places if abs(p.shift_s - best.shift_s) >= APART_S),
        key=lambda place: place.score,
        default=None,
    )
    t = heard[0].note.t_s + best.shift_s
    there = engine.at(t)
    there = there[np.isfinite(there) & (there > 0)]
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
    if second is not None and (
        best.score - second.score < LEAD or second.score > MOST_OF_BEST * best.score
    ):
        return (
            f"the engine's note fits nearly as well {_where(best.shift_s, engine)} and "
            f"{_where(second.shift_s, engine)}; a clap, or a typed tie, would settle it"
        )
    if (why := _misfit(fit)) is not None:
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


def _span_of(values: NDArray[np.float64]) -> float:
    low, high = np.percentile(values, (5, 95))
    return float(high / low)


def _misfit(fit: Fit | None) -> str | None:
    """What speaks against a fit, or None where nothing does."""
    if fit is None or fit.sd_s > MOST_SD_S or len(fit.moving) < LEAST_MOVING:
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


def _clue(
    clock: str, channel: Channel, fit: Fit, best: _Heard, sound_delay_s: float, way: Doubt
) -> Clue:
    own_sd = math.hypot(fit.sd_s, PERIOD_SHARE * channel.period_s)
    return Clue(
        kind="engine_note",
        from_clock=clock,
        to_clock=channel.clock,
        offset_s=fit.shift_s + sound_delay_s,
        sd_s=math.hypot(own_sd, channel.delay_sd_s, way.sd_s),
        at_s=fit.middle_s - sound_delay_s,
        doubts=(*delay_doubt(channel, 1.0), *((way,) if way.sd_s > 0 else ())),
        text=(
            f"{best.firing:g} ignitions a turn heard in {len(fit.pieces)} pieces, "
            f"{len(fit.moving)} of them rising or falling; ± {own_sd:.3f} s from the sound, "
            f"± {way.sd_s:.3f} s from its way and ± {channel.delay_sd_s:.3f} s from the channel's "
            "delay"
        ),
    )


def _where(shift_s: float, engine: Channel) -> str:
    """A place in words: what the footage's time nought would be."""
    when = utc_text(shift_s, 1) if engine.clock == UTC else f"{shift_s:.1f} s on {engine.clock}"
    return f"with its time 0 at {when}"


def _none(remark: str) -> Finding:
    return Finding(remarks=(remark,))
