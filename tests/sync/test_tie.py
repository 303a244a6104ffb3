"""One graph of all clocks: what agrees is weighted, what does not is named and left out."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sync.clock import UTC
from sync.clue import Clue
from sync.errors import TieRefused
from sync.network import RATE_SD
from sync.tie import Ties, solve
from sync.ties_file import SCHEMA, document, from_document


def clue(
    offset_s: float,
    sd_s: float = 0.01,
    *,
    of: str = "footage:bow",
    to: str = UTC,
    kind: str = "clap",
    hint: bool = False,
    typed: bool = False,
    at_s: float | None = None,
) -> Clue:
    return Clue(
        kind=kind,
        from_clock=of,
        to_clock=to,
        offset_s=offset_s,
        sd_s=sd_s,
        hint=hint,
        typed=typed,
        text=f"{kind} at {offset_s}",
        at_s=at_s,
    )


def test_clues_that_agree_are_weighted_by_their_uncertainty() -> None:
    """The weighted mean of 10.00 ± 0.01 and 10.02 ± 0.02 is 10.004 ± 0.0089 (on paper)."""
    tie = solve(["footage:bow"], [clue(10.0, 0.01), clue(10.02, 0.02)], {}).by_clock["footage:bow"]
    assert tie.map.offset_s == pytest.approx(10.004)
    assert tie.sd_s == pytest.approx(0.01 * 0.02 / 0.01**2 / np.hypot(1, 2) * 0.01, rel=0.2)


def test_a_chain_of_clues_reaches_utc() -> None:
    ties = solve(
        ["footage:bow", "log:engine"],
        [clue(5.0, 0.003, to="log:engine"), clue(100.0, 0.004, of="log:engine")],
        {},
    )
    assert ties.by_clock["footage:bow"].map.offset_s == pytest.approx(105.0)
    assert ties.by_clock["footage:bow"].sd_s == pytest.approx(0.005)
    assert ties.to_utc("footage:bow").carry(1.0) == pytest.approx(106.0)


def test_a_clue_at_odds_with_two_others_is_set_aside_and_named() -> None:
    wrong = clue(12.0, 0.01, kind="lamp")
    tie = solve(["footage:bow"], [clue(10.0), clue(10.005), wrong], {}).by_clock["footage:bow"]
    assert tie.map.offset_s == pytest.approx(10.0025)
    assert tie.set_aside == (wrong,)


def test_two_clues_at_odds_with_nothing_to_decide_make_no_tie() -> None:
    ties = solve(["footage:bow"], [clue(10.0), clue(12.0, kind="typed", typed=True)], {})
    assert "footage:bow" not in ties.by_clock
    with pytest.raises(TieRefused) as caught:
        ties.to_utc("footage:bow")
    said = str(caught.value)
    assert "clap at 10.0" in said
    assert "typed at 12.0" in said
    assert "wrong one" in said


def test_two_pairs_at_odds_make_no_tie() -> None:
    given = [clue(10.0), clue(10.001), clue(12.0), clue(12.001)]
    assert "footage:bow" in solve(["footage:bow"], given, {}).refused


def test_a_hint_alone_is_not_trusted() -> None:
    ties = solve(["footage:bow"], [clue(10.0, 30.0, kind="stamps", hint=True)], {})
    assert "never trusted" in ties.refused["footage:bow"]


def test_a_hint_neither_moves_a_tie_nor_stops_it() -> None:
    hint = clue(40.0, 60.0, kind="stamps", hint=True)
    far = clue(3600.0, 60.0, kind="stamps", hint=True)
    tie = solve(["footage:bow"], [clue(10.0), hint], {}).by_clock["footage:bow"]
    assert tie.map.offset_s == 10.0
    assert tie.hints == (hint,)
    tie = solve(["footage:bow"], [clue(10.0), far], {}).by_clock["footage:bow"]
    assert tie.set_aside == (far,)


def test_a_clock_without_a_clue_says_what_the_search_said() -> None:
    ties = solve(["footage:bow"], [], {"footage:bow": "no impulse was heard"})
    assert ties.refused["footage:bow"].startswith("no impulse was heard; ")
    assert "would settle it" in ties.refused["footage:bow"]
    assert "typed frame" in solve(["log:engine"], [], {}).refused["log:engine"]


def test_clues_that_scatter_more_than_they_say_make_the_tie_more_doubtful() -> None:
    calm = solve(["footage:bow"], [clue(10.0), clue(10.001)], {}).by_clock["footage:bow"]
    wild = solve(["footage:bow"], [clue(10.0), clue(10.04)], {}).by_clock["footage:bow"]
    assert wild.sd_s > 2 * calm.sd_s


def test_what_is_typed_is_marked_as_typed() -> None:
    typed = clue(10.0, kind="typed", typed=True)
    assert solve(["footage:bow"], [typed], {}).by_clock["footage:bow"].typed
    assert not solve(["footage:bow"], [typed, clue(10.001)], {}).by_clock["footage:bow"].typed


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=4),
    st.integers(0, 2**32 - 1),
)
def test_any_connected_graph_gives_back_its_clocks(offsets: list[float], seed: int) -> None:
    rng = np.random.default_rng(seed)
    names = [f"log:{i}" for i in range(len(offsets))]
    truth = dict(zip(names, offsets, strict=True)) | {UTC: 0.0}
    clues = []
    known = [UTC]
    for name in names:
        clues += [
            clue(truth[name] - truth[other], 0.01, of=name, to=other)
            for other in {known[rng.integers(len(known))], known[0]}
        ]
        known.append(name)
    ties = solve(names, clues, {})
    for name in names:
        assert ties.by_clock[name].map.offset_s == pytest.approx(truth[name], abs=1e-6)


def test_two_clues_of_one_wrong_story_are_both_set_aside() -> None:
    """Neither may hide behind the other: four against two is a majority."""
    right = [clue(10.0 + k / 1000) for k in range(4)]
    wrong = [clue(12.0, kind="lamp"), clue(12.001, kind="lamp")]
    tie = solve(["footage:bow"], [*wrong, *right], {}).by_clock["footage:bow"]
    assert set(tie.set_aside) == set(wrong)


def test_the_only_way_to_a_clock_is_not_blamed_for_what_lies_behind_it() -> None:
    """The bridge from UTC to the log agrees with everything; the two clues beyond do not."""
    bridge = clue(100.0, of="log:engine")
    at_odds = [clue(5.0, to="log:engine"), clue(7.0, to="log:engine", kind="lamp")]
    ties = solve(["log:engine", "footage:bow"], [bridge, *at_odds], {})
    assert ties.by_clock["log:engine"].clues == (bridge,)
    assert "at odds" in ties.refused["footage:bow"]


def test_clues_at_odds_elsewhere_make_no_other_tie_more_doubtful() -> None:
    alone = solve(["footage:bow"], [clue(10.0), clue(10.001)], {}).by_clock["footage:bow"]
    wild = [clue(0.0, of="log:x"), clue(0.05, of="log:x")]
    beside = solve(["footage:bow", "log:x"], [clue(10.0), clue(10.001), *wild], {})
    assert beside.by_clock["footage:bow"] == alone


def test_a_clock_tied_to_another_that_is_not_on_utc_says_so() -> None:
    said = solve(["footage:bow"], [clue(5.0, to="log:engine")], {}).refused["footage:bow"]
    assert "tied to the log 'engine'" in said
    assert "UTC" in said


# --- rates


def test_two_clues_half_an_hour_apart_give_the_rate() -> None:
    """54 ms in 1800 s are 30 parts in a million. On paper, with the difference's deviation
    s = √2 · 1 ms / 1800 s and the expectation of 0 ± p = 20 ppm: 30 p² / (p² + s²)."""
    clues = [clue(10.0, 0.001, at_s=100.0), clue(10.054, 0.001, at_s=1900.0)]
    tie = solve(["footage:bow"], clues, {}).by_clock["footage:bow"]
    spread = np.sqrt(2) * 0.001 / 1800
    share = 20e-6**2 / (20e-6**2 + spread**2)
    assert tie.map.rate - 1 == pytest.approx(30e-6 * share, rel=1e-6)
    assert tie.rate_sd == pytest.approx(spread * np.sqrt(share), rel=1e-6)
    assert tie.map.carry(1000.0) == pytest.approx(1010.027, abs=1e-6)
    assert tie.map.carry(1900.0) == pytest.approx(1910.054, abs=2e-4)


def test_a_rate_is_moved_by_evidence_alone() -> None:
    near = [clue(10.0, 0.01, at_s=100.0), clue(10.01, 0.01, at_s=130.0)]
    tie = solve(["footage:bow"], near, {}).by_clock["footage:bow"]
    assert abs(tie.map.rate - 1) < 1e-6
    assert tie.rate_sd == pytest.approx(RATE_SD, rel=1e-2)
    lone = solve(["footage:bow"], [clue(10.0, at_s=100.0)], {}).by_clock["footage:bow"]
    assert lone.map.rate == 1.0
    assert lone.map.offset_s == 10.0
    unknown = solve(["footage:bow"], [clue(10.0), clue(10.0)], {}).by_clock["footage:bow"]
    assert (unknown.map.rate, unknown.pivot_s) == (1.0, None)


def test_a_tie_grows_doubtful_away_from_its_clues() -> None:
    """20 parts in a million (the expectation of a crystal) over 1000 s are 20 ms."""
    tie = solve(["footage:bow"], [clue(10.0, 0.003, at_s=100.0)], {}).by_clock["footage:bow"]
    assert tie.pivot_s == 100.0
    assert tie.sd_at(100.0) == pytest.approx(0.003)
    assert tie.sd_at(1100.0) == pytest.approx(np.hypot(0.003, 0.020))
    known = solve(["footage:bow"], [clue(10.0, 0.003)], {}).by_clock["footage:bow"]
    assert known.sd_at(1e6) == known.sd_s


def test_a_pivot_far_from_nought_costs_no_precision() -> None:
    """A logger that stamps in seconds since 1970 and runs 25 parts in a million fast."""
    start, rate = 1.78e9, -25e-6
    clues = [
        clue(-0.5 + rate * t, 1e-4, of="log:bus", at_s=start + t) for t in (0.0, 900.0, 1800.0)
    ]
    tie = solve(["log:bus"], clues, {}).by_clock["log:bus"]
    for t in (0.0, 900.0, 1800.0):
        assert tie.map.carry(start + t) == pytest.approx(start + t - 0.5 + rate * t, abs=2e-6)


def test_rates_pass_through_a_chain() -> None:
    """Footage against a log that drifts against UTC: the footage itself runs true."""
    drift = 40e-6
    to_utc = [clue(50.0 + drift * t, 1e-4, of="log:x", at_s=t) for t in (0.0, 2000.0)]
    claps = []
    for t in (0.0, 1500.0):
        on_x = (t + 7.0) / (1 + drift)
        claps.append(clue(on_x - t, 1e-4, to="log:x", at_s=t))
    ties = solve(["log:x", "footage:bow"], [*to_utc, *claps], {})
    assert ties.by_clock["log:x"].map.rate - 1 == pytest.approx(drift, rel=0.01)
    assert ties.by_clock["footage:bow"].map.rate - 1 == pytest.approx(0.0, abs=5e-7)
    assert ties.by_clock["footage:bow"].map.carry(750.0) == pytest.approx(807.0, abs=1e-3)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Two clues with 2 ms over 20 minutes on clocks of 20 ppm, read at any instant."""
    inside = []
    for seed in range(300):
        rng = np.random.default_rng(seed)
        rate = rng.normal(0, 20e-6)
        clues = [
            clue(rate * t + rng.normal(0, 0.002), 0.002, at_s=t) for t in rng.uniform(0, 1200, 2)
        ]
        tie = solve(["footage:bow"], clues, {}).by_clock["footage:bow"]
        at = float(rng.uniform(-600, 1800))
        inside.append(abs(tie.map.carry(at) - at * (1 + rate)) < 1.96 * tie.sd_at(at))
    assert 0.90 <= np.mean(inside) <= 0.99


# --- loops


def test_a_loop_closes_by_what_is_left_over() -> None:
    """On paper: 10.00 + 5.00 − 15.03 = −0.03 ± √(3² + 4² + 12²) ms = 13 ms."""
    clues = [
        clue(10.0, 0.003, to="log:engine"),
        clue(5.0, 0.004, of="log:engine"),
        clue(15.03, 0.012),
    ]
    (loop,) = solve(["footage:bow", "log:engine"], clues, {}).loops
    assert set(loop.clocks) == {"footage:bow", "log:engine", UTC}
    assert loop.kinds == ("clap", "clap", "clap")
    assert abs(loop.misclosure_s) == pytest.approx(0.03)
    assert loop.sd_s == pytest.approx(0.013)


def test_two_kinds_of_clue_between_two_clocks_are_a_loop_and_one_kind_is_none() -> None:
    lamp = clue(10.01, 0.004, kind="lamp")
    (loop,) = solve(["footage:bow"], [clue(10.0, 0.003), lamp], {}).loops
    assert loop.clocks == (UTC, "footage:bow")
    assert abs(loop.misclosure_s) == pytest.approx(0.01)
    assert loop.sd_s == pytest.approx(0.005)
    assert solve(["footage:bow"], [clue(10.0), clue(10.001)], {}).loops == ()


def test_there_are_as_many_loops_as_clues_to_spare() -> None:
    clocks = ["log:a", "log:b", "log:c", "footage:bow"]
    clues = [clue(0.0, of=a, to=b) for a in clocks for b in (UTC, *clocks) if a < b]
    ties = solve(clocks, clues, {})
    assert len(ties.loops) == len(clues) - len(clocks)
    assert all(len(set(loop.clocks)) == len(loop.clocks) >= 3 for loop in ties.loops)


def test_a_drift_that_the_clues_tell_opens_no_loop() -> None:
    """Three clues at three instants on clocks 30 ppm apart: 54 ms that are no misclosure."""
    drift = 30e-6
    clues = [
        *(clue(5.0 + drift * t, 1e-4, of="log:x", at_s=t) for t in (0.0, 1800.0)),
        clue(5.0 + drift * 900.0, 1e-4, of="log:x", at_s=900.0, kind="lamp"),
    ]
    (loop,) = solve(["log:x"], clues, {}).loops
    assert abs(loop.misclosure_s) < 2e-4
    assert loop.sd_s < 1e-3


def test_closing_errors_are_as_large_as_they_say() -> None:
    z = []
    for seed in range(100):
        rng = np.random.default_rng(seed)
        rates = dict(zip(("log:a", "log:b", UTC), (*rng.normal(0, 20e-6, 2), 0.0), strict=True))
        clues = []
        for of, to in (("log:a", UTC), ("log:b", "log:a"), ("log:b", UTC)):
            t = float(rng.uniform(0, 1800))
            t_to = t * (1 + rates[of]) / (1 + rates[to])
            clues.append(clue(t_to - t + rng.normal(0, 0.002), 0.002, of=of, to=to, at_s=t))
        (loop,) = solve(["log:a", "log:b"], clues, {}).loops
        z.append(loop.misclosure_s / loop.sd_s)
    assert 0.90 <= np.mean(np.abs(z) < 1.96) <= 0.99
    assert np.std(z) == pytest.approx(1.0, abs=0.2)


# --- what a graph must keep


def a_graph(rng: np.random.Generator, *, odds: bool) -> list[Clue]:
    """Four clocks and clues between them at known instants, at times one at odds."""
    names = [UTC, "log:a", "log:b", "footage:bow", "footage:stern"]
    truth = {name: float(rng.uniform(-1e3, 1e3)) for name in names} | {UTC: 0.0}
    clues = []
    for i, of in enumerate(names[1:], start=1):
        for _ in range(int(rng.integers(1, 4))):
            to = names[int(rng.integers(i))]
            sd = float(rng.uniform(0.001, 0.02))
            at = float(rng.uniform(0, 1800)) if rng.uniform() < 0.7 else None
            miss = 5.0 if odds and rng.uniform() < 0.15 else float(rng.normal(0, sd))
            clues.append(
                clue(truth[of] - truth[to] + miss, sd, of=of, to=to, at_s=at, kind=f"k{len(clues)}")
            )
    return clues


NAMES = ["log:a", "log:b", "footage:bow", "footage:stern"]


def alike(one: Ties, other: Ties, shift: dict[str, float] | None = None) -> None:
    moved = shift or {}
    assert one.refused.keys() == other.refused.keys()
    for clock, tie in one.by_clock.items():
        by = moved.get(clock, 0.0)
        there = other.by_clock[clock]
        at = 0.0 if tie.pivot_s is None else tie.pivot_s
        assert there.map.carry(at + by) == pytest.approx(tie.map.carry(at), abs=1e-6)
        assert there.map.rate == pytest.approx(tie.map.rate, abs=1e-10)
        assert there.sd_s == pytest.approx(tie.sd_s, rel=1e-5)
        assert [c.kind for c in there.clues] == [c.kind for c in tie.clues]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_the_order_of_the_clues_does_not_matter(seed: int, odds: bool) -> None:
    rng = np.random.default_rng(seed)
    clues = a_graph(rng, odds=odds)
    ties = solve(NAMES, clues, {})
    mixed = [clues[i] for i in rng.permutation(len(clues))]
    again = solve(NAMES, mixed, {})
    assert again.refused.keys() == ties.refused.keys()
    for clock, tie in ties.by_clock.items():
        assert again.by_clock[clock].map == tie.map
        assert again.by_clock[clock].sd_s == tie.sd_s
        assert set(again.by_clock[clock].clues) == set(tie.clues)
    assert {loop.clocks: loop.misclosure_s for loop in again.loops} == {
        loop.clocks: loop.misclosure_s for loop in ties.loops
    }


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-1e5, 1e5), st.floats(-1e5, 1e5))
def test_setting_a_clock_otherwise_moves_its_tie_and_nothing_else(
    seed: int, one: float, other: float
) -> None:
    clues = a_graph(np.random.default_rng(seed), odds=True)
    shift = {"log:a": one, "footage:bow": other}
    moved = [
        replace(
            c,
            offset_s=c.offset_s + shift.get(c.to_clock, 0.0) - shift.get(c.from_clock, 0.0),
            at_s=None if c.at_s is None else c.at_s + shift.get(c.from_clock, 0.0),
        )
        for c in clues
    ]
    alike(solve(NAMES, clues, {}), solve(NAMES, moved, {}), shift)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_a_clue_told_twice_is_no_more_evidence(seed: int, odds: bool) -> None:
    clues = a_graph(np.random.default_rng(seed), odds=odds)
    assert solve(NAMES, [*clues, *clues], {}) == solve(NAMES, clues, {})


# --- the sidecar


def test_the_sidecar_gives_back_the_ties() -> None:
    ties = solve(
        ["footage:bow", "footage:stern"],
        [
            clue(10.0, at_s=3.0),
            clue(10.004, at_s=900.0, kind="lamp"),
            clue(11.0, kind="stamps", hint=True, sd_s=60),
        ],
        {"footage:stern": "no sound"},
    )
    assert ties.loops
    text = json.dumps(document(ties))
    assert from_document(json.loads(text)) == ties
    with pytest.raises(ValueError, match="ties/9"):
        from_document({"schema": "ties/9"})
    with pytest.raises(ValueError, match=SCHEMA):
        from_document({})


def test_a_sidecar_of_version_1_is_still_read() -> None:
    """As version 1 wrote it: no instants, no rates' deviations, no loops."""
    row = {
        "kind": "clap",
        "from_clock": "footage:bow",
        "to_clock": UTC,
        "offset_s": 10.0,
        "sd_s": 0.002,
        "hint": False,
        "typed": False,
        "text": "a clap",
    }
    old = {
        "schema": "ties/1",
        "ties": {
            "footage:bow": {
                "offset_s": 10.0,
                "rate": 1.0,
                "sd_s": 0.002,
                "clues": [row],
                "hints": [],
                "set_aside": [],
            }
        },
        "refused": {"footage:stern": "no sound"},
        "inputs": {"logs/gps.nmea": "0"},
    }
    ties = from_document(old)
    tie = ties.by_clock["footage:bow"]
    assert tie.map.offset_s == 10.0
    assert (tie.pivot_s, tie.rate_sd, tie.sd_at(1e4)) == (None, RATE_SD, 0.002)
    assert tie.clues == (Clue(**row),)
    assert ties.loops == ()
    assert from_document(json.loads(json.dumps(document(ties)))) == ties
