"""A process that does one job, as its parent sees it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from typing import IO, Literal

from overlay.series.folder import SeriesFolder
from overlay.series.job import Job
from overlay.series.machine import resident_bytes
from overlay.series.state import AtWork
from sync.one_thread import ONE_THREAD

KilledFor = Literal["", "timed out", "used too much memory", "stopped"]

_MOST_LINE_BYTES = 4096


class Child:
    """One job at work. It is started at once, in a process group of its own."""

    def __init__(self, job: Job, folder: SeriesFolder, *, attempt: int, alone: bool) -> None:
        self.job, self.folder, self.attempt, self.alone = job, folder, attempt, alone
        self.began_s = time.monotonic()
        self.stage, self.done, self.of = "start", 0, 0
        self.peak_bytes, self.memory_bytes = 0, 0
        self.killed_for: KilledFor = ""
        self._buffer = b""
        self._errors: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - closed in `close`
        command = [sys.executable, "-P", "-m", "overlay.series.work"]
        try:
            self.process = subprocess.Popen(  # noqa: S603 - our own interpreter and module
                [*command, str(folder.path)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._errors,
                process_group=0,
                env=ONE_THREAD | os.environ,
            )
        except BaseException:
            self._errors.close()
            raise
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        with suppress(BrokenPipeError):  # it died at once, and its end will be heard
            # The pipe stays open: where it ends, the child knows that nobody waits for it.
            self.process.stdin.write(json.dumps(job.as_document()).encode() + b"\n")
            self.process.stdin.flush()
        os.set_blocking(self.process.stdout.fileno(), False)
        self.pidfd = os.pidfd_open(self.process.pid)

    @property
    def seconds(self) -> float:
        """Since it was started."""
        return time.monotonic() - self.began_s

    @property
    def output(self) -> IO[bytes]:
        """Where it tells of its progress."""
        assert self.process.stdout is not None
        return self.process.stdout

    def listen(self) -> bool:
        """Take in what it told; says whether it may tell more."""
        try:
            told = os.read(self.output.fileno(), 65536)
        except BlockingIOError:
            return True
        lines = (self._buffer + told).split(b"\n")
        self._buffer = lines.pop()[-_MOST_LINE_BYTES:]
        for line in lines[-1:]:
            with suppress(ValueError, KeyError, TypeError):
                row = json.loads(line)
                self.stage = str(row["stage"])
                self.done, self.of = int(row["done"]), int(row["of"])
        return bool(told)

    def measure(self) -> None:
        """Take note of the memory that it has now."""
        self.memory_bytes = resident_bytes(self.process.pid)
        self.peak_bytes = max(self.peak_bytes, self.memory_bytes)

    def kill(self, why: KilledFor, number: int = signal.SIGKILL) -> None:
        """End it and whatever it started."""
        self.killed_for = self.killed_for or why
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, number)

    def last_words(self) -> str:
        """The last line that it wrote on its error stream."""
        size = self._errors.seek(0, os.SEEK_END)
        self._errors.seek(max(0, size - 4096))
        lines = self._errors.read().decode("utf-8", "replace").strip().splitlines()
        return lines[-1].strip() if lines else ""

    def close(self) -> None:
        """Let go of it once it has ended."""
        self.process.wait()
        os.close(self.pidfd)
        for stream in (self.process.stdin, self.process.stdout, self._errors):
            if stream is not None:
                with suppress(OSError):
                    stream.close()

    def at_work(self, left_s: float) -> AtWork:
        """What is told of it."""
        return AtWork(
            key=self.job.key,
            name=self.job.name,
            stage=self.stage,
            done=self.done,
            of=self.of,
            seconds=round(self.seconds, 1),
            left_s=round(left_s, 1),
            memory_bytes=self.memory_bytes,
            pid=self.process.pid,
        )
