"""What is looked for in a trial's logs and footage, and what becomes of it."""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from demo_media import FootageRecipe, make_demo
from overlay.trial import build_trial, read_material
from overlay.workflow.align import AlignOutcome, align
from overlay.workflow.evidence.logs import late_channels, marks_on_utc
from overlay.workflow.evidence.senses import Senses
from overlay.workflow.evidence.written import time_of_day, timecode_labels
from sync.clock import UTC, ClockMap
from sync.log import Mark
from sync.tie import Tie, Ties

SMALL = FootageRecipe(width_px=160, height_px=96, rate=10)
"""The demo's footage as a stamp: it is listened to, not looked at."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("heard") / "demo"
    return make_demo(folder, cache=folder.parent / "cache", recipe=SMALL).sheet


@pytest.fixture
def aligned(made: Path, tmp_path: Path) -> Callable[..., AlignOutcome]:
    """Align the demo with lines taken out of its sheet."""

    def with_sheet(*less: str, marks: bool = True) -> AlignOutcome:
        text = made.read_text(encoding="utf-8")
        for pattern in less:
            text, count = re.subn(pattern, "", text)
            assert count
        folder = tmp_path / "trial"
        folder.mkdir()
        (folder / "footage").symlink_to(made.parent / "footage")
        (folder / "logs").mkdir()
        for log in (made.parent / "logs").iterdir():
            said = log.read_text(encoding="utf-8")
            if not marks:
                said = said.replace("clap", "lamp")
            (folder / "logs" / log.name).write_text(said, encoding="utf-8")
        sheet = folder / "trial.toml"
        sheet.write_text(text, encoding="utf-8")
        return align(sheet)

    return with_sheet


def truth(made: Path) -> dict[str, float]:
    found: dict[str, float] = json.loads((made.parent / "truth.json").read_text())
    return found


ENGINE_DELAYS = r'(?m)^\[\[sensors\]\]\nlog = "engine"\n(?:.+\n)+'


def test_a_lone_bang_is_the_clap_where_the_engines_note_leads_to_it(
    made: Path, aligned: Callable[..., AlignOutcome]
) -> None:
    outcome = aligned()
    tie = outcome.ties.by_clock["footage:bow"]
    assert {"clap", "engine_note"} <= {clue.kind for clue in tie.clues}
    assert tie.sd_s < 0.003
    assert tie.map.offset_s == pytest.approx(truth(made)["footage_offset_s"], abs=0.005)


def test_the_engines_note_alone_ties_footage_that_has_no_clap(
    made: Path, aligned: Callable[..., AlignOutcome]
) -> None:
    outcome = aligned(marks=False)
    tie = outcome.ties.by_clock["footage:bow"]
    assert {clue.kind for clue in tie.clues} == {"engine_note", "picture_motion"}
    miss = abs(tie.map.offset_s - truth(made)["footage_offset_s"])
    assert miss < 3 * tie.sd_s
    assert tie.sd_s < 0.03


def test_a_delay_that_nobody_states_comes_out_of_two_ways_to_one_clock(
    aligned: Callable[..., AlignOutcome],
) -> None:
    """The gateway's true delay is 0.15 s; clap and marks do not depend on it, the note does."""
    outcome = aligned(ENGINE_DELAYS)
    trial = build_trial(read_material(outcome.path.parent / "trial.toml"), outcome.ties)
    late = trial.delays["engine_speed"]
    assert late.origin == "estimated"
    assert late.delay_s == pytest.approx(0.15, abs=0.03)
    assert abs(late.delay_s - 0.15) < 3 * late.sd_s
    assert any("as the clues together have it" in note for note in trial.notes)


def test_rates_and_loops_are_in_the_sidecar(aligned: Callable[..., AlignOutcome]) -> None:
    outcome = aligned()
    kept = json.loads(outcome.path.read_text())
    assert kept["schema"] == "ties/3"
    assert {"clap", "engine_note", "shared_marks"} == set(kept["loops"][0]["kinds"])
    engine = kept["ties"]["log:engine"]
    assert engine["rate_sd"] < 10e-6
    assert abs(kept["loops"][0]["misclosure_s"]) < 3 * kept["loops"][0]["sd_s"]


def test_each_tied_recording_has_a_picture_to_judge_its_tie_by(
    aligned: Callable[..., AlignOutcome],
) -> None:
    outcome = aligned()
    (picture,) = outcome.pictures
    assert picture == outcome.path.parent / "checks" / "bow-tie.png"
    with Image.open(picture) as image:
        assert image.format == "PNG"
        assert image.width > 1000


def test_two_cameras_a_log_and_the_sound_they_share_close_a_loop(
    made: Path, tmp_path: Path
) -> None:
    """The second camera is a copy of the first: its clock is the same to a tenth of a
    millisecond, and the way around over the log misses by no more than it says."""
    folder = tmp_path / "two"
    shutil.copytree(made.parent, folder)
    shutil.copy(folder / "footage" / "bow.mp4", folder / "footage" / "stern.mp4")
    second = '[[recordings]]\nname = "stern"\nfiles = ["footage/stern.mp4"]\n\n[[clips]]'
    sheet = folder / "trial.toml"
    sheet.write_text(sheet.read_text().replace("[[clips]]", second, 1))
    outcome = align(sheet)
    shared = [clue for clue in outcome.clues if clue.kind == "shared_sound"]
    assert len(shared) == 2
    assert all(abs(clue.offset_s) < 1e-4 for clue in shared)
    (loop,) = [one for one in outcome.ties.loops if "shared_sound" in one.kinds]
    assert {"footage:bow", "footage:stern"} <= set(loop.clocks)
    assert abs(loop.misclosure_s) < 3 * loop.sd_s


def test_a_timecode_that_the_sheet_says_is_the_time_of_day_ties_and_else_is_a_hint(
    made: Path,
) -> None:
    material = read_material(made)
    (entry,) = material.sheet.recordings
    footage = replace(material.footage["bow"], timecode="07:13:34:03", average_rate_hz=Fraction(25))
    local = entry.model_copy(update={"timecode": "local"})
    labels, remarks = timecode_labels(entry, footage, Senses())
    assert remarks == ()
    (hint, *_) = time_of_day(material, entry, (labels, ())).clues
    (firm,) = time_of_day(material, local, (labels, ())).clues
    assert hint.hint
    assert (firm.hint, firm.kind, firm.sd_s < 0.06) == (False, "timecode", True)
    # 07:13:34 in Helsinki is 04:13:34 UTC; three frames of 25 are 0.12 s.
    assert firm.offset_s == pytest.approx(
        dt.datetime(2026, 6, 11, 4, 13, 34, 120_000, tzinfo=dt.UTC).timestamp()
    )


def test_a_timecode_that_is_stated_and_not_there_is_told(made: Path) -> None:
    material = read_material(made)
    (entry,) = material.sheet.recordings
    stated = entry.model_copy(update={"timecode": "utc"})
    labels, remarks = timecode_labels(stated, material.footage["bow"], Senses())
    assert labels == ()
    assert "no timecode" in remarks[-1]


def test_only_the_first_of_logs_that_have_a_channel_is_held_against_others(made: Path) -> None:
    channels = late_channels(read_material(made, with_footage=False))
    keys = [(channel.clock, channel.key) for channel in channels]
    assert len(keys) == len(set(keys))
    (engine,) = [c for c in channels if c.name == "engine_speed"]
    assert (engine.delay_s, engine.delay_sd_s) == (0.15, 0.02)


def test_marks_are_carried_with_the_doubt_that_their_tie_has_there() -> None:
    tie = Tie(
        map=ClockMap(from_clock="log:engine", to_clock=UTC, offset_s=100.0),
        sd_s=0.001,
        pivot_s=0.0,
        rate_sd=10e-6,
    )
    ties = Ties(by_clock={"log:engine": tie}, refused={})
    near = Mark(label="clap", clock="log:engine", t_s=0.0, sd_s=0.001, source="x")
    far = Mark(label="clap", clock="log:engine", t_s=1000.0, sd_s=0.001, source="x")
    loose = Mark(label="clap", clock="log:other", t_s=5.0, sd_s=0.001, source="x")
    carried = marks_on_utc((near, far, loose), ties)
    assert [(mark.clock, mark.t_s) for mark in carried] == [
        (UTC, 100.0),
        (UTC, 1100.0),
        ("log:other", 5.0),
    ]
    np.testing.assert_allclose(carried[1].sd_s, np.hypot(0.001, np.hypot(0.001, 0.01)))
