"""Whether the audit finds what is false: a handful of the faults of tests/bench/audit_faults.py.

The trial is the demo's launch, its film spray that is made here; each clip is burned by the line
that renders use, and only the plan that it is handed lies.
"""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from false_clips import Crew, audited, crew_of, faces, film, verdict_of
from false_faces import morning, scaled, with_gaps, with_twins
from false_films import spray_film

from sync.media import probe

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
import fault_kept
import fault_marks
import fault_shown
import fault_subjects
from fault_ground import GAPS_S, Ground
from fault_judged import numbers_judged
from fault_study import Fared, NoFaultError, Run
from fault_subjects import KMH

SMALL, RATE = (960, 540), 10
TRIES = 10


class Small(Ground):
    """Two seconds of one film, and trials that are made when they are asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.short, self.needs, self.clips = folder, True, set(), []
        water = probe(spray_film(folder / "water.mp4", SMALL, 22, rate=RATE))
        self.films = dict.fromkeys(("sea", "spray", "sea fast"), water)
        self.crews = Crews(folder)


class Crews(dict[str, Crew]):
    """Trials by name, made once."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self._folder = folder

    def __missing__(self, name: str) -> Crew:
        make = {"two": with_twins, "gaps": partial(with_gaps, gaps_s=GAPS_S)}.get(name, morning)
        self[name] = crew_of(make(self._folder / name), "metric" if name == "metric" else None)
        return self[name]


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Ground:
    return Small(tmp_path_factory.mktemp("ground")).own()


def fared(run: Run, ground: Ground, seed: int) -> Fared:
    rng = np.random.default_rng(seed)
    for _ in range(TRIES):
        try:
            return run(rng, ground)
        except NoFaultError:
            continue
        finally:
            ground.sweep()
    raise AssertionError("no fault could be made")


FAULTS: dict[str, Run] = {
    "a digit on the picture": fault_shown.DIGIT,
    "a digit that the ledger shares": partial(fault_shown.DIGIT, both=True),
    "a decimal point": fault_shown.DECIMAL,
    "a minus sign": fault_shown.SIGN,
    "the instruments' clock": partial(fault_shown.clock_fault, both=True),
    "port and starboard": partial(fault_subjects.side_fault, both=False),
    "a value that stays over a gap": partial(fault_shown.stale_fault, both=True),
    "the figure on a flag": partial(fault_subjects.flag_time_fault, both=False),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_false_number_is_found_on_its_frames(name: str, ground: Ground) -> None:
    """By the pairs that it is false in, on every frame that it is false on and on no other."""
    one = fared(FAULTS[name], ground, seed=len(name))
    assert one.found, one.told
    assert one.pairs, one.told
    assert one.frames, one.told
    assert not one.beside, one.told


@pytest.mark.parametrize("which", ["number", "whole"])
def test_a_false_unit_is_found(which: str, ground: Ground) -> None:
    """The sign alone, of another length, may be unread on so small a picture; the study in
    tests/bench has it on larger ones."""
    one = fared(partial(fault_subjects.unit_fault, which=which, both=False), ground, seed=3)
    assert one.found, one.told
    assert one.pairs, one.told
    assert not one.beside, one.told


@pytest.mark.parametrize("both", [False, True], ids=["picture alone", "ledger too"])
def test_mph_shown_for_kmh_are_found_where_the_sheet_is_in_mph(both: bool, ground: Ground) -> None:
    """The clip is a metric one of a sheet in US units, and an honest one has no fault."""
    take = ground.take(np.random.default_rng(7), "launch", crew="metric", within=(6.0, 8.0))
    honest = film(take, faces(take), ground.path())
    assert [one.sentence for one in audited(honest, take.crew).disagreements] == []
    plan = take.plan(scaled(take.subject, "speed", 1 / KMH))
    clip = film(take, faces(take, plan, plan if both else None), ground.path())
    one = numbers_judged(clip, take.crew)
    ground.sweep()
    assert one.found, one.told
    assert one.pairs, one.told
    assert one.frames, one.told
    assert not one.beside, one.told


@pytest.mark.parametrize("sort", ["needle", "twin bar"])
def test_a_mark_far_off_its_value_is_found(sort: str, ground: Ground) -> None:
    """By a twentieth of its sweep; smaller faults are the study's."""
    one = fared(partial(fault_marks.mark_fault, share=0.05, sort=sort), ground, seed=4)
    assert one.found, one.told
    assert not one.beside, one.told


def test_an_edited_log_is_found(ground: Ground) -> None:
    one = fared(partial(fault_kept.log_fault, how="value"), ground, seed=5)
    assert one.found, one.told
    assert one.pairs, one.told


def test_an_edited_ledger_is_found(ground: Ground) -> None:
    one = fared(partial(fault_kept.ledger_fault, how="text"), ground, seed=6)
    assert one.found, one.told
    assert one.pairs, one.told
    assert one.frames, one.told


@pytest.mark.parametrize("faceplate", ["launch", "two dials"])
def test_nothing_is_found_where_nothing_is_false(faceplate: str, ground: Ground) -> None:
    take = ground.take(np.random.default_rng(7), faceplate, film="spray", length_s=1.5)
    piece = audited(film(take, faces(take), ground.path()), take.crew)
    assert piece.disagreements == ()
    assert verdict_of(piece, take.crew).outcome == "agrees"
    assert piece.counts.held > 100
