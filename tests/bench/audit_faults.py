"""Whether the audit finds what is false: clips in which something is, and others as they were made.

Every clip is a stretch of a real trial over a film, burned by the line that renders use, at
CRF 23 of x264. `found` is the share of clips on which the fault was found, `pairs` that on which
the right ones of picture, ledger and logs were named, `frames` that on which exactly those frames
were named on which something is false, and `beside` counts clips on which the audit also said
something of an instrument that is true. Exits 1 where a row misses its goal.

    python tests/bench/audit_faults.py --short
    python tests/bench/audit_faults.py --only "sides, picture" --trials 5
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from fault_kept import kept_rows
from fault_marks import mark_rows
from fault_shown import shown_rows
from fault_study import Row, main


def all_rows() -> list[Row]:
    """The table's rows."""
    return [*shown_rows(), *mark_rows(), *kept_rows()]


if __name__ == "__main__":
    sys.exit(main(all_rows(), __doc__.splitlines()[0]))
