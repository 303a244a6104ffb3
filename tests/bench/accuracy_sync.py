"""How near the clocks come to the truth, and how well they know how near.

Every row simulates trials with known truth from a seed. What a stated doubt of a delay adds to
the error is printed apart, in the column `delay`; `study.py` says when a row holds. Exits 1 where
a row misses.

    python tests/bench/accuracy_sync.py --short
    python tests/bench/accuracy_sync.py --only motion --trials 50
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

# One trial a process: threads within a trial only get in each other's way.
os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import code_rows
import log_rows
import note_rows
import picture_rows
import sound_rows
from study import main

ROWS = (
    *log_rows.ROWS,
    *code_rows.ROWS,
    *sound_rows.ROWS,
    *note_rows.ROWS,
    *picture_rows.ROWS,
)

if __name__ == "__main__":
    sys.exit(main(ROWS, __doc__.splitlines()[0]))
