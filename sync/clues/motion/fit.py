"""At which offset does one log's motion explain another's best, and how sure is that.

What one log felt (the effect) is explained by its own state and by what another log felt (the
cause), through a law whose form is given and whose numbers are not: at every offset they are
fitted anew. For engine speed n and speed v,

::

    dv/dt = Σ a_q v^q + Σ b_pq n^p v^q

which is thrust less drag, whatever the boat. Only what changes fast is compared: each term
less its own mean over a few seconds. What such a law leaves over is slow (trim, the hump,
current, a lever astern), and would else drag the offset by half a second; what sets a clock
is the instants at which things begin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sync.arrays import Floats
from sync.clues.motion.signals import LEAST_COMMON_S, STEP_S, Bools, Motion, instants, quick, scaled

NEAR_S = 1.2
"""How far from the search's offset the finer law may put it: the plainer one is off by some
tenths of a second."""

EVENT_S = 10.0
"""Motion within this is one event (own choice: a launch or a step takes about that)."""

MEMORY_S = 3.0
"""What the law leaves over of what is fast forgets itself within this."""

ROUNDS = 12
"""Newton's steps at most; four are common."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The best shift to a fraction of a step.

    Parameters
    ----------
    shift_s, sd_s
        ``t_cause = t_effect + shift_s``, with one standard deviation from the curvature of
        the misfit and the noise that the law leaves over, coloured as it is.
    r2
        Share of the effect, beyond what its own state explains, that the cause explains.
    events
        How many independent events the shift rests on.
    middle_s
        Where on the clock of the cause the evidence has its middle.
    scale
        What one more of the cause does to the effect on average, in their units.
    """

    shift_s: float
    sd_s: float
    r2: float
    events: float
    middle_s: float
    scale: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Aligned:
    """The law fitted at one shift: what it leaves over of the effect, and how that moves with
    the shift, on the effect's grid, nought where there is no value."""

    left: Floats
    told: Floats
    there: Bools
    r2: float
    scale: float


def refine(motion: Motion, near_s: float) -> Fit | None:
    """The shift of the least misfit near one, to a fraction of a step; None where it runs off.

    Newton's steps on the misfit, the law fitted anew at each; with e what is left over and s
    how e moves with the shift, less what the law's numbers would take up of it,

    ::

        step = Σ e s / Σ s²,    sd² = Σ Σ R(t − t') s(t) s(t') / (Σ s²)²

    where R is how what is left over is correlated in time, taken where s is large.
    """
    starts = near_s + np.arange(-NEAR_S, NEAR_S + 0.1, 0.3)
    tried = [
        (float(np.mean(a.left[a.there] ** 2)), float(s))
        for s in starts
        if (a := _at(motion, float(s)))
    ]
    if not tried:
        return None
    shift = min(tried)[1]
    for _ in range(ROUNDS):
        aligned = _at(motion, shift)
        if aligned is None or not np.any(aligned.told):
            return None
        step = float(np.sum(aligned.left * aligned.told) / np.sum(aligned.told**2))
        shift += max(min(step, 0.2), -0.2)
        if abs(step) < 1e-4:
            break
    if abs(shift - near_s) > NEAR_S + 0.2:
        return None
    return _fit(motion, shift)


def _fit(motion: Motion, shift: float) -> Fit | None:
    aligned = _at(motion, shift)
    if aligned is None:
        return None
    worth = aligned.told**2
    reach = round(EVENT_S / STEP_S)
    ends = np.concatenate([[0.0], np.cumsum(worth)])
    at = np.arange(worth.size)
    around = ends[np.minimum(at + reach + 1, worth.size)] - ends[np.maximum(at - reach, 0)]
    events = float(np.sum(worth) ** 2 / np.sum(worth * around))
    middle = motion.effect.start_s + STEP_S * float(np.sum(worth * at) / np.sum(worth))
    return Fit(
        shift_s=shift,
        sd_s=_deviation(aligned.left, aligned.told, events),
        r2=aligned.r2,
        events=events,
        middle_s=middle + shift,
        scale=aligned.scale,
    )


def _deviation(left: Floats, told: Floats, events: float) -> float:
    """One standard deviation of a shift, noise taken as coloured and louder in events.

    The larger of two estimates: noise as correlated in time as all that is left over and as
    loud as where it matters; and the scatter of the events themselves. The latter has few
    events to go by, and is widened for it.
    """
    reach = min(round(MEMORY_S / STEP_S), left.size - 1)
    worth, power = float(np.sum(told**2)), float(np.sum(left**2))
    loud = float(np.sum(left**2 * told**2)) / worth
    both = left * told
    steady, scatter = loud * worth, float(np.sum(both**2))
    for k in range(1, reach):
        fade = 1 - k / reach
        colour = float(np.sum(left[k:] * left[:-k])) / power
        steady += 2 * fade * loud * colour * float(np.sum(told[k:] * told[:-k]))
        scatter += 2 * fade * float(np.sum(both[k:] * both[:-k]))
    few = max(events - 1.0, 0.5)
    return math.sqrt(max(steady, scatter * (1 + 1.5 / few), 1e-3 * loud * worth)) / worth


def _at(motion: Motion, shift: float) -> _Aligned | None:
    """The law fitted at one shift; None where too little is in common."""
    place = (instants(motion.effect) + shift - motion.cause.start_s) / STEP_S
    cause, moves = _between(motion.cause.values, np.asarray(place, dtype=np.float64))
    there = np.isfinite(motion.effect.values + motion.state.values + cause)
    if np.count_nonzero(there) * STEP_S < LEAST_COMMON_S / 2:
        return None
    y = np.where(there, motion.effect.values, 0.0)
    x = np.where(there, scaled(np.where(there, cause, np.nan)), 0.0)
    v = np.where(there, scaled(np.where(there, motion.state.values, np.nan)), 0.0)
    spread = float(np.std(cause[there])) or 1.0
    dx = np.where(there, moves, 0.0) / (spread * STEP_S)
    own = [v**q for q in motion.own]
    joint = [x**p * v**q for p, q in motion.joint]
    columns = quick(np.stack([y, *own, *joint], axis=1), there, motion.fast_s)[there]
    y = columns[:, 0]
    axes, to_terms = _axes(columns[:, 1:])  # those of the own terms come first
    along = axes.T @ y
    left = y - axes @ along
    power = float(np.sum(left**2) + np.sum(along[len(own) :] ** 2))
    solved = to_terms @ along
    felt = np.sum(
        [
            c * p * x ** (p - 1) * v**q
            for c, (p, q) in zip(solved[len(own) :], motion.joint, strict=True)
        ],
        axis=0,
    )
    moved = quick(felt * dx, there, motion.fast_s)[there]
    return _Aligned(
        left=_spread_out(left, there),
        told=_spread_out(moved - axes @ (axes.T @ moved), there),
        there=there,
        r2=1 - float(np.sum(left**2)) / power if power > 0 else 0.0,
        scale=float(np.sum(felt * dx**2) / max(float(np.sum(dx**2)), 1e-30)) / spread,
    )


def _axes(terms: Floats) -> tuple[Floats, Floats]:
    """Columns at right angles to each other that span the terms, and the way back to them.

    By Cholesky's square root of the normal equations, which is many times faster than a QR
    decomposition of so tall a matrix, with a trace of the identity for terms that are alike.
    """
    gram = terms.T @ terms
    gram += np.eye(gram.shape[0]) * (1e-10 * float(np.trace(gram)) + 1e-300)
    back = np.linalg.inv(np.linalg.cholesky(gram)).T
    return np.asarray(terms @ back), np.asarray(back)


def _spread_out(values: Floats, there: Bools) -> Floats:
    out = np.zeros(there.size)
    out[there] = values
    return out


def _between(values: Floats, place: Floats) -> tuple[Floats, Floats]:
    """Values between grid steps and their change over a step, NaN where there is none.

    By the cubic through the values and central differences of the steps on either side
    (Catmull and Rom): a straight line would damp what lies halfway, and pull shifts to whole
    steps.
    """
    if values.size < 4:
        empty = np.full(place.size, np.nan)
        return empty, empty
    index = np.floor(place).astype(np.int64)
    s = place - index
    inside = (index >= 1) & (index < values.size - 2)
    index = np.where(inside, index, 1)
    a, b, c, d = (values[index + k] for k in (-1, 0, 1, 2))
    second, third = 2 * a - 5 * b + 4 * c - d, 3 * (b - c) + d - a
    out = b + 0.5 * s * (c - a + s * (second + s * third))
    change = 0.5 * (c - a) + s * second + 1.5 * s * s * third
    return np.where(inside, out, np.nan), np.where(inside, change, np.nan)
