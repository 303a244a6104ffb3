"""The lined-up day of small trials, read back with OpenTimelineIO."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from urllib.parse import unquote

import av
import numpy as np
import opentimelineio as otio
import pytest
from film import Film, Track, cut_film, make_film
from log_samples import nmea, rmc
from PIL import Image

from overlay.cli.app import run
from overlay.errors import OutputError, SheetError, WishError
from overlay.figures import seconds
from overlay.ledger import LedgerWriter, Shown
from overlay.workflow.lineup import LineupOutcome, lineup
from sync.errors import TieRefused
from sync.timecode import RATES, TimecodeError, frames_of, label_of

NTSC = Fraction(30000, 1001)
NINE = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC).timestamp()
SHEET = """\
schema = "trial/1"
name = "Tern"
units = "nautical"
time_zone = "Europe/Helsinki"

[[logs]]
name = "gps"
file = "gps.nmea"

[[recordings]]
name = "bow"
files = ["bow 1.mov", "bow 2.mov"]
ties = [{ frame = 0, utc = 2026-06-11T09:00:05.010Z }]

[[recordings]]
name = "chase: æ"
files = ["chase.mp4"]
proxies = ["chase small.mp4"]
ties = [{ frame = 10, utc = 2026-06-11T09:00:08.000Z }]

[[recordings]]
name = "slow"
files = ["slow.mp4"]
slow_motion = 4
ties = [{ frame = 0, utc = 2026-06-11T09:00:12.000Z }]

[[recordings]]
name = "lost"
files = ["lost.mp4"]

[[marks]]
label = "lamp"
utc = 2026-06-11T09:00:06.500Z

[[clips]]
name = "pass"
recording = "bow"
"""
FILM = Film(
    frames=90,
    time_base=Fraction(1, 30000),
    steps=(1001,),
    sound=(Track(seed=3),),
    options={"preset": "ultrafast", "g": "30"},
    metadata={"timecode": "12:00:05;00"},
)
TRANSPARENT = {
    "start_utc_s": NINE + 6.0,
    "rate_hz": "30000/1001",
    "frames": 45,
    "timecode": "12:00:06;00",
    "alpha": "straight",
    "run": "launch 1",
}


def launch() -> str:
    """Ten fixes a second: rest, a launch to 30 kn from 6 s on, and 14 s at that; invented."""
    speeds = [0.0] * 60 + [min(30.0, i * 0.5) for i in range(200)] + [30.0] * 140
    return nmea(rmc(f"0900{i / 10:05.2f}", f"{kn:.1f}") for i, kn in enumerate(speeds))


def ledger(path: Path, facts: dict, frames: int) -> None:
    shown = Shown(
        instrument="speed", item="value", text="12.3", value=6.3, unit="kn", t_shown_s=NINE,
        box_px=(0, 0, 9, 9), font="f.ttf", size_px=20,
    )  # fmt: skip
    with LedgerWriter(path, facts, {"speed": ("speed", "gps")}) as writer:
        for frame in range(frames):
            writer.record(frame, frame * 1001, 0.0, 0.0, (shown,))


def see_through(path: Path, frames: int) -> None:
    """A ProRes 4444 film with an alpha channel, grey and half transparent, by PyAV."""
    with av.open(str(path), "w") as out:
        stream = out.add_stream("prores_ks", rate=NTSC, options={"profile": "4444"})
        stream.width, stream.height, stream.pix_fmt = 64, 36, "yuva444p10le"
        rgba = np.full((36, 64, 4), 128, np.uint8)
        for number in range(frames):
            frame = av.VideoFrame.from_ndarray(rgba, "rgba").reformat(format="yuva444p10le")
            frame.pts, frame.time_base = number, 1 / NTSC
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """A day with four recordings (one in two files, one in slow motion, one that nothing ties),
    a burned clip, and two transparent renders of one run, a film and a row of pictures."""
    folder = tmp_path / "a day"
    clips = folder / "clips"
    clips.mkdir(parents=True)
    (folder / "gps.nmea").write_text(launch())
    one, two = cut_film(FILM, 30)
    make_film(folder / "bow 1.mov", one)
    make_film(folder / "bow 2.mov", replace(two, metadata={"timecode": "12:00:06;00"}))
    make_film(folder / "chase.mp4", Film(frames=75, time_base=Fraction(1, 30000), steps=(1001,)))
    twin = Film(frames=75, width=160, height=90, time_base=Fraction(1, 30000), steps=(1001,))
    make_film(folder / "chase small.mp4", twin)
    make_film(folder / "slow.mp4", Film(frames=120, time_base=Fraction(1, 30000), steps=(1001,)))
    make_film(folder / "lost.mp4", Film(frames=30, sound=()))
    make_film(clips / "pass.mp4", Film(frames=60, time_base=Fraction(1, 30000), steps=(1001,)))
    ledger(clips / "pass.ledger.parquet", {"clip": "pass"}, 60)
    see_through(clips / "launch 1.mov", 45)
    ledger(clips / "launch 1.ledger.parquet", {"transparent": TRANSPARENT}, 45)
    (clips / "launch 1 png").mkdir()
    for number in range(45):
        Image.new("RGBA", (64, 36), (200, 200, 200, 90)).save(
            clips / "launch 1 png" / f"frame-{number:04d}.png"
        )
    facts = {"transparent": {**TRANSPARENT, "alpha": "premultiplied"}}
    ledger(clips / "launch 1 png.ledger.parquet", facts, 45)
    path = folder / "trial.toml"
    path.write_text(SHEET, encoding="utf-8")
    return path


def read(outcome: LineupOutcome):
    return otio.adapters.read_from_file(str(outcome.folder / "lineup.otio"))


def utc_of(timeline, frames: float) -> float:
    """When a frame of the sequence stands, by nothing but the file: its start and its rate."""
    ours = timeline.metadata["trialreel"]
    zero = dt.datetime.fromisoformat(ours["start_utc"]).timestamp()
    return zero + float(Fraction(frames) / Fraction(ours["rate_hz"]))


def clips_of(track) -> list:
    return [item for item in track if isinstance(item, otio.schema.Clip)]


def start_of(clip) -> int:
    """A clip's first frame on the sequence, whatever rate its own file has."""
    sequence = clip.parent().parent()
    place = clip.transformed_time_range(clip.trimmed_range(), sequence).start_time
    rate = clip.source_range.duration.rate
    frame = place.rescaled_to(rate).value
    assert frame == pytest.approx(round(frame), abs=1e-4)
    return round(frame)


def tracks(timeline) -> dict:
    return {track.name: track for track in timeline.tracks}


def test_every_recording_lies_where_its_tie_has_it(sheet: Path) -> None:
    timeline = read(lineup(sheet))
    half = float(1 / NTSC) / 2 + 2e-6
    by_name = tracks(timeline)
    one, two = clips_of(by_name["bow"])
    assert abs(utc_of(timeline, start_of(one)) - (NINE + 5.010)) <= half
    assert start_of(two) == start_of(one) + 30
    assert (one.source_range.duration.value, two.source_range.duration.value) == (30, 60)
    (chase,) = clips_of(by_name["chase: æ"])
    assert abs(utc_of(timeline, start_of(chase)) - (NINE + 8 - float(10 / NTSC))) <= half
    (slow,) = clips_of(by_name["slow"])
    assert abs(utc_of(timeline, start_of(slow)) - (NINE + 12)) <= half
    assert slow.source_range.duration.value == 30
    assert [(type(one), one.time_scalar) for one in slow.effects] == [
        (otio.schema.LinearTimeWarp, 4.0)
    ]


def test_the_sequence_counts_the_time_of_day(sheet: Path) -> None:
    """In Helsinki it is three hours later than in UTC, in summer."""
    outcome = lineup(sheet)
    timeline = read(outcome)
    start = timeline.global_start_time
    rate = RATES["29.97 drop"]
    assert start.rate == pytest.approx(float(NTSC))
    assert start.to_timecode() == label_of(int(start.value), rate)
    assert start.to_timecode() == outcome.lineup.grid.label(0)
    (bow, *_) = clips_of(tracks(timeline)["bow"])
    label = (start + otio.opentime.RationalTime(start_of(bow), start.rate)).to_timecode()
    assert abs(frames_of(label, rate) - frames_of("12:00:05;00", rate)) <= 1


def test_tracks_stand_in_order_with_sound_and_instruments(sheet: Path) -> None:
    timeline = read(lineup(sheet))
    kinds = [(track.name, track.kind) for track in timeline.tracks]
    video, audio = otio.schema.TrackKind.Video, otio.schema.TrackKind.Audio
    assert kinds == [
        ("bow", video),
        ("chase: æ", video),
        ("slow", video),
        ("instruments", video),
        ("instruments 2, another form", video),
        ("bow, sound", audio),
        ("chase: æ, sound", audio),
    ]
    by_name = tracks(timeline)
    picture, sound = (clips_of(by_name[name]) for name in ("bow", "bow, sound"))
    assert [c.source_range for c in picture] == [c.source_range for c in sound]
    assert list(map(start_of, picture)) == list(map(start_of, sound))


def test_media_are_found_from_the_file_and_begin_at_their_own_timecode(sheet: Path) -> None:
    outcome = lineup(sheet)
    timeline = read(outcome)
    seen = 0
    for clip in timeline.find_clips():
        reference = clip.media_reference
        if isinstance(reference, otio.schema.ImageSequenceReference):
            urls = [reference.target_url_for_image_number(n) for n in (0, 44)]
        else:
            urls = [reference.target_url]
        for url in urls:
            assert not url.startswith("/")
            assert (outcome.folder / unquote(url)).is_file()
            seen += 1
        inside = reference.available_range
        assert clip.source_range.start_time >= inside.start_time
        if not clip.effects:
            last = clip.source_range.end_time_exclusive().to_seconds()
            assert last <= inside.end_time_exclusive().to_seconds() + 1e-3
    assert seen == 10
    (bow, _) = clips_of(tracks(timeline)["bow"])
    assert bow.media_reference.available_range.start_time.to_timecode() == "12:00:05;00"


def test_a_twin_in_a_small_picture_is_a_second_reference(sheet: Path) -> None:
    outcome = lineup(sheet)
    timeline = read(outcome)
    for name in ("chase: æ", "chase: æ, sound"):
        (clip,) = clips_of(tracks(timeline)[name])
        both = clip.media_references()
        assert clip.active_media_reference_key == "DEFAULT_MEDIA"
        assert set(both) == {"DEFAULT_MEDIA", "proxy"}
        assert unquote(both["proxy"].target_url) == "../chase small.mp4"
        assert both["proxy"].available_range == both["DEFAULT_MEDIA"].available_range


def test_transparent_renders_lie_over_the_film_on_frames_of_their_own(sheet: Path) -> None:
    timeline = read(lineup(sheet))
    by_name = tracks(timeline)
    names = ("instruments", "instruments 2, another form")
    (film,), (pictures,) = (clips_of(by_name[name]) for name in names)
    assert (film.enabled, pictures.enabled) == (True, False)
    for clip in (film, pictures):
        assert abs(utc_of(timeline, start_of(clip)) - TRANSPARENT["start_utc_s"]) <= 0.0168
        assert clip.source_range.duration.value == 45
        assert clip.source_range.start_time.to_timecode() == "12:00:06;00"
    assert film.metadata["trialreel"]["alpha"] == "straight"
    assert pictures.metadata["trialreel"]["alpha"] == "premultiplied"


def test_every_run_mark_and_result_has_a_marker_on_its_frame(sheet: Path) -> None:
    outcome = lineup(sheet)
    timeline = read(outcome)
    rate = float(NTSC)
    markers = {marker.name: marker for marker in timeline.tracks.markers}
    assert len(markers) == len(outcome.lineup.notes) == 5
    for noted in outcome.lineup.notes:
        marker = markers[noted.name]
        first = marker.marked_range.start_time.value
        assert utc_of(timeline, first) <= noted.start_utc_s + 2e-6
        assert noted.start_utc_s < utc_of(timeline, first + 1) + 2e-6
        assert marker.comment == noted.text
        assert marker.marked_range.start_time.rate == pytest.approx(rate)
    lamp = markers["lamp"]
    assert abs(utc_of(timeline, lamp.marked_range.start_time.value) - (NINE + 6.5)) < 1 / rate
    assert "launch 1" in markers
    assert run(["results", "--trial", str(sheet)]) == 0
    found = json.loads(sheet.with_name("trial.results.json").read_text())["launches"][0]
    for rung in found["ladder"]:
        marker = markers[f"launch 1, {rung['label']}"]
        assert marker.comment == seconds(rung["time_s"], rung["sd_s"])


def test_what_is_not_laid_is_told(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    outcome = lineup(sheet)
    assert [name for name, _ in outcome.lineup.left_out] == ["lost"]
    timeline = read(outcome)
    told = timeline.metadata["trialreel"]["left_out"]
    assert told[0]["recording"] == "lost"
    assert run(["lineup", "--trial", str(sheet)]) == 3
    said = capsys.readouterr().out
    assert "lost" in said
    assert "it has no tie" in said
    assert "4 times slower" in said


def test_how_well_a_recording_lies_is_told_everywhere(
    sheet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["lineup", "--trial", str(sheet), "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    bow = told["recordings"][0]
    assert abs(bow["off_start_ms"]) <= 1000 * float(1 / NTSC) / 2 + 0.01
    assert bow["tie_sd_start_ms"] > 0
    timeline = otio.adapters.read_from_file(str(Path(told["folder"]) / "lineup.otio"))
    track = tracks(timeline)["bow"]
    assert track.metadata["trialreel"]["off_start_ms"] == bow["off_start_ms"]
    (marker,) = clips_of(track)[0].markers
    way = "late" if bow["off_start_ms"] > 0 else "early"
    assert f"{abs(bow['off_start_ms']):.1f} ms {way}" in marker.comment


def test_cut_lists_say_what_the_sequence_says(sheet: Path) -> None:
    outcome = lineup(sheet)
    timeline = read(outcome)
    names = sorted(path.name for path in (outcome.folder / "recordings").iterdir())
    assert names == ["bow.edl", "chase--æ.edl"]
    text = (outcome.folder / "recordings" / "bow.edl").read_text(encoding="utf-8")
    assert text.splitlines()[1] == "FCM: DROP FRAME"
    back = otio.adapters.read_from_string(text, "cmx_3600", rate=float(NTSC))
    (track,) = back.tracks
    first = timeline.global_start_time.value
    begins = -track.source_range.start_time.value
    assert begins == first + start_of(clips_of(tracks(timeline)["bow"])[0])
    for theirs, ours in zip(clips_of(track), clips_of(tracks(timeline)["bow"]), strict=True):
        assert theirs.source_range.start_time.value == ours.source_range.start_time.value
        assert theirs.source_range.duration.value == ours.source_range.duration.value
        assert (outcome.folder / theirs.media_reference.target_url).is_file()
        assert theirs.name == ours.media_reference.name
    reels = [clip.metadata["cmx_3600"]["reel"] for clip in clips_of(track)]
    assert reels == ["BOW1", "BOW2"]


def test_the_list_of_runs_has_each_with_its_handles(sheet: Path) -> None:
    outcome = lineup(sheet, handles="0.5 s")
    text = (outcome.folder / "runs.edl").read_text(encoding="utf-8")
    back = otio.adapters.read_from_string(text, "cmx_3600", rate=float(NTSC))
    events = clips_of(back.tracks[0])
    assert -back.tracks[0].source_range.start_time.value == 107892
    grid = outcome.lineup.grid
    run_one = next(one for one in outcome.lineup.runs if one.name == "launch 1")
    # It starts 6 s after nine; the bow has 2 s of it, the chase boat, 2.5 s long, all it has.
    chase = outcome.lineup.recordings[1]
    first = max(grid.frame_at(run_one.span.start_s) - 15, chase.start)
    last = min(grid.frame_at(run_one.span.stop_s) + 16, chase.stop)
    (event,) = events
    assert event.source_range.start_time.value == first - chase.start
    assert event.source_range.duration.value == last - first
    (comment,) = event.metadata["cmx_3600"]["comments"]
    assert comment == "RUN: launch 1, chase: æ, not all of it is filmed"
    whole = lineup(sheet, handles="0 s")
    assert whole.listed_runs == 1
    for line in re.findall(r"LOC: (\S+) ", text):
        assert frames_of(line, RATES["29.97 drop"]) >= 107892


def test_captions_come_for_clips_and_for_transparent_renders(sheet: Path) -> None:
    outcome = lineup(sheet)
    folder = outcome.folder / "captions"
    names = {path.name for path in folder.iterdir()}
    stems = ("pass", "launch 1", "launch 1 png")
    assert names == {f"{stem}.{end}" for stem in stems for end in ("srt", "vtt")}
    assert (folder / "pass.srt").read_text().splitlines() == [
        "1", "00:00:00,000 --> 00:00:02,002", "speed 12.3 kn", "",
    ]  # fmt: skip
    assert "00:00:00.000 --> 00:00:01.501\n" in (folder / "launch 1.vtt").read_text()


def test_a_render_that_is_not_whole_is_passed_over_and_told(sheet: Path) -> None:
    clips = sheet.parent / "clips"
    (clips / "launch 1 png" / "frame-0007.png").unlink()
    (clips / "pass.mp4").unlink()
    (clips / "broken.ledger.parquet").write_bytes(b"PAR1 and no more")
    outcome = lineup(sheet)
    assert [one.render.stem for one in outcome.lineup.renders] == ["launch 1"]
    told = "\n".join(outcome.remarks)
    for what in ("launch 1 png", "pass", "broken"):
        assert f"{what}.ledger.parquet is passed over" in told
    assert outcome.captioned == ("launch 1",)


def test_what_is_of_another_day_does_not_stretch_the_sequence(sheet: Path) -> None:
    """A mark with a wrong date, and a render that was copied from another trial."""
    text = sheet.read_text(encoding="utf-8")
    sheet.write_text(
        text.replace("2026-06-11T09:00:06.500Z", "2026-07-11T09:00:06.500Z"), encoding="utf-8"
    )
    facts = {"transparent": {**TRANSPARENT, "start_utc_s": NINE - 3 * 86400.0}}
    ledger(sheet.parent / "clips" / "launch 1.ledger.parquet", facts, 45)
    outcome = lineup(sheet)
    assert outcome.lineup.frames < 60 * 30
    assert [one.render.stem for one in outcome.lineup.renders] == ["launch 1 png"]
    told = [remark for remark in outcome.remarks if "more than a day" in remark]
    assert [remark.partition(" lies")[0] for remark in told] == ["lamp", "launch 1"]


@pytest.mark.parametrize(
    ("rate_hz", "label"),
    [(Fraction(25), r"12:00:0\d:\d\d"), (Fraction(60000, 1001), r"12:00:0\d;\d\d")],
)
def test_the_edit_may_have_a_rate_of_its_own(sheet: Path, rate_hz: Fraction, label: str) -> None:
    outcome = lineup(sheet, rate_hz)
    timeline = read(outcome)
    assert Fraction(timeline.metadata["trialreel"]["rate_hz"]) == rate_hz
    assert re.fullmatch(label, timeline.global_start_time.to_timecode())
    (one, _) = clips_of(tracks(timeline)["bow"])
    assert abs(utc_of(timeline, start_of(one)) - (NINE + 5.010)) <= float(1 / rate_hz) / 2 + 2e-6
    assert one.media_reference.available_range.start_time.rate == pytest.approx(float(NTSC))
    text = (outcome.folder / "recordings" / "bow.edl").read_text(encoding="utf-8")
    assert "SOURCE AT 29.97 FRAMES A SECOND" in text
    otio.adapters.read_from_string(text, "cmx_3600", rate=float(rate_hz))


def test_bad_input_is_one_sentence(sheet: Path) -> None:
    with pytest.raises(TimecodeError, match="no timecode counts"):
        lineup(sheet, Fraction(120))
    with pytest.raises(WishError, match="between 0 s and 10 min"):
        lineup(sheet, handles="-1 s")
    text = sheet.read_text(encoding="utf-8")
    sheet.write_text(re.sub(r"ties = .*", "", text), encoding="utf-8")
    with pytest.raises(TieRefused, match="none of the recordings"):
        lineup(sheet)
    sheet.write_text(text[: text.index("[[recordings]]")], encoding="utf-8")
    with pytest.raises(SheetError, match="no recordings"):
        lineup(sheet)
    assert not sheet.with_name("lineup").exists()


def test_a_recording_that_cannot_be_read_does_not_hold_up_the_others(sheet: Path) -> None:
    (sheet.parent / "lost.mp4").write_bytes(b"\0\0\0\x18ftypmp42 and no more")
    outcome = lineup(sheet)
    ((name, why),) = outcome.lineup.left_out
    assert name == "lost"
    assert "lost.mp4" in why


def test_a_line_up_takes_the_place_of_its_own_and_of_nothing_else(sheet: Path) -> None:
    folder = lineup(sheet).folder
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    lineup(sheet)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    edited = folder / "runs.edl"
    edited.write_text("TITLE: my own cut\n")
    with pytest.raises(OutputError, match="somebody changed"):
        lineup(sheet)
    assert edited.read_text() == "TITLE: my own cut\n"
    edited.write_bytes(before[edited])
    (folder / "notes.txt").write_text("ring the owner")
    with pytest.raises(OutputError, match="no line-up wrote it"):
        lineup(sheet)
    (folder / "notes.txt").unlink()
    (folder / "lineup.json").unlink()
    with pytest.raises(OutputError, match="no line-up of trialreel"):
        lineup(sheet)
    assert not [path for path in sheet.parent.iterdir() if path.name.startswith(".making-")]


def test_a_sheet_without_a_zone_counts_in_utc_and_says_so(sheet: Path) -> None:
    text = sheet.read_text(encoding="utf-8").replace('time_zone = "Europe/Helsinki"\n', "")
    other = sheet.with_name("second.toml")
    other.write_text(text, encoding="utf-8")
    outcome = lineup(other)
    assert outcome.folder.name == "second.lineup"
    assert outcome.lineup.grid.label(0).startswith("09:00:0")
    assert any("no `time_zone`" in remark for remark in outcome.remarks)
