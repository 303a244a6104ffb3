"""The lamp against tie marks: found in the picture, matched, or refused with the reason."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from lamp_world import Lamp, filmed_lamp
from picture_world import HIGH, WIDE, Lens, Shutter, World, at_sea

from sync.clock import Span
from sync.clue import Clue, Finding
from sync.clues.lamp import Watch, lamp_clues, visible
from sync.clues.picture.company import Company
from sync.clues.picture.flashes import Flash, find_flashes
from sync.log import Mark
from sync.media.small import SmallFrame

OFFSET = 1_781_168_412.345  # some instant in June 2026
FRAME = 1 / 25
WATCH = Watch(clock="footage:bow", span=Span(start_s=0.0, stop_s=20.0), readout_s=0.0)


def flash(t_s: float, *, across: float = 0.5, down: float = 0.5, rise_db: float = 20.0) -> Flash:
    return Flash(
        t_s=t_s, sd_s=FRAME / np.sqrt(12), frame_s=FRAME, rise_db=rise_db, across=across,
        down=down, share=0.001,
    )  # fmt: skip


def mark(t_footage: float, label: str = "lamp") -> Mark:
    return Mark(label=label, clock="utc", t_s=OFFSET + t_footage, sd_s=0.001)


def clue(off_s: float, sd_s: float, *, hint: bool) -> Clue:
    return Clue(
        kind="stamps", from_clock="footage:bow", to_clock="utc", offset_s=OFFSET + off_s,
        sd_s=sd_s, hint=hint,
    )  # fmt: skip


def refused(finding: Finding, *words: str) -> None:
    assert finding.clues == ()
    for word in words:
        assert word in finding.remarks[0]


def still(level: float = 90.0, count: int = 150) -> np.ndarray:
    """A picture with texture and noise that does not move [shape=(count, HIGH, WIDE)]."""
    rng = np.random.default_rng(5)
    picture = level + 15 * rng.normal(size=(HIGH, WIDE))
    return picture[None] + rng.normal(0, 1.0, (count, HIGH, WIDE))


def frames(pictures: np.ndarray) -> list[SmallFrame]:
    return [
        SmallFrame(t_s=i * FRAME, luma=np.clip(p, 0, 255).astype(np.uint8))
        for i, p in enumerate(pictures)
    ]


@pytest.mark.parametrize("label", ["lamp", "Flash 2", "STROBE", "beacon-on", "deck lights"])
def test_marks_of_a_light_are_known_by_their_label(label: str) -> None:
    assert visible([mark(1.0, label)])


@pytest.mark.parametrize("label", ["clap", "button", "settled", "slightly off", "knock"])
def test_other_marks_are_not(label: str) -> None:
    assert visible([mark(1.0, label)]) == ()


def test_a_lamp_of_a_thousandth_of_the_picture_is_found_within_a_frame() -> None:
    world, sea = World(3), at_sea(3, 30.0)
    lit = ((2.013, 2.4), (3.571, 3.9), (5.222, 5.6))
    lamp = Lamp(across=0.42, down=0.66, share=0.001, bright=235.0, lit=lit)
    film = filmed_lamp(world, sea, Lens(), lamp, Shutter(), np.arange(0, 7, FRAME))
    found = find_flashes(film)
    for on, _ in lit:
        near = [one for one in found if abs(one.t_s - on) < FRAME]
        assert any(abs(one.across - 0.42) < 0.04 and abs(one.down - 0.66) < 0.04 for one in near)


def test_a_still_picture_has_no_flash() -> None:
    assert find_flashes(frames(still())) == ()


def test_a_change_of_exposure_is_no_flash() -> None:
    pictures = still()
    pictures[70:] *= 1.5
    assert find_flashes(frames(pictures)) == ()


def test_a_cut_to_another_picture_is_no_flash() -> None:
    pictures = still()
    coarse = np.random.default_rng(6).normal(0, 25, (2, 9, 16))
    one, other = (np.kron(part, np.ones((10, 10))) for part in coarse)
    pictures[:70] += one
    pictures[70:] += other
    assert find_flashes(frames(pictures)) == ()


def test_a_frame_that_is_half_bright_was_exposed_while_the_lamp_came_on() -> None:
    pictures = still()
    pictures[70, 40:48, 60:68] += 50
    pictures[71:90, 40:48, 60:68] += 100
    (found,) = find_flashes(frames(pictures))
    assert 70 * FRAME < found.t_s < 71 * FRAME


def test_a_lamp_that_is_full_at_once_came_on_between_two_frames() -> None:
    pictures = still()
    pictures[70:90, 40:48, 60:68] += 100
    (found,) = find_flashes(frames(pictures))
    assert found.t_s == pytest.approx((70 - 0.75 / 2) * FRAME)
    assert found.across == pytest.approx(64 / WIDE, abs=0.03)
    assert found.down == pytest.approx(44 / HIGH, abs=0.04)


def test_what_is_found_does_not_depend_on_where_the_stream_is_cut_into_stretches() -> None:
    pictures = still(count=420)
    for first in range(20, 400, 37):
        pictures[first : first + 8, 20:26, 100:106] += 100
    found = find_flashes(frames(pictures))
    assert [round(one.t_s / FRAME + 0.5) for one in found] == list(range(20, 400, 37))


@pytest.mark.parametrize(("lasts", "count"), [(1, 0), (4, 1)])
def test_what_is_gone_with_the_next_frame_is_no_lamp(lasts: int, count: int) -> None:
    """A drop of spray and a glint last a frame; whoever lights a lamp takes longer."""
    pictures = still()
    pictures[70 : 70 + lasts, 40:48, 60:68] += 100
    assert len(find_flashes(frames(pictures))) == count


def test_of_two_places_that_flash_at_one_moment_the_stronger_is_kept() -> None:
    pictures = still()
    pictures[69:90, 36:40, 60:64] += 40
    pictures[70:90, 40:48, 60:68] += 100
    (found,) = find_flashes(frames(pictures))
    assert found.t_s == pytest.approx((70 - 0.75 / 2) * FRAME)


def test_a_lamp_held_up_to_the_camera_brightens_much_of_the_picture_and_is_found() -> None:
    """A torch half a metre away, with its halo, glare, and the exposure that gives way."""
    lit = ((2.013, 2.4), (3.571, 3.9), (5.222, 5.6))
    lamp = Lamp(across=0.4, down=0.5, share=0.04, bright=250.0, lit=lit, halo=0.5, sway=0.015)
    film = filmed_lamp(
        World(5), at_sea(5, 30.0), Lens(glitter=30.0), lamp, Shutter(), np.arange(0, 7, FRAME)
    )
    found = find_flashes(film)
    for on, _ in lit:
        near = [one for one in found if abs(one.t_s - on) < FRAME]
        # Its halo is seen on the dark water more than on the sky, so its middle lies lower.
        assert any(abs(one.across - 0.4) < 0.05 and abs(one.down - 0.57) < 0.08 for one in near)


def test_frames_that_come_unevenly_are_judged_by_their_own_times() -> None:
    rng = np.random.default_rng(2)
    lit = ((2.013, 2.4), (3.571, 3.9), (5.222, 5.6))
    lamp = Lamp(across=0.42, down=0.66, share=0.002, bright=240.0, lit=lit, halo=0.3)
    times = np.cumsum(rng.choice([1.0, 1.0, 2.0], 220) / 50)
    found = find_flashes(filmed_lamp(World(3), at_sea(3, 30.0), Lens(), lamp, Shutter(), times))
    for on, _ in lit:
        assert any(abs(one.t_s - on) < 2 / 50 and abs(one.across - 0.42) < 0.05 for one in found)


def test_chance_is_what_answers_among_flashes_at_random_are_worth() -> None:
    """Flashes and marks that have nothing to do with each other: an answer that scores 10 dB
    comes about in a tenth of all recordings or less, by the score's own definition."""
    rng = np.random.default_rng(11)
    best = []
    for _ in range(60):
        seen = [
            flash(t, across=x, down=y, rise_db=r)
            for t, x, y, r in zip(
                rng.uniform(0, 20, 60), *rng.uniform(0, 1, (2, 60)), rng.uniform(8, 20, 60),
                strict=True,
            )
        ]  # fmt: skip
        marks = [mark(t) for t in np.sort(rng.uniform(0, 20, 5))]
        reach = [Span(start_s=OFFSET - 30, stop_s=OFFSET + 30)]
        best.append(Company(seen, 20.0).answers(marks, reach, WATCH.span)[0].score)
    assert np.mean(np.array(best) > 10) <= 0.1
    assert max(best) < 25


def test_a_lamp_among_other_flashes_is_worth_much_more_than_chance() -> None:
    rng = np.random.default_rng(12)
    noise = [flash(t, across=x) for t, x in zip(*rng.uniform(0, 1, (2, 60)), strict=True)]
    noise = [replace(one, t_s=20 * one.t_s, down=float(rng.uniform())) for one in noise]
    seen = [*noise, *(flash(t) for t in FOUR)]
    reach = [Span(start_s=OFFSET - 30, stop_s=OFFSET + 30)]
    first, second = Company(seen, 20.0).answers([mark(t) for t in FOUR], reach, WATCH.span)[:2]
    assert first.offset_s == pytest.approx(OFFSET, abs=1e-6)
    assert first.score > 30
    assert second.score < 10


FOUR = (2.0, 3.1, 5.7, 6.4)


def test_uneven_flashes_settle_the_offset_within_a_frame() -> None:
    rng = np.random.default_rng(1)
    seen = [flash(t + rng.uniform(-0.5, 0.5) * FRAME) for t in FOUR]
    noise = [flash(t, across=0.1 + t / 30) for t in (1.2, 4.4, 9.1, 12.8)]
    found = lamp_clues(WATCH, [*seen, *noise], [mark(t) for t in FOUR], [clue(4, 10, hint=True)])
    (said,) = found.clues
    assert not said.hint
    assert abs(said.offset_s - OFFSET) < FRAME
    assert FRAME / np.sqrt(12) / 2 < said.sd_s < FRAME / 2
    assert [doubt.name for doubt in said.doubts] == ["the shutter of footage:bow"]


def test_a_shutter_that_rolls_shows_the_lower_rows_later() -> None:
    rolling = Watch(clock="footage:bow", span=WATCH.span, readout_s=0.03)
    marks, prior = [mark(t) for t in FOUR], [clue(4, 10, hint=True)]
    seen = [flash(t, down=0.8) for t in FOUR]
    at_once = lamp_clues(WATCH, seen, marks, prior).clues[0]
    rolled = lamp_clues(rolling, seen, marks, prior).clues[0]
    assert rolled.offset_s - at_once.offset_s == pytest.approx(-0.8 * 0.03, abs=1e-6)


def test_flashes_here_and_there_in_the_picture_are_not_one_lamp() -> None:
    seen = [flash(t, across=0.1 + 0.2 * i) for i, t in enumerate(FOUR)]
    found = lamp_clues(WATCH, seen, [mark(t) for t in FOUR], [clue(4, 10, hint=True)])
    assert not [one for one in found.clues if not one.hint]


def test_a_lone_flash_is_a_hint_until_another_clue_leads_to_it() -> None:
    seen, marks = [flash(5.0)], [mark(5.0)]
    alone = lamp_clues(WATCH, seen, marks, [clue(2, 5, hint=True)])
    assert [one.hint for one in alone.clues] == [True]
    assert "one flash is like another" in alone.remarks[0]
    led = lamp_clues(WATCH, seen, marks, [], [clue(0.03, 0.02, hint=False)])
    assert [one.hint for one in led.clues] == [False]


def test_without_a_stamp_one_mark_could_be_that_of_any_day() -> None:
    refused(lamp_clues(WATCH, [flash(5.0)], [mark(5.0)]), "any day", "typed tie mark")


def test_two_places_that_fit_alike_are_no_clue() -> None:
    seen = [flash(t) for t in (2.0, 3.0, 10.0, 11.0)]
    found = lamp_clues(WATCH, seen, [mark(2.0), mark(3.0)], [clue(0, 10, hint=True)])
    refused(found, "more than one way", "or")


def test_a_picture_without_a_flash_says_so() -> None:
    refused(lamp_clues(WATCH, [], [mark(1.0)], [clue(0, 10, hint=True)]), "flashes like a lamp")


def test_marks_of_a_clap_are_not_looked_for() -> None:
    found = lamp_clues(WATCH, [flash(5.0)], [mark(5.0, "clap")], [clue(0, 10, hint=True)])
    assert found == Finding()
