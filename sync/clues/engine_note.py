"""The engine's note: its firing frequency in the footage's sound, held against its logged speed.

No mark is needed. An engine fires

::

    f = n · cylinders / 2 (four-stroke)    or    f = n · cylinders (two-stroke),    n in 1/s

and the sound has that and its multiples (`note.sound`). Every offset is tried (`note.search`),
and the best place is taken only where piece by piece the sound is what was logged (`note.fit`).
The tie is to the engine speed as it was when it was true: the channel's delay is taken out of
its times, and the doubts about that delay and about how long the sound took to the microphone
are in the deviation, once:

::

    sd² = peak² + (share of the log's period)² + delay² + sound's way²

How it can mislead: a note that stays the same fits anywhere it was ever held, one launch
sounds like the next, and a launch of another day much like one of this. The first has no
score here, as only change counts. The others score high: so the lead over the next place must
be clear, what is left between heard and logged must be no more than noise, and the log may not
hold the like of the place elsewhere (`note.twin`). Launches that are alike to the last tenth of
a second and half per cent would pass if only one of them is in the log and it is the wrong one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sync.channel import Channel
from sync.clock import Span
from sync.clue import Clue, Doubt, Finding, delay_doubt
from sync.clues.note.aboard import ABOARD_LOOK, best_places
from sync.clues.note.afar import AFAR_LOOK, best_places_afar
from sync.clues.note.anchor import anchored
from sync.clues.note.curve import curve_of
from sync.clues.note.fit import Fit, fit_at
from sync.clues.note.heard import LEAST_SHARED_S, Ear, Heard, firings_of, hear
from sync.clues.note.sound import spectra_of
from sync.clues.note.trust import ABOARD, AFAR, LEAST_CHANGE, doubt, rivals

if TYPE_CHECKING:
    from numpy.typing import NDArray

PERIOD_SHARE = 0.01
"""Deviation that stays of a log's sample period: its stamps' jitter and the straight lines
between its samples (measured on simulated days of other seeds than the study's, where errors
were a quarter of what three times as much had stated)."""


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
    afar: bool = False,
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
        How long the sound takes from the engine to the microphone, and how sure that is; for
        a camera afar, when the engine speed changes most.
    afar
        Whether the camera is not aboard, so that the way changes while it films.
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
    ear = Ear(look=AFAR_LOOK, places=best_places_afar)
    if not afar:
        ear = Ear(look=ABOARD_LOOK, places=best_places)
    curve = curve_of(engine)
    heard = hear(spectra, curve, firings_of(cylinders, strokes), shifted, ear)
    if not heard:
        return _none(
            f"{name}: nowhere do its sound and the engine's log share {LEAST_SHARED_S:.0f} s; "
            "footage of a launch that the log holds whole would settle it"
        )
    best = heard[0]
    fits = [
        (place, fit_at(best.note, replace(best.source(curve), way=place.way), place.shift_s))
        for place in rivals(heard)
    ]
    limits = AFAR if afar else ABOARD
    if (why := doubt(heard, fits, engine, curve, limits, shifted)) is not None:
        return _none(f"{name}: {why}")
    fit = fits[0][1]
    assert fit is not None  # `doubt` has said so otherwise
    if afar:
        fit = anchored(best.note, best.source(curve), fit)
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


def _clue(
    clock: str, channel: Channel, fit: Fit, best: Heard, sound_delay_s: float, way: Doubt
) -> Clue:
    own_sd = math.hypot(fit.sd_s, PERIOD_SHARE * channel.period_s)
    return Clue(
        kind="engine_note",
        from_clock=clock,
        to_clock=channel.clock,
        offset_s=fit.shift_s - best.late_s(fit.middle_s) + sound_delay_s,
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


def _none(remark: str) -> Finding:
    return Finding(remarks=(remark,))
