"""One graph of all clocks: what agrees is weighted, what does not is named and left out."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sync.clock import UTC
from sync.clues.base import Clue
from sync.errors import TieRefused
from sync.tie import document, from_document, solve


def clue(
    offset_s: float,
    sd_s: float = 0.01,
    *,
    of: str = "footage:bow",
    to: str = UTC,
    kind: str = "clap",
    hint: bool = False,
    typed: bool = False,
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


def test_the_sidecar_gives_back_the_ties() -> None:
    ties = solve(
        ["footage:bow", "footage:stern"],
        [clue(10.0), clue(11.0, kind="stamps", hint=True, sd_s=60)],
        {"footage:stern": "no sound"},
    )
    text = json.dumps(document(ties))
    assert from_document(json.loads(text)) == ties
    with pytest.raises(ValueError, match="ties/9"):
        from_document({"schema": "ties/9"})
