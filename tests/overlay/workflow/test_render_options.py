"""What an editor can ask of `render` and `transparent`, through the command line, on a small trial:
a launch of 30 kn, logged ten times a second, and twenty seconds of film."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from film import Film, Track, make_film, number_in
from PIL import Image
from small_trial import launch

from overlay.cli.app import run
from overlay.ledger import read_ledger
from overlay.workflow import hashes
from overlay.workflow.hashes import hashing, sha256_of
from overlay.workflow.transparent import log_times
from sync.clock import Span
from sync.media import frame_times, probe
from sync.media.planes import planes_of
from sync.timecode import RATES

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
files = ["bow.mov"]
ties = [{ frame = 0, utc = 2026-06-11T09:00:02.000Z }]

[[clips]]
name = "go"
recording = "bow"
run = "launch 1"
lead_in = "1 s"
lead_out = "1 s"
"""
RATE = Fraction(30000, 1001)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("trial") / "ä day"
    folder.mkdir()
    (folder / "gps.nmea").write_text(launch())
    (folder / "trial.toml").write_text(SHEET, encoding="utf-8")
    make_film(
        folder / "bow.mov",
        Film(frames=600, width=640, height=360, time_base=1 / RATE / 1001, steps=(1001,),
             metadata={"timecode": "12:00:02;00", "location": "+59.9000+010.7000/"},
             sound=(Track(codec="pcm_s16le", format="s16"),),
             options={"preset": "ultrafast", "g": "30"}),
    )  # fmt: skip
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of the trial, so that each test has its own clips."""
    own = tmp_path / "ä day"
    own.mkdir()
    for file in made.iterdir():
        if file.is_file():
            (own / file.name).write_bytes(file.read_bytes())
    return own


def asked(folder: Path, capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    """The answer of a command that succeeds."""
    code = run([*words, "--trial", str(folder), "--json"])
    said = capsys.readouterr()
    assert code == 0, said.err
    return json.loads(said.out)


def refused(folder: Path, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    """Exit code and sentence of a command that does not."""
    code = run([*words, "--trial", str(folder)])
    said = capsys.readouterr().err
    assert said.startswith("trialreel: ")
    assert said.count("\n") == 1
    assert "defect" not in said
    assert not list(folder.rglob(".making-*"))
    return code, said


def numbers(path: Path) -> list[int]:
    """Which frames of the recording a clip has; the top of the picture stays free."""
    with av.open(str(path)) as clip:
        return [number_in(planes_of(frame)[0]) for frame in clip.decode(video=0)]


def test_a_clip_goes_its_whole_road(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sound that .mp4 does not hold makes it a .mov; runs and marks are chapters."""
    (clip,) = asked(folder, capsys, "render", "go")["clips"]
    path = Path(clip["clip"])
    assert path == folder / "clips" / "go.mov"
    frames = numbers(path)
    assert frames == list(range(frames[0], frames[0] + clip["frames"]))
    facts = read_ledger(Path(clip["ledger"])).facts
    assert facts["strip_location"] is False
    assert facts["codec"] == "libx264"
    assert facts["sheet"] == "trial.toml"
    assert facts["inputs"]["footage:bow"] == sha256_of(folder / "bow.mov")
    start_s = facts["run"]["start_utc_s"] - facts["tie"]["offset_s"]
    assert frames[0] == np.ceil((start_s - 1) * float(RATE) - 1e-6)
    with av.open(str(path)) as film:
        titles = {c["metadata"]["title"]: float(c["start"] * c["time_base"]) for c in
                  film.chapters()}  # fmt: skip
    assert list(titles)[:2] == ["before the run", "launch 1"]
    assert titles["launch 1"] == pytest.approx(1.0, abs=0.04)
    for mark in facts["run"]["marks"]:
        at_s = titles[f"{mark['label']}: {mark['text']}"]
        assert at_s == pytest.approx(1 + mark["value"], abs=0.04)
    assert len(facts["run"]["marks"]) >= 2


def test_what_departs_from_the_sheet_has_a_file_of_its_own(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = {
        Path(asked(folder, capsys, "render", "go", *words)["clips"][0]["clip"]).name: words
        for words in (
            ("--quality", "draft"),
            ("--handles", "0 s"),
            ("--encoder", "prores"),
            ("--encoder", "x265", "--quality", "draft"),
            ("--from", "7 s", "--to", "8 s", "--quality", "draft"),
        )
    }
    assert list(made) == [
        "go-draft.mov",
        "go-handles-0s.mov",
        "go-prores.mov",
        "go-x265-draft.mov",
        "go-7s-8s-draft.mov",
    ]
    ledgers = {path.name.removesuffix(".ledger.parquet") for path in
               (folder / "clips").glob("*.ledger.parquet")}  # fmt: skip
    assert ledgers == {name.removesuffix(".mov") for name in made}


def test_instruments_alone_are_drawn_for_other_readers_too(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each in its own units, with the ladder of those, and neither takes the other's place."""
    alone = ("transparent", "launch 1", "--as", "png", "--size", "320x180", "--handles", "0 s")
    shown = {}
    for units in ("nautical", "metric"):
        (clip,) = asked(folder, capsys, *alone, "--units", units)["renders"]
        ledger = read_ledger(Path(clip["ledger"]))
        assert ledger.facts["units"] == units
        speed = ledger.rows[
            (ledger.rows["instrument"] == "speed") & (ledger.rows["item"] == "value")
        ]
        shown[Path(clip["render"]).name] = (
            set(speed["unit"]),
            {mark["label"].rpartition(" ")[2] for mark in ledger.facts["run"]["marks"]},
        )
    assert shown == {
        "launch-1-transparent-png-320x180": ({"kn"}, {"kn"}),
        "launch-1-transparent-png-320x180-metric": ({"km/h"}, {"km/h"}),
    }


@pytest.mark.parametrize(
    ("start", "stop"),
    [
        ("7 s", "8 s"),
        ("12:00:09;00", "12:00:10;00"),
        ("12:00:09", "12:00:10"),  # Helsinki is three hours ahead of UTC
    ],
)
def test_a_span_of_a_recording_is_cut_on_the_frame(
    start: str, stop: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = asked(folder, capsys, "render", "bow", "--from", start, "--to", stop)
    frames = numbers(Path(answer["clips"][0]["clip"]))
    assert frames == list(range(210, 240))
    assert probe(Path(answer["clips"][0]["clip"])).timecode == "12:00:09;00"


def test_a_recording_can_be_rendered_whole(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (clip,) = asked(folder, capsys, "render", "bow", "--quality", "draft")["clips"]
    assert clip["frames"] == 600
    times = frame_times(probe(Path(clip["clip"])))
    assert times.pts.tolist() == frame_times(probe(folder / "bow.mov")).pts.tolist()


def test_the_place_can_be_left_out(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for words in ((), ("--strip-location",)):
        (clip,) = asked(folder, capsys, "render", "go", *words)["clips"]
        path = Path(clip["clip"])
        assert (b"+59.9" in path.read_bytes()) is not bool(words)
        assert read_ledger(Path(clip["ledger"])).facts["strip_location"] is bool(words)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("render", "nobody"), "no clip or recording called 'nobody'"),
        (("render", "go", "--encoder", "nosuch"), "no encoder 'nosuch'"),
        (("render", "bow", "--from", "21 s"), "21 s is not on the recording 'bow'"),
        (("render", "bow", "--from", "11:00:00"), "11:00:00 is not on the recording"),
        (("render", "bow", "--from", ":", "--to", ":"), "':' is no instant"),
        (("render", "bow", "--from", "8 s", "--to", "7 s"), "would end"),
        (("render", "bow", "--handles", "2 s"), "shows no one run"),
        (("render", "go", "--handles", "11 min"), "handles of 11 min"),
        (("transparent", "launch 9"), "no run called 'launch 9'"),
        (("transparent", "--size", "19x10"), "cannot be 19×10"),
        (("transparent", "--as", "png", "--alpha", "premultiplied"), "png pictures are straight"),
        (("transparent", "--rate", "31"), "no timecode counts 31"),
        (("transparent", "--rate", "1e2000000"), "is not a number such as"),
        (("transparent", "--handles", "11 min"), "handles of 11 min"),
    ],
)
def test_what_cannot_be_had_is_bad_input(
    words: tuple[str, ...], sentence: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = refused(folder, capsys, *words)
    assert code == 2
    assert sentence in said
    assert not (folder / "clips").exists() or not list((folder / "clips").iterdir())


def test_a_clip_has_no_handles_where_it_shows_no_run() -> None:
    """And a label of the day stands on the frame that it labels, in Helsinki's summer."""
    times = log_times(
        Span(start_s=1_781_150_043.0, stop_s=1_781_150_050.0), RATES["25"], 2.0, "Europe/Helsinki"
    )
    assert times.timecode == "06:54:01:00"
    assert times.start_utc_s == 1_781_150_041
    assert times.frames == 11 * 25
    drop = log_times(
        Span(start_s=1_781_150_043.0, stop_s=1_781_150_050.0), RATES["29.97 drop"], 2.0, None
    )
    label_s = 3600 * 3 + 60 * 54 + 1
    assert drop.timecode[:8] in ("03:54:01", "03:54:00")
    # A drop-frame label is at most two frames ahead of the time of day, and 86.4 ms a day apart.
    frames = int(drop.timecode[9:])
    whole_s = sum(int(p) * u for p, u in zip(drop.timecode[:8].split(":"), (3600, 60, 1),
                                             strict=True))  # fmt: skip
    assert abs(whole_s + frames / 29.97 - label_s) < 0.17


@pytest.mark.parametrize("form", ["prores", "vp9", "png"])
def test_a_run_on_nothing_and_its_ledger(
    form: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("transparent", "launch 1", "--as", form, "--size", "640x360", "--rate", "25",
             "--handles", "0.5 s")  # fmt: skip
    (one,) = asked(folder, capsys, *words)["renders"]
    path, ledger = Path(one["render"]), read_ledger(Path(one["ledger"]))
    told = ledger.facts["transparent"]
    assert (told["frames"], told["timecode"]) == (one["frames"], one["timecode"])
    assert told["start_utc_s"] <= ledger.facts["run"]["start_utc_s"] - 0.5
    assert path.stem == f"launch-1-transparent-{form}-640x360"
    if form == "png":
        pictures = sorted(path.iterdir())
        assert len(pictures) == one["frames"]
        assert np.asarray(Image.open(pictures[len(pictures) // 2]))[..., 3].max() > 200
    else:
        assert len(frame_times(probe(path))) == one["frames"]
    times = ledger.rows.groupby("frame")["t_utc_s"].first()
    step_s = np.diff(times.to_numpy())
    np.testing.assert_allclose(step_s, 1 / 25, atol=1e-6)
    # Once more, in the same place.
    (again,) = asked(folder, capsys, *words)["renders"]
    assert again == one


def test_all_runs_are_drawn_where_none_is_named(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = asked(folder, capsys, "transparent", "--as", "vp9", "--size", "320x180",
                   "--handles", "0 s")  # fmt: skip
    assert [one["run"] for one in answer["renders"]] == ["launch 1"]
    assert answer["time_zone"] == "Europe/Helsinki"


@pytest.mark.parametrize("form", ["prores", "png"])
def test_nothing_of_others_is_overwritten(
    form: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What lies in the place of a render, and a render of another sheet in the same folder."""
    words = ("transparent", "launch 1", "--as", form, "--size", "320x180", "--handles", "0 s")
    place = folder / "clips" / f"launch-1-transparent-{form}-320x180"
    place.parent.mkdir()
    if form == "png":
        place.mkdir()
        (place / "notes.txt").write_text("mine")
    else:
        place = place.with_suffix(".mov")
        place.write_text("mine")
    code, said = refused(folder, capsys, *words)
    assert code == 1
    assert "no transparent render of this sheet" in said
    assert (place / "notes.txt" if form == "png" else place).read_text() == "mine"
    if form == "png":
        (place / "notes.txt").unlink()
        place.rmdir()
    else:
        place.unlink()
    asked(folder, capsys, *words)
    (folder / "after.toml").write_text(SHEET, encoding="utf-8")
    code = run([*words, "--trial", str(folder / "after.toml")])
    assert code == 1
    assert "no transparent render of this sheet" in capsys.readouterr().err


def test_an_interruption_does_not_wait_for_hashes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file of 1 GB that holds nothing; it is read in blocks, and the stop is seen between two."""
    large = tmp_path / "film.mp4"
    with large.open("wb") as file:
        file.truncate(1 << 30)
    seen: list[int] = []

    class Watched:
        def is_set(self) -> bool:
            seen.append(1)
            return len(seen) > 3

        def set(self) -> None: ...

        def clear(self) -> None: ...

    monkeypatch.setattr(hashes, "_stopped", Watched())
    with pytest.raises(KeyboardInterrupt), hashing(lambda: {"a": sha256_of(large)}):
        raise KeyboardInterrupt
    assert len(seen) == 4


def test_an_input_that_is_gone_is_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from overlay.errors import OutputError

    with pytest.raises(OutputError, match="input cannot be read any more") as caught:
        sha256_of(folder / "gone.mp4")
    assert caught.value.path == folder / "gone.mp4"
