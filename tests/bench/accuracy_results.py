"""How near results come to the truth, and how well they know how near.

Every trial simulates a piece of a day of its own from a seed: a boat of some mass in a sea of her
own, with a stream of up to 2 kn from anywhere, and logs with coloured noise and delays that are
drawn from what the sheet would state. What a wrong delay adds is printed apart, in the column
`delay`; `study.py` says when a row holds. Exits 1 where a row misses.

    python tests/bench/accuracy_results.py --short
    python tests/bench/accuracy_results.py --only "two-way speed" --trials 50
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

# One trial a process: threads within a trial only get in each other's way.
os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import attitude_rows
import launch_rows
import step_rows
from study import main

ROWS = (*launch_rows.ROWS, *step_rows.ROWS, *attitude_rows.ROWS)

if __name__ == "__main__":
    sys.exit(main(ROWS, __doc__.splitlines()[0]))
