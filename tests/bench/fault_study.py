"""What a study of seeded faults is: rows of clips in which something is false, and a verdict.

Three things are asked of each clip: that the fault was found at all, that the right pairs of
picture, ledger and logs were named, and that this was said of the frames on which something is
false and of no others. What the audit says beside the point is counted as well.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from fault_ground import Ground

TRIES = 40
"""A fault that happens to change nothing (a time moved by a frame between two steps of the grid)
is no fault, and is made anew so often."""


class NoFaultError(Exception):
    """What was to be falsified is the same as before."""


@dataclass(frozen=True, kw_only=True)
class Fared:
    """What an audit made of one clip; `told` is what there is to say of a miss."""

    found: bool
    pairs: bool = True
    frames: bool = True
    beside: int = 0
    told: str = ""


Run = Callable[[np.random.Generator, Ground], Fared]


@dataclass(frozen=True, kw_only=True)
class Row:
    """A sort of fault: what makes a clip with it and audits that, and how many a study makes.

    `goal` is the least share that must be found, None where a rate is only told. On `honest` clips
    nothing may be found. `needs` are grounds that take long to make.
    """

    name: str
    run: Run
    trials: int
    goal: float | None = 1.0
    short: int = 0
    honest: bool = False
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Result:
    row: Row
    fared: list[Fared]
    seconds: float

    def share(self, what: str) -> float:
        return float(np.mean([getattr(one, what) for one in self.fared]))

    @property
    def beside(self) -> int:
        return sum(one.beside > 0 for one in self.fared)

    @property
    def good(self) -> bool:
        if self.row.honest:
            return not any(one.found for one in self.fared)
        return self.row.goal is None or (self.share("found") >= self.row.goal and not self.beside)


_ground: list[Ground] = []
_rows: list[Row] = []
"""Set before processes part, which then need not be told."""


def _trial(job: tuple[int, int]) -> Fared:
    at, trial = job
    row, ground = _rows[at], _ground[0].own()
    rng = np.random.default_rng([trial, *row.name.encode()])
    for _ in range(TRIES):
        try:
            return row.run(rng, ground)
        except NoFaultError:
            continue
        finally:
            ground.sweep()
    raise AssertionError(f"{row.name}, trial {trial}: no fault could be made")


HEAD = (
    f"{'row':24}{'trials':>7}{'found':>9}{'pairs':>8}{'frames':>8}{'beside':>8}{'goal':>7}{'s':>8}"
)


def line(result: Result) -> str:
    row = result.row
    goal = "none" if row.honest else "-" if row.goal is None else f"{row.goal:.0%}"
    told = f"{row.name:24}{len(result.fared):7}{result.share('found'):9.1%}"
    if row.honest:
        told += f"{'':16}"
    else:
        told += f"{result.share('pairs'):8.1%}{result.share('frames'):8.1%}"
    verdict = (
        "told" if row.goal is None and not row.honest else "holds" if result.good else "misses"
    )
    return f"{told}{result.beside:8}{goal:>7}{result.seconds:8.1f}  {verdict}"


def examples(result: Result, most: int) -> list[str]:
    """What was missed, or said without need."""
    odd = [one for one in result.fared if one.told]
    return [f"    {one.told}" for one in odd[:most]]


def main(rows: Sequence[Row], about: str) -> int:
    """Run the rows that the command line asks for; 1 where one misses its goal."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--short", action="store_true", help="a dozen clips, under 50 s")
    parser.add_argument("--only", metavar="ROW", choices=[row.name for row in rows])
    parser.add_argument("--trials", type=int, metavar="N", help="clips of each row")
    parser.add_argument("--jobs", type=int, metavar="N", default=os.cpu_count() or 1)
    parser.add_argument("--told", type=int, metavar="N", default=2, help="misses told of a row")
    given = parser.parse_args()
    wanted = [row for row in rows if given.only in (None, row.name)]
    if given.short and given.only is None:
        wanted = [row for row in wanted if row.short]
    needs = {need for row in wanted for need in row.needs}
    results = []
    with tempfile.TemporaryDirectory() as name:
        began = time.perf_counter()
        _rows[:] = wanted
        _ground[:] = [Ground(Path(name), short=given.short, needs=needs)]
        print(f"films and trials made in {time.perf_counter() - began:.0f} s", flush=True)
        print(HEAD, flush=True)
        began = time.perf_counter()
        with multiprocessing.get_context("fork").Pool(given.jobs) as pool:
            # All set going at once, so that no core waits for the last clip of a row.
            begun = []
            for at, row in enumerate(wanted):
                count = given.trials or (row.short if given.short else row.trials)
                jobs = [(at, trial) for trial in range(max(count, 1))]
                begun.append(pool.map_async(_trial, jobs, chunksize=1))
            for row, running in zip(wanted, begun, strict=True):
                fared = running.get()
                seconds = time.perf_counter() - began
                results.append(Result(row=row, fared=fared, seconds=seconds))
                print(line(results[-1]), flush=True)
                for told in examples(results[-1], given.told):
                    print(told, flush=True)
    return _verdict(results)


def _verdict(results: list[Result]) -> int:
    false = sum(len(one.fared) for one in results if not one.row.honest)
    missed = [one.row.name for one in results if not one.good]
    print(f"{false} clips with a fault, {sum(len(one.fared) for one in results) - false} without")
    print(f"misses: {', '.join(missed)}" if missed else "every row holds")
    return 1 if missed else 0
