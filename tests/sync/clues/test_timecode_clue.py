"""What timecode says of a recording's clock, and what it must not be taken for."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

import numpy as np
import pytest
from code_wave import bits_from, wave

from sync.clock import Span
from sync.clue import Clue, Finding
from sync.clues.linear_timecode import Code, find_code
from sync.clues.timecode import (
    Labels,
    Setting,
    TrialDay,
    code_labels,
    container_labels,
    timecode_clues,
    together_clues,
)
from sync.tie import solve
from sync.timecode import TimecodeError

DAY = dt.date(2026, 6, 11)
NINE = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC).timestamp()
LOGS = Span(start_s=NINE - 600, stop_s=NINE + 7200)
HELSINKI = TrialDay(date=DAY, time_zone="Europe/Helsinki", logs=LOGS)
UTC_CODE = Setting(meaning="utc")


def labelled(
    label: str, rate: Fraction | float = 25, clock: str = "footage:bow", at_s: float = 0.0
) -> Labels:
    return container_labels(clock, label, rate, at_s, Span(start_s=0.0, stop_s=60.0))


def only(finding: Finding) -> Clue:
    (clue,) = finding.clues
    return clue


def test_a_stated_time_of_day_is_a_clue_to_half_a_frame() -> None:
    clue = only(timecode_clues([labelled("09:10:20:05")], Setting(meaning="utc", sd_s=0), HELSINKI))
    assert clue.offset_s == pytest.approx(NINE + 620.2, abs=1e-6)
    assert clue.sd_s == pytest.approx(0.04 / math.sqrt(12))
    assert not clue.hint
    assert clue.at_s == 0.0


def test_local_time_is_read_in_the_trial_s_zone_and_a_later_first_frame_counts() -> None:
    """Helsinki has UTC +3 in June (IANA time zone database)."""
    labels = labelled("12:10:20:05", at_s=0.5)
    clue = only(timecode_clues([labels], Setting(meaning="local"), HELSINKI))
    assert clue.offset_s == pytest.approx(NINE + 620.2 - 0.5, abs=1e-6)
    nowhere = TrialDay(date=DAY, logs=LOGS)
    finding = timecode_clues([labels], Setting(meaning="local"), nowhere)
    assert finding.clues == ()
    assert "time_zone" in finding.remarks[0]


def test_what_nobody_stated_is_a_hint_as_wrong_as_a_camera_s_clock() -> None:
    clue = only(timecode_clues([labelled("12:10:20:05")], Setting(), HELSINKI))
    assert clue.hint
    assert clue.sd_s >= 40.0
    assert clue.offset_s == pytest.approx(NINE + 620.2, abs=1e-6)


@pytest.mark.parametrize("label", ["00:00:00:00", "01:00:00:00", "10:00:00:12", "03:17:40:00"])
def test_a_count_of_what_was_recorded_is_not_even_a_hint(label: str) -> None:
    """From nought, from a whole hour, or anywhere that falls on no log."""
    assert timecode_clues([labelled(label)], Setting(), HELSINKI) == Finding()


def test_a_stated_time_that_falls_on_no_log_says_so() -> None:
    finding = timecode_clues([labelled("03:17:40:00")], UTC_CODE, HELSINKI)
    assert finding.clues == ()
    assert "falls on no log" in finding.remarks[0]
    assert "settle" in finding.remarks[0]


def test_all_that_one_generator_timed_share_the_doubt_about_it() -> None:
    """Two cameras are tied to each other to a frame, however wrong the generator is."""
    labels = [labelled("09:10:20:05"), labelled("09:11:00:00", clock="footage:stern")]
    clues = [
        only(timecode_clues([one], Setting(meaning="utc", sd_s=5.0), HELSINKI)) for one in labels
    ]
    assert {d.name for c in clues for d in c.doubts} == {"the timecode's own clock"}
    assert [c.own_sd_s for c in clues] == pytest.approx([0.04 / math.sqrt(12)] * 2)
    sharp = Clue(
        kind="clap", from_clock="footage:bow", to_clock="utc",
        offset_s=clues[0].offset_s + 2.0, sd_s=0.001,
    )  # fmt: skip
    ties = solve(["footage:bow", "footage:stern"], [*clues, sharp], {})
    other = ties.by_clock["footage:stern"]
    assert other.map.offset_s == pytest.approx(clues[1].offset_s + 2.0, abs=0.02)
    assert other.sd_s < 0.02


def test_midnight_belongs_to_the_day_on_which_the_logs_are() -> None:
    late = TrialDay(date=DAY, logs=Span(start_s=NINE + 14 * 3600, stop_s=NINE + 16 * 3600))
    before = only(timecode_clues([labelled("23:59:59:24")], UTC_CODE, late))
    after = only(timecode_clues([labelled("00:00:00:00")], UTC_CODE, late))
    assert after.offset_s - before.offset_s == pytest.approx(0.04, abs=1e-6)


def test_an_hour_that_the_zone_has_twice_is_no_time() -> None:
    """On 2026-10-25 clocks in Helsinki go from 04:00 back to 03:00 (IANA database)."""
    one = dt.datetime(2026, 10, 25, 0, 30, tzinfo=dt.UTC).timestamp()
    day = TrialDay(
        date=dt.date(2026, 10, 25), time_zone="Europe/Helsinki",
        logs=Span(start_s=one - 3600, stop_s=one + 7200),
    )  # fmt: skip
    finding = timecode_clues([labelled("03:30:00:10")], Setting(meaning="local"), day)
    assert finding.clues == ()
    assert "2026-10-25T00:30:00Z and 2026-10-25T01:30:00Z" in finding.remarks[0]


NTSC = Fraction(30000, 1001)


def test_labels_that_drop_none_at_29_97_are_a_hint_until_it_is_known_when_they_were_set() -> None:
    """3.6 s an hour: set at six, three hours of labels later it is 10.8 s later than they say."""
    labels = [labelled("09:00:00:00", NTSC)]
    finding = timecode_clues(labels, UTC_CODE, HELSINKI)
    clue = only(finding)
    assert clue.hint
    assert clue.offset_s - NINE == pytest.approx(21.6, abs=0.1)
    assert "3.6 s an hour" in finding.remarks[0]
    known = Setting(meaning="utc", set_utc_s=NINE - 3 * 3600)
    firm = only(timecode_clues(labels, known, HELSINKI))
    assert not firm.hint
    assert firm.offset_s == pytest.approx(NINE - 10800 + 10800 * 1.001, abs=1e-3)


def test_drop_frame_labels_are_a_clue_and_their_86_ms_a_day_are_in_its_doubt() -> None:
    clue = only(
        timecode_clues([labelled("09:00:00;02", NTSC)], Setting(meaning="utc", sd_s=0), HELSINKI)
    )
    assert not clue.hint
    assert clue.offset_s == pytest.approx(NINE + 2 / 30 - 0.0216, abs=1e-3)
    assert clue.doubts[0].sd_s == pytest.approx(0.0432 / math.sqrt(12), rel=0.01)


def test_a_text_that_is_no_label_at_the_film_s_rate_is_refused_in_a_sentence() -> None:
    for text, rate in (("10:00:00:29", 25), ("10:00:00;00", 25), ("x", 25), ("10:00:00:00", 120)):
        with pytest.raises(TimecodeError):
            labelled(text, rate)


def test_codes_that_were_set_together_tie_recordings_to_each_other_alone() -> None:
    one = labelled("23:59:50:00", at_s=2.0)
    other = labelled("00:00:10:05", 50, "footage:stern", at_s=1.0)
    clue = only(together_clues([one, other]))
    assert (clue.from_clock, clue.to_clock) == ("footage:bow", "footage:stern")
    # 20.1 s after the first label, at 22.1 s of the one, the other stands at 1 s.
    assert clue.offset_s == pytest.approx(1.0 - 22.1, abs=1e-9)
    assert clue.sd_s == pytest.approx(math.hypot(0.04, 0.02) / math.sqrt(12))
    same = only(together_clues([one, labelled("23:59:40:00", clock="footage:stern")]))
    assert same.offset_s == pytest.approx(8.0, abs=1e-9)
    assert together_clues([one]) == together_clues([]) == Finding()


def test_codes_that_drift_apart_are_no_clue_to_each_other() -> None:
    plain = labelled("09:00:00:00", NTSC)
    finding = together_clues([plain, labelled("09:00:00:00", 25, "footage:stern")])
    assert finding.clues == ()
    assert "3.6 s an hour" in finding.remarks[0]
    again = together_clues([plain, labelled("09:00:10:00", NTSC, "footage:stern")])
    assert only(again).offset_s == pytest.approx(-10.01, abs=1e-6)


def test_code_in_the_sound_ties_offset_and_rate() -> None:
    """A camera's clock 40 parts in a million slow: its seconds are longer."""
    user = (1, 1, 6, 0, 6, 2, 0, 0)
    bits = bits_from((9, 5, 0, 0), 25 * 58, 25, user=user)
    sound = wave(bits, 0.04 * (1 - 40e-6), 48000.0, start_s=0.25, seconds=60.0)
    labels, remarks = code_labels(
        "footage:bow", find_code((0.1 * sound).astype(np.float32), 48e3, 0.0)
    )
    assert remarks == ()
    found = timecode_clues(labels, Setting(meaning="utc", sd_s=0.01), HELSINKI)
    assert len(found.clues) == 2
    tie = solve(["footage:bow"], found.clues, {}).by_clock["footage:bow"]
    assert tie.map.carry(0.25) == pytest.approx(NINE + 300, abs=1e-3)
    assert tie.map.rate - 1 == pytest.approx(40e-6, abs=1e-6)
    assert tie.sd_s == pytest.approx(0.01, rel=0.02), "the generator's doubt counts once"
    assert tie.rate_sd < 3e-6


def test_a_date_in_the_user_bits_chooses_the_day() -> None:
    week = TrialDay(date=DAY, logs=Span(start_s=NINE - 86400, stop_s=NINE + 2 * 86400))
    bits = bits_from((9, 5, 0, 0), 250, 25, user=(1, 1, 6, 0, 6, 2, 0, 0))
    sound = wave(bits, 0.04, 48000.0).astype(np.float32)
    labels, _ = code_labels("footage:bow", find_code(sound, 48e3, 0.0))
    assert len(timecode_clues(labels, UTC_CODE, week).clues) == 2
    undated = timecode_clues([labelled("09:05:00:00")], UTC_CODE, week)
    assert undated.clues == ()
    assert "is both" in undated.remarks[0]


def test_code_of_another_speed_and_code_played_backwards_tie_nothing() -> None:
    sound = wave(bits_from((9, 5, 0, 0), 250, 25), 0.04 * 0.99, 48000.0).astype(np.float32)
    labels, remarks = code_labels("footage:bow", find_code(sound, 48e3, 0.0))
    assert labels == ()
    assert "not of one speed" in remarks[0]
    labels, remarks = code_labels("footage:bow", Code(backwards=True))
    assert labels == ()
    assert "backwards" in remarks[0]
