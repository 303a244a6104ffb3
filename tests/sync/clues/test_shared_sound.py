"""Two recordings that heard the same: the right offset and drift, or no clue and the reason."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from heard_twice import Pair, heard_twice

from sync.clue import Finding
from sync.clues.shared_sound import shared_sound_clues
from sync.clues.sound.places import Heard, evened, likely_places


def clues_of(pair: Pair, *, apart_m: float = 0.0) -> Finding:
    return shared_sound_clues("footage:bow", pair.one, "footage:stern", pair.other, apart_m=apart_m)


def right(pair: Pair, finding: Finding, within_s: float) -> None:
    assert finding.remarks == ()
    assert len(finding.clues) == 2
    early, late = finding.clues
    assert early.at_s is not None
    assert late.at_s is not None
    assert early.at_s < late.at_s
    for clue in finding.clues:
        assert clue.offset_s == pytest.approx(pair.offset_at(clue.at_s or 0.0), abs=within_s)


def refused(finding: Finding, words: str) -> None:
    assert finding.clues == ()
    (remark,) = finding.remarks
    assert words in remark
    assert "settle" in remark


@pytest.mark.parametrize("seed", range(3))
def test_noise_as_loud_as_the_shared_sound_leaves_a_tenth_of_a_millisecond(seed: int) -> None:
    pair = heard_twice(np.random.default_rng(seed), drift=37e-6)
    right(pair, clues_of(pair), 1e-4)


def test_the_drift_of_the_clocks_follows_from_the_two_clues() -> None:
    pair = heard_twice(np.random.default_rng(4), lengths_s=(130.0, 140.0), rate=8000, drift=-50e-6)
    early, late = clues_of(pair).clues
    assert early.at_s is not None
    assert late.at_s is not None
    slope = (late.offset_s - early.offset_s) / (late.at_s - early.at_s)
    assert slope == pytest.approx(50e-6, abs=1.5e-6)


def test_the_other_way_around_says_the_same() -> None:
    pair = heard_twice(np.random.default_rng(5), lengths_s=(40.0, 70.0))
    back = shared_sound_clues("footage:stern", pair.other, "footage:bow", pair.one)
    for clue in back.clues:
        at_one = (clue.at_s or 0.0) + clue.offset_s
        assert clue.offset_s == pytest.approx(-pair.offset_at(at_one), abs=1e-4)


def test_sounds_of_two_rates_are_compared() -> None:
    pair = heard_twice(np.random.default_rng(6))
    fewer = Heard(
        samples=pair.other.samples[::2], rate_hz=pair.other.rate_hz / 2, start_s=pair.other.start_s
    )
    found = shared_sound_clues("footage:bow", pair.one, "footage:stern", fewer)
    for clue in found.clues:
        assert clue.offset_s == pytest.approx(pair.offset_at(clue.at_s or 0.0), abs=2e-4)
    assert found.clues


@pytest.mark.parametrize("seed", range(4))
def test_sounds_of_two_days_are_not_tied(seed: int) -> None:
    pair = heard_twice(np.random.default_rng(seed), same=False)
    refused(clues_of(pair), "not alike anywhere")


def test_a_note_that_never_changes_is_no_clue() -> None:
    """All that both hear is 80 ignitions a second."""
    pair = heard_twice(np.random.default_rng(1), scene="pure note", noise_db=-20)
    refused(clues_of(pair), "not alike anywhere")


def test_a_noise_that_repeats_fits_at_every_period_and_is_refused() -> None:
    """A pump that makes the same noise every 50 ms: one period aside is nearly as good."""
    refused(clues_of(heard_twice(np.random.default_rng(1), scene="loop")), "nearly as alike")


@pytest.mark.parametrize("seed", range(3))
def test_a_note_that_changes_is_resolved_by_its_pieces(seed: int) -> None:
    pair = heard_twice(np.random.default_rng(seed), scene="changing note")
    right(pair, clues_of(pair), 1e-4)


def test_the_distance_between_the_microphones_is_one_doubt_of_both_clues() -> None:
    """17 m are 50 ms of sound at 15 °C (340.3 m/s, any handbook), over the square root of 3."""
    pair = heard_twice(np.random.default_rng(3))
    early, late = clues_of(pair, apart_m=17.0).clues
    assert early.doubts == late.doubts
    assert early.doubts[0].sd_s == pytest.approx(0.02884, abs=1e-4)
    assert early.own_sd_s < 1e-4


def test_a_short_overlap_at_the_ends_is_found() -> None:
    pair = heard_twice(np.random.default_rng(8), lengths_s=(80.0, 80.0), apart_s=50.0)
    right(pair, clues_of(pair), 2e-4)


def test_silence_and_scraps_of_sound_are_refused_with_the_reason() -> None:
    pair = heard_twice(np.random.default_rng(9), lengths_s=(20.0, 20.0))
    still = Heard(samples=np.zeros(320_000, np.float32), rate_hz=16000, start_s=0.0)
    refused(shared_sound_clues("footage:a", pair.one, "footage:b", still), "silence")
    scrap = Heard(samples=pair.one.samples[:80_000], rate_hz=16000, start_s=0.0)
    refused(shared_sound_clues("footage:a", scrap, "footage:b", pair.other), "too few")


def test_holes_that_are_filled_with_silence_do_no_harm() -> None:
    pair = heard_twice(np.random.default_rng(10))
    holed = pair.one.samples.copy()
    holed[200_000:420_000] = 0.0
    other = Heard(samples=holed, rate_hz=pair.one.rate_hz, start_s=pair.one.start_s)
    found = shared_sound_clues("footage:bow", other, "footage:stern", pair.other)
    right(pair, found, 2e-4)
    assert likely_places(other, pair.other)[0].score > 20


def test_a_sound_in_stretches_is_evened_as_one_without_seams() -> None:
    """Steady noise stays steady noise: no stretch is louder than another, and silence is silent."""
    noise = np.random.default_rng(11).standard_normal(150 * 8000).astype(np.float32)
    noise[400_000:480_000] = 0.0
    flat = evened(Heard(samples=noise, rate_hz=8000, start_s=0.0), 4000.0)
    assert flat.size == 150 * 4000
    levels = np.sqrt(np.mean(np.square(flat.reshape(150, 4000)), axis=1))
    assert np.max(levels[51:59]) < 0.05 * np.median(levels)
    heard = np.r_[levels[1:49], levels[61:-1]]
    assert np.ptp(heard) < 0.3 * np.median(levels)


def test_a_long_sound_is_compared_in_pieces_that_take_little_memory() -> None:
    """Twenty-five minutes that the other sound is three of: less is held than half of the long
    sound's own samples take, and the place is right."""
    rng = np.random.default_rng(12)
    rate = 12_000
    long = rng.standard_normal(1500 * rate, dtype=np.float32)
    short = long[700 * rate : 880 * rate] + rng.standard_normal(180 * rate, dtype=np.float32)
    one = Heard(samples=short, rate_hz=rate, start_s=0.0)
    other = Heard(samples=long, rate_hz=rate, start_s=0.0)
    evened(one, 2000.0)  # imports are not what is measured
    tracemalloc.start()
    best = likely_places(one, other)[0]
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert best.offset_s == pytest.approx(700.0, abs=1e-3)
    assert peak < 1.0 * long.nbytes
