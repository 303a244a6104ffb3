"""How well a row of prints fits a place: level and gain apart, cells that disagree left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.audit.edit.haystack import Line
from overlay.audit.edit.sources import Source

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Cells = NDArray[np.float32]
    Codes = NDArray[np.floating[Any]] | NDArray[np.uint8]

LEFT_OUT = 0.25
"""Share of the cells that may disagree: a logo, a caption, what a browser laid over it."""

GAINS = (0.3, 3.0)
"""Regrading that is allowed for."""

BIAS_SHARE = 0.1
"""What is the same in all pictures counts so much of what changes: a gamma is the former, and a
false place both."""

SLOWEST = 0.1
"""At no speed at all every shot fits where little moves."""

FINE = 8
"""So many places are fitted closely, of which the best few are looked at."""

BATCH = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A line, and how far its prints are from those of the film, in the source's codes."""

    line: Line
    misfit: float


def misfits(film: Codes, source: Codes, seen: NDArray[np.bool_]) -> NDArray[np.float64]:
    """How far a row of prints is from others [shape=(b,)], in the source's codes.

    Parameters
    ----------
    film : [shape=(n, 32)]
    source : [shape=(b, n, 32)]
    seen : [shape=(32,)]

    Returns
    -------
    [shape=(b,)]
        With gain g and level l by least squares, of the residuals r = (film - l) / g - source, the
        quarter of the cells left out whose r are greatest::

            sqrt(mean((r - mean_n r)^2 + 0.1 (mean_n r)^2))
    """
    ours, its = film[:, seen].astype(np.float64), source[..., seen].astype(np.float64)
    weight = np.ones((len(its), ours.shape[1]))
    keep = ours.shape[1] - int(LEFT_OUT * ours.shape[1])
    off = np.zeros(0)
    for _ in range(3):
        gain, level = gain_and_level(ours, its, weight)
        off = (ours[None] - level[:, None, None]) / gain[:, None, None] - its
        squares = np.square(off).mean(axis=1)
        border = np.partition(squares, keep - 1, axis=1)[:, keep - 1 : keep]
        weight = (squares <= border).astype(np.float64)
    bias = off.mean(axis=1)
    moving = off.var(axis=1)
    each = moving + BIAS_SHARE * np.square(bias)
    total: NDArray[np.float64] = np.sqrt((each * weight).sum(axis=1) / weight.sum(axis=1))
    return np.where((gain > GAINS[0]) & (gain < GAINS[1]), total, np.inf)


def misfit_of_each(film: Codes, source: Codes, seen: NDArray[np.bool_]) -> NDArray[np.float64]:
    """How far each print of a row is from its own [shape=(n,)], in the source's codes, one gain
    and level for all; of the cells, that quarter is left out which disagrees in most pictures."""
    ours, its = film[:, seen].astype(np.float64), source[:, seen].astype(np.float64)
    keep = ours.shape[1] - int(LEFT_OUT * ours.shape[1])
    weight = np.ones((1, ours.shape[1]))
    off = np.zeros_like(ours)
    for _ in range(3):
        gain, level = gain_and_level(ours, its[None], weight)
        off = (ours - level) / gain - its
        usual = np.median(np.square(off), axis=0)
        weight = (usual <= np.partition(usual, keep - 1)[keep - 1])[None].astype(np.float64)
    each: NDArray[np.float64] = np.sqrt((np.square(off) * weight).sum(axis=1) / weight.sum())
    return each


def gain_and_level(
    film: NDArray[np.float64], source: NDArray[np.float64], weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """By least squares, film = gain * source + level, for each row of cells [shape=(b,)]."""
    count = weight.sum(axis=1) * len(film)
    w = weight[:, None, :]
    mean_s = (w * source).sum(axis=(1, 2)) / count
    mean_f = (weight * film.sum(axis=0)).sum(axis=1) / count
    cross = (w * (source - mean_s[:, None, None]) * film[None]).sum(axis=(1, 2))
    power = (w * np.square(source - mean_s[:, None, None])).sum(axis=(1, 2))
    gain = np.maximum(cross / np.maximum(power, 1e-6), 1e-3)
    return gain, mean_f - gain * mean_s


def ranked(
    sources: Sequence[Source],
    lines: Sequence[Line],
    t_s: NDArray[np.float64],
    cells: Cells,
    seen: NDArray[np.bool_],
) -> list[Fitted]:
    """Lines as they fit best nearby, the best first, each place of a source once."""
    chosen = np.unique(np.linspace(0, len(t_s) - 1, 16).round().astype(int))
    half_s = max((t_s[-1] - t_s[0]) / 2, 1e-3)
    rough = [
        _best_near(sources, line, (t_s[chosen], cells[chosen], seen),
                   np.linspace(-0.15, 0.15, 7), np.linspace(-0.15, 0.15, 5) / half_s)
        for line in _apart(lines)
    ]  # fmt: skip
    first = _once_each(sorted(rough, key=lambda one: one.misfit))[:FINE]
    chosen = np.unique(np.linspace(0, len(t_s) - 1, 40).round().astype(int))
    window = (t_s[chosen], cells[chosen], seen)
    fine = []
    for one in first:
        step = sources[one.line.source].step_s
        by_s = np.arange(-3, 4) * max(step / 2, 0.01)
        fine.append(_best_near(sources, one.line, window, by_s, by_s / half_s))
    return _once_each(sorted(fine, key=lambda one: one.misfit))


def _apart(lines: Sequence[Line]) -> list[Line]:
    """Without those that nearly are another one."""
    kept: list[Line] = []
    for line in lines:
        if not any(
            line.source == other.source
            and abs(line.at_s - other.at_s) < 0.11
            and abs(line.speed - other.speed) < 0.1 * other.speed
            for other in kept
        ):
            kept.append(line)
    return kept


def _best_near(
    sources: Sequence[Source],
    line: Line,
    window: tuple[NDArray[np.float64], Cells, NDArray[np.bool_]],
    by_s: NDArray[np.floating[Any]],
    faster: NDArray[np.floating[Any]],
) -> Fitted:
    t_s, cells, seen = window
    source = sources[line.source]
    at, speed = (grid.ravel() for grid in np.meshgrid(line.at_s + by_s, line.speed + faster))
    speed = np.maximum(speed, SLOWEST)
    instants = at[:, None] + speed[:, None] * (t_s - line.zero_s)
    outside = (instants < source.times_s[0] - 0.1) | (instants > source.stops_s()[-1] + 0.1)
    off = np.concatenate(
        [
            misfits(cells, source.cells[source.frames_at(part)], seen)
            for part in np.array_split(instants, -(-len(instants) // BATCH))
        ]
    )
    off = off * (1 + 5 * outside.mean(axis=1))
    best = int(off.argmin())
    return Fitted(
        line=replace(line, at_s=float(at[best]), speed=float(speed[best])), misfit=float(off[best])
    )


def _once_each(fitted: Sequence[Fitted]) -> list[Fitted]:
    kept: list[Fitted] = []
    for one in fitted:
        near = (
            other.line.source == one.line.source and abs(other.line.at_s - one.line.at_s) < 0.3
            for other in kept
        )
        if np.isfinite(one.misfit) and not any(near):
            kept.append(one)
    return kept
