"""Onsets of claps under wind and engine, on sound whose truth is known."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import outside
import pytest
from clapped import Hands, as_heard, gusty, laid
from sounds import RATE, clap, engine, some_under_way, under_way, unit, wind, with_claps

from sync.clues.marks.impulses import BEGINS_SD_S, find_impulses
from sync.media.sound_blocks import channels_of

TRIALS = 40


def found(samples: np.ndarray, rate: float = RATE, start_s: float = 0.0) -> list[float]:
    return [impulse.t_s for impulse in find_impulses(samples.astype(np.float32), rate, start_s)]


def errors(level_db: float, seeds: range) -> tuple[list[float], list[float]]:
    """Errors of the onsets found, in seconds, and their stated deviations; misses are inf."""
    off, sds = [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        at = float(rng.uniform(1.5, 4.5))
        at = round(at * RATE) / RATE
        sound = with_claps(some_under_way(6.0, rng), [at], level_db, rng)
        near = [i for i in find_impulses(sound, RATE, 0.0) if abs(i.t_s - at) < 0.1]
        off.append(near[0].t_s - at if near else np.inf)
        sds.append(near[0].sd_s if near else np.nan)
    return off, sds


def test_a_clap_as_loud_as_wind_and_engine_is_found_to_5_ms() -> None:
    off, _ = errors(0.0, range(TRIALS))
    assert np.mean(np.abs(off) <= 0.005) >= 0.95


def test_a_clear_clap_is_found_to_a_millisecond() -> None:
    off, _ = errors(12.0, range(100, 100 + TRIALS))
    assert np.mean(np.abs(off) <= 0.001) >= 0.95


def test_the_stated_deviation_holds_for_hands_of_all_kinds() -> None:
    """Soft and sharp, at 0 dB: what one pair of hands shares, and what each clap has besides."""
    shared, own = [], []
    for seed in range(24):
        rng = np.random.default_rng([200, seed])
        at = np.array([1.5, 2.7, 4.2]) + rng.uniform(0, 0.3, 3)
        sound = as_heard(laid(gusty(6.0, rng), at.tolist(), 0.0, Hands.some(rng), rng))
        heard = find_impulses(sound, RATE, 0.0)
        assert len(heard) == 3
        off = np.array([one.t_s for one in heard]) - at
        shared.append(off.mean())
        own += ((off - off.mean()) / heard[0].sd_s).tolist()
    assert np.mean(np.abs(shared) <= 1.96 * BEGINS_SD_S) >= 0.8
    assert 0.6 * BEGINS_SD_S < np.std(shared) < 1.4 * BEGINS_SD_S
    assert abs(np.mean(shared)) < 0.5 * BEGINS_SD_S
    assert np.mean(np.abs(own) <= 1.96) >= 0.9


@pytest.mark.parametrize("kind", ["white", "wind", "engine", "both"])
def test_noise_alone_holds_no_clap(kind: str) -> None:
    for seed in range(10):
        rng = np.random.default_rng(1000 + seed)
        noise = {
            "white": lambda rng=rng: rng.standard_normal(20 * RATE),
            "wind": lambda rng=rng: wind(6.0, rng),
            "engine": lambda rng=rng: engine(90.0, 6.0, rng),
            "both": lambda rng=rng: under_way(6.0, rng),
        }[kind]()
        assert found(0.1 * noise) == []


def test_silence_holds_no_clap() -> None:
    assert found(np.zeros(RATE * 5)) == []
    assert found(np.zeros(10)) == []


@pytest.mark.parametrize("rise_s", [0.005, 0.02, 0.15, 1.0])
def test_an_engine_that_opens_up_is_no_clap(rise_s: float) -> None:
    """A launch: the engine speed climbs, and the level by 20 dB, and both stay."""
    for seed in range(4):
        rng = np.random.default_rng(seed)
        t = np.arange(6 * RATE) / RATE
        opening = np.clip((t - 3.0) / rise_s, 0, 1)
        hz = 30 + 150 * np.clip((t - 3.0) / max(rise_s, 0.5), 0, 1)
        sound = engine(hz, 6.0, rng) * 10 ** (20 * opening / 20)
        assert found(0.01 * (sound + 0.3 * wind(6.0, rng))) == []


def test_an_echo_is_not_a_second_clap() -> None:
    for seed in range(10):
        rng = np.random.default_rng(seed)
        noise = some_under_way(6.0, rng)
        sound = with_claps(noise, [3.0, 3.0 + 0.08], [20.0, 12.0], rng)
        (only,) = found(sound)
        assert only == pytest.approx(3.0, abs=0.002)


def test_two_claps_are_two() -> None:
    rng = np.random.default_rng(5)
    sound = with_claps(some_under_way(6.0, rng), [2.0, 2.35, 4.0], 15.0, rng)
    np.testing.assert_allclose(found(sound), [2.0, 2.35, 4.0], atol=0.002)


@pytest.mark.parametrize("rate", [8000, 16000, 32000, 44100, 96000])
def test_any_usual_rate_will_do(rate: int) -> None:
    rng = np.random.default_rng(rate)
    at = round(2.5 * rate) / rate
    sound = with_claps(some_under_way(5.0, rng, rate), [at], 15.0, rng, rate)
    (only,) = found(sound, rate)
    assert only == pytest.approx(at, abs=0.003)


def test_a_rate_too_low_to_hear_a_clap_gives_nothing() -> None:
    assert found(np.ones(6000), 2000) == []


def test_times_are_on_the_footage_clock() -> None:
    rng = np.random.default_rng(6)
    sound = with_claps(some_under_way(4.0, rng), [2.0], 20.0, rng)
    (only,) = found(sound, start_s=-0.021)
    assert only == pytest.approx(2.0 - 0.021, abs=0.002)


def test_long_sound_is_searched_in_pieces_without_a_seam() -> None:
    """Claps on both sides of the minute at which the pieces meet, and one upon it."""
    rng = np.random.default_rng(7)
    rate = 16000
    noise = unit(rng.standard_normal(130 * rate))
    times = [1.0, 59.99, 60.4, 119.0, 120.0, 129.0]
    sound = with_claps(noise, times, 20.0, rng, rate)
    np.testing.assert_allclose(found(sound, rate), times, atol=0.002)


def test_the_scale_of_the_samples_does_not_matter() -> None:
    rng = np.random.default_rng(8)
    sound = with_claps(some_under_way(4.0, rng), [2.0], 20.0, rng)
    (only,) = found(sound)
    assert found(sound * np.float32(1e-4)) == [pytest.approx(only, abs=1e-9)]


def test_a_clap_says_how_far_it_stood_out() -> None:
    rng = np.random.default_rng(9)
    sound = with_claps(some_under_way(8.0, rng), [2.0, 5.0], [5.0, 25.0], rng)
    quiet, loud = find_impulses(sound, RATE, 0.0)
    assert loud.rise_db - quiet.rise_db == pytest.approx(20.0, abs=4.0)
    assert loud.sd_s < quiet.sd_s
    assert clap(rng).size == round(0.06 * RATE)


CLAPS = {
    "12908_sweet_trip_mm_clap_hi.wav":
        "b01ead043c7a2f7446257bb671486b87d07939ed3cf7cf949abf19ffaea4e749",
    "12909_sweet_trip_mm_clap_lo.wav":
        "2843f9aeb4263b43c7154ffc1cd3909b96fe78330957e194e44a6a1302a45557",
    "12910_sweet_trip_mm_clap_mid.wav":
        "32694517a10e8fbf6129f2639818f52f350bdde3290eaf23d6b45094c5197832",
}  # fmt: skip
SNAP, SNAP_FOLDER = "perc_snap.flac", "usr/share/sonic-pi/samples"
SNAP_SHA256 = "09d5cc75cd9ef183e9464801c7e7b2e441ca8e12f99b2610cbc2d5168297a19d"
FOLDER = "Kivy_examples-2.3.1.data/data/share/kivy-examples/audio"


def decoded(path: Path) -> tuple[np.ndarray, int]:
    """A sound file's first channel, and its rate."""
    with av.open(str(path)) as box:
        blocks = [channels_of(frame)[0] for frame in box.decode(audio=0)]
        return np.concatenate(blocks).astype(float), box.streams.audio[0].rate


def recorded(name: str) -> tuple[np.ndarray, int, int]:
    """A recorded clap with an RMS of 1 over its first 30 ms, its rate, and where it begins: at a
    tenth of its peak, but a snap where its wave first bends half as sharply as anywhere, since
    the air that a finger pushes as it slides, a low sound, is not yet the snap."""
    if name == SNAP:
        path = outside.debian("sonic-pi-samples", f"{SNAP_FOLDER}/{name}", SNAP_SHA256)
    else:
        path = outside.pypi("Kivy-examples", "2.3.1", f"{FOLDER}/{name}", CLAPS[name])
    bare, rate = decoded(path)
    bend, share = (np.diff(bare, n=2), 0.5) if name == SNAP else (bare, 0.1)
    begins = int(np.flatnonzero(np.abs(bend) > share * np.abs(bend).max())[0])
    return bare / np.sqrt(np.mean(bare[begins : begins + int(0.03 * rate)] ** 2)), rate, begins


@pytest.mark.outside
@pytest.mark.parametrize("level_db", [0.0, 6.0])
@pytest.mark.parametrize("name", [*CLAPS, SNAP])
def test_recorded_claps_are_found_where_they_begin(name: str, level_db: float) -> None:
    """Claps and a snap of fingers that somebody recorded (PyPI Kivy-examples 2.3.1, Debian
    sonic-pi-samples), laid under wind and engine, as loud as both together and twice as loud.

    One of the claps swells for 7 ms before its peak, so it is found later than the others.
    """
    bare, rate, begins = recorded(name)
    off, stated = [], []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        noise = gusty(5.0, rng, rate)
        at = int(rng.uniform(1.5, 3.5) * rate)
        noise[at : at + bare.size] += bare * 10 ** (level_db / 20)
        near = [i for i in find_impulses(as_heard(noise), rate, 0.0)
                if abs(i.t_s - (at + begins) / rate) < 0.03]  # fmt: skip
        assert near, "the clap was not found"
        off.append(near[0].t_s - (at + begins) / rate)
        stated.append(np.hypot(near[0].sd_s, BEGINS_SD_S))
    assert np.max(np.abs(off)) < 0.005
    assert np.max(np.abs(off) / np.array(stated)) < 4
