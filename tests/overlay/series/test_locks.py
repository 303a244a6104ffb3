"""Locks: one holder, gone with it, however it ends."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from counting import count_up

from overlay.series.locks import LockedError, held, locked

HOLD = """
import sys, time
from pathlib import Path
from overlay.series.locks import locked
with locked(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def holder(path: Path) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-P", "-c", HOLD, str(path)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def test_one_holds_it_and_the_others_are_told_by_whom(tmp_path: Path) -> None:
    path = tmp_path / "key.lock"
    with holder(path) as process:
        try:
            with pytest.raises(LockedError), locked(path):
                pass
            assert held(path) == {"pid": process.pid}
        finally:
            process.kill()


def test_a_lock_goes_with_a_holder_that_was_killed(tmp_path: Path) -> None:
    path = tmp_path / "key.lock"
    with holder(path) as process:
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
    assert path.exists(), "nobody was there to remove the file"
    assert held(path) is None
    with locked(path):
        assert held(path) == {"pid": os.getpid()}
    assert not path.exists()


def test_no_two_hold_it_at_once_though_its_file_comes_and_goes(tmp_path: Path) -> None:
    """Four processes add to a number that each reads, waits with and writes: one lost sum would be
    two holders at once."""
    path, total = tmp_path / "key.lock", tmp_path / "total"
    total.write_text("0")
    fresh = multiprocessing.get_context("spawn")
    workers = [fresh.Process(target=count_up, args=(path, total, 60)) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
    assert [worker.exitcode for worker in workers] == [0, 0, 0, 0]
    assert total.read_text() == "240"


def test_a_lock_in_a_folder_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"), locked(tmp_path / "none" / "key.lock"):
        pass
