"""Stages hand on everything in order, stop together, and keep the first failure."""

from __future__ import annotations

import threading
import time

import pytest

from overlay.render.stages import QUEUE_FRAMES, Belt, Stage, StoppedError


def test_a_belt_keeps_order_and_ends() -> None:
    stop = threading.Event()
    belt: Belt[int] = Belt(stop)

    def work() -> None:
        for n in range(100):
            belt.put(n)
        belt.end()

    stage = Stage("count", work, stop)
    stage.start()
    assert list(belt) == list(range(100))
    stage.join()
    assert stage.failure is None


def test_a_belt_holds_no_more_than_its_bound() -> None:
    stop = threading.Event()
    belt: Belt[int] = Belt(stop)
    handed: list[int] = []

    def work() -> None:
        for n in range(50):
            belt.put(n)
            handed.append(n)

    stage = Stage("count", work, stop)
    stage.start()
    time.sleep(0.2)
    assert len(handed) == QUEUE_FRAMES
    stop.set()
    stage.join()
    assert stage.failure is None


def test_a_failure_stops_whoever_waits_at_either_end() -> None:
    stop = threading.Event()
    belt: Belt[int] = Belt(stop)

    def fail() -> None:
        belt.put(1)
        raise ValueError("the first failure")

    stage = Stage("fail", fail, stop)
    stage.start()
    with pytest.raises(StoppedError):
        for _ in belt:
            pass
    stage.join()
    assert isinstance(stage.failure, ValueError)
    with pytest.raises(StoppedError):
        belt.put(2)
