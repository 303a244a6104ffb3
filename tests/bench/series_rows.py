"""What the studies of the series share: rows, their table and its verdict."""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from season import make_season, write_series

from overlay.workflow.align import align
from sync.cache_folder import CACHE_VARIABLE


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What a row works with."""

    folder: Path
    short: bool
    trials: int | None

    def season(self, name: str, more: str = "[limits]\ncores = 2\n", **facts: object) -> Path:
        """A tied season of its own."""
        folder = make_season(self.folder / name, **facts)  # type: ignore[arg-type]  # of a season
        for day in folder.glob("day*"):
            align(day / "trial.toml")
        write_series(folder, more)
        return folder


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A row of the answer, which is met up to its goal."""

    row: str
    value: float
    goal: float
    told: str

    @property
    def met(self) -> bool:
        return self.value <= self.goal


Rows = Mapping[str, Callable[[Bench], list[Figure]]]


def elapsed_s(work: Callable[[], object]) -> float:
    """How long a piece of work takes on the clock."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def study(about: str, rows: Rows) -> int:
    """Print the table of the rows that the command line asks for; returns the exit code."""
    parser = argparse.ArgumentParser(description=about.partition("\n")[0])
    parser.add_argument("--short", action="store_true", help="less of everything, under 50 s")
    parser.add_argument("--only", metavar="ROW", choices=tuple(rows), help=", ".join(rows))
    parser.add_argument("--trials", type=int, metavar="N", help="so many trials of a row")
    given = parser.parse_args()
    figures: list[Figure] = []
    with tempfile.TemporaryDirectory(prefix="series-") as folder:
        os.environ[CACHE_VARIABLE] = f"{folder}/cache"
        bench = Bench(folder=Path(folder), short=given.short, trials=given.trials)
        for name, work in rows.items():
            if given.only in (None, name):
                for one in work(bench):
                    figures.append(one)
                    verdict = "met" if one.met else "MISSED"
                    line = f"{one.row:28} {one.value:7.3f}  goal {one.goal:.2f}  {verdict:6}"
                    print(f"{line}  {one.told}", flush=True)
    missed = [one.row for one in figures if not one.met]
    print(f"missed: {', '.join(missed)}" if missed else "all goals are met")
    return 1 if missed else 0
