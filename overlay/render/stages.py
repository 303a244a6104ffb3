"""Threads that work one behind the other, with short queues between them.

When any stage fails, all stop; the first failure is the one that is raised.
"""

from __future__ import annotations

import queue
import threading
import traceback
from collections.abc import Callable, Iterable, Iterator
from typing import Generic, TypeVar

from sync.media.ffmpeg_log import silenced

Item = TypeVar("Item")

QUEUE_FRAMES = 4
"""Frames that may wait between two stages: enough to ride out an encoder's uneven pace; at
2160p each takes 12 MB."""

POLL_S = 0.1
"""How long a stage waits before it looks whether the others still work."""


class StoppedError(Exception):
    """Another stage has stopped; there is nothing more to do."""


class Belt(Generic[Item]):
    """A bounded queue from one stage to the next, with an end."""

    def __init__(self, stop: threading.Event, size: int = QUEUE_FRAMES) -> None:
        self._stop = stop
        self._queue: queue.Queue[tuple[Item] | None] = queue.Queue(maxsize=size)

    def put(self, item: Item) -> None:
        """Hand an item on; waits while the queue is full."""
        self._put((item,))

    def end(self) -> None:
        """Say that nothing more will come."""
        self._put(None)

    def _put(self, entry: tuple[Item] | None) -> None:
        while not self._stop.is_set():
            try:
                self._queue.put(entry, timeout=POLL_S)
            except queue.Full:
                continue
            return
        raise StoppedError

    def __iter__(self) -> Iterator[Item]:
        while not self._stop.is_set():
            try:
                entry = self._queue.get(timeout=POLL_S)
            except queue.Empty:
                continue
            if entry is None:
                return
            yield entry[0]
        raise StoppedError


class Stage(threading.Thread):
    """A thread that keeps its failure for whoever joins it, and stops the others."""

    def __init__(self, name: str, work: Callable[[], None], stop: threading.Event) -> None:
        super().__init__(name=f"trialreel-{name}", daemon=True)
        self._work = work
        self._stop_all = stop
        self.failure: BaseException | None = None

    def run(self) -> None:
        """Work, and keep what went wrong."""
        try:
            self._work()
        except StoppedError as error:
            _let_go(error)
        except BaseException as error:  # noqa: BLE001 - raised again where the stage is joined
            self.failure = error
            self._stop_all.set()
            _let_go(error)


def _let_go(error: BaseException) -> None:
    """Free what the frames of a failed stage hold, codecs at work among it, here and now."""
    with silenced():
        traceback.clear_frames(error.__traceback__)


def join_all(stages: Iterable[Stage], stop: threading.Event) -> None:
    """Wait for stages to end; an interruption of the wait stops them, and they end all the same.

    A stage that went on alone would write to a file that is being removed.
    """
    waiting = list(stages)
    try:
        for stage in waiting:
            stage.join()
    except BaseException:
        stop.set()
        for stage in waiting:
            stage.join()
        raise
