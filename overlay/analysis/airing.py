"""Air at the propeller: the engine flares while the boat gains less than before.

A propeller that draws air is let go by the water: engine speed shoots up and falls back when
the blades bite again, and in between the boat is hardly pushed. At the very start of a launch
engine speed overshoots too, while she gains the most; that is no air.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from overlay.analysis.peaks import peaks_of
from overlay.analysis.smoothing import fit, law_for
from sync.channel import Channel
from sync.clock import Span

FLARE_SHARE = 0.10
"""Engine speed shoots up by so much of itself, and falls back as far (own choice: the demo's
air gives 50 %, her hump 2 %)."""

MOST_PUSH = 0.7
"""In a flare the boat gains less than this share of the most she gained in the launch (own
choice: 0.33 in the demo's air, 0.85 at the start of her launches)."""

LEAST_FLARE = 1e-6
"""What an engine at rest flares by is rounding, rev/s."""

_STEP_S = 0.1


def flares(channels: Mapping[str, Channel], span: Span) -> tuple[float, ...]:
    """The instants at which the propeller drew the most air in a launch; none where engine
    speed is not logged.

    Parameters
    ----------
    channels
        By key, on UTC, timely.
    span
        The launch, from its start to where the gain in speed ends.
    """
    engine, speed = channels.get("engine_speed"), channels.get("speed")
    if engine is None or speed is None:
        return ()
    t = np.arange(span.start_s, span.stop_s, _STEP_S)
    turns = fit(engine, t, law_for(engine, channels)).values
    push = fit(speed, t, law_for(speed, channels)).slopes
    known = np.isfinite(turns) & np.isfinite(push)
    if np.count_nonzero(known) < 10:
        return ()
    t, turns, push = t[known], turns[known], push[known]
    peaks, prominences = peaks_of(turns)
    tall = (prominences >= LEAST_FLARE) & (prominences >= FLARE_SHARE * turns[peaks])
    weak = push[peaks] < MOST_PUSH * float(np.max(push))
    return tuple(t[peaks[tall & weak]].tolist())
