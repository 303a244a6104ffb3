"""A clip in another shape, from the sheet or the command line to a verdict of the audit."""

from __future__ import annotations

import shutil
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from film import Film, make_film
from small_trial import DAY, GO, RATE, answered, make_trial, refused

from overlay.cli.app import run
from overlay.ledger import read_ledger
from sync.media import probe
from sync.media.planes import planes_of


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The trial; the film is a moving texture made for it."""
    return make_trial(tmp_path_factory.mktemp("shapes") / "day", size=(1024, 576))


@pytest.fixture(scope="module")
def rendered(made: Path) -> Path:
    """The trial with its clip in two other shapes."""
    own = Path(shutil.copytree(made, made.parent / "rendered"))
    for shape in ("upright", "square"):
        assert run(["render", "go", "--shape", shape, "--trial", str(own)]) == 0
    return own


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of the trial for each test."""
    return Path(shutil.copytree(made, tmp_path / "day"))


def added(folder: Path, lines: str) -> Path:
    """The sheet with some more lines in its clip."""
    (folder / "trial.toml").write_text(f"{DAY}{GO}{lines}\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    ("shape", "size", "crop"),
    [("upright", (324, 576), [350, 0, 324, 576]), ("square", (576, 576), [224, 0, 576, 576])],
)
def test_another_shape_has_a_file_and_a_ledger_of_its_own(
    shape: str, size: tuple[int, int], crop: list[int], rendered: Path
) -> None:
    clip = probe(rendered / "clips" / f"go-{shape}.mp4")
    assert (clip.width, clip.height) == size
    facts = read_ledger(rendered / "clips" / f"go-{shape}.ledger.parquet").facts
    assert (facts["clip"], facts["shape"], facts["crop_px"]) == (f"go-{shape}", shape, crop)
    layout = facts["layout"]
    assert (layout["width_px"], layout["height_px"]) == size
    rows = read_ledger(rendered / "clips" / f"go-{shape}.ledger.parquet").rows
    assert (rows["x_px"] + rows["width_px"]).max() <= size[0]
    assert (rows["y_px"] + rows["height_px"]).max() <= size[1]


@pytest.mark.parametrize("shape", ["upright", "square"])
def test_such_a_clip_is_audited_like_any_other(
    shape: str, rendered: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, verdict = answered(capsys, "audit", str(rendered / "clips" / f"go-{shape}.mp4"))
    assert (code, verdict["outcome"]) == (0, "agrees")
    assert verdict["counts"]["unread"] == 0
    assert verdict["counts"]["characters"] > 1000
    assert verdict["counts"]["frames_read"] == verdict["counts"]["frames"]


def test_another_part_of_the_picture_is_another_picture(
    rendered: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The ledger's prints are of the part: digits that stand on another part are told."""
    own = Path(shutil.copytree(rendered, tmp_path / "day"))
    added(own, 'shape = "square"\nlook = 0.0')
    assert run(["render", "go", "--trial", str(own)]) == 0
    (own / "clips" / "go.mp4").replace(own / "clips" / "go-square.mp4")
    code, verdict = answered(capsys, "audit", str(own / "clips" / "go-square.mp4"))
    assert code == 1
    found = [one["sort"] for piece in verdict["pieces"] for one in piece["disagreements"]]
    assert "picture" in found


def test_the_sheet_says_shape_and_look(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The plain name stands for what the sheet says, whether or not it is asked for once more."""
    added(folder, 'shape = "square"\nlook = 1.0')
    for words in ((), ("--shape", "square")):
        code, said = answered(capsys, "render", "go", "--trial", str(folder), *words)
        assert code == 0
        (clip,) = said["clips"]
        assert Path(clip["clip"]) == folder / "clips" / "go.mp4"
        facts = read_ledger(Path(clip["ledger"])).facts
        assert facts["crop_px"] == [448, 0, 576, 576]


def test_look_holds_for_a_shape_that_is_asked_for(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A sheet that says where to look, and leaves the shape to whoever renders."""
    added(folder, "look = 0.0")
    _, said = answered(capsys, "render", "go", "--shape", "upright", "--trial", str(folder))
    (clip,) = said["clips"]
    assert Path(clip["clip"]).name == "go-upright.mp4"
    assert read_ledger(Path(clip["ledger"])).facts["crop_px"] == [0, 0, 324, 576]
    _, said = answered(capsys, "render", "go", "--trial", str(folder), "--quality", "draft")
    (clip,) = said["clips"]
    assert (probe(Path(clip["clip"])).width, Path(clip["clip"]).name) == (1024, "go-draft.mp4")
    assert read_ledger(Path(clip["ledger"])).facts["crop_px"] is None


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('shape = "tall"', "'tall' is not allowed here"),
        ('shape = "square"\nlook = 1.5', "look: 1.5 is more than 1.0"),
        ('shape = "square"\nlook = -0.1', "look: -0.1 is less than 0.0"),
        ('shape = "square"\nlook = nan', "look: nan is not a finite number"),
        ('shape = "square"\nlook = true', "look: True is not a number"),
    ],
)
def test_what_the_sheet_cannot_say_is_told(
    lines: str, said: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said in refused(capsys, "render", "go", "--trial", str(added(folder, lines)))[1]


def test_too_few_pixels_are_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make_film(folder / "bow.mp4", Film(frames=14 * RATE, width=640, height=360, sound=(),
                                       time_base=Fraction(1, 12800), steps=(512,),
                                       options={"preset": "ultrafast", "g": "25"}))  # fmt: skip
    _, said = refused(capsys, "render", "go", "--shape", "upright", "--trial", str(folder))
    assert "upright leaves 202×360 of the picture's 640×360 pixels" in said
    assert not list(folder.rglob("go*"))


def edited(path: Path, clips: list[Path], size: tuple[int, int]) -> Path:
    """A film that an editor made of clips: one after the other, as large as the frame allows, on
    black, encoded anew."""
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=RATE, options={"preset": "veryfast", "crf": "20"})
        video.width, video.height, video.pix_fmt = *size, "yuv420p"
        number = 0
        for clip in clips:
            with av.open(str(clip)) as film:
                for frame in film.decode(video=0):
                    picture = placed(frame, size)
                    picture.pts, picture.time_base = number, Fraction(1, RATE)
                    out.mux(video.encode(picture))
                    number += 1
        out.mux(video.encode(None))
    return path


def placed(frame: av.VideoFrame, size: tuple[int, int]) -> av.VideoFrame:
    """A picture in the middle of a larger one, scaled up to its height or width."""
    scale = min(size[0] / frame.width, size[1] / frame.height)
    wide, high = (2 * round(scale * side / 2) for side in (frame.width, frame.height))
    inner = planes_of(frame.reformat(wide, high, "yuv420p", interpolation="BICUBIC"))
    whole = av.VideoFrame(*size, "yuv420p")
    for plane, part, black in zip(planes_of(whole), inner, (16, 128, 128), strict=True):
        plane[:] = black
        top, left = (plane.shape[0] - part.shape[0]) // 2, (plane.shape[1] - part.shape[1]) // 2
        plane[top : top + part.shape[0], left : left + part.shape[1]] = part
    return whole


@pytest.mark.parametrize(("shape", "size"), [("upright", (486, 864)), ("square", (486, 864))])
def test_an_edited_film_finds_such_a_clip_again(
    shape: str,
    size: tuple[int, int],
    rendered: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Scaled up by half and more, or in the middle of a higher picture; the recording and the clip
    of the other shape are there to be taken for it."""
    clip = rendered / "clips" / f"go-{shape}.mp4"
    film = edited(tmp_path / "film.mp4", [clip], size)
    code, verdict = answered(capsys, "audit", str(film), "--against", str(rendered))
    assert (code, verdict["outcome"]) == (0, "agrees"), verdict["line"]
    assert {piece["clip"] for piece in verdict["pieces"]} == {f"go-{shape}"}
    shown = sum(np.diff(piece["frames"])[0] for piece in verdict["pieces"])
    assert shown >= 0.9 * verdict["counts"]["frames"]
