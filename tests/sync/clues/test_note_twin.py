"""A log that holds the like of a place elsewhere leaves open which of the two was filmed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from engine_days import Launch, speed_of

from sync.channel import Channel
from sync.clock import Span
from sync.clues.note.curve import Curve, curve_of
from sync.clues.note.twin import twin_of

FULL = Launch(t_s=60.0, hold_s=22.0, rpm=5450.0, lever_s=0.62, settle_s=2.5, hump=0.7, down_s=1.2)
FILM = np.arange(0.0, 60.0, 0.1)
AT_S = 50.0
"""The film begins so long after the log, ten seconds before the launch."""


def logged(*others: Launch, hole: tuple[float, float] | None = None, step_s: float = 0.1) -> Curve:
    rpm = speed_of([FULL, *others], 600.0, np.random.default_rng(3))
    t = np.arange(0.0, 599.0, step_s)
    if hole is not None:
        t = t[(t < hole[0]) | (t > hole[1])]
    values = np.interp(t, np.arange(rpm.size) / 100, rpm) / 60
    return curve_of(Channel(name="engine_speed", clock="log:engine", t_s=t, values=values))


def twin(curve: Curve, windows: tuple[Span, ...] = (), period_s: float = 0.1) -> float | None:
    return twin_of(curve, FILM, AT_S, period_s, windows)


def test_a_launch_by_the_same_hand_is_found() -> None:
    found = twin(logged(replace(FULL, t_s=330.0)))
    assert found == pytest.approx(AT_S + 270.0, abs=0.2)


def test_one_that_is_half_hidden_by_a_hole_is_found_too() -> None:
    found = twin(logged(replace(FULL, t_s=330.0), hole=(345.0, 360.0)))
    assert found == pytest.approx(AT_S + 270.0, abs=0.2)


@pytest.mark.parametrize(
    "other",
    [
        replace(FULL, t_s=330.0, rpm=4600.0),
        replace(FULL, t_s=330.0, lever_s=1.2),
        replace(FULL, t_s=330.0, hold_s=26.0),
    ],
    ids=["not so fast", "a slower hand", "held longer"],
)
def test_another_launch_is_not_alike(other: Launch) -> None:
    assert twin(logged(other)) is None


def test_what_stamps_rule_out_does_not_count() -> None:
    curve = logged(replace(FULL, t_s=330.0))
    assert twin(curve, (Span(start_s=AT_S - 100, stop_s=AT_S + 100),)) is None
    assert twin(curve, (Span(start_s=AT_S - 100, stop_s=AT_S + 300),)) is not None


def test_a_place_is_not_its_own_twin() -> None:
    assert twin(logged()) is None


def test_where_nothing_moves_there_is_nothing_to_compare() -> None:
    assert twin_of(logged(), FILM[:50], 300.0, 0.1, ()) is None
