"""What receivers in a log say of its clock, against clocks that are known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sync.channel import Channel
from sync.clock import UTC
from sync.clues import CLUES, gnss_time_clues, source_times
from sync.log import ClockReading, Log
from sync.tie import solve

START_S = 1781168400.0


def readings(
    source: str,
    *,
    offset_s: float = -0.5,
    span_s: float = 120.0,
    ppm: float = 0.0,
    noise_s: float = 0.02,
    seed: int = 1,
    start_s: float = START_S,
) -> tuple[ClockReading, ...]:
    """A second apart; `ppm` is by how much the log's clock runs fast."""
    rng = np.random.default_rng(seed)
    t = start_s + np.arange(0.0, span_s, 1.0)
    utc = t + offset_s - ppm * 1e-6 * (t - start_s - span_s / 2)
    stamps = t + rng.normal(0, noise_s, t.size)
    return tuple(
        ClockReading(clock="log:bus", t_log_s=a, t_utc_s=b, source=source)
        for a, b in zip(stamps.tolist(), utc.tolist(), strict=True)
    )


def log(
    *readings_of: tuple[ClockReading, ...], clock: str = "log:bus", start_s: float = START_S
) -> Log:
    speed = Channel(name="speed", t_s=start_s + np.arange(9.0), values=np.arange(9.0), clock=clock)
    return Log(
        name="bus",
        path=Path("bus"),
        format="canbus",
        clock=clock,
        channels={"speed": speed},
        clock_readings=tuple(reading for some in readings_of for reading in some),
    )


def test_a_clock_that_is_ahead_gives_a_clue_that_puts_it_back() -> None:
    (clue,) = gnss_time_clues(log(readings("PGN 129029 from 5"))).clues
    assert clue.kind in CLUES
    assert (clue.from_clock, clue.to_clock) == ("log:bus", UTC)
    assert clue.offset_s == pytest.approx(-0.5, abs=0.01)
    assert not clue.hint
    assert clue.at_s == pytest.approx(START_S + 59.5, abs=0.5)
    assert "0.5" in clue.text
    assert "ahead" in clue.text


def test_wild_readings_do_not_move_it() -> None:
    """A tenth of the readings lie up to an hour off: a backlog, a receiver before its fix."""
    sound = readings("PGN 129029 from 5")
    wild = tuple(
        ClockReading(clock=r.clock, t_log_s=r.t_log_s, t_utc_s=r.t_utc_s - 3600, source=r.source)
        for r in sound[:12]
    )
    (clue,) = gnss_time_clues(log((*wild, *sound[12:]))).clues
    assert clue.offset_s == pytest.approx(-0.5, abs=0.01)


def test_the_rate_is_found_where_the_readings_span_time_enough() -> None:
    """200 seeded logs of half an hour: 95 % of the rates lie within two stated deviations."""
    held = 0
    for seed in range(200):
        (one,) = source_times(
            readings("PGN 129029 from 5", span_s=1800, ppm=30, noise_s=0.05, seed=seed)
        )
        assert one.rate is not None
        assert one.rate_sd is not None
        assert one.rate_sd < 5e-6
        held += abs(one.rate - (1 - 30e-6)) <= 2 * one.rate_sd
    assert 180 <= held <= 200


def test_over_a_minute_no_rate_is_stated() -> None:
    (one,) = source_times(readings("PGN 129029 from 5", span_s=60))
    assert one.rate is None
    assert one.rate_sd is None


def test_the_offset_says_how_sure_it_is() -> None:
    """Lateness of 0 to 0.3 s that nothing shows: the statement holds in at least 95 of 100."""
    held = 0
    for seed in range(200):
        late = np.random.default_rng(seed + 1000).uniform(0.0, 0.2)
        found = readings("PGN 129029 from 5", offset_s=-0.5 - late, seed=seed)
        (clue,) = gnss_time_clues(log(found)).clues
        held += abs(clue.offset_s + 0.5) <= 2 * clue.sd_s
    assert held >= 190


def test_a_drift_over_a_long_log_widens_the_statement() -> None:
    (steady,) = source_times(readings("PGN 129029 from 5", span_s=7200))
    (drifting,) = source_times(readings("PGN 129029 from 5", span_s=7200, ppm=100))
    assert drifting.sd_s > steady.sd_s
    assert drifting.sd_s == pytest.approx(np.hypot(0.1, 0.72 / 12**0.5), rel=0.05)


def test_receivers_that_agree_make_one_clue_of_the_steadiest() -> None:
    rough = readings("PGN 129029 from 3", noise_s=0.2, offset_s=-0.45)
    (clue,) = gnss_time_clues(log(rough, readings("PGN 129029 from 5"))).clues
    assert "from 5" in clue.text


def test_receivers_that_disagree_make_hints_and_are_named() -> None:
    late = readings("PGN 129029 from 3", offset_s=-2.5)
    finding = gnss_time_clues(log(readings("PGN 129029 from 5"), late))
    assert [clue.hint for clue in finding.clues] == [True, True]
    (remark,) = finding.remarks
    assert "from 3" in remark
    assert "from 5" in remark
    assert "2.5" in remark


def test_a_receiver_is_heard_before_the_time_that_its_own_address_relays() -> None:
    relayed = readings("PGN 126992 from 5", offset_s=0.4)
    (clue,) = gnss_time_clues(log(relayed, readings("PGN 129029 from 5"))).clues
    assert "129029" in clue.text
    assert not clue.hint


def test_a_crystal_is_heard_only_where_there_is_nothing_else() -> None:
    crystal = readings("PGN 126992 from 9 (crystal)", offset_s=7.0)
    finding = gnss_time_clues(log(crystal, readings("PGN 126992 from 5")))
    assert [clue.offset_s for clue in finding.clues] == pytest.approx([-0.5], abs=0.01)
    assert finding.remarks == ()
    (alone,) = gnss_time_clues(log(crystal)).clues
    assert alone.offset_s == pytest.approx(7.0, abs=0.01)


def test_a_log_that_counts_from_its_own_start_gets_that_start() -> None:
    found = readings("PGN 129029 from 5", offset_s=START_S, start_s=0.0)
    (clue,) = gnss_time_clues(log(found, start_s=0.0)).clues
    assert clue.offset_s == pytest.approx(START_S, abs=0.01)
    assert "is at nought at 2026-06-11T0" in clue.text


def test_a_log_that_is_taken_to_be_on_utc_is_contradicted_in_words() -> None:
    finding = gnss_time_clues(log(readings("PGN 129029 from 5"), clock=UTC))
    assert finding.clues == ()
    (remark,) = finding.remarks
    assert "ahead" in remark
    assert "'own'" in remark
    right = readings("PGN 129029 from 5", offset_s=-0.1)
    assert gnss_time_clues(log(right, clock=UTC)).remarks == ()


def test_a_few_readings_are_none() -> None:
    assert source_times(readings("PGN 129029 from 5", span_s=4)) == ()


def test_a_dated_log_without_a_receiver_is_a_hint_alone() -> None:
    finding = gnss_time_clues(log())
    (clue,) = finding.clues
    assert clue.hint
    assert clue.offset_s == 0.0
    assert "clock = 'utc'" in finding.remarks[0]
    assert gnss_time_clues(log(start_s=0.0)).clues == ()


def test_two_clues_tell_the_rate_and_share_how_late_the_receiver_is() -> None:
    """200 seeded half hours: rates within two deviations in 90 to 99 %, and no offset is surer
    than the lateness that both clues share."""
    held = 0
    for seed in range(200):
        found = readings("PGN 129029 from 5", span_s=1800, ppm=30, noise_s=0.05, seed=seed)
        clues = gnss_time_clues(log(found)).clues
        assert [doubt.name for clue in clues for doubt in clue.doubts] == [
            "lateness of PGN 129029 from 5 on log:bus"
        ] * 2
        tie = solve(["log:bus"], clues, {}).by_clock["log:bus"]
        assert 0.1 <= tie.sd_s < 0.11
        assert tie.rate_sd < 6e-6
        assert tie.pivot_s == pytest.approx(START_S + 900, abs=5)
        held += abs(tie.map.rate - (1 - 30e-6)) <= 2 * tie.rate_sd
    assert 180 <= held <= 199


def test_lateness_does_not_pass_for_a_rate() -> None:
    """Late by 0.3 s throughout: the rate stays at one, the offset early by that lateness."""
    found = readings("PGN 129029 from 5", span_s=1800, offset_s=-0.8)
    tie = solve(["log:bus"], gnss_time_clues(log(found)).clues, {}).by_clock["log:bus"]
    assert tie.map.rate == pytest.approx(1.0, abs=3 * tie.rate_sd)
    assert tie.map.carry(START_S + 900) == pytest.approx(START_S + 900 - 0.8, abs=0.01)


def test_how_the_clock_of_a_stamping_logger_stands_is_told() -> None:
    stamped = tuple(
        ClockReading(clock="stamps:bus", t_log_s=r.t_log_s, t_utc_s=r.t_utc_s, source="GPRMC")
        for r in readings("GPRMC", offset_s=-2.5)
    )
    finding = gnss_time_clues(log(stamped, clock=UTC))
    assert finding.clues == ()
    (remark,) = finding.remarks
    assert "logger" in remark
    assert "2.50" in remark
    assert "s ahead" in remark
