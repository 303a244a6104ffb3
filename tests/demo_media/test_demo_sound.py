"""The microphone hears what the boat does."""

from __future__ import annotations

import numpy as np
import pytest

from demo_media.boat import DEMO
from demo_media.scenario import DEMO_SCENARIO
from demo_media.shots import BOW
from demo_media.simulate import Day
from demo_media.sound import make_sound

RATE = 48000


@pytest.fixture(scope="module")
def sound(day: Day) -> np.ndarray:
    return make_sound(day, DEMO_SCENARIO, DEMO.engine.cylinders, 40.0, RATE)


def _spectrum(sound: np.ndarray, start_s: float, stop_s: float) -> tuple[np.ndarray, np.ndarray]:
    part = sound[int(start_s * RATE) : int(stop_s * RATE)] * 1.0
    part *= np.hanning(part.size)
    return np.fft.rfftfreq(part.size, 1 / RATE), np.abs(np.fft.rfft(part)) ** 2


def _band(sound: np.ndarray, start_s: float, stop_s: float, low: float, high: float) -> float:
    f, power = _spectrum(sound, start_s, stop_s)
    return float(power[(f >= low) & (f < high)].mean())


@pytest.mark.parametrize(("start_s", "stop_s"), [(9.0, 12.0), (37.0, 39.5)])
def test_loudest_order_is_the_firing_frequency(
    sound: np.ndarray, day: Day, start_s: float, stop_s: float
) -> None:
    # four-stroke: f = rpm·cylinders/120; 900 rpm and four cylinders give 30 Hz (check values)
    assert 900 * 4 / 120 == 30
    at = BOW.start_s + np.linspace(start_s, stop_s, 50)
    rpm = float(day.at("engine_rps", at).mean()) * 60
    firing = rpm * 4 / 120
    f, power = _spectrum(sound, start_s, stop_s)
    orders = [k * firing / 4 for k in range(2, 8)]
    strength = [float(power[np.abs(f - order) < firing / 20].sum()) for order in orders]
    assert int(np.argmax(strength)) == 2  # the fourth multiple of the cycle's frequency
    near = np.abs(f - firing) < firing / 12
    assert f[near][power[near].argmax()] == pytest.approx(firing, rel=0.02)


def test_clap_is_an_onset_within_a_sample_of_the_truth(sound: np.ndarray) -> None:
    heard = DEMO_SCENARIO.clap_heard_s
    first = int(np.flatnonzero(np.abs(sound) > 0.3)[0])
    assert 0 <= first / RATE - heard < 2 / RATE


def test_clap_stands_far_above_the_idling_engine_and_dies_away(sound: np.ndarray) -> None:
    clap = int(DEMO_SCENARIO.clap_heard_s * RATE)
    idle = sound[clap - 2 * RATE : clap - 10]
    assert np.abs(sound[clap : clap + 200]).max() > 5 * np.abs(idle).max()
    assert sound[clap + RATE // 5 : clap + RATE].std() < 1.3 * idle.std()


def test_idle_is_audible_and_nothing_clips(sound: np.ndarray) -> None:
    assert 20 * np.log10(float(sound[: 4 * RATE].std())) > -40  # dB below full scale
    assert float(np.abs(sound).max()) < 1


def test_wind_and_water_rise_with_speed(sound: np.ndarray) -> None:
    for low, high in ((30.0, 60.0), (3000.0, 6000.0)):
        rest, launch, top = (
            _band(sound, a, b, low, high) for a, b in ((9, 13), (19.5, 21.5), (35, 39))
        )
        assert rest < launch < top


def test_sound_is_the_same_each_time(day: Day) -> None:
    first, second = (
        make_sound(day, DEMO_SCENARIO, DEMO.engine.cylinders, 6.0, 16000) for _ in range(2)
    )
    assert np.array_equal(first, second)
