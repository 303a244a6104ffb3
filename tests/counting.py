"""Work for child processes of a test: it lies here so that a fresh interpreter can import it."""

from __future__ import annotations

import time
from pathlib import Path

from overlay.series.locks import LockedError, locked


def count_up(path: Path, total: Path, rounds: int) -> None:
    for _ in range(rounds):
        while True:
            try:
                with locked(path):
                    value = int(total.read_text())
                    time.sleep(0.0005)
                    total.write_text(str(value + 1))
                break
            except LockedError:
                time.sleep(0.0002)
