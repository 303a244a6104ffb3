"""What one channel shows of its own health, and what its log shows of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.channel import Channel
from sync.clock import Span
from sync.health.rules import Ailment
from sync.health.stretches import known, runs_of
from sync.log import Log

if TYPE_CHECKING:
    from numpy.typing import NDArray

ENDLESS = ("speed", "engine_speed", "fuel_flow", "pitch", "roll", "turn_rate", "acceleration")
"""Channels that have no stop of their own within what they can measure, so that one at its
limit was cut off. Levers and switches do rest at theirs."""

FINE = 200.0
"""Steps that a channel's range must have for its values to tell a limit from a coarse digit."""

LIMIT_S, LIMIT_SAMPLES, LIMIT_TIMES = 1.0, 10, 5.0
SILENT_SHARE = 0.5
FAR_BELOW = 8.0
SAG_S, SAG_SHARE, SAG_HOLES_S = 10.0, 0.5, 2.0
BLOCK_S, BLOCK_SAMPLES, BLOCK_VALUES, BLOCK_MOVES = 5.0, 30, 10, 0.5
_ROOT = 0x9E3779B97F4A7C15
"""An odd number without a pattern: 2^64 over the golden ratio."""


def log_ailments(log: Log) -> tuple[Ailment, ...]:
    """What is wrong with the channels of a log, each by itself and beside the others."""
    found: list[Ailment] = []
    for channel in log.channels.values():
        found += _voiceless(channel)
        found += _at_limit(channel)
        found += _sagging(channel)
        found += _repeated(channel)
    return (*found, *_slow(log))


def _voiceless(channel: Channel) -> list[Ailment]:
    share = float(np.mean(~np.isfinite(channel.values))) if channel.values.size else 1.0
    if share == 1.0:
        return [Ailment(rule="no_value", channel=channel.key, text="has no value at all")]
    if share > SILENT_SHARE and channel.name != "course":
        text = f"has no value in {share:.0%} of its samples"
        return [Ailment(rule="silent", channel=channel.key, text=text)]
    return []


def _at_limit(channel: Channel) -> list[Ailment]:
    """Peaks that are cut off: one stretch at the very extreme, and little beside it."""
    t, values = known(channel)
    if channel.name not in ENDLESS or values.size < 10 * LIMIT_SAMPLES:
        return []
    distinct, count = np.unique(values, return_counts=True)
    if distinct.size < 3 or not np.min(np.diff(distinct)) <= np.ptp(values) / FINE:
        return []
    found = []
    ends = [("greatest", distinct.size - 1, distinct.size - 2)]
    if channel.kind.low < 0:  # what cannot be negative rests at nought
        ends.append(("least", 0, 1))
    for word, extreme, beside in ends:
        if count[extreme] < LIMIT_SAMPLES or count[extreme] < LIMIT_TIMES * count[beside]:
            continue
        kept = [
            (first, last)
            for first, last in runs_of(values == distinct[extreme])
            if last - first + 1 >= LIMIT_SAMPLES and t[last] - t[first] >= LIMIT_S
        ]
        if kept:
            span = Span(start_s=float(t[kept[0][0]]), stop_s=float(t[kept[-1][1]]))
            held_s = sum(float(t[last] - t[first]) for first, last in kept)
            text = f"stands at its {word} value for {held_s:.1f} s, as if it were cut off there"
            found.append(Ailment(rule="at_limit", channel=channel.key, text=text, span=span))
    return found


def _sagging(channel: Channel) -> list[Ailment]:
    """Stretches in which single values are missing, more than there are holes for."""
    t, _ = known(channel)
    period = channel.period_s
    if t.size < 100 or not 0 < period < SAG_S / 10 or channel.name == "course":
        return []
    edges = np.arange(t[0], t[-1], SAG_S)
    if edges.size < 3:
        return []
    counts, _ = np.histogram(t, bins=edges)
    few = counts < SAG_SHARE * SAG_S / period
    for hole in channel.holes():
        share = np.minimum(edges[1:], hole.stop_s) - np.maximum(edges[:-1], hole.start_s)
        few &= ~(share > SAG_HOLES_S)
    stretches = runs_of(few)
    if not stretches:
        return []
    longest = max(stretches, key=lambda one: one[1] - one[0])
    rate = float(np.mean(counts[longest[0] : longest[1] + 1])) / SAG_S
    span = Span(start_s=float(edges[longest[0]]), stop_s=float(edges[longest[1] + 1]))
    text = f"comes at {rate:.1f} Hz in place of {1 / period:.1f} Hz"
    return [Ailment(rule="sagging", channel=channel.key, text=text, span=span)]


def _slow(log: Log) -> list[Ailment]:
    rates = {
        key: 1 / channel.period_s
        for key, channel in log.channels.items()
        if channel.name in ENDLESS and channel.name != "fuel_flow" and channel.period_s > 0
    }
    found = []
    for key, rate in rates.items():
        others = [other for name, other in rates.items() if name != key]
        if len(others) >= 2 and rate * FAR_BELOW < np.median(others):
            usual = float(np.median(others))
            text = f"comes at {rate:.2g} Hz, where the rest of the log has {usual:.3g} Hz"
            found.append(Ailment(rule="slow", channel=key, text=text))
    return found


def _repeated(channel: Channel) -> list[Ailment]:
    """Blocks of values that stand in the log twice, by a hash of every window."""
    t, values = known(channel)
    period = channel.period_s
    if channel.name not in ENDLESS or not period > 0:
        return []
    width = max(BLOCK_SAMPLES, round(BLOCK_S / period))
    if t.size < 2 * width:
        return []
    distinct, codes = np.unique(values, return_inverse=True)
    if distinct.size < BLOCK_VALUES:
        return []
    lively = np.concatenate([[0], np.cumsum(np.diff(values) != 0)])
    for first, second in _twins(codes.astype(np.uint64), width):
        block = values[first : first + width]
        moves = int(lively[first + width - 1] - lively[first])
        if moves < BLOCK_MOVES * width or np.unique(block).size < BLOCK_VALUES:
            continue
        if np.array_equal(block, values[second : second + width]):
            length = _shared(values, first, second)
            span = Span(start_s=float(t[second]), stop_s=float(t[second + length - 1]))
            ago = float(t[second] - t[first])
            text = f"repeats {span.length_s:.1f} s to the last digit from {ago:.1f} s before"
            return [Ailment(rule="repeated", channel=channel.key, text=text, span=span)]
    return []


def _twins(codes: NDArray[np.uint64], width: int) -> list[tuple[int, int]]:
    """Pairs of windows with one hash, the earlier first.

    ::

        hash[i] = r^-i Σ code[k] r^k,    i ≤ k < i + width, modulo 2^64
    """
    ahead = np.cumprod(np.full(codes.size, _ROOT, dtype=np.uint64))
    back = np.cumprod(np.full(codes.size, pow(_ROOT, -1, 2**64), dtype=np.uint64))
    sums = np.concatenate([[np.uint64(0)], np.cumsum((codes + np.uint64(1)) * ahead)])
    hashes = (sums[width:] - sums[:-width]) * back[: codes.size - width + 1]
    order = np.argsort(hashes, kind="stable")
    equal = np.flatnonzero(np.diff(hashes[order]) == 0)
    pairs = [(int(order[i]), int(order[i + 1])) for i in equal]
    return sorted((low, high) for low, high in pairs if high - low >= width)


def _shared(values: Floats, first: int, second: int) -> int:
    """For how many samples two places go on alike."""
    most = min(second - first, values.size - second)
    differ = np.flatnonzero(values[first : first + most] != values[second : second + most])
    return int(differ[0]) if differ.size else most
