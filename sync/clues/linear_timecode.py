"""Linear timecode on a sound track: which labels stand where, read off the waveform.

A recorder or a camera takes the code of a timecode generator on one of its sound channels. It
is read in stretches of some seconds (`ltc.read`); stretches whose labels and instants go on
from each other are one run, and where they do not, the run ends at the frame that no longer
fits. A straight line through the instants of a run's sync words says when each label began,
to a few microseconds, and how fast the code runs by the sound's clock.

What it does not do: user bits that change from frame to frame are read as what they are
mostly, and a code that is played backwards is recognised and refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from sync.clues.ltc.read import LEAST_FRAMES, Reading, follow, read_stretch
from sync.clues.ltc.run import CodeRun, run_of
from sync.clues.ltc.wave import LEAST_RATE_HZ, Pulses, pulses_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Code", "CodeRun", "find_code"]

STRETCH_S = 8.0
"""Sound that is read as one."""

WEAK_STRETCH_S, WEAK_PLACES = 24.0, 6
"""Where nothing is read so, a code beneath other sound is looked for in longer stretches at so
many places; once one is read, those about it go on from it."""

SAME_SHARE = 0.25
"""Stretches go on from each other if they do to a quarter of a frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """The runs of timecode in a sound in their order, and whether some is played backwards."""

    runs: tuple[CodeRun, ...] = ()
    backwards: bool = False


def find_code(samples: NDArray[np.float32], rate_hz: float, start_s: float) -> Code:
    """Linear timecode on any channel of a sound; on the one where it stands out most.

    Parameters
    ----------
    samples : [shape=(channels, n) or (n,)]
        The sound, each channel for itself: a mean of channels buries a code under the other's
        sound.
    rate_hz
        Samples a second; none is looked for below `LEAST_RATE_HZ`.
    start_s
        When the first sample is.
    """
    channels = np.atleast_2d(samples)
    found = [_on_channel(k, channels[k], rate_hz, start_s) for k in range(channels.shape[0])]
    return max(
        found,
        key=lambda code: (sum(run.frames for run in code.runs), _strength(code), code.backwards),
        default=Code(),
    )


def _strength(code: Code) -> float:
    return sum(run.fit for run in code.runs)


def _on_channel(channel: int, samples: NDArray[np.float32], rate_hz: float, start_s: float) -> Code:
    if rate_hz < LEAST_RATE_HZ or not np.all(np.isfinite(samples)):
        return Code()
    pulses = pulses_of(samples, rate_hz, start_s)
    parts = _parts(pulses, STRETCH_S)
    readings, backwards = _each_part(parts)
    if not readings and not backwards:
        found, backwards = _weak(pulses)
        readings = [] if found is None else _about(parts, found)
    groups = _groups(readings)
    runs: list[CodeRun] = []
    for k, group in enumerate(groups):
        after = groups[k - 1][-1].start_s if k else pulses.start_s
        before = _end(groups[k + 1][0]) if k + 1 < len(groups) else _stop(pulses)
        run = run_of(pulses, channel, group, after, before)
        if run is not None:
            runs.append(run)
    return Code(runs=_apart(runs), backwards=backwards)


def _parts(pulses: Pulses, length_s: float) -> list[Pulses]:
    """A sound in parts of equal length, of about so many seconds."""
    size = pulses.z.size
    count = max(1, round(size / (length_s * pulses.rate_hz)))
    edges = [size * k // count for k in range(count + 1)]
    return [pulses.part(a, b) for a, b in pairwise(edges)]


def _each_part(parts: list[Pulses]) -> tuple[list[Reading], bool]:
    """What the parts say, one after the other, and whether any is played backwards."""
    read: dict[int, Reading] = {}
    backwards = False
    for k, part in enumerate(parts):
        found = follow(part, read[k - 1]) if k - 1 in read else None
        if found is None:
            found, back = read_stretch(part)
            backwards |= back
        if found is not None:
            read[k] = found
    for k in reversed(range(len(parts) - 1)):
        if k not in read and k + 1 in read and (found := follow(parts[k], read[k + 1])):
            read[k] = found
    readings = list(read.values())
    for k in range(len(parts)):
        # A part in which the code breaks off may hold whole what is in its halves.
        if k not in read and (k - 1 in read or k + 1 in read):
            halves = _parts(parts[k], 0.5 * STRETCH_S)
            readings += [found for half in halves if (found := read_stretch(half)[0])]
    return sorted(readings, key=lambda one: one.start_s), backwards


def _weak(pulses: Pulses) -> tuple[Reading | None, bool]:
    """The first reading of a code beneath other sound, looked for at a few places."""
    parts = _parts(pulses, WEAK_STRETCH_S)
    every = max(1, len(parts) // WEAK_PLACES)
    for part in parts[every // 2 :: every]:
        found, back = read_stretch(part, weak=True)
        if found is not None or back:
            return found, back
    return None, False


def _about(parts: list[Pulses], found: Reading) -> list[Reading]:
    """A reading, and what goes on from it in the parts before and after."""
    readings = [found]
    middle = found.start_s + 0.5 * found.frames * found.frame_s
    for ahead in (True, False):
        last = found
        for part in parts if ahead else reversed(parts):
            centre = part.start_s + 0.5 * part.z.size / part.rate_hz
            if (centre > middle) != ahead:
                continue
            one = follow(part, last)
            if one is not None:
                readings.append(one)
                last = one
    return sorted(readings, key=lambda one: one.start_s)


def _stop(pulses: Pulses) -> float:
    return pulses.start_s + pulses.z.size / pulses.rate_hz


def _end(reading: Reading) -> float:
    return reading.start_s + reading.frames * reading.frame_s


def _groups(readings: list[Reading]) -> list[list[Reading]]:
    """Readings that go on from each other."""
    groups: list[list[Reading]] = []
    for one in readings:
        if groups and _goes_on(groups[-1][-1], one):
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def _goes_on(last: Reading, one: Reading) -> bool:
    if last.rate != one.rate:
        return False
    passed = (one.start_s - last.start_s) / (0.5 * (last.frame_s + one.frame_s))
    counted = (one.frame - last.frame) % one.rate.frames_in_a_day
    return abs(passed - counted) < SAME_SHARE


def _apart(runs: Sequence[CodeRun]) -> tuple[CodeRun, ...]:
    """Runs without the frames that two of them claim, and without those that are too short."""
    kept: list[CodeRun] = []
    for run in runs:
        over = 0
        if kept and kept[-1].stop_s > run.start_s + 0.5 * run.frame_s:
            over = int(np.ceil((kept[-1].stop_s - run.start_s) / run.frame_s - 0.5))
        if run.frames - over >= LEAST_FRAMES:
            kept.append(
                replace(
                    run,
                    start_s=run.start_s + over * run.frame_s,
                    frame=(run.frame + over) % run.rate.frames_in_a_day,
                    frames=run.frames - over,
                )
            )
    return tuple(kept)
