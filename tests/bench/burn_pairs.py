"""Two ways to make the same clip, run in turn in one process, and how their times compare."""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from sync.cache_folder import CACHE_VARIABLE
from sync.media import frame_cache

Work = Callable[[], object]


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A figure that a row came to, and the most (or least) that it may be."""

    row: str
    value: float
    unit: str = ""
    digits: int = 3
    goal: float
    at_least: bool = False
    told: str = ""

    @property
    def holds(self) -> bool:
        return self.value >= self.goal if self.at_least else self.value <= self.goal


@dataclass(frozen=True, kw_only=True)
class Took:
    """Seconds by the clock on the wall, and of all processors, child processes included."""

    wall: float
    cpu: float


@dataclass(frozen=True, kw_only=True)
class Pairs:
    """What the two took, pair by pair."""

    first: list[Took] = field(default_factory=list)
    second: list[Took] = field(default_factory=list)

    @property
    def ratios(self) -> list[float]:
        """The second's time in the first's, pair by pair."""
        return [b.wall / a.wall for a, b in zip(self.first, self.second, strict=True)]

    @property
    def of_pairs(self) -> float:
        """The median of the pairs' ratios: what slows the machine slows both of a pair."""
        return statistics.median(self.ratios)

    @property
    def told(self) -> str:
        """The ratio of the medians, which one bad pair moves more, and that of the processors'
        time, which other programs move less."""
        cpu = statistics.median(one.cpu for one in self.second) / statistics.median(
            one.cpu for one in self.first
        )
        return f"medians {self.of_medians:.3f}, cpu {cpu:.3f}, {len(self.first)}×"

    @property
    def of_medians(self) -> float:
        """The ratio of the median times."""
        return statistics.median(b.wall for b in self.second) / statistics.median(
            a.wall for a in self.first
        )


def in_turn(first: Work, second: Work, trials: int) -> Pairs:
    """First, second, first, second: each with nothing in the cache of frame times."""
    pairs = Pairs()
    for _ in range(trials):
        pairs.first.append(timed(first))
        pairs.second.append(timed(second))
        a, b = pairs.first[-1].wall, pairs.second[-1].wall
        print(f"    {b:.2f} s / {a:.2f} s = {b / a:.3f}", flush=True)
    return pairs


def timed(work: Work) -> Took:
    """What some work takes, which finds nothing that earlier work has put by."""
    with tempfile.TemporaryDirectory() as name:
        os.environ[CACHE_VARIABLE] = str(Path(name, "cache"))
        frame_cache.forget()
        wall, cpu = time.perf_counter(), sum(os.times()[:4])
        work()
        return Took(wall=time.perf_counter() - wall, cpu=sum(os.times()[:4]) - cpu)
