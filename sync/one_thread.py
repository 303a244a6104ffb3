"""Linear algebra on one thread.

OpenBLAS, which numpy comes with, shares out products of a size from which that pays on paper. Among
a decoder and an encoder that want every core it does not: its threads wait for each other longer
than they work, and a command takes a tenth longer. A sum that is shared out otherwise also has
other last bits, so that results would hang on how many cores a machine has.
"""

from __future__ import annotations

import os

ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1"}
"""For the environment of a process; it counts if it is there before numpy is imported."""


def algebra_on_one_thread() -> None:
    """Let this process, and those that it starts, do so; whoever set it otherwise is left alone."""
    for name, value in ONE_THREAD.items():
        os.environ.setdefault(name, value)
