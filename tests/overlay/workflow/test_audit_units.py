"""Clips for readers of other units than the sheet's: rendered, audited, falsified, cut up."""

from __future__ import annotations

import shutil
from pathlib import Path

import av
import numpy as np
import pytest
from small_trial import DAY, RATE, answered, ledger_of, make_trial, rewrite_facts

from overlay.cli.app import run
from overlay.ledger import Ledger, read_ledger
from overlay.workflow.render import render
from overlay.workflow.wishes import Wish

pytestmark = pytest.mark.whole_road

LADDER = 'units = "nautical"\nladder = { unit = "kn", speeds = [15, 25] }'
CLIP = """
[[clips]]
name = "launch"
recording = "bow"
run = "launch 1"
faceplate = "quiet"
lead_in = "1 s"
lead_out = "2 s"
"""
LADDERS = {
    "us": ("mph", ["10 mph", "20 mph", "30 mph"]),
    "metric": ("km/h", ["20 km/h", "40 km/h"]),
}
"""The unit of speed, and the usual speeds of a launch that 30 kn are above."""

KMH_IN_MPH = 1.609344
"""Exactly, by the definition of the mile (NIST SP 811, appendix B)."""


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A trial with its clip in each of the two sets that are not the sheet's; the film is a moving
    texture made for it."""
    sheet = DAY.replace('units = "nautical"', LADDER) + CLIP
    folder = make_trial(tmp_path_factory.mktemp("units") / "day", sheet, sound=False)
    for units in LADDERS:
        assert run(["render", "launch", "--trial", str(folder), "--units", units]) == 0
    return folder


@pytest.fixture
def folder(rendered: Path, tmp_path: Path) -> Path:
    """A copy of it, with the times of its files."""
    return Path(shutil.copytree(rendered, tmp_path / "day"))


def clip_in(folder: Path, units: str) -> Path:
    return folder / "clips" / f"launch-{units}.mp4"


def flags_of(ledger: Ledger) -> list[str]:
    return [mark["label"] for mark in ledger.facts["run"]["marks"]]


@pytest.mark.parametrize("units", LADDERS)
def test_a_clip_in_other_units_agrees(
    units: str, rendered: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Speeds, the launch's ladder and their rounding are held in the units of the clip's ledger."""
    sign, ladder = LADDERS[units]
    clip = clip_in(rendered, units)
    ledger = read_ledger(ledger_of(clip))
    assert ledger.facts["units"] == units
    assert flags_of(ledger) == ladder
    assert set(ledger.rows["unit"]) == {sign}
    code, verdict = answered(capsys, "audit", str(clip))
    assert (code, verdict["outcome"]) == (0, "agrees"), verdict["line"]
    (piece,) = verdict["pieces"]
    assert piece["disagreements"] == []
    assert piece["unheld"] == []
    assert verdict["counts"]["unread"] == 0
    assert verdict["counts"]["held"] > 200
    (note,) = (one for one in piece["notes"] if "units" in one)
    assert note.startswith(f"the clip is in {units} units and the sheet in nautical: ")
    assert sign in note


def test_a_speed_is_the_logs_own_in_the_clip_s_unit(rendered: Path) -> None:
    """Both show the same instants, but for those at which a speed of their own ladder is passed."""
    shown = {}
    for units in LADDERS:
        rows = read_ledger(ledger_of(clip_in(rendered, units))).rows
        speed = rows[rows["instrument"] == "speed"].drop_duplicates("t_shown_s")
        speed = speed.set_index("t_shown_s")["text"].astype(str)
        shown[units] = speed[speed.str.fullmatch(r"\d+\.\d")].astype(float)
    both = shown["us"].index.intersection(shown["metric"].index)
    assert len(both) > 20
    off = shown["metric"][both] - KMH_IN_MPH * shown["us"][both]
    assert off.abs().max() <= 0.05 + KMH_IN_MPH * 0.05 + 1e-9
    assert shown["metric"].max() > 50


def test_the_sheet_s_own_units_make_the_sheet_s_own_clip(folder: Path) -> None:
    made = render(folder, "launch", wish=Wish(units="nautical", start="8 s", stop="9 s"))
    other = render(folder, "launch", wish=Wish(units="metric", start="8 s", stop="9 s"))
    assert made.clips[0].path.name == "launch-8s-9s.mp4"
    assert other.clips[0].path.name == "launch-8s-9s-metric.mp4"
    facts = [read_ledger(one.clips[0].ledger_path).facts["units"] for one in (made, other)]
    assert facts == ["nautical", "metric"]


FALSE = {
    "another set": (lambda facts: facts.update(units="us"), "the logs support mph"),
    "the sheet's": (lambda facts: facts.update(units="nautical"), "by the logs there is none"),
    "none": (lambda facts: facts.pop("units"), "does not say which units"),
    "no such set": (lambda facts: facts.update(units="furlongs"), "there are none such"),
}


@pytest.mark.parametrize("said", FALSE)
def test_a_ledger_that_names_false_units_is_found(
    said: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change, told = FALSE[said]
    clip = clip_in(folder, "metric")
    rewrite_facts(ledger_of(clip), change)
    code, verdict = answered(capsys, "audit", str(clip), "--every", "0.5s")
    assert (code, verdict["outcome"]) == (1, "disagrees")
    sentences = [one["sentence"] for one in verdict["pieces"][0]["disagreements"]]
    assert any(told in one for one in sentences), sentences[:5]


def test_a_picture_in_other_units_than_its_ledger_s_is_not_signed_for(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The film in mph under the name of that in km/h: numbers stand elsewhere, and nothing is read
    where the ledger has it. Where they stand in one place, `test_seeded_faults` has them."""
    clip = clip_in(folder, "metric")
    shutil.copy(clip_in(folder, "us"), clip)
    code, verdict = answered(capsys, "audit", str(clip), "--every", "0.5s")
    assert (code, verdict["outcome"]) == (3, "cannot say")
    states = {strip["instrument"] + strip["item"]: {state for *_, state in strip["stretches"]}
              for strip in verdict["pieces"][0]["strips"]}  # fmt: skip
    assert "agrees" not in states["speed“km/h”"]


def test_each_shot_of_a_film_is_held_in_its_own_clip_s_units(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two clips of one launch differ in their plates alone, and both are there to be cut from."""
    pieces = [("metric", range(150, 200)), ("us", range(60, 110)), ("metric", range(60, 100))]
    film = tmp_path / "film.mp4"
    shown = {units: pictures(clip_in(folder, units)) for units in LADDERS}
    encode(film, [shown[units][frame] for units, frames in pieces for frame in frames])
    code, verdict = answered(capsys, "audit", str(film), "--against", str(folder))
    assert [shot["source"] for shot in verdict["shots"]] == [
        f"clip launch-{units}" for units, _ in pieces
    ]
    for shot, (_, frames) in zip(verdict["shots"], pieces, strict=True):
        assert f"frames {frames.start} to {frames.stop - 1}" in shot["sentence"]
    assert code == 0, verdict["line"]


def pictures(clip: Path) -> list[np.ndarray]:
    """All frames of a clip in R'G'B'."""
    with av.open(str(clip)) as film:
        return [frame.to_ndarray(format="rgb24") for frame in film.decode(video=0)]


def encode(path: Path, frames: list[np.ndarray]) -> None:
    """A film of these frames at CRF 20."""
    high, wide = frames[0].shape[:2]
    with av.open(str(path), "w") as film:
        stream = film.add_stream("libx264", rate=RATE, options={"crf": "20"})
        stream.width, stream.height, stream.pix_fmt = wide, high, "yuv420p"
        for number, picture in enumerate(frames):
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
            frame.pts = number
            film.mux(stream.encode(frame))
        film.mux(stream.encode())
