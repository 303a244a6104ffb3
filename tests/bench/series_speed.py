"""What running many jobs costs over doing them one by one, and whether killing does any harm.

Jobs are renders of small clips, without audits. The goal of a series: its time on the clock is no
more than 1.08 times the sum of the single renders divided by what two parallel bare transcodes gain
on this machine. All three are measured in this run, the gain and the single renders before and
after the series, since a machine that others use too is not the same twice; the median counts. The
parent's own processor time, with its planning taken off, stays under a hundredth of a core.

The rows of killing begin a series, kill its parent, or one of its children, with SIGKILL at a
random instant, and hold what a later run made against a run that nobody disturbed: ledgers byte
for byte, clips picture for picture.

    python tests/bench/series_speed.py --short
    python tests/bench/series_speed.py --only "parents killed" --trials 30
"""

from __future__ import annotations

import random
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from season import COMMAND, killed_child, killed_parent, left_behind, outputs_of, run_series
from series_rows import Bench, Figure, Rows, elapsed_s, study

from overlay.series.asked import series_of
from overlay.series.plan import plan_of
from overlay.series.report import write_report
from overlay.series.run import SeriesOutcome
from overlay.series.run import run_series as run_here

BARE = (
    "import sys; sys.path[:0] = sys.argv[3:]; from pathlib import Path;"
    "from burn_bare import bare_transcode, settings_of; from overlay.render import Recipe;"
    "bare_transcode(Path(sys.argv[1]), Path(sys.argv[2]), settings_of(Recipe()))"
)


def transcodes_s(source: Path, count: int) -> float:
    """So many bare transcodes at once, each in a process of its own."""
    here = str(Path(__file__).resolve().parent)
    with tempfile.TemporaryDirectory(dir=source.parent) as out:
        words = [sys.executable, "-P", "-c", BARE, str(source)]
        return elapsed_s(
            lambda: [
                one.wait()
                for one in [
                    subprocess.Popen([*words, f"{out}/{number}.mp4", here])
                    for number in range(count)
                ]
            ]
        )


def gain(source: Path) -> float:
    """How much more two transcodes at once do in the same time than one after the other."""
    return 2 * transcodes_s(source, 1) / transcodes_s(source, 2)


def single_s(folder: Path) -> float:
    """One clip by the command for one clip, as a person would make it."""
    words = [*COMMAND, "render", "clip1", "-t", str(folder / "day1")]
    return elapsed_s(lambda: subprocess.run(words, check=True, stdout=subprocess.DEVNULL))


def forty_jobs(bench: Bench) -> list[Figure]:
    """Time on the clock, and the parent's share of a core."""
    trials, clips, size = (2, 3, (640, 360)) if bench.short else (10, 4, (1280, 720))
    season = bench.season("jobs", trials=trials, clips=clips, clip_s=2.0, size=size)
    source = season / "day1/bow.mp4"
    single_s(season)  # modules are compiled, logs are kept
    transcodes_s(source, 1)
    gains: list[float] = []
    singles: list[float] = []

    single_cpu: list[float] = []

    def measure() -> None:
        gains.append(gain(source))
        single_cpu.append(processor_s(lambda: singles.append(single_s(season)), children=True))

    rounds = 1 if bench.short else 3
    for _ in range(rounds):
        measure()
    series = series_of([str(season)])
    # What a run and its report import and work out once is there before anything is measured.
    run_here(series_of([str(bench.season("first", trials=1))]), lambda _state: None)
    planning_s = processor_s(lambda: plan_of(series))
    took: list[float] = []

    def run() -> None:
        took.append(elapsed_s(lambda: made.append(run_here(series, lambda _state: None))))

    made: list[SeriesOutcome] = []
    parent_s = 0.0

    def watched() -> None:
        nonlocal parent_s
        parent_s = processor_s(run) - planning_s
        # The report is written when all jobs are over, and is no part of their scheduling.
        parent_s -= processor_s(lambda: write_report(made[0].folder))

    jobs_cpu = processor_s(watched, children=True)
    for _ in range(rounds):
        measure()
    if not made[0].all_well:
        raise RuntimeError(f"a job failed: {made[0].failed}")
    jobs, alone_s, gained = trials * clips, statistics.median(singles), statistics.median(gains)
    ideal_s = jobs * alone_s / gained
    return [
        Figure(
            row="jobs on two cores",
            value=took[0] / ideal_s,
            goal=1.08,
            told=f"{jobs} jobs in {took[0]:.1f} s; one alone {alone_s:.2f} s, two transcodes gain "
            f"{gained:.2f} ({min(gains):.2f} to {max(gains):.2f})",
        ),
        Figure(
            row="processor a job / a render",
            value=jobs_cpu / jobs / statistics.median(single_cpu),
            goal=1.08,
            told=f"{jobs_cpu / jobs:.2f} s and {statistics.median(single_cpu):.2f} s of processor; "
            "other programs move this less than the clock",
        ),
        Figure(
            row="scheduler's share of a core",
            value=parent_s / took[0],
            goal=0.01,
            told=f"{parent_s:.2f} s of processor in {took[0]:.1f} s; planning took "
            f"{planning_s:.2f} s beside that",
        ),
    ]


def processor_s(work: Callable[[], object], *, children: bool = False) -> float:
    """Processor seconds that this process takes for a piece of work, or that its children do."""
    whose = resource.RUSAGE_CHILDREN if children else resource.RUSAGE_SELF

    def now() -> float:
        used = resource.getrusage(whose)
        return used.ru_utime + used.ru_stime

    began = now()
    work()
    return now() - began


def killings(
    bench: Bench, row: str, kill: Callable[[Path, float], bool], seed: int, a_season: int
) -> list[Figure]:
    """How many of so many killings did any harm, with so many to a season before it is looked at
    and begun anew."""
    season = bench.season(row.replace(" ", "-"), trials=3)
    span_s = elapsed_s(lambda: run_series(season))
    quiet, series = outputs_of(season), season / "season.series"
    shutil.rmtree(series)
    instants = random.Random(seed)
    times = bench.trials or (2 if bench.short else 30)
    killed, harmed = 0, []
    for number in range(times):
        killed += kill(season, instants.uniform(0.0, 0.7 * span_s))
        if number % a_season == a_season - 1 or number == times - 1:
            run_series(season)
            if outputs_of(season) != quiet or left_behind(season):
                harmed.append(number)
            shutil.rmtree(series)
    return [
        Figure(
            row=row,
            value=float(len(harmed)),
            goal=0.0,
            told=f"{killed} of {times} killings met a process at work, within {0.7 * span_s:.1f} s "
            f"of the first job; harm after {harmed or 'none'}",
        )
    ]


ROWS: Rows = {
    "jobs": forty_jobs,
    "parents killed": lambda bench: killings(bench, "parents killed", killed_parent, 31, 3),
    "children killed": lambda bench: killings(bench, "children killed", killed_child, 32, 1),
}


if __name__ == "__main__":
    sys.exit(study(__doc__, ROWS))
