"""Which renders a line-up takes for its own, and which of them it shows."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import opentimelineio as otio
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from film import Film, make_film
from log_samples import nmea, rmc
from PIL import Image

from overlay.analysis.results import compute_results
from overlay.cli.app import run
from overlay.exchange.otio_file import timeline_of
from overlay.ledger import LedgerWriter, Shown
from overlay.trial import build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.hashes import log_hashes
from overlay.workflow.lineup import LineupOutcome, lineup
from overlay.workflow.lineup_renders import Chosen
from overlay.workflow.lineup_sequence import lined_up
from sync.timecode import RATES

NTSC = Fraction(30000, 1001)
NINE = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC).timestamp()
SHEET = """\
schema = "trial/1"
name = "Tern"
time_zone = "UTC"

[[logs]]
name = "gps"
file = "gps.nmea"

[[recordings]]
name = "bow"
files = ["bow.mp4"]
ties = [{ frame = 0, utc = 2026-06-11T09:00:05.010Z }]
"""
FILM = Film(frames=60, width=320, height=180, time_base=Fraction(1, 30000), steps=(1001,))
SMALL, FULL = (160, 90), (320, 180)


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    folder = tmp_path / "a day"
    (folder / "clips").mkdir(parents=True)
    speeds = [0.0] * 60 + [min(30.0, i * 0.5) for i in range(200)] + [30.0] * 140
    rows = (rmc(f"0900{i / 10:05.2f}", f"{kn:.1f}") for i, kn in enumerate(speeds))
    (folder / "gps.nmea").write_text(nmea(rows))
    make_film(folder / "bow.mp4", FILM)
    path = folder / "trial.toml"
    path.write_text(SHEET, encoding="utf-8")
    return path


def film(path: Path, codec: str, pixels: str, size: tuple[int, int], rate: Fraction) -> None:
    """Six grey frames with an alpha channel, by PyAV."""
    with av.open(str(path), "w") as out:
        options = {"profile": "4444"} if codec == "prores_ks" else {}
        stream = out.add_stream(codec, rate=rate, options=options)
        (stream.width, stream.height), stream.pix_fmt = size, pixels
        rgba = np.full((size[1], size[0], 4), 128, np.uint8)
        for number in range(6):
            frame = av.VideoFrame.from_ndarray(rgba, "rgba").reformat(format=pixels)
            frame.pts, frame.time_base = number, 1 / rate
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def transparent(
    trial_sheet: Path,
    stem: str,
    form: str = "prores",
    *,
    size: tuple[int, int] = FULL,
    rate: Fraction = NTSC,
    run_name: str = "launch 1",
    **facts: object,
) -> Path:
    """A transparent render as the program leaves it, made from the files of now."""
    clips = trial_sheet.parent / "clips"
    if form == "png":
        (clips / stem).mkdir(exist_ok=True)
        for number in range(6):
            picture = Image.new("RGBA", size, (200, 200, 200, 90))
            picture.save(clips / stem / f"{stem}-{number:04d}.png")
    elif form == "vp9":
        film(clips / f"{stem}.webm", "libvpx-vp9", "yuva420p", size, rate)
    else:
        film(clips / f"{stem}.mov", "prores_ks", "yuva444p10le", size, rate)
    told = {
        "start_utc_s": NINE + 6.0, "rate_hz": str(rate), "frames": 6, "timecode": "09:00:06;00",
        "alpha": "straight", "run": run_name,
    }  # fmt: skip
    ledger = clips / f"{stem}.ledger.parquet"
    own = {
        "trial": "Tern",
        "sheet": trial_sheet.name,
        "inputs": log_hashes(read_material(trial_sheet)),
    }
    with LedgerWriter(ledger, {"transparent": told, **own, **facts}) as writer:
        shown = Shown(
            instrument="speed", item="value", text="12.3", value=6.3, unit="kn",
            t_shown_s=NINE, box_px=(0, 0, 9, 9), font="f.ttf", size_px=20,
        )  # fmt: skip
        for frame in range(6):
            writer.record(frame, frame, 0.0, 0.0, (shown,))
    return ledger


def laid(outcome: LineupOutcome) -> dict[str, bool]:
    """By its file, whether a transparent render on the sequence is shown, as the file has it."""
    timeline = otio.adapters.read_from_file(str(outcome.folder / "lineup.otio"))
    clips = [
        clip
        for track in timeline.video_tracks()
        if track.name.startswith("instruments")
        for clip in track
        if isinstance(clip, otio.schema.Clip)
    ]
    return {clip.metadata["trialreel"]["file"]: clip.enabled for clip in clips}


def remarks_on(outcome: LineupOutcome, stem: str) -> list[str]:
    return [remark for remark in outcome.remarks if stem in remark]


def test_a_render_of_this_trial_is_laid_without_a_word(sheet: Path) -> None:
    transparent(sheet, "launch-1")
    outcome = lineup(sheet)
    assert laid(outcome) == {"launch-1.mov": True}
    assert remarks_on(outcome, "launch-1") == []


@pytest.mark.parametrize(
    ("facts", "whose"),
    [({"sheet": "second.toml"}, "sheet 'second.toml'"), ({"trial": "Skua"}, "trial 'Skua'"),
     ({"sheet": None}, "sheet 'None'"), ({"trial": ["a"]}, "trial")],
)  # fmt: skip
def test_renders_of_other_trials_are_passed_over_and_told(
    sheet: Path, facts: dict, whose: str, capsys: pytest.CaptureFixture[str]
) -> None:
    transparent(sheet, "mine")
    transparent(sheet, "theirs", **facts)
    outcome = lineup(sheet)
    assert laid(outcome) == {"mine.mov": True}
    assert outcome.captioned == ("mine",)
    (told,) = remarks_on(outcome, "theirs")
    assert told.startswith(f"passed over, being of the {whose}")
    assert run(["lineup", "--trial", str(sheet)]) == 0
    assert "passed over, being of the" in capsys.readouterr().out


def test_two_sheets_in_one_folder_have_their_own_renders(sheet: Path) -> None:
    second = sheet.with_name("second.toml")
    second.write_text(SHEET, encoding="utf-8")
    transparent(sheet, "one")
    transparent(second, "two")
    assert laid(lineup(sheet)) == {"one.mov": True}
    assert laid(lineup(second)) == {"two.mov": True}


def another_sheet(sheet: Path) -> None:
    sheet.write_text(f'units = "metric"\n{SHEET}', encoding="utf-8")


def another_log(sheet: Path) -> None:
    log = sheet.with_name("gps.nmea")
    log.write_text(log.read_text() + rmc("090041.00", "30.0") + "\r\n")


def both(sheet: Path) -> None:
    another_sheet(sheet)
    another_log(sheet)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (another_sheet, "the sheet"),
        (another_log, "the log gps"),
        (both, "the sheet and the log gps"),
    ],
)
def test_what_is_out_of_date_is_laid_and_told(
    sheet: Path, change: Callable[[Path], None], what: str
) -> None:
    transparent(sheet, "launch-1")
    change(sheet)
    outcome = lineup(sheet)
    assert laid(outcome) == {"launch-1.mov": True}
    assert remarks_on(outcome, "launch-1") == [
        f"made before {what} changed, and best made again: launch-1"
    ]


def test_a_change_of_reels_makes_nothing_out_of_date(sheet: Path) -> None:
    transparent(sheet, "launch-1")
    reel = '\n[[reels]]\nname = "day"\nparts = ["card title"]\n'
    sheet.write_text(SHEET + reel, encoding="utf-8")
    assert remarks_on(lineup(sheet), "launch-1") == []


@pytest.mark.parametrize("inputs", [None, [], "all"])
def test_what_does_not_say_what_it_was_made_from_is_told(sheet: Path, inputs: object) -> None:
    transparent(sheet, "launch-1", inputs=inputs)
    assert remarks_on(lineup(sheet), "launch-1") == [
        "it is not known from which sheet and logs these were made: launch-1"
    ]


def test_of_each_run_one_form_is_shown(sheet: Path) -> None:
    """Of the size of most recordings, then ProRes before pictures before VP9; the other forms
    are there as disabled clips."""
    transparent(sheet, "a-vp9", "vp9")
    transparent(sheet, "b-png", "png")
    transparent(sheet, "c-prores")
    transparent(sheet, "a-small", size=SMALL)
    transparent(sheet, "turn", "vp9", run_name="turn 1")
    outcome = lineup(sheet)
    assert laid(outcome) == {
        "c-prores.mov": True,
        "turn.webm": True,
        "a-vp9.webm": False,
        "b-png": False,
        "a-small.mov": False,
    }
    (told,) = [remark for remark in outcome.remarks if "disabled clips" in remark]
    assert told.endswith("disabled clips: b-png, a-vp9, a-small")
    for live in (one for one in outcome.lineup.renders if one.live):
        assert all(live.layer < one.layer for one in outcome.lineup.renders if not one.live)


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ({"form": "png"}, {"form": "prores", "size": SMALL}),
        ({"form": "png"}, {"form": "vp9"}),
        ({"form": "vp9"}, {"form": "prores", "rate": Fraction(25)}),
        ({"form": "vp9", "size": SMALL}, {"form": "prores", "units": "metric"}),
        ({"form": "vp9", "units": "metric"}, {"form": "prores", "inputs": {}}),
    ],
)
def test_what_comes_first(sheet: Path, better: dict, worse: dict) -> None:
    """Up to date, the sheet's units, the size, the sequence's rate, the form: in this order."""
    transparent(sheet, "z-better", **better)
    transparent(sheet, "a-worse", **worse)
    shown = {Path(name).stem: live for name, live in laid(lineup(sheet, NTSC)).items()}
    assert shown == {"z-better": True, "a-worse": False}


def test_a_film_that_cannot_be_read_is_not_laid(sheet: Path) -> None:
    transparent(sheet, "whole", "vp9")
    transparent(sheet, "torn")
    (sheet.parent / "clips" / "torn.mov").write_bytes(b"\0\0\0\x18ftypqt   and no more")
    transparent(sheet, "row", "png")
    (sheet.parent / "clips" / "row" / "row-0000.png").write_bytes(b"\x89PNG")
    outcome = lineup(sheet)
    assert laid(outcome) == {"whole.webm": True}
    for stem in ("torn", "row"):
        (told,) = remarks_on(outcome, f"{stem} is passed over")
        assert "\n" not in told


@pytest.mark.parametrize("facts", [[1, 2], None, "launch 1", {"schema": "ledger/1"}])
def test_an_odd_ledger_does_not_stop_the_others(
    sheet: Path, facts: object, capsys: pytest.CaptureFixture[str]
) -> None:
    """Facts that are a list, nothing or a text, and a ledger without its columns."""
    transparent(sheet, "mine")
    (sheet.parent / "clips" / "odd.mp4").write_bytes(b"film")
    table = pa.table({"frame": pa.array([0], pa.int32())})
    table = table.replace_schema_metadata({b"trialreel": json.dumps(facts).encode()})
    pq.write_table(table, sheet.parent / "clips" / "odd.ledger.parquet")
    assert laid(lineup(sheet)) == {"mine.mov": True}
    assert run(["lineup", "--trial", str(sheet)]) == 0
    assert "odd.ledger.parquet is passed over" in capsys.readouterr().out


@pytest.mark.parametrize("rate", [0.9997, 1.0003])
def test_a_long_recording_lies_in_its_middle_whatever_its_clock(sheet: Path, rate: float) -> None:
    """Six hours of a picture each quarter of an hour, on a clock that is 300 ppm out: on the
    sequence its ends lie 3.24 s off, and the sequence begins before that."""
    film = Film(frames=24, width=64, height=36, time_base=Fraction(1), steps=(900,), sound=())
    make_film(sheet.with_name("bow.mp4"), film)
    material = read_material(sheet)
    trial = build_trial(material, ties_for(material))
    tie = trial.ties.by_clock["footage:bow"]
    line = replace(tie.map, offset_s=NINE - 9000, rate=rate)
    by_clock = {**trial.ties.by_clock, "footage:bow": replace(tie, map=line)}
    ties = replace(trial.ties, by_clock=by_clock)
    trial = replace(trial, ties=ties)
    nothing = Chosen(live=(), spare=(), remarks=())
    made = lined_up(
        trial, compute_results(trial), material.footage, nothing, RATES["29.97 drop"], []
    )
    (placed,) = made.recordings
    laid_s = float(made.grid.zero_utc_s + placed.start / NTSC)
    assert laid_s == pytest.approx(NINE - 9000 + (rate - 1) * 12 * 900, abs=float(1 / NTSC))
    assert placed.off_start_s == pytest.approx((rate - 1) * 12 * 900, abs=float(1 / NTSC))
    timeline = timeline_of(made, sheet.parent)
    clip = next(iter(timeline.find_clips()))
    start = clip.transformed_time_range(clip.trimmed_range(), timeline.tracks).start_time
    assert round(start.rescaled_to(float(NTSC)).value) == placed.start >= 0


def test_a_recording_over_midnight_is_told_of(sheet: Path) -> None:
    """Nine in UTC is midnight at sea, nine hours west of Greenwich, for five seconds more."""
    text = SHEET.replace('time_zone = "UTC"', 'time_zone = "Etc/GMT+9"').replace(
        "09:00:05.010Z", "08:59:59.000Z"
    )
    sheet.write_text(text, encoding="utf-8")
    outcome = lineup(sheet)
    (told,) = [remark for remark in outcome.remarks if "midnight" in remark]
    assert told.startswith("recordings/bow.edl begins at hour one, not at the time of day (23:59:5")
    listed = (outcome.folder / "recordings" / "bow.edl").read_text(encoding="utf-8")
    back = otio.adapters.read_from_string(listed, "cmx_3600", rate=float(NTSC))
    assert [clip.source_range.duration.value for clip in back.tracks[0]] == [60]
