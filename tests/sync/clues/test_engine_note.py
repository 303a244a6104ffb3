"""The engine's note against the logged engine speed: the right offset, or none and the reason."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from engine_days import (
    LOG_START_S,
    RATE,
    Launch,
    heard,
    logged,
    some_day,
    speed_of,
)
from sounds import engine, wind

from sync.channel import Channel
from sync.clock import Span
from sync.clues import CLUES, Clue, Finding, engine_note_clues
from sync.clues.note.heard import firings_of
from sync.clues.note.sound import note_of, spectra_of

TRIALS = 10

Array = np.ndarray


def listen(
    samples: Array,
    channel: Channel,
    *,
    cylinders: int | None = 4,
    strokes: int | None = 4,
    start_s: float = 0.0,
    sound_delay_s: float = 0.0,
    windows: tuple[Span, ...] = (),
) -> Finding:
    return engine_note_clues(
        clock="footage:bow", samples=samples, rate_hz=RATE, start_s=start_s, channel=channel,
        cylinders=cylinders, strokes=strokes, windows=windows, sound_delay_s=sound_delay_s,
    )  # fmt: skip


def refused(finding: Finding, *words: str) -> None:
    assert finding.clues == ()
    (remark,) = finding.remarks
    assert all(word in remark for word in ("bow", "settle", *words)), remark


@dataclass(frozen=True, kw_only=True)
class Trial:
    truth_s: float
    right: Finding
    other_day: Finding


def _trials() -> Iterator[Trial]:
    for seed in range(TRIALS):
        rng = np.random.default_rng([20260611, seed])
        launches = some_day(rng, 1200.0)
        rpm = speed_of(launches, 1200.0, rng)
        first = launches[int(rng.integers(1, len(launches)))].t_s - rng.uniform(5, 25)
        sound = heard(rpm, first, 60.0, rng)
        other = speed_of(some_day(rng, 1200.0), 1200.0, rng)
        yield Trial(
            truth_s=LOG_START_S + first,
            right=listen(sound, logged(rpm, rng)),
            other_day=listen(sound, logged(other, rng)),
        )


@cache
def trials() -> tuple[Trial, ...]:
    return tuple(_trials())


def tied() -> list[tuple[float, Clue]]:
    """Errors and clues of the trials that were tied."""
    return [(c.offset_s - one.truth_s, c) for one in trials() for c in one.right.clues]


def test_the_table_knows_it() -> None:
    assert CLUES["engine_note"].key == "engine_note"


def test_firing_frequencies_are_those_of_the_handbook() -> None:
    """900 rpm, four cylinders, four-stroke: 30 Hz; 5500 rpm, three cylinders, two-stroke: 275 Hz
    (rpm · cylinders / 120 and / 60, any handbook of engine acoustics)."""
    assert firings_of(4, 4) == (2.0,)
    assert 900 / 60 * firings_of(4, 4)[0] == pytest.approx(30)
    assert 5500 / 60 * firings_of(3, 2)[0] == pytest.approx(275)
    assert firings_of(None, 4) == tuple(n / 2 for n in range(1, 13))


def test_a_steady_note_is_read_as_its_firing_frequency() -> None:
    """To a column and a half of the table, which is flat on top where a tone is clean."""
    rng = np.random.default_rng(3)
    hz = np.concatenate([np.full(5 * RATE, 60.0), np.full(5 * RATE, 97.0)])
    spectra = spectra_of(engine(hz, 10.0, rng, RATE).astype(np.float32), RATE, 0.0)
    assert spectra is not None
    note = note_of(spectra, 40.0, 200.0)
    for t_s, true_hz in ((2.5, 60.0), (7.5, 97.0)):
        row = note.table[int(np.abs(note.t_s - t_s).argmin()), note.table.shape[1] // 2]
        assert 40.0 * 1.006 ** int(row.argmax()) == pytest.approx(true_hz, rel=0.009)


def test_nineteen_of_twenty_errors_are_under_40_ms_at_6_db_below_the_wind() -> None:
    """One launch in a minute of footage against twenty minutes of log; few go without a tie."""
    errors = [abs(error) for error, _ in tied()]
    assert len(errors) >= TRIALS * 0.8
    assert np.percentile(errors, 95) < 0.040
    assert max(errors) < 0.080


def test_its_intervals_hold_the_truth_and_are_not_wide() -> None:
    found = tied()
    held = [abs(error) <= 1.96 * clue.sd_s for error, clue in found]
    assert np.mean(held) >= 0.90
    assert all(clue.sd_s < 0.03 for _, clue in found)


def test_footage_of_another_day_is_refused_every_time() -> None:
    assert [one.other_day.clues for one in trials()] == [()] * TRIALS
    assert all("settle" in one.other_day.remarks[0] for one in trials())


FULL = Launch(t_s=60.0, hold_s=22.0, rpm=5450.0, lever_s=0.62, settle_s=2.5, hump=0.7, down_s=1.2)


@cache
def one_launch() -> tuple[Array, Array]:
    """Engine speed over three minutes, and a minute of sound from 45 s on."""
    rng = np.random.default_rng(11)
    rpm = speed_of([FULL], 180.0, rng)
    return rpm, heard(rpm, 45.0, 60.0, rng)


TRUTH_S = LOG_START_S + 45.0


def test_a_clue_says_what_it_is_and_counts_each_doubt_once() -> None:
    rpm, sound = one_launch()
    (clue,) = listen(sound, logged(rpm, np.random.default_rng(1))).clues
    (doubtful,) = listen(sound, logged(rpm, np.random.default_rng(1), delay_sd_s=0.05)).clues
    assert (clue.kind, clue.from_clock, clue.to_clock) == (
        "engine_note", "footage:bow", "log:engine",
    )  # fmt: skip
    assert not clue.hint
    assert "\n" not in clue.text
    assert clue.offset_s == pytest.approx(TRUTH_S, abs=0.015)
    assert doubtful.sd_s == pytest.approx(np.hypot(clue.sd_s, 0.05))
    assert clue.at_s is not None
    assert 15 - 1 < clue.at_s < 40


def test_the_way_of_the_sound_and_the_start_of_the_track_are_taken_off() -> None:
    """The sound of 51.5 m away is heard 0.15 s late, so the footage's clock is further ahead."""
    rpm, sound = one_launch()
    log = logged(rpm, np.random.default_rng(1))
    (here,) = listen(sound, log).clues
    (far,) = listen(sound, log, sound_delay_s=0.15, start_s=7.0).clues
    assert far.offset_s - here.offset_s == pytest.approx(0.15 - 7.0, abs=0.003)


def test_another_days_lone_launch_is_not_taken_for_this_one() -> None:
    """The same boat and hand: two parts in a hundred slower up, half of one in top speed."""
    _, sound = one_launch()
    for seed in range(4):
        rng = np.random.default_rng([5, seed])
        like = Launch(
            t_s=70.0, hold_s=22.5, rpm=5450.0 * 1.005, lever_s=0.65, settle_s=2.6, hump=0.69,
            down_s=1.3,
        )  # fmt: skip
        refused(listen(sound, logged(speed_of([like], 180.0, rng), rng)))


def test_two_launches_that_are_alike_are_named_both() -> None:
    rpm, sound = one_launch()
    finding = listen(sound, logged(np.concatenate([rpm, rpm]), np.random.default_rng(2)))
    refused(finding, "nearly as well", f"{TRUTH_S:.1f} s", f"{TRUTH_S + 180:.1f} s")


def test_a_window_settles_which_of_them_it_is() -> None:
    rpm, sound = one_launch()
    log = logged(np.concatenate([rpm, rpm]), np.random.default_rng(2))
    window = Span(start_s=TRUTH_S + 120, stop_s=TRUTH_S + 240)
    (clue,) = listen(sound, log, windows=(window,)).clues
    assert clue.offset_s == pytest.approx(TRUTH_S + 180, abs=0.015)


def test_a_window_that_leaves_out_the_truth_gives_nothing() -> None:
    rpm, sound = one_launch()
    log = logged(rpm, np.random.default_rng(2))
    refused(listen(sound, log, windows=(Span(start_s=TRUTH_S + 5, stop_s=TRUTH_S + 60),)))


def test_an_engine_of_unknown_cylinders_is_tied_all_the_same() -> None:
    rpm, sound = one_launch()
    log = logged(rpm, np.random.default_rng(1))
    (clue,) = listen(sound, log, cylinders=None, strokes=None).clues
    assert clue.offset_s == pytest.approx(TRUTH_S, abs=0.015)
    assert clue.text.startswith("2 ignitions a turn")


def test_a_note_that_stays_the_same_is_refused() -> None:
    rng = np.random.default_rng(4)
    flat = speed_of([], 300.0, rng)
    sound = heard(flat, 100.0, 60.0, rng)
    refused(listen(sound, logged(flat, rng)), "hardly changes")
    rpm, _ = one_launch()
    refused(listen(sound, logged(rpm, rng)))


def test_wind_alone_is_refused() -> None:
    rpm, _ = one_launch()
    for seed in range(3):
        rng = np.random.default_rng([6, seed])
        refused(listen(wind(60.0, rng, rate=RATE).astype(np.float32), logged(rpm, rng)))


def test_silence_and_a_scrap_of_sound_are_refused_in_a_sentence() -> None:
    rpm, sound = one_launch()
    log = logged(rpm, np.random.default_rng(1))
    refused(listen(np.zeros(60 * RATE, np.float32), log), "silence")
    refused(listen(sound[: 5 * RATE], log), "5 s of sound")


def test_a_log_that_ends_in_the_launch_gives_a_right_tie_or_none() -> None:
    rpm, sound = one_launch()
    log = logged(rpm[:5500], np.random.default_rng(1))
    refused(listen(sound, log))


def test_a_hole_in_the_log_does_not_move_the_tie() -> None:
    rpm, sound = one_launch()
    log = logged(rpm, np.random.default_rng(1))
    kept = (log.t_s < TRUTH_S + 25) | (log.t_s > TRUTH_S + 29)
    holed = Channel(
        name=log.name, clock=log.clock, t_s=log.t_s[kept], values=log.values[kept],
        delay_s=log.delay_s,
    )  # fmt: skip
    (clue,) = listen(sound, holed).clues
    assert clue.offset_s == pytest.approx(TRUTH_S, abs=0.02)


def slowed(log: Channel, every: int) -> Channel:
    return Channel(
        name=log.name, clock=log.clock, t_s=log.t_s[::every], values=log.values[::every],
        delay_s=log.delay_s,
    )  # fmt: skip


def test_a_log_of_a_value_a_second_ties_within_what_it_states_or_not_at_all() -> None:
    rpm, sound = one_launch()
    log = logged(rpm, np.random.default_rng(1))
    for clue in listen(sound, slowed(log, 10)).clues:
        assert abs(clue.offset_s - TRUTH_S) < 1.96 * clue.sd_s


def test_a_log_too_slow_to_follow_a_launch_is_named_as_such() -> None:
    rpm, sound = one_launch()
    log = logged(rpm, np.random.default_rng(1))
    refused(listen(sound, slowed(log, 30)), "a value only every 3.0 s")


def test_a_minute_against_two_hours_takes_seconds() -> None:
    """About 1.5 s of one core on the machine it was written on; the bound allows for slow ones."""
    rng = np.random.default_rng(8)
    launches = some_day(rng, 7200.0)
    rpm = speed_of(launches, 7200.0, rng)
    first = launches[30].t_s - 15
    sound, log = heard(rpm, first, 60.0, rng), logged(rpm, rng)
    began = time.process_time()
    finding = listen(sound, log)
    assert time.process_time() - began < 12
    (clue,) = finding.clues
    assert clue.offset_s == pytest.approx(LOG_START_S + first, abs=0.04)


def test_the_demos_footage_is_tied_within_what_it_states() -> None:
    """The demo's sound has uneven cylinders, water and gusts, and comes from 2.6 m away; its truth
    is in truth.json."""
    from demo_media.make import demo_day
    from demo_media.scenario import DEMO_SCENARIO
    from demo_media.sound import make_sound
    from demo_media.tables import engine_log

    day = demo_day()
    rows = [line.split(",") for line in engine_log(day, DEMO_SCENARIO).splitlines()[1:]]
    t_s, rpm = np.array([(float(r[0]), float(r[1])) for r in rows if r[1]]).T
    engine_speed = Channel(
        name="engine_speed", clock="log:engine", t_s=t_s, values=rpm / 60,
        delay_s=DEMO_SCENARIO.instruments.engine_delay_s,
    )  # fmt: skip
    (clue,) = engine_note_clues(
        clock="footage:bow", samples=make_sound(day, DEMO_SCENARIO, 4, 40.0, 24000),
        rate_hz=24000, start_s=0.0, channel=engine_speed, cylinders=4, strokes=4,
        sound_delay_s=2.6 / DEMO_SCENARIO.sound_speed_mps,
    ).clues  # fmt: skip
    truth_s = DEMO_SCENARIO.footage_offset_s - DEMO_SCENARIO.engine_offset_s
    assert abs(clue.offset_s - truth_s) < 1.96 * clue.sd_s
    assert clue.sd_s < 0.02
