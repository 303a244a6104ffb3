"""The clap against tie marks: the right offset, or no clue and the reason."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sounds import RATE, some_under_way, with_claps

from sync.clock import Span
from sync.clues import Clue, Finding, Impulse, Scene, clap_clues, find_impulses
from sync.clues.clap import WINDOW_SDS, audible, sound_speed
from sync.clues.marks.impulses import BEGINS_SD_S
from sync.clues.marks.trust import by_habit
from sync.log import Mark

START = 1_781_168_400.0  # some instant in June 2026; the truth is what matters here
OFFSET = START + 12.345
SPAN = Span(start_s=0.0, stop_s=30.0)
SCENE = Scene(clock="footage:bow", span=SPAN, distance_m=1.5, air_temperature_k=290.15)
DELAY = 1.5 / 341.454


def hint(off_s: float = 20.0, sd_s: float = 40.0) -> Clue:
    return Clue(
        kind="stamps", from_clock="footage:bow", to_clock="utc",
        offset_s=OFFSET + off_s, sd_s=sd_s, hint=True,
    )  # fmt: skip


def mark(t_footage: float, label: str = "clap", sd_s: float = 0.0003, clock: str = "utc") -> Mark:
    return Mark(label=label, clock=clock, t_s=OFFSET + t_footage, sd_s=sd_s)


def heard(*parts: tuple[float, float]) -> tuple[Impulse, ...]:
    """Impulses at footage times of their events, delayed by the way of the sound."""
    return tuple(Impulse(t_s=t + DELAY, sd_s=0.001, rise_db=rise) for t, rise in parts)


def refused(finding: Finding, *words: str) -> None:
    assert finding.clues == ()
    assert finding.remarks
    text = " ".join(finding.remarks)
    assert all(word in text for word in words), text


def test_the_speed_of_sound_follows_the_air() -> None:
    """343.2 m/s at 20 °C (from memory; any handbook), 331.3 at 0 °C."""
    assert sound_speed(293.15) == pytest.approx(343.2, abs=0.1)
    assert sound_speed(273.15) == pytest.approx(331.3)
    assert sound_speed(290.15) == pytest.approx(341.454, abs=0.001)


def lead(off_s: float = 0.0, sd_s: float = 0.03) -> Clue:
    """A firm clue of another kind, so many seconds off the truth."""
    return Clue(
        kind="typed", from_clock="footage:bow", to_clock="utc", offset_s=OFFSET + off_s, sd_s=sd_s
    )


def test_a_lone_bang_is_a_hint_and_says_what_would_settle_it() -> None:
    """Any hatch that slams within minutes of where the clap should be would look the same."""
    found = clap_clues(SCENE, heard((10.0, 25)), [mark(10.0)], [hint()])
    (clue,) = found.clues
    assert clue.hint
    assert clue.offset_s == pytest.approx(OFFSET, abs=1e-4)
    assert 'clap_at = "10.0 s"' in found.remarks[-1]


def test_a_bang_after_a_clap_that_was_not_filmed_is_no_clue() -> None:
    """Filming began late: the only sound is a slam 27 s from where the clap would have been."""
    found = clap_clues(SCENE, heard((7.0, 20)), [mark(-20.0)], [hint()])
    assert all(clue.hint for clue in found.clues)


def test_another_clue_makes_a_clap_of_the_bang_that_it_leads_to() -> None:
    bangs = heard((4.0, 29), (10.0, 25))
    (clue,) = clap_clues(SCENE, bangs, [mark(10.0)], [hint()], [lead(0.1)]).clues
    assert not clue.hint
    assert clue.offset_s == pytest.approx(OFFSET, abs=1e-4)


def test_a_bang_elsewhere_does_not_become_one() -> None:
    found = clap_clues(SCENE, heard((10.0, 25)), [mark(10.0)], [hint()], [lead(30.0)])
    assert [clue.hint for clue in found.clues] == [True]


def test_three_claps_at_uneven_pauses_are_more_than_chance() -> None:
    times = (10.0, 11.1, 13.7)
    bangs = heard(*((t, 25.0) for t in times))
    (clue,) = clap_clues(SCENE, bangs, [mark(t) for t in times], [hint()]).clues
    assert not clue.hint


@pytest.mark.parametrize("times", [(10.0, 11.2), (10.0, 11.0, 12.02), (10.0, 10.6, 11.1)])
def test_claps_at_the_pace_of_every_day_are_hints(times: tuple[float, ...]) -> None:
    """Two a second apart, three in time, three in haste: another day's may lie the same."""
    bangs = heard(*((t, 25.0) for t in times))
    (clue,) = clap_clues(SCENE, bangs, [mark(t) for t in times], [hint()]).clues
    assert clue.hint


def test_among_many_bangs_two_are_not() -> None:
    rng = np.random.default_rng(5)
    bangs = [(10.0, 25.0), (13.7, 24.0), *((float(t), 16.0) for t in rng.uniform(0, 39, 14))]
    found = clap_clues(SCENE, heard(*sorted(bangs)), [mark(10.0), mark(13.7)], [hint()])
    assert all(clue.hint for clue in found.clues)


def test_a_clap_that_a_person_shows_is_a_clue() -> None:
    shown = replace(SCENE, clap_at_s=10.2)
    (clue,) = clap_clues(shown, heard((4.0, 29), (10.0, 25)), [mark(10.0)], [hint()]).clues
    assert (clue.kind, clue.from_clock, clue.to_clock) == ("clap", "footage:bow", "utc")
    assert clue.offset_s == pytest.approx(OFFSET, abs=1e-4)
    assert clue.sd_s == pytest.approx(
        np.sqrt(0.001**2 + 0.0003**2 + BEGINS_SD_S**2 + (0.5 / 341.454) ** 2), rel=1e-3
    )
    assert not clue.hint
    assert "clap" in clue.text


def test_the_way_of_the_sound_is_taken_off() -> None:
    """25 m are 73 ms at 20 °C (ITU-R BT.1359 context, check values: sound travel)."""
    far = Scene(clock="footage:bow", span=SPAN, distance_m=25.0, air_temperature_k=293.15)
    late = (Impulse(t_s=10.0 + 0.0728, sd_s=0.001, rise_db=25.0),)
    (clue,) = clap_clues(far, late, [mark(10.0)], [hint()]).clues  # a hint, but in place
    assert clue.offset_s == pytest.approx(OFFSET, abs=2e-4)


def test_what_is_not_known_of_the_air_is_in_the_doubt() -> None:
    """10 K are 1.7 % of the way's time at 15 °C (half of 10/288): 1.3 ms at 25 m."""
    near = replace(SCENE, distance_m=25.0, distance_sd_m=0.0, air_temperature_sd_k=10.0)
    assert near.sound_delay_sd_s == pytest.approx(0.00127, abs=2e-5)


def test_what_all_claps_share_does_not_shrink_with_their_number() -> None:
    times = (10.0, 11.1, 13.7, 15.2)
    known = replace(SCENE, distance_sd_m=0.0, air_temperature_sd_k=0.0)
    marks = [mark(t, sd_s=0.004) for t in times]
    (clue,) = clap_clues(known, heard(*((t, 25.0) for t in times)), marks, [hint()]).clues
    assert clue.own_sd_s == pytest.approx(np.hypot(0.004, 0.001 / 2), rel=1e-3)
    assert clue.sd_s == pytest.approx(np.hypot(clue.own_sd_s, BEGINS_SD_S), rel=1e-6)


def test_pauses_by_habit_tell_less_the_shorter_and_the_more_even_they_are() -> None:
    """Normal scatter of a tenth: two pauses of 1 s fall within 5 ms of each other with a chance of
    2 · 0.005 / (√(4π) · 0.1) = 2.8 %."""
    assert by_habit([0.0, 1.0], 0.005) == pytest.approx(0.0282, abs=1e-4)
    assert by_habit([0.0, 10.0], 0.005) == pytest.approx(0.00282, abs=1e-5)
    uneven = by_habit([0.0, 1.0, 3.0], 0.005)
    assert uneven == pytest.approx(0.0282 * 0.0141, rel=1e-2)
    assert by_habit([0.0, 1.0, 2.02], 0.005) > 5 * uneven
    assert by_habit([4.0], 0.005) == 1.0


def test_two_sets_of_marks_that_lie_alike_are_refused() -> None:
    """Twice the same five claps within the stamp's reach, each to a millisecond or two."""
    times = (1.287, 4.186, 5.191, 7.029, 9.442)
    bangs = heard(*((t + off, 24.0) for t, off in zip(times, (0, 2e-3, -2e-3, 0, 1e-3),
                                                     strict=True)))  # fmt: skip
    marks = [mark(t + at) for at in (0.0, 40.0) for t in times]
    refused(clap_clues(SCENE, bangs, marks, [hint()]), "in more than one way")


def test_from_sound_to_clue_within_5_ms_of_the_truth() -> None:
    good = 0
    for seed in range(30):
        rng = np.random.default_rng(seed)
        at = float(rng.uniform(2, 10))
        sound = with_claps(some_under_way(12.0, rng), [at + DELAY], 0.0, rng)
        scene = Scene(clock="footage:bow", span=Span(start_s=0, stop_s=12), distance_m=1.5,
                      air_temperature_k=290.15)  # fmt: skip
        found = clap_clues(scene, find_impulses(sound, RATE, 0.0), [mark(at)], [hint()])
        good += any(abs(clue.offset_s - OFFSET) < 0.005 for clue in found.clues)
        assert all(abs(clue.offset_s - OFFSET) < 4 * clue.sd_s for clue in found.clues)
    assert good >= 0.95 * 30


@pytest.mark.parametrize("louder_db", [0.0, 5.0, 9.0])
def test_a_second_sound_like_it_means_no_clue_and_both_are_named(louder_db: float) -> None:
    """Even where the other is the louder one: it could be the dropped tool."""
    finding = clap_clues(SCENE, heard((10.0, 18), (15.0, 18 + louder_db)), [mark(10.0)], [hint()])
    refused(finding, "10.004 s", "15.004 s", "second clap", "typed tie mark")


def test_a_far_quieter_sound_does_not_spoil_the_clap() -> None:
    impulses = heard((4.0, 8), (10.0, 28), (15.0, 12))
    (clue,) = clap_clues(SCENE, impulses, [mark(10.0)], [hint()]).clues
    assert clue.offset_s == pytest.approx(OFFSET, abs=1e-4)


def test_a_sound_like_it_outside_the_stamps_does_not_matter() -> None:
    impulses = heard((4.0, 20), (26.0, 20))
    near = hint(off_s=0.0, sd_s=3.0)
    (clue,) = clap_clues(SCENE, impulses, [mark(4.0)], [near]).clues
    assert clue.offset_s == pytest.approx(OFFSET, abs=1e-4)


def test_uneven_claps_are_told_apart_by_their_spacing() -> None:
    times = (5.0, 6.1, 8.0)
    impulses = heard(*((t, 20.0) for t in times), (12.0, 25.0), (14.0, 20.0))
    (clue,) = clap_clues(SCENE, impulses, [mark(t) for t in times], [hint()]).clues
    assert clue.offset_s == pytest.approx(OFFSET, abs=1e-3)
    assert "2 more" in clue.text


def test_even_claps_with_one_too_many_are_refused() -> None:
    impulses = heard(*((t, 20.0) for t in (5.0, 6.0, 7.0, 8.0)))
    finding = clap_clues(SCENE, impulses, [mark(t) for t in (5.0, 6.0, 7.0)], [hint()])
    refused(finding, "more than one way")


def test_a_double_clap_is_not_taken_for_two_marks() -> None:
    """One mark, two claps 0.35 s apart: which one was marked cannot be told."""
    refused(clap_clues(SCENE, heard((10.0, 20), (10.35, 20)), [mark(10.0)], [hint()]), "or")
    two_marks = [mark(10.0, "clap 1"), mark(13.0, "clap 2")]
    refused(clap_clues(SCENE, heard((10.0, 20), (10.35, 20)), two_marks, [hint()]))


def test_a_lone_mark_without_stamps_is_refused() -> None:
    refused(clap_clues(SCENE, heard((10.0, 25)), [mark(10.0)]), "no stamp", "any day")
    refused(clap_clues(SCENE, heard((10.0, 25), (12.3, 25)), [mark(10.0), mark(12.3)]), "any day")


def test_footage_of_another_day_is_refused() -> None:
    other_day = hint(off_s=86400.0)
    found = clap_clues(SCENE, heard((10.0, 25)), [mark(10.0)], [other_day])
    refused(found, "footage of another time")
    (near,) = clap_clues(SCENE, heard((10.0, 25)), [mark(10.0)], [other_day, hint()]).clues
    assert near.offset_s == pytest.approx(OFFSET, abs=1e-4)


def test_a_mark_beyond_what_the_stamps_allow_is_refused() -> None:
    edge = WINDOW_SDS * 40.0
    inside = clap_clues(SCENE, heard((10.0, 25)), [mark(10.0)], [hint(off_s=edge - 1)])
    assert len(inside.clues) == 1
    refused(clap_clues(SCENE, heard((10.0, 25)), [mark(10.0)], [hint(off_s=edge + 1)]), "stamps")


def test_three_uneven_claps_need_no_stamp() -> None:
    times = (5.0, 6.1, 8.0)
    impulses = heard(*((t, 20.0) for t in times), (20.0, 25.0))
    (clue,) = clap_clues(SCENE, impulses, [mark(t) for t in times]).clues
    assert clue.offset_s == pytest.approx(OFFSET, abs=1e-3)


def test_three_claps_of_another_day_need_more_than_being_three() -> None:
    impulses = heard((5.0, 20), (6.1, 20), (8.0, 20))
    marks = [mark(5.0), mark(6.4), mark(7.6)]
    refused(clap_clues(SCENE, impulses, marks), "match its sound")


def test_silence_is_said_to_be_silence() -> None:
    refused(clap_clues(SCENE, (), [mark(10.0)], [hint()]), "nothing in the sound stands out")


def test_a_faint_sound_alone_is_not_enough() -> None:
    refused(clap_clues(SCENE, heard((10.0, 7)), [mark(10.0)], [hint()]), "hardly fits")


def test_only_marks_that_can_be_heard_are_looked_for() -> None:
    marks = [mark(10.0, "clap"), mark(12.0, "lamp"), mark(14.0, "launch 1")]
    assert [m.label for m in audible(marks)] == ["clap"]
    (clue,) = clap_clues(SCENE, heard((10.0, 25)), marks, [hint()]).clues
    assert clue.offset_s == pytest.approx(OFFSET, abs=1e-4)
    silent = [mark(10.0, "button"), mark(12.0, "lamp")]
    assert audible(silent) == ()
    assert clap_clues(SCENE, heard((10.0, 25)), silent, [hint()]).clues == ()


def test_marks_on_two_clocks_give_a_clue_each() -> None:
    engine = Mark(label="clap", clock="log:engine", t_s=110.0, sd_s=0.001)
    other = Clue(kind="stamps", from_clock="footage:bow", to_clock="log:engine", offset_s=90.0,
                 sd_s=20.0, hint=True)  # fmt: skip
    found = clap_clues(SCENE, heard((10.0, 25)), [mark(10.0), engine], [hint(), other])
    assert {clue.to_clock: round(clue.offset_s - OFFSET, 3) for clue in found.clues} == {
        "utc": 0.0,
        "log:engine": round(100.0 - OFFSET, 3),
    }


def test_a_typed_mark_makes_a_typed_clue() -> None:
    typed = Mark(label="clap", clock="utc", t_s=OFFSET + 10.0, sd_s=0.3, typed=True)
    (clue,) = clap_clues(SCENE, heard((10.0, 25)), [typed], [hint()]).clues
    assert clue.typed
    assert clue.sd_s >= 0.3
