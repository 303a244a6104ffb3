"""Noise by step: energies are averaged, not decibels, and only a meter's."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from demo_media.noise import coloured
from overlay.analysis.economy import economy
from overlay.analysis.means import NONE, Mean
from overlay.analysis.noise import energy_mean, noise_by_step
from overlay.analysis.steps import Step, StepPass
from sync.channel import Channel
from sync.clock import UTC, Span

LEVELS = st.lists(st.floats(30, 120), min_size=1, max_size=50)


def meter(t: np.ndarray, level: np.ndarray) -> dict[str, Channel]:
    return {"sound_level": Channel(name="sound_level", clock=UTC, t_s=t, values=level)}


def step(*spans: tuple[float, float, int]) -> Step:
    """A step of passes, each with its beginning, its end and its way."""
    speed = Mean(value=10.0, sd=0.1)
    return Step(
        name="3000 rpm",
        passes=tuple(
            StepPass(
                spans=(Span(start_s=start, stop_s=stop),),
                course_rad=0.0 if way == 1 else math.pi,
                speed=speed,
                engines=(),
                flows=(),
                pitch=NONE,
                way=way,
            )
            for start, stop, way in spans
        ),
        ways="both",
        engine_speed=Mean(value=50.0, sd=0.1),
        speed=speed,
        flow=NONE,
        pitch=NONE,
        two_way=None,
        economy=economy(speed, NONE),
    )


def test_two_equal_sources_in_turn_with_silence_are_3_db_down() -> None:
    """Half the time at 80 dB and half at none: 80 − 10 lg 2 = 76.99 dB (calculated)."""
    assert energy_mean(np.array([80.0, 0.0])) == pytest.approx(76.9897, abs=1e-4)


def test_octave_bands_add_up_as_in_the_handbook() -> None:
    """Octave bands of 63, 52, 45, 38, 31, 24, 16 and 10 dB, A-weighted by −26, −16, −9, −3, 0, 1,
    1 and 0, come to 42.5 dB(A), a published worked example that prints 42: eight times their
    energy mean."""
    bands = np.array([63, 52, 45, 38, 31, 24, 16, 10.0])
    weighted = bands + np.array([-26, -16, -9, -3, 0, 1, 1, 0])
    assert energy_mean(weighted) + 10 * math.log10(8) == pytest.approx(42.5, abs=0.05)


@given(levels=LEVELS, louder=st.floats(-20, 20))
def test_turning_everything_up_turns_the_mean_up(levels: list[float], louder: float) -> None:
    found = energy_mean(np.array(levels))
    assert energy_mean(np.array(levels) + louder) == pytest.approx(found + louder, abs=1e-6)
    assert np.mean(levels) - 1e-9 <= found <= max(levels) + 1e-9


def test_a_step_has_the_level_of_each_pass_and_of_both_ways() -> None:
    """84 dB there and 80 dB back: 10 lg ((10^8.4 + 10^8) / 2) = 82.445 dB (calculated)."""
    t = np.arange(0.0, 100.0, 0.125)
    level = np.where(t < 50, 84.0, 80.0)
    (found,) = noise_by_step(meter(t, level), [step((5, 40, 1), (55, 95, -1))])
    assert [one.value for one in found.passes] == pytest.approx([84.0, 80.0])
    assert found.level.value == pytest.approx(82.4451, abs=1e-3)
    assert found.spread_db == pytest.approx(4.0)
    assert found.level.sd == pytest.approx(0.0, abs=1e-9)


def test_two_passes_one_way_weigh_no_more_than_one_the_other() -> None:
    t = np.arange(0.0, 150.0, 0.125)
    level = np.where(t < 100, 84.0, 80.0)
    (found,) = noise_by_step(meter(t, level), [step((5, 40, 1), (55, 95, 1), (105, 145, -1))])
    assert found.level.value == pytest.approx(82.4451, abs=1e-3)


@pytest.mark.parametrize("sd_db", [0.5, 2.0])
def test_the_stated_doubt_holds_the_truth_in_19_of_20_cases(sd_db: float) -> None:
    """Levels weighted Slow, over a second (IEC 61672-1): neighbours are no evidence of their own.

    The truth is the mean of a lognormal energy: 85 dB + ln 10 / 20 · sd² / dB.
    """
    rng = np.random.default_rng(5)
    t = np.arange(0.0, 45.0, 0.125)
    truth = 85 + math.log(10) / 20 * sd_db**2
    held = 0
    for _ in range(400):
        wander = coloured(rng, t.size, sd=sd_db, period_s=0.125, time_s=1.0)
        (found,) = noise_by_step(meter(t, 85 + wander), [step((2, 42, 1))])
        held += abs(found.level.value - truth) <= 1.96 * found.level.sd
    assert 0.90 <= held / 400 <= 0.99


def test_a_hole_or_a_meter_that_stopped_leaves_a_pass_without_a_level() -> None:
    t = np.concatenate([np.arange(0.0, 20.0, 0.125), np.arange(30.0, 80.0, 0.125)])
    found = noise_by_step(
        meter(t, np.full(t.size, 80.0)), [step((5, 40, 1)), step((35, 70, 1), (75, 95, -1))]
    )
    assert found == ()
    (one,) = noise_by_step(meter(t, np.full(t.size, 80.0)), [step((35, 75, 1))])
    assert one.level.value == pytest.approx(80.0)
    assert math.isnan(one.spread_db)


def test_without_a_meter_there_is_no_noise_whatever_else_was_logged() -> None:
    t = np.arange(0.0, 50.0, 0.1)
    speed = Channel(name="speed", clock=UTC, t_s=t, values=np.full(t.size, 10.0))
    assert noise_by_step({"speed": speed}, [step((5, 40, 1))]) == ()
