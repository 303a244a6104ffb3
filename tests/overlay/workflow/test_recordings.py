"""A recording in several files, with twins or in slow motion, through the whole program."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from film import Film, Track, cut_by_copy, cut_film, make_film
from log_samples import nmea, rmc

from overlay.cli.app import run
from overlay.errors import SheetError
from overlay.ledger import read_ledger
from overlay.sheet import load_sheet
from overlay.trial import build_trial, life_s, read_material, recording_entry
from overlay.workflow.align import ties_for
from overlay.workflow.hashes import input_hashes, input_stamps
from overlay.workflow.new import new
from overlay.workflow.typed_tie import type_tie
from sync.clock import utc_seconds
from sync.errors import FootageError
from sync.media import decoded_frames, frame_times, probe

SHEET = """\
schema = "trial/1"
name = "Tern"
units = "nautical"

[[logs]]
name = "gps"
file = "gps.nmea"

[[recordings]]
name = "bow"
files = ["bow 1.mp4", "bow 2.mp4"]
ties = [{ frame = 0, utc = 2026-06-11T09:00:00.000Z }]

[[clips]]
name = "pass"
recording = "bow"
"""

FILM = Film(
    frames=90,
    width=640,
    height=360,
    sound=(Track(seed=3),),
    options={"preset": "ultrafast", "g": "30", "crf": "0"},
)
Trial = Callable[..., Path]


def gps() -> str:
    """Ten fixes a second for 40 s from 09:00 on, invented."""
    return nmea(rmc(f"0900{i / 10:05.2f}", f"{10 + i / 20:.1f}") for i in range(400))


@pytest.fixture
def trial(tmp_path: Path) -> Trial:
    """A trial of three seconds of film in two files, cut at 2 s, by a sheet with some lines
    changed."""

    def make(*changes: tuple[str, str], uncut: bool = False) -> Path:
        folder = tmp_path / ("uncut" if uncut else "trial")
        folder.mkdir()
        sheet = SHEET
        for old, text in changes:
            assert old in sheet
            sheet = sheet.replace(old, text)
        (folder / "trial.toml").write_text(sheet)
        (folder / "gps.nmea").write_text(gps())
        whole = make_film(folder / "whole.mp4", FILM)
        cut_by_copy(whole, folder / "bow 1.mp4", folder / "bow 2.mp4", Fraction(2))
        return folder

    return make


def test_a_recording_in_two_files_renders_as_the_uncut_one(trial: Trial) -> None:
    """Its pictures are equal, and every row of the ledger."""
    cut, uncut = trial(), trial(('["bow 1.mp4", "bow 2.mp4"]', '["whole.mp4"]'), uncut=True)
    films, rows = [], []
    for folder in (cut, uncut):
        assert run(["render", "--trial", str(folder)]) == 0
        clip = probe(folder / "clips" / "pass.mp4")
        times = frame_times(clip)
        films.append([d.picture.to_ndarray() for d in decoded_frames(clip, times, range(90))])
        rows.append(read_ledger(folder / "clips" / "pass.ledger.parquet").rows)
        assert len(times) == 90
    for one, other in zip(*films, strict=True):
        np.testing.assert_array_equal(one, other)
    assert len(rows[0])
    assert rows[0].equals(rows[1])


def test_every_file_counts_for_stamps_and_hashes(trial: Trial) -> None:
    folder = trial()
    material = read_material(folder / "trial.toml")
    stamps, hashes = input_stamps(material), input_hashes(material, "bow")
    assert {"footage:bow", "footage:bow/2"} <= stamps.keys()
    assert {"footage:bow", "footage:bow/2"} <= hashes.keys()
    with (folder / "bow 2.mp4").open("ab") as file:
        file.write(b"\0\0\0\x08free")
    changed = input_stamps(read_material(folder / "trial.toml"))
    assert {key for key in stamps if stamps[key] != changed[key]} == {"footage:bow/2"}


@pytest.mark.parametrize("command", ["check", "align", "render"])
def test_a_file_of_another_make_is_told_in_one_sentence(
    command: str, trial: Trial, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = trial()
    make_film(folder / "bow 2.mp4", replace(FILM, width=320, height=180))
    run([command, "--trial", str(folder)])
    told = capsys.readouterr()
    said = " ".join((told.err + told.out).split())
    assert "cannot be part of one recording with bow 1.mp4" in said
    assert "Traceback" not in said


def test_a_second_file_that_is_missing_is_named(trial: Trial) -> None:
    folder = trial()
    (folder / "bow 2.mp4").unlink()
    error = read_material(folder / "trial.toml").unreadable["bow"]
    assert isinstance(error, SheetError)
    assert "the file 'bow 2.mp4' does not exist" in str(error)


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ('["bow 1.mp4", "bow 1.mp4"]', "lists the file 'bow 1.mp4' twice"),
        ('["bow 1.mp4", "bow 2.mp4"]\nproxies = ["s.mp4"]', "has 2 files and 1 proxies"),
        ('["bow 1.mp4"]\nslow_motion = 1', "slow_motion"),
        ('["bow 1.mp4"]\nslow_motion = 0.25', "slow_motion"),
    ],
)
def test_a_sheet_that_makes_no_sense_is_refused(files: str, words: str, trial: Trial) -> None:
    folder = trial(('["bow 1.mp4", "bow 2.mp4"]', files))
    with pytest.raises(SheetError, match=words):
        load_sheet(folder / "trial.toml")


def test_twins_are_kept_at_hand_and_strangers_refused(trial: Trial) -> None:
    folder = trial(('"bow 2.mp4"]', '"bow 2.mp4"]\nproxies = ["s 1.mp4", "s 2.mp4"]'))
    small = replace(FILM, width=320, height=180, sound=())
    for n, film in enumerate(cut_film(small, 60), 1):
        make_film(folder / f"s {n}.mp4", film)
    footage = read_material(folder / "trial.toml").footage["bow"]
    assert footage.proxy is not None
    assert [path.name for path in footage.proxy.paths] == ["s 1.mp4", "s 2.mp4"]
    make_film(folder / "s 2.mp4", small)
    error = read_material(folder / "trial.toml").unreadable["bow"]
    assert isinstance(error, FootageError)
    assert "is no twin of bow 2.mp4" in str(error)


def test_a_quick_look_is_rendered_on_the_twins_under_a_name_of_its_own(trial: Trial) -> None:
    folder = trial(('"bow 2.mp4"]', '"bow 2.mp4"]\nproxies = ["s 1.mp4", "s 2.mp4"]'))
    small = make_film(folder / "small.mp4", replace(FILM, width=320, height=180))
    cut_by_copy(small, folder / "s 1.mp4", folder / "s 2.mp4", Fraction(2))
    assert run(["render", "--proxy", "--trial", str(folder)]) == 0
    (clip,) = (folder / "clips").glob("*.mp4")
    assert clip.name == "pass-proxy.mp4"
    assert (probe(clip).width, len(frame_times(probe(clip)))) == (320, 90)
    facts = read_ledger(clip.with_suffix(".ledger.parquet")).facts
    assert {"proxy:bow/1", "proxy:bow/2"} <= set(facts["inputs"])


def test_a_quick_look_without_twins_is_refused(
    trial: Trial, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["render", "--proxy", "--trial", str(trial())]) == 2
    assert "prox" in capsys.readouterr().err


def test_slow_motion_runs_on_the_clock_of_life(trial: Trial) -> None:
    """Three seconds of film, four times slower, are 0.75 s of the day; frame 30 is 0.25 s in."""
    folder = trial(("ties =", "slow_motion = 4\nties ="))
    material = read_material(folder / "trial.toml")
    to_utc = build_trial(material, ties_for(material)).footage_to_utc("bow")
    begin = utc_seconds(recording_entry(material.sheet, "bow").ties[0].utc)
    assert to_utc.rate == pytest.approx(0.25, abs=1e-9)
    assert to_utc.carry(1.0) - to_utc.carry(0.0) == pytest.approx(0.25, abs=1e-6)
    assert to_utc.carry(0.0) == pytest.approx(begin, abs=0.02)
    assert life_s(recording_entry(material.sheet, "bow"), 3.0) == 0.75


def test_a_typed_tie_in_slow_motion_is_held_against_the_logs_in_life(trial: Trial) -> None:
    """The logs run for 40 s from 09:00. Frame 89 shows at 2.97 s of film, 0.03 s of life at a
    hundred times slower; so it may be 09:00:40.02, and its beginning still lies in the logs."""
    at = "2026-06-11T09:00:42.000Z"
    slow = trial(("ties =", "slow_motion = 100\nties ="))
    with pytest.raises(SheetError, match="would put the footage where no log is"):
        type_tie(slow, "bow", frame=89, utc=at)
    real = trial(('["bow 1.mp4", "bow 2.mp4"]', '["whole.mp4"]'), uncut=True)
    assert type_tie(real, "bow", frame=89, utc=at).frame == 89


def test_new_lists_a_cut_recording_once_and_its_twin_as_proxy(tmp_path: Path) -> None:
    folder = tmp_path / "day"
    folder.mkdir()
    (folder / "gps.nmea").write_text(gps())
    film = replace(FILM, width=320, height=180)
    whole = make_film(tmp_path / "whole.mp4", film)
    cut_by_copy(whole, folder / "bow 0001.mp4", folder / "bow 0002.mp4", Fraction(2))
    make_film(folder / "stern.mp4", replace(film, sound=(Track(seed=9),)))
    make_film(folder / "stern-small.mp4", replace(film, width=160, height=90))
    outcome = new(folder)
    sheet = tomllib.loads((folder / "trial.toml").read_text())
    assert [(r["name"], r["files"], r.get("proxies")) for r in sheet["recordings"]] == [
        ("bow 0001", ["bow 0001.mp4", "bow 0002.mp4"], None),
        ("stern", ["stern.mp4"], ["stern-small.mp4"]),
    ]
    told = "\n".join(outcome.found)
    assert "bow 0002.mp4: taken for one recording with bow 0001.mp4" in told
    assert "stern-small.mp4: taken for the same film in a smaller picture, as its proxy" in told
    material = read_material(folder / "trial.toml")
    assert not material.unreadable
    assert len(frame_times(material.footage["bow 0001"])) == 90
