"""Noise by step, where a sound level meter logged: the energy mean, each way and both ways.

Levels are logarithms, so that their energies are averaged and not they themselves,

::

    Leq = 10 lg( mean 10^(L/10) )

and a doubt s of the mean energy E is 10 / ln 10 · s / E of the level. Two equal sources together
are 3.01 dB louder than one; a plain mean of decibels would always be too low.

Levels come from the channel `sound_level` alone, whose unit is dB(A): a meter's log has it, and
nothing else does. What a camera's microphone heard is of unknown gain and weighting, and never
becomes a level.

Source: equivalent continuous level as in IEC 61672-1 and ISO 1996-1 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.analysis.means import LEAST_BLOCKS, NONE, Mean, average, mean_of, widened_scatter
from overlay.analysis.steps import Step, StepPass
from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span

CHANNEL = "sound_level"

METER_SD_DB = 0.7
"""What a meter may be out by, in all of its levels alike: class 2 allows 1.4 dB at 1 kHz, taken for
two deviations (IEC 61672-1:2003, from memory). It drops out within a trial, and not between two."""

DB_PER_SHARE = 10 / math.log(10)
"""How many decibels a small share of the energy is worth: 4.34 dB for all of it."""


BLOCK_S = 6.0
"""Length of a block whose mean is evidence of its own: meters weight levels Slow, over a second,
so that the blocks of faster instruments would claim too much (see the tests)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepNoise:
    """Noise at one step, in dB(A).

    Parameters
    ----------
    name
        Of the step.
    passes
        The energy mean of each pass, in the step's order; without a value where the meter has a
        hole.
    level
        Of the passes, those of the two directions counted alike.
    spread_db
        From the quietest pass to the loudest, wind and water in it; NaN for fewer than two.
    """

    name: str
    passes: tuple[Mean, ...]
    level: Mean
    spread_db: float


def energy_mean(levels_db: Floats) -> float:
    """The energy mean of levels that last equally long.

    Parameters
    ----------
    levels_db : [shape=(n,), dB]
        One and more.
    """
    return float(10 * np.log10(np.mean(10 ** (levels_db / 10))))


def noise_by_step(channels: Mapping[str, Channel], steps: Sequence[Step]) -> tuple[StepNoise, ...]:
    """The level at every step that a sound level meter logged, in the steps' order.

    Parameters
    ----------
    channels
        By key, on UTC, timely; without `sound_level` there is no noise.
    """
    meter = channels.get(CHANNEL)
    if meter is None:
        return ()
    energy = replace(meter, values=10 ** (meter.values / 10))
    made = [_step(energy, step) for step in steps]
    return tuple(one for one in made if one.level.known)


def _step(energy: Channel, step: Step) -> StepNoise:
    passes = [_pass(energy, run) for run in step.passes]
    known = [one.value for one in map(_level, passes) if one.known]
    return StepNoise(
        name=step.name,
        passes=tuple(_level(one) for one in passes),
        level=_level(_both_ways(passes, [run.way for run in step.passes])),
        spread_db=max(known) - min(known) if len(known) > 1 else math.nan,
    )


def _pass(energy: Channel, run: StepPass) -> Mean:
    """The mean energy of a pass, its stretches weighted by their length."""
    parts = [_mean(energy, span) for span in run.spans]
    if not parts or not all(part.known for part in parts) or not _covers(energy, run.spans):
        return NONE
    share = np.array([span.length_s for span in run.spans]) / run.length_s
    return Mean(
        value=float(np.dot(share, [part.value for part in parts])),
        sd=float(np.linalg.norm(share * [part.sd for part in parts])),
    )


def _mean(energy: Channel, span: Span) -> Mean:
    """The mean energy of a stretch, its doubt from blocks longer than a meter's own weighting."""
    mean = mean_of(energy, span)
    if not mean.known:
        return NONE
    blocks = max(LEAST_BLOCKS, int(span.length_s / BLOCK_S))
    here = energy.cut(span)
    share = (here.t_s - span.start_s) / span.length_s
    place = np.minimum(share * blocks, blocks - 1).astype(int)
    counts = np.bincount(place, minlength=blocks)
    if np.any(counts == 0):
        return Mean(value=mean.value, sd=math.nan)
    means = np.bincount(place, weights=here.values, minlength=blocks) / counts
    return Mean(value=mean.value, sd=widened_scatter(means) / math.sqrt(blocks))


def _covers(energy: Channel, spans: Sequence[Span]) -> bool:
    """Whether the meter ran through all stretches, and not for the last part of one only."""
    there, slack = energy.span, energy.period_s
    return there is not None and all(
        there.start_s <= span.start_s + slack and span.stop_s <= there.stop_s + slack
        for span in spans
    )


def _both_ways(energies: Sequence[Mean], ways: Sequence[int]) -> Mean:
    """The mean energy, the two ways counted alike; of all passes where there is one way only."""
    there = [mean for mean, way in zip(energies, ways, strict=True) if way == 1]
    back = [mean for mean, way in zip(energies, ways, strict=True) if way == -1]
    if not back:
        return average(energies)
    return average([average(there), average(back)])


def _level(energy: Mean) -> Mean:
    """A mean energy as a level."""
    if not energy.known:
        return NONE
    return Mean(value=10 * math.log10(energy.value), sd=DB_PER_SHARE * energy.sd / energy.value)
