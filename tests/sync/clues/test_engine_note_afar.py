"""The engine's note heard from another boat: late, higher and lower, and tied all the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from engine_days import (
    LOG_START_S,
    RATE,
    SOUND_MPS,
    heard_afar,
    logged,
    passing,
    some_day,
    speed_of,
)

from sync.channel import Channel
from sync.clues import Finding, engine_note_clues
from sync.clues.note.way import SPEEDS, Way, likeliest, steady_way

TRIALS = 4


def listen(samples: np.ndarray, channel: Channel, *, afar: bool = True) -> Finding:
    return engine_note_clues(
        clock="footage:chase", samples=samples, rate_hz=RATE, start_s=0.0, channel=channel,
        cylinders=4, strokes=4, afar=afar,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Trial:
    """Errors and deviations of the clues, and what the same sound is on other days."""

    errors: tuple[tuple[float, float], ...]
    as_aboard: Finding
    other_day: Finding


def _trials() -> Iterator[Trial]:
    for seed in range(TRIALS):
        rng = np.random.default_rng([20260613, seed])
        launches = some_day(rng, 900.0)
        rpm = speed_of(launches, 900.0, rng)
        launch = launches[int(rng.integers(1, len(launches)))]
        first = launch.t_s - rng.uniform(5, 12)
        distance = passing(rng, launch.t_s)
        sound = heard_afar(rpm, first, 40.0, rng, distance)
        other = speed_of(some_day(rng, 900.0), 900.0, rng)
        errors = []
        for clue in listen(sound, logged(rpm, rng)).clues:
            assert clue.at_s is not None
            way_s = float(distance(np.array([first + clue.at_s]))[0]) / SOUND_MPS
            errors.append((clue.offset_s + way_s - LOG_START_S - first, clue.sd_s))
        yield Trial(
            errors=tuple(errors),
            as_aboard=listen(sound, logged(rpm, rng), afar=False),
            other_day=listen(sound, logged(other, rng)),
        )


@cache
def trials() -> tuple[Trial, ...]:
    return tuple(_trials())


def test_a_boat_that_passes_is_tied_beyond_what_its_distance_leaves_open() -> None:
    """The distance at the launch is taken off as known. What its change before and after leaves
    open is in the deviation; the goal is 80 ms."""
    errors = [error for trial in trials() for error in trial.errors]
    assert len(errors) >= TRIALS - 1
    assert all(abs(miss) < 0.06 for miss, _ in errors)
    assert all(abs(miss) < 3 * sd for miss, sd in errors)
    assert all(sd < 0.03 for _, sd in errors)


def test_the_same_sound_taken_for_one_aboard_is_refused() -> None:
    """Or tied within what the passing boat's way can come to, were it hardly to pass."""
    assert sum(bool(trial.as_aboard.clues) for trial in trials()) <= 1


def test_another_day_is_refused_however_the_way_may_bend() -> None:
    assert [trial.other_day.clues for trial in trials()] == [()] * TRIALS
    assert all("settle" in trial.other_day.remarks[0] for trial in trials())


def test_a_way_delays_by_what_it_has_grown() -> None:
    """From 10 m/s to 20 m/s in 10 s is 150 m, at 340 m/s 0.441 s (on paper)."""
    way = Way(t_s=np.array([5.0, 15.0]), parting_mps=np.array([10.0, 20.0]))
    late = way.late_s(np.array([5.0, 10.0, 15.0]))
    np.testing.assert_allclose(late, [0.0, 62.5 / 340, 150 / 340])


def test_parting_sounds_lower_by_the_share_of_the_speed_of_sound() -> None:
    """Doppler's effect for a source that leaves at 3.4 m/s: 1 %, 1.67 columns of 0.6 %."""
    way = steady_way(0.0, 10.0, 3.4)
    assert way.columns(np.array([4.0]))[0] == pytest.approx(np.log(0.99) / np.log(1.006))


def test_the_likeliest_way_follows_what_is_heard_and_bridges_what_is_not() -> None:
    t = np.arange(0.0, 20.0)
    true = np.linspace(-8.0, 8.0, 20)
    worth = -0.5 * ((SPEEDS[None, :] - true[:, None]) / 1.0) ** 2
    worth[8:12] = 0.0
    way = likeliest(t, worth)
    assert np.abs(way.parting_mps - true).max() <= 1.5
