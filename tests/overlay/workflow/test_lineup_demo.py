"""The demo's morning lined up: from its clues to an editing program's frames."""

from __future__ import annotations

import datetime as dt
import json
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

import opentimelineio as otio
import pytest

from demo_media import FootageRecipe, make_demo
from overlay.trial import build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.lineup import LineupOutcome, lineup

pytestmark = pytest.mark.whole_road


class Made(NamedTuple):
    sheet: Path
    truth: dict
    outcome: LineupOutcome
    timeline: object


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """The morning, its footage as a stamp at 30 frames a second, lined up at 29.97."""
    folder = tmp_path_factory.mktemp("lined") / "demo"
    recipe = FootageRecipe(width_px=160, height_px=96, rate=30)
    sheet = make_demo(folder, cache=folder.parent / "cache", recipe=recipe).sheet
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TRIALREEL_CACHE", str(folder.parent / "frames"))
        outcome = lineup(sheet, Fraction(30000, 1001))
    return Made(
        sheet=sheet,
        truth=json.loads(sheet.with_name("truth.json").read_text()),
        outcome=outcome,
        timeline=otio.adapters.read_from_file(str(outcome.folder / "lineup.otio")),
    )


MIDNIGHT = dt.datetime(2026, 6, 11, tzinfo=ZoneInfo("Europe/Helsinki")).timestamp()


def frame_utc(made: Made, frame: float) -> float:
    """When a frame of the sequence stands, by its label on the trial's own day.

    Labels of drop-frame timecode come to a day in 2 589 408 frames (SMPTE ST 12-1).
    """
    start = made.timeline.global_start_time.value
    return MIDNIGHT + start * 86400 / 2_589_408 + frame * 1001 / 30000


def first_frame(made: Made, name: str) -> float:
    track = next(track for track in made.timeline.tracks if track.name == name)
    clip = next(item for item in track if isinstance(item, otio.schema.Clip))
    place = clip.transformed_time_range(clip.trimmed_range(), made.timeline.tracks).start_time
    return place.rescaled_to(30000 / 1001).value


def test_the_film_lies_within_half_a_frame_of_its_tie_and_near_the_truth(made: Made) -> None:
    material = read_material(made.sheet)
    tied = build_trial(material, ties_for(material)).footage_to_utc("bow").carry(0.0)
    laid = frame_utc(made, first_frame(made, "bow"))
    half = 1001 / 60000
    assert abs(laid - tied) <= half + 1e-5
    assert abs(laid - made.truth["footage_offset_s"]) <= half + 0.01
    assert first_frame(made, "bow, sound") == first_frame(made, "bow")


def test_markers_lie_on_the_frames_of_what_happened(made: Made) -> None:
    """Held against the simulation's truth; ± a frame, and what the ladder's times are out."""
    markers = {marker.name: marker.marked_range for marker in made.timeline.tracks.markers}
    frame = 1001 / 30000
    clap = frame_utc(made, markers["clap"].start_time.value)
    assert clap <= made.truth["clap_utc_s"] + 0.001 < clap + frame + 0.002
    start = frame_utc(made, markers["launch 1"].start_time.value)
    assert abs(start - made.truth["launch_utc_s"]) <= frame + 0.05
    for mph, after_s in made.truth["launch_times_s"].items():
        at = frame_utc(made, markers[f"launch 1, {mph} mph"].start_time.value)
        assert abs(at - made.truth["launch_utc_s"] - after_s) <= frame + 0.1


def test_what_is_printed_says_how_well_it_lies(made: Made) -> None:
    (bow,) = made.outcome.lineup.recordings
    assert abs(bow.off_start_s) <= 1001 / 60000 + 1e-5
    assert 0 < bow.sd_start_s < 0.02
    assert made.outcome.lineup.left_out == ()
