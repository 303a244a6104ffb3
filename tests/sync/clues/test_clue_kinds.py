"""Stamps, typed marks, shared marks and knocks."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from sync.channel import Channel
from sync.clock import Span
from sync.clues import (
    CLUES,
    Clue,
    Finding,
    Stamp,
    shared_mark_clues,
    spike_marks,
    stamp_clues,
    step_of,
    typed_clue,
)  # fmt: skip
from sync.log import Mark

NINE = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC).timestamp()
LOGS = Span(start_s=NINE, stop_s=NINE + 3600)
HOUR = 3600.0


def stamp(created: float, length: float = 40.0) -> Stamp:
    return Stamp(clock="footage:bow", created_utc_s=created, length_s=length)


def offsets(finding: Finding) -> list[float]:
    return [round(clue.offset_s - NINE, 6) for clue in finding.clues]


def test_the_table_names_every_kind() -> None:
    assert {"stamps", "clap", "typed", "shared_marks"} <= set(CLUES)
    assert all(kind.key == key and kind.text for key, kind in CLUES.items())


def test_a_clue_has_a_deviation() -> None:
    with pytest.raises(ValueError, match="deviation"):
        Clue(kind="typed", from_clock="a", to_clock="b", offset_s=0.0, sd_s=0.0)


# --- stamps


def test_a_stamp_is_the_opening_time_or_the_closing_time() -> None:
    finding = stamp_clues(stamp(NINE + 600), logs=LOGS, time_zone="UTC")
    assert offsets(finding) == [600, 560]
    assert all(clue.hint and clue.kind == "stamps" and clue.sd_s == 40 for clue in finding.clues)


def test_local_time_written_as_utc_is_read_by_the_zone_of_the_trial() -> None:
    """Helsinki is UTC+3 in June (IANA tz)."""
    finding = stamp_clues(stamp(NINE + 3 * HOUR + 600), logs=LOGS, time_zone="Europe/Helsinki")
    assert offsets(finding) == [600, 560]
    assert "local time of UTC +3 h" in finding.clues[0].text


def test_both_readings_are_kept_where_both_meet_the_logs() -> None:
    day = Span(start_s=NINE, stop_s=NINE + 10 * HOUR)
    finding = stamp_clues(stamp(NINE + 4 * HOUR), logs=day, time_zone="Europe/Helsinki")
    assert offsets(finding) == [4 * HOUR, 4 * HOUR - 40, HOUR, HOUR - 40]


def test_another_zone_is_named_where_few_would_fit_but_is_no_hint() -> None:
    """Nepal lies on a quarter hour, UTC+5:45 (IANA tz)."""
    short = Span(start_s=NINE, stop_s=NINE + 300)
    finding = stamp_clues(stamp(NINE + 5.75 * HOUR + 100), logs=short, time_zone="UTC")
    assert finding.clues == ()
    assert "+5.75 h" in finding.remarks[0]
    assert "time_zone" in finding.remarks[0]


def test_a_stamp_that_any_zone_would_fit_says_nothing() -> None:
    day = Span(start_s=NINE, stop_s=NINE + 8 * HOUR)
    finding = stamp_clues(stamp(NINE + 12 * HOUR), logs=day)
    assert finding.clues == ()
    assert "state the trial's time zone" in finding.remarks[0]


@pytest.mark.parametrize("created", [NINE + 3 * 86400, NINE - 3 * 86400])
def test_a_stamp_of_another_day_is_refused(created: float) -> None:
    finding = stamp_clues(stamp(created), logs=LOGS, time_zone="Europe/Helsinki")
    assert finding.clues == ()
    assert "another day" in finding.remarks[0]


@pytest.mark.parametrize("created", [0.0, -2_082_844_800.0, 631_152_000.0])
def test_a_clock_that_was_never_set_says_nothing(created: float) -> None:
    """ISO/IEC 14496-12 counts from 1904: a zero there is 2,082,844,800 s before 1970."""
    finding = stamp_clues(stamp(created), logs=LOGS)
    assert finding.clues == ()
    assert "of no use" in finding.remarks[0]


def test_without_logs_on_utc_a_stamp_is_taken_at_its_word() -> None:
    assert offsets(stamp_clues(stamp(NINE), sd_s=10.0)) == [0, -40]


# --- typed


def test_a_typed_mark_is_as_exact_as_its_frame_and_its_digits() -> None:
    """A uniform error over a width w has a deviation of w/√12."""
    clue = typed_clue(from_clock="footage:bow", t_from_s=12.5, frame_s=0.04, to_clock="utc",
                      t_to_s=NINE, step_s=0.01)  # fmt: skip
    assert clue.offset_s == NINE - 12.5
    assert clue.sd_s == pytest.approx(np.sqrt((0.04**2 + 0.01**2) / 12))
    assert clue.typed
    assert not clue.hint


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("2026-06-11T09:30:05Z", 1.0),
        ("2026-06-11T09:30:05.2Z", 0.1),
        ("2026-06-11T12:30:05.250+03:00", 0.001),
        ("2026-06-11 12:30:05-03:00", 1.0),
        ("09:30:05,25", 0.01),
        ("09:30", 60.0),
    ],
)
def test_the_last_digit_says_how_exact_a_time_is_meant(text: str, step: float) -> None:
    assert step_of(text) == pytest.approx(step)


# --- shared marks


def mark(label: str, clock: str, t: float, sd: float = 0.001) -> Mark:
    return Mark(label=label, clock=clock, t_s=t, sd_s=sd)


def pair(label: str, t: float, miss: float = 0.0) -> list[Mark]:
    return [mark(label, "log:engine", t), mark(label, "utc", NINE + t + miss)]


def test_one_label_that_both_have_once_is_enough() -> None:
    (clue,) = shared_mark_clues(pair("clap", 100.0)).clues
    assert (clue.kind, clue.from_clock, clue.to_clock) == ("shared_marks", "log:engine", "utc")
    assert clue.offset_s == pytest.approx(NINE)
    assert clue.sd_s == pytest.approx(0.001 * np.sqrt(2))


def test_labels_are_equal_whatever_their_case_and_blanks() -> None:
    marks = [mark("Clap  1", "log:engine", 5.0), mark("clap 1", "utc", NINE + 5.0)]
    assert len(shared_mark_clues(marks).clues) == 1


def test_every_mark_that_agrees_is_a_clue_at_its_instant() -> None:
    marks = pair("a", 10.0, 0.001) + pair("b", 20.0, -0.001) + pair("c", 30.0)
    clues = shared_mark_clues(marks).clues
    assert [clue.at_s for clue in clues] == [10.0, 20.0, 30.0]
    assert [clue.text for clue in clues] == [f"shared mark {label!r}" for label in "abc"]
    np.testing.assert_allclose(
        [clue.offset_s - NINE for clue in clues], [0.001, -0.001, 0.0], atol=1e-6
    )


def test_marks_that_contradict_each_other_are_refused_and_named() -> None:
    finding = shared_mark_clues(pair("a", 10.0) + pair("b", 20.0, 0.25))
    assert finding.clues == ()
    assert "'a' and 'b' disagree by 0.250 s" in finding.remarks[0]


def test_clocks_that_drift_apart_as_crystals_do_are_not_refused() -> None:
    """30 parts in a million over an hour are 108 ms: the two clues tell it together."""
    clues = shared_mark_clues(pair("a", 0.0) + pair("b", 3600.0, 0.108)).clues
    assert [clue.at_s for clue in clues] == [0.0, 3600.0]
    assert clues[1].offset_s - clues[0].offset_s == pytest.approx(0.108, abs=1e-6)


def test_a_label_that_repeats_is_paired_by_its_spacing() -> None:
    times = (10.0, 11.3, 13.9)
    marks = [mark("clap", "log:engine", t) for t in times]
    marks += [mark("clap", "utc", NINE + t) for t in times[1:]]
    clues = shared_mark_clues(marks).clues
    assert [clue.at_s for clue in clues] == [11.3, 13.9]
    np.testing.assert_allclose([clue.offset_s for clue in clues], NINE, atol=1e-4)


def test_a_label_that_repeats_is_paired_across_a_drift() -> None:
    """Claps at both ends of half an hour, on clocks 25 parts in a million apart."""
    times = (10.0, 11.3, 1810.0, 1812.1)
    marks = [mark("clap", "log:engine", t) for t in times]
    marks += [mark("clap", "utc", NINE + t * (1 + 25e-6)) for t in times]
    assert [clue.at_s for clue in shared_mark_clues(marks).clues] == list(times)


def test_a_label_that_repeats_evenly_is_refused() -> None:
    marks = [mark("clap", "log:engine", t) for t in (10.0, 11.0, 12.0)]
    marks += [mark("clap", "utc", NINE + t) for t in (10.0, 11.0)]
    finding = shared_mark_clues(marks)
    assert finding.clues == ()
    assert "a label of its own" in finding.remarks[0]


def test_marks_that_nobody_shares_say_nothing() -> None:
    assert shared_mark_clues([mark("a", "utc", 0.0), mark("b", "log:x", 0.0)]) == Finding()
    assert shared_mark_clues([]) == Finding()


# --- knocks


def acceleration(rng: np.random.Generator, knocks: list[float], rate: float = 50.0) -> Channel:
    """A boat in a chop with knocks of half a period on the sensor, sampled as a filter sees it."""
    t = np.arange(0, 60, 1 / rate)
    values = np.cumsum(rng.standard_normal(t.size)) * 0.02 + rng.standard_normal(t.size) * 0.3
    values += 1.5 * np.sin(2 * np.pi * 0.7 * t)
    for at in knocks:
        values += 25.0 * np.clip(1 - np.abs(t - at) * rate, 0, 1)
    return Channel(name="acceleration", clock="log:attitude", t_s=t, values=values)


def test_a_knock_is_found_within_its_stated_deviation() -> None:
    z = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        at = float(rng.uniform(5, 55))
        (found,) = spike_marks(acceleration(rng, [at]))
        z.append((found.t_s - at) / found.sd_s)
        assert abs(found.t_s - at) <= 0.02
        assert found.clock == "log:attitude"
    assert 0.4 < np.sqrt(np.mean(np.square(z))) < 1.2


def test_several_knocks_are_all_found() -> None:
    times = [10.0, 11.3, 40.02]
    found = spike_marks(acceleration(np.random.default_rng(1), times))
    np.testing.assert_allclose([one.t_s for one in found], times, atol=0.02)


def test_a_chop_alone_holds_no_knock() -> None:
    for seed in range(20):
        assert spike_marks(acceleration(np.random.default_rng(seed), [])) == ()


def test_a_slam_on_a_wave_is_no_knock() -> None:
    """A slam rings for a quarter of a second; a knock is over in a sample or two."""
    for seed in range(10):
        rng = np.random.default_rng(seed)
        quiet = acceleration(rng, [])
        since = quiet.t_s - 30.0
        slam = np.where(since > 0, 15 * np.exp(-since / 0.2) * np.cos(2 * np.pi * 4 * since), 0.0)
        rough = Channel(name="acceleration", clock="x", t_s=quiet.t_s, values=quiet.values + slam)
        assert spike_marks(rough) == ()


def test_a_channel_too_short_to_judge_by_holds_no_knock() -> None:
    short = Channel(name="acceleration", clock="x", t_s=np.arange(5.0), values=np.zeros(5))
    assert spike_marks(short) == ()
