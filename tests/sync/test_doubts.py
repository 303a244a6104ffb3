"""What clues share and none of them knows: it is counted once, and settled where they can."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sync.clock import UTC
from sync.clue import Clue, Doubt
from sync.network import RATE_SD
from sync.tie import solve
from sync.ties_file import document, from_document

LATE = "delay of engine_speed on log:engine"


def note(offset_s: float, own_sd_s: float, late_sd_s: float, of: str = "footage:bow") -> Clue:
    return Clue(
        kind="engine_note",
        from_clock=of,
        to_clock="log:engine",
        offset_s=offset_s,
        sd_s=float(np.hypot(own_sd_s, late_sd_s)),
        doubts=(Doubt(name=LATE, sd_s=late_sd_s),),
    )


def plain(of: str, to: str, offset_s: float, sd_s: float, at_s: float | None = None) -> Clue:
    return Clue(kind="clap", from_clock=of, to_clock=to, offset_s=offset_s, sd_s=sd_s, at_s=at_s)


def test_a_doubt_that_two_clues_share_is_not_halved_by_them() -> None:
    """Two cameras tied by one engine's note: each to 0.2 s of UTC, to each other to 14 ms."""
    ties = solve(
        ["footage:bow", "footage:stern", "log:engine"],
        [
            plain("log:engine", UTC, 100.0, 0.001),
            note(10.0, 0.01, 0.2),
            note(20.0, 0.01, 0.2, of="footage:stern"),
        ],
        {},
    )
    for name in ("footage:bow", "footage:stern"):
        assert ties.by_clock[name].sd_s == pytest.approx(np.sqrt(0.2**2 + 0.01**2 + 1e-6), rel=1e-6)
    both = solve(
        ["footage:bow", "footage:stern", "log:engine"],
        [
            plain("log:engine", UTC, 100.0, 0.001),
            plain("footage:bow", UTC, 110.0, 0.001),
            note(10.0, 0.01, 0.2),
            note(20.0, 0.01, 0.2, of="footage:stern"),
        ],
        {},
    )
    # The clap on the one camera shows how late the channel is, and so places the other.
    assert both.by_clock["footage:stern"].sd_s == pytest.approx(0.0142, rel=0.03)


def test_two_ways_to_one_clock_settle_how_late_a_channel_is() -> None:
    """The log holds the engine's speed back by 0.15 s, which nobody stated: the clap and the
    mark know nothing of it, and the note has it in its offset."""
    ties = solve(
        ["footage:bow", "log:engine"],
        [
            plain("log:engine", UTC, 100.0, 0.001),
            plain("footage:bow", UTC, 105.0, 0.002),
            note(5.0 + 0.15, 0.01, 0.2),
        ],
        {},
    )
    late = ties.doubts[LATE]
    assert late.value_s == pytest.approx(0.15, abs=0.002)
    assert late.sd_s == pytest.approx(np.sqrt(0.01**2 + 0.001**2 + 0.002**2), rel=0.01)
    assert ties.by_clock["footage:bow"].map.offset_s == pytest.approx(105.0, abs=1e-4)


def test_a_stated_delay_that_the_clues_contradict_stands_out() -> None:
    ties = solve(
        ["footage:bow", "log:engine"],
        [
            plain("log:engine", UTC, 100.0, 0.001),
            plain("footage:bow", UTC, 105.0, 0.002),
            note(5.0 + 0.07, 0.01, 0.02),
        ],
        {},
    )
    assert ties.doubts[LATE].odds == pytest.approx(0.07 / np.hypot(0.02, 0.0103), rel=0.02)


@settings(max_examples=40, deadline=None)
@given(
    late_s=st.floats(-0.4, 0.4),
    seed=st.integers(0, 10_000),
)
def test_what_is_settled_lies_within_its_statement(late_s: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    ties = solve(
        ["footage:bow", "log:engine"],
        [
            plain("log:engine", UTC, 100.0 + rng.normal(0, 0.002), 0.002, at_s=10.0),
            plain("footage:bow", UTC, 105.0 + rng.normal(0, 0.003), 0.003, at_s=3.0),
            note(5.0 + late_s + rng.normal(0, 0.01), 0.01, 0.2),
        ],
        {},
    )
    late = ties.doubts[LATE]
    assert abs(late.value_s - late_s) < 5.5 * late.sd_s
    assert late.sd_s < 0.015


def test_loops_close_within_their_statement_when_clues_share_a_doubt() -> None:
    """Two notes on one late channel: both loops miss by the same delay, as stated."""
    rng = np.random.default_rng(5)
    misses = []
    for _ in range(200):
        late = rng.normal(0, 0.2)
        ties = solve(
            ["footage:bow", "footage:stern", "log:engine"],
            [
                plain("log:engine", UTC, 100.0 + rng.normal(0, 0.002), 0.002),
                plain("footage:bow", UTC, 110.0 + rng.normal(0, 0.002), 0.002),
                plain("footage:stern", UTC, 120.0 + rng.normal(0, 0.002), 0.002),
                note(10.0 + late + rng.normal(0, 0.01), 0.01, 0.2),
                note(20.0 + late + rng.normal(0, 0.01), 0.01, 0.2, of="footage:stern"),
            ],
            {},
        )
        assert len(ties.loops) == 2
        misses.extend(loop.misclosure_s / loop.sd_s for loop in ties.loops)
    assert 0.85 < np.std(misses) < 1.15


def test_a_common_part_leaves_the_rate_as_sharp_as_the_clues_own() -> None:
    """Two claps half an hour apart, both heard over the same doubtful way: the way moves the
    offset and not the rate."""
    way = Doubt(name="the clap's way to footage:bow", sd_s=0.009)
    claps = [
        replace(
            plain("footage:bow", UTC, 10.0 + 30e-6 * t, float(np.hypot(0.001, 0.009)), at_s=t),
            doubts=(way,),
        )
        for t in (0.0, 1800.0)
    ]
    tie = solve(["footage:bow"], claps, {}).by_clock["footage:bow"]
    assert tie.rate_sd == pytest.approx(0.001 * np.sqrt(2) / 1800, rel=0.02)
    assert (tie.map.rate - 1.0) == pytest.approx(30e-6, rel=0.01)
    assert tie.sd_s == pytest.approx(np.hypot(0.009, 0.001 / np.sqrt(2)), rel=0.01)
    assert tie.rate_sd < RATE_SD


def test_doubts_go_into_the_sidecar_and_come_back() -> None:
    ties = solve(
        ["footage:bow", "log:engine"],
        [plain("log:engine", UTC, 100.0, 0.001), note(5.0, 0.01, 0.2)],
        {},
    )
    assert from_document(json.loads(json.dumps(document(ties)))) == ties


def test_a_clue_must_have_a_part_of_its_own() -> None:
    with pytest.raises(ValueError, match="standard deviation"):
        note(5.0, 0.0, 0.2)
