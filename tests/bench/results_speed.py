"""How long the results of a day take once it is loaded, and how that grows with its length.

Twenty channels, 10 to 100 values a second, of a day that is sailed again and again: an hour in
less than a second and a half, and ten hours in no more than twelve times what an hour takes.
Each length is worked out several times, and the middle time counts. Exits 1 where a row misses.

    python tests/bench/results_speed.py --short
    python tests/bench/results_speed.py --only hour
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from long_day import long_day

from overlay.analysis.results import compute_results

HOUR_S = 3600.0
MOST_S, MOST_TIMES = 1.5, 12.0
ROWS = ("hour", "growth")


def seconds(hours: float, trials: int) -> float:
    """The middle of several times that a day takes."""
    trial = long_day(hours * HOUR_S)
    found = compute_results(trial)
    assert found.launches, "a day without runs proves nothing"
    assert found.steps
    taken = []
    for _ in range(trials):
        began = time.perf_counter()
        compute_results(trial)
        taken.append(time.perf_counter() - began)
    return statistics.median(taken)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true", help="ten hours once, under 50 s in all")
    parser.add_argument("--only", choices=ROWS)
    parser.add_argument("--trials", type=int, default=5, metavar="N")
    given = parser.parse_args()
    print(f"{'row':10}{'found':>12}{'goal':>10}")
    hour = seconds(1.0, given.trials)
    missed = []
    if given.only in (None, "hour"):
        print(f"{'hour':10}{hour:10.2f} s{MOST_S:8.1f} s")
        missed += ["hour"] if hour > MOST_S else []
    if given.only in (None, "growth"):
        times = seconds(10.0, 1 if given.short else given.trials) / hour
        print(f"{'growth':10}{times:10.1f} x{MOST_TIMES:8.0f} x")
        missed += ["growth"] if times > MOST_TIMES else []
    print(f"misses: {', '.join(missed)}" if missed else "every row holds")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
