"""The engine's note of recorded engines, played along a launch under synthetic wind.

The loops are those of the Debian package `torcs-data`. Each is one steady engine speed; it is
played faster and slower as the log's engine speed asks. That the pattern of a loop comes round
once in two revolutions, as in any four-stroke, sets the speed at which it was recorded.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from engine_days import LOG_START_S, RATE, Launch, logged, speed_of
from outside import debian
from scipy.io import wavfile
from sounds import unit, wind

from sync.clues import engine_note_clues

LOOPS = {
    "porsche_engine.wav": "ff243ef88d9856809459a7fe351b8df910deae6a49b6926b0dc7c54b48c9048a",
    "impreza2002_engine.wav": "a4fcee9f423b9a70ac32e5bbd8f1f976cf29ff1968bd21e6c97ab507aa78bdf4",
}
FOLDER = "usr/share/games/torcs/data/sound"
LAUNCH = Launch(t_s=60.0, hold_s=22.0, rpm=5450.0, lever_s=0.62, settle_s=2.5, hump=0.7, down_s=1.2)
FIRST_S, FILM_S = 45.0, 60.0

Array = np.ndarray


def pattern_hz(loop: Array, rate: int) -> float:
    """How often in a second a loop repeats itself, by its autocorrelation from 30 to 400 Hz."""
    power = np.abs(np.fft.rfft(loop, 2 * loop.size)) ** 2
    alike = np.fft.irfft(power)[: loop.size]
    shortest, longest = rate // 400, rate // 30
    return rate / (shortest + int(alike[shortest:longest].argmax()))


def played(path: Path, rpm: Array, rng: np.random.Generator) -> Array:
    """The loop along an engine speed, 6 dB below wind."""
    rate, samples = wavfile.read(path)
    loop = samples.astype(np.float64) - samples.mean()
    rounds = (np.cumsum(rpm) - rpm / 2) / 100 / 60 / 2
    at = FIRST_S + np.arange(round(FILM_S * RATE)) / RATE
    round_of = np.interp(at, np.arange(rpm.size) / 100, rounds)
    place = (round_of * rate / pattern_hz(loop, rate)) % (loop.size - 1)
    sound = unit(np.interp(place, np.arange(loop.size), loop))
    mix = wind(FILM_S, rng, rate=RATE) + 10 ** (-6 / 20) * sound
    return (0.1 * unit(mix)).astype(np.float32)


def misses(name: str) -> list[tuple[float, float]]:
    """The error and the deviation of the clue that a loop gives, if it gives one."""
    rng = np.random.default_rng(11)
    rpm = speed_of([LAUNCH], 180.0, rng)
    sound = played(debian("torcs-data", f"{FOLDER}/{name}", LOOPS[name]), rpm, rng)
    found = engine_note_clues(
        clock="footage:bow", samples=sound, rate_hz=RATE, start_s=0.0, channel=logged(rpm, rng)
    )
    assert found.clues or "settle" in found.remarks[0]
    return [(clue.offset_s - LOG_START_S - FIRST_S, clue.sd_s) for clue in found.clues]


@pytest.mark.outside
def test_a_recorded_engine_is_tied_within_40_ms() -> None:
    ((miss, sd),) = misses("porsche_engine.wav")
    assert abs(miss) < 0.040
    assert abs(miss) < 1.96 * sd


@pytest.mark.outside
def test_a_fainter_recorded_engine_is_tied_rightly_or_refused() -> None:
    assert all(abs(miss) < 0.040 for miss, _ in misses("impreza2002_engine.wav"))
