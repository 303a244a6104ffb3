"""What a study of accuracy is: rows of simulated trials, a goal for each, and a verdict.

A row holds where 95 % of its errors stay under the goal and its 95 % intervals hold the truth in
90 to 99 % of the trials; a row that must refuse, where there is never an answer. Every trial has
a seed of its own, so a row comes to the same on any number of processes.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing.pool import Pool

import numpy as np

TRIALS = 200

MANY = 150
"""From so many answers on the share of intervals that hold is what it is, and not chance: of 117
that hold in 97.5 % there are more than 99 % every fifth time."""


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One quantity of one trial: its error, the part of it that delays made, and its stated
    standard deviation. An error of NaN means that there was no answer."""

    error: float
    delay: float = 0.0
    sd: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Row:
    """What is tried: the goal in `unit`s, and the least share of trials with an answer.

    `run` takes a generator and whether the study is a short one. `short` and `trials` are how
    many trials a short study and a full one make, none where each takes too long; a row that
    `refuses` may have no answer, or not in more than an `allowed` share.
    """

    name: str
    goal: float
    unit: str
    scale: float
    short: int
    run: Callable[[np.random.Generator, bool], list[Outcome]]
    trials: int = TRIALS
    answers: float = 0.9
    refuses: bool = False
    allowed: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Result:
    """What a row came to; `seconds` is how long after the study's beginning."""

    row: Row
    trials: int
    outcomes: list[Outcome]
    seconds: float

    @property
    def answers(self) -> list[Outcome]:
        return [one for one in self.outcomes if math.isfinite(one.error)]

    @property
    def p95(self) -> float:
        """What 95 % of the errors stay under, the delays' part taken out."""
        rest = [abs(one.error - one.delay) for one in self.answers]
        return float(np.percentile(rest, 95)) if rest else math.nan

    @property
    def held(self) -> float:
        """Share of 95 % intervals, delays and all, that hold the truth."""
        inside = [abs(one.error) <= 1.96 * one.sd for one in self.answers]
        return float(np.mean(inside)) if inside else math.nan

    @property
    def good(self) -> bool:
        share = len(self.answers) / len(self.outcomes)
        if self.row.refuses:
            return share <= self.row.allowed
        count = len(self.answers)
        # Few trials cannot tell 88 % from 90 %: the bounds give way by 2.6 deviations of chance.
        chance = 0.0 if self.trials >= TRIALS else 2.6 / math.sqrt(self.trials)
        least = self.row.answers
        if share < least - chance * math.sqrt(least * (1 - least)) or not self.p95 <= self.row.goal:
            return False
        give = 0.0 if count >= MANY else 2.6 * math.sqrt(0.9 * 0.1 / count)
        most = 0.99 if count >= MANY else 1.0
        return 0.9 - give <= self.held <= most


Job = tuple[Row, int, bool]


def _trial(job: Job) -> list[Outcome]:
    row, trial, short = job
    return row.run(np.random.default_rng([trial, *row.name.encode()]), short)


def begin(row: Row, trials: int, *, short: bool, pool: Pool) -> Callable[[], Result]:
    """Set a row going; what it came to is to be had from what this returns."""
    began = time.perf_counter()
    jobs = [(row, trial, short) for trial in range(trials)]
    running = pool.map_async(_trial, jobs, chunksize=1)

    def result() -> Result:
        outcomes = [one for outcomes in running.get() for one in outcomes]
        seconds = time.perf_counter() - began
        return Result(row=row, trials=trials, outcomes=outcomes, seconds=seconds)

    return result


def line(result: Result) -> str:
    row, answers = result.row, result.answers
    told = f"{row.name:18}{result.trials:7}{len(answers):6} of {len(result.outcomes):<5}"
    if row.refuses:
        refused = "all refused" if result.good and not answers else "within what is allowed"
        said = refused if result.good else "NOT ALL REFUSED"
        return f"{told}{said:>28}{result.seconds:29.1f}"
    rest = [(one.error - one.delay) * row.scale for one in answers] or [math.nan]
    delay = [one.delay * row.scale for one in answers] or [math.nan]
    goal = f"{row.goal * row.scale:.3g} {row.unit}" if math.isfinite(row.goal) else "-"
    return (
        f"{told}{np.mean(rest):9.2f}{result.p95 * row.scale:9.2f}{goal:>12}"
        f"{np.percentile(np.abs(delay), 95):9.1f}{result.held:8.1%}{result.seconds:8.1f}"
        f"   {'holds' if result.good else 'misses'}"
    )


def main(rows: Sequence[Row], about: str) -> int:
    """Run the rows that the command line asks for; 1 where one misses its goal."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--short", action="store_true", help="few trials, under 50 s in all")
    parser.add_argument("--only", metavar="ROW", choices=[row.name for row in rows])
    parser.add_argument("--trials", type=int, metavar="N")
    parser.add_argument("--jobs", type=int, metavar="N", default=os.cpu_count() or 1)
    given = parser.parse_args()
    print(
        f"{'row':18}{'trials':>7}{'answers':>12}{'mean':>11}{'95 %':>9}{'goal':>12}"
        f"{'delay':>9}{'held':>8}{'s':>8}"
    )
    results = []
    # One pool for all rows, since what is simulated once is kept in its processes; and all of them
    # are set going at once, so that no core waits for the last trial of a row.
    with multiprocessing.get_context("fork").Pool(given.jobs) as pool:
        begun = []
        for row in rows:
            trials = given.trials or (row.short if given.short else row.trials)
            if given.only in (None, row.name) and trials:
                begun.append(begin(row, trials, short=given.short, pool=pool))
        for result in begun:
            results.append(result())
            print(line(results[-1]), flush=True)
    if given.short and (left := [row.name for row in rows if not row.short]):
        print(f"left to the full study: {', '.join(left)}")
    missed = [result.row.name for result in results if not result.good]
    print(f"misses: {', '.join(missed)}" if missed else "every row holds")
    return 1 if missed else 0
