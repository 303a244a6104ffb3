"""The main road of an editor: a transparent render over graded footage, audited by what it shows.

The day is made here: a boat's GNSS log, and a sea filmed from its bow (`at_sea`); films are put
together with NumPy out of that footage and the pictures of the transparent renders.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest
from at_sea import Sea, luma_of, write_film
from numpy.typing import NDArray
from small_trial import DAY, launch, rewrite_facts

from overlay.cli.app import run
from overlay.ledger import read_ledger

Picture = NDArray[np.uint8]

FOOTAGE_HZ, FOOTAGE_FRAMES = 30, 360
BEGINS_S = 2.0
"""Seconds of the minute at which the footage begins."""

SIZE, LARGER_SIZE = (960, 540), (1280, 720)
"""Of films: that of a render, and one that a render has to be made smaller for."""


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A transparent render: its film, its ledger, and when its first frame stands in the minute."""

    film: Path
    ledger: Path
    rate_hz: Fraction
    begins_s: float

    def pictures(self, seconds: Sequence[float]) -> list[Picture | None]:
        """What stands at seconds of the minute that rise; they are too many to keep them all."""
        numbers = [round((second - self.begins_s) * self.rate_hz) for second in seconds]
        kept: dict[int, Picture] = {}
        with av.open(str(self.film)) as film:
            for number, frame in enumerate(film.decode(video=0)):
                if number > max(numbers):
                    break
                if number in numbers:
                    kept[number] = frame.to_ndarray(format="rgba")
        return [kept.get(number) for number in numbers]


@dataclass(frozen=True, kw_only=True)
class Day:
    """A trial with its footage and three transparent renders of its one launch."""

    folder: Path
    footage: list[Picture]
    same: Drawn
    larger: Drawn
    slower: Drawn


def draw(folder: Path, size: str, rate: str) -> Drawn:
    clips = folder / "clips"
    before = set(clips.glob("*")) if clips.is_dir() else set()
    words = ["transparent", "launch 1", "--trial", str(folder), "--size", size, "--rate", rate]
    assert run([*words, "--handles", "1 s"]) == 0
    made = set(clips.glob("*")) - before
    (ledger,) = (path for path in made if path.suffix == ".parquet")
    (film,) = made - {ledger}
    alone = read_ledger(ledger).facts["transparent"]
    return Drawn(
        film=film,
        ledger=ledger,
        rate_hz=Fraction(alone["rate_hz"]),
        begins_s=float(alone["start_utc_s"]) % 60,
    )


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Day:
    folder = tmp_path_factory.mktemp("laid") / "day"
    folder.mkdir()
    (folder / "gps.nmea").write_text(launch())
    (folder / "trial.toml").write_text(DAY, encoding="utf-8")
    sea = Sea(11)
    pictures = [sea.picture(n) for n in range(FOOTAGE_FRAMES)]
    write_film(folder / "bow.mp4", pictures, FOOTAGE_HZ, 20)
    return Day(
        folder=folder,
        footage=luma_of(folder / "bow.mp4"),
        same=draw(folder, "960x540", "30"),
        larger=draw(folder, "1920x1080", "30"),
        slower=draw(folder, "1280x720", "25"),
    )


@pytest.fixture
def folder(day: Day, tmp_path: Path) -> Path:
    """The trial's files, without its renders."""
    ignored = shutil.ignore_patterns("clips")
    copied = Path(shutil.copytree(day.folder, tmp_path / "day", ignore=ignored))
    (copied / "clips").mkdir()
    return copied


def lies_there(folder: Path, *renders: Drawn) -> None:
    """Renders that the trial's folder has."""
    for drawn in renders:
        shutil.copy2(drawn.ledger, folder / "clips")
        shutil.copy2(drawn.film, folder / "clips")


CODES = np.arange(256)
GRADE = (232 * ((CODES - 16) / 219).clip(0, 1) ** 0.8 + 10)[:, None] * np.array([0.97, 1.0, 1.04])
"""Gamma, gain and black level as a colourist might set them, and a little colour, by codes."""


def graded(luma: Picture) -> NDArray[np.float32]:
    return GRADE.astype(np.float32)[luma]


def laid(
    day: Day,
    drawn: Drawn | None,
    seconds: Sequence[float],
    *,
    late_s: float = 0.0,
    size: tuple[int, int] = SIZE,
) -> list[Picture]:
    """A film: at each second of the minute the footage of then, graded, under the instruments."""
    film = []
    over_all: list[Picture | None] = [None] * len(seconds)
    if drawn is not None:
        over_all = drawn.pictures([second - late_s for second in seconds])
    for second, over in zip(seconds, over_all, strict=True):
        luma = day.footage[int((second - BEGINS_S) * FOOTAGE_HZ + 1e-6)]
        picture = cv2.resize(graded(luma), size, interpolation=cv2.INTER_CUBIC)
        if over is not None:
            scaled = cv2.resize(over, size, interpolation=cv2.INTER_AREA).astype(np.float32)
            share = scaled[..., 3:] / 255
            picture = picture * (1 - share) + scaled[..., :3] * share
        film.append(np.clip(picture, 0, 255).astype(np.uint8))
    return film


def times(from_s: float, frames: int, rate_hz: int = 30) -> list[float]:
    return [from_s + k / rate_hz for k in range(frames)]


def encode(path: Path, frames: Sequence[Picture], rate_hz: int = 30) -> Path:
    """A film of these frames at CRF 21."""
    high, wide = frames[0].shape[:2]
    with av.open(str(path), "w") as film:
        options = {"crf": "21", "preset": "veryfast"}
        stream = film.add_stream("libx264", rate=rate_hz, options=options)
        stream.width, stream.height, stream.pix_fmt = wide, high, "yuv420p"
        for number, picture in enumerate(frames):
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
            frame.pts = number
            film.mux(stream.encode(frame))
        film.mux(stream.encode())
    return path


Audit = Callable[[Path], tuple[int, dict[str, Any]]]


@pytest.fixture
def audit(folder: Path, capsys: pytest.CaptureFixture[str]) -> Audit:
    def of(film: Path) -> tuple[int, dict[str, Any]]:
        capsys.readouterr()
        code = run(["audit", str(film), "--against", str(folder), "--json"])
        return code, json.loads(capsys.readouterr().out)

    return of


def test_instruments_laid_over_footage_agree(
    day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    """Every character read, and the footage under it placed by what the plates leave of it."""
    lies_there(folder, day.same)
    code, verdict = audit(encode(tmp_path / "f.mp4", laid(day, day.same, times(7.0, 60))))
    assert code == 0, verdict["line"]
    (shot,) = verdict["shots"]
    assert shot["source"] == "recording bow"
    assert "frames 150 to 209" in shot["sentence"]
    assert "the instruments of launch 1 laid over it" in shot["sentence"]
    (piece,) = verdict["pieces"]
    assert piece["disagreements"] == []
    assert piece["frames"] == [0, 60]
    assert piece["counts"]["unread"] == 0
    assert piece["counts"]["held"] > 60


def test_a_larger_render_made_smaller_with_the_film(
    day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    lies_there(folder, day.larger)
    code, verdict = audit(
        encode(tmp_path / "f.mp4", laid(day, day.larger, times(8.0, 40), size=LARGER_SIZE))
    )
    assert code == 0, verdict["line"]
    assert verdict["pieces"][0]["counts"]["unread"] == 0
    assert Path(verdict["pieces"][0]["ledger_path"]).name == day.larger.ledger.name


@pytest.mark.parametrize("which", ["same", "larger"])
def test_of_two_sizes_of_one_run_either_will_do(
    which: str, day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    """Both say the same at the same places; what matters is that it is read and agrees, once."""
    lies_there(folder, day.same, day.larger)
    size = SIZE if which == "same" else LARGER_SIZE
    film = laid(day, getattr(day, which), times(8.0, 40), size=size)
    code, verdict = audit(encode(tmp_path / "f.mp4", film))
    assert code == 0, verdict["line"]
    (piece,) = verdict["pieces"]
    assert piece["counts"]["unread"] == 0
    assert piece["frames"] == [0, 40]


def test_a_render_of_the_edits_rate_over_footage_of_another(
    day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    """25 frames a second, of footage that has 30; of two rates the film's own is taken."""
    lies_there(folder, day.same, day.slower)
    film = laid(day, day.slower, times(day.slower.begins_s + 2.0, 60, 25))
    code, verdict = audit(encode(tmp_path / "f.mp4", film, 25))
    assert code == 0, verdict["line"]
    (piece,) = verdict["pieces"]
    assert Path(piece["ledger_path"]).name == day.slower.ledger.name
    assert piece["counts"]["unread"] == 0


def test_where_handles_end_inside_a_shot(
    day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    """The shot begins a second before the render does: there is nothing there to be read."""
    lies_there(folder, day.same)
    first = round((day.same.begins_s - 1.0) * 30) / 30
    code, verdict = audit(encode(tmp_path / "f.mp4", laid(day, day.same, times(first, 75))))
    assert code == 0, verdict["line"]
    (piece,) = verdict["pieces"]
    assert piece["frames"][0] == pytest.approx(30, abs=1)
    assert piece["frames"][1] == 75
    assert piece["counts"]["unread"] == 0
    assert f"frames {piece['frames'][0]} to 74" in verdict["shots"][0]["sentence"]


def test_where_the_instruments_are_taken_off_before_the_shot_ends(
    day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    lies_there(folder, day.same)
    film = [*laid(day, day.same, times(7.0, 61)), *laid(day, None, times(7.0 + 61 / 30, 44))]
    code, verdict = audit(encode(tmp_path / "f.mp4", film))
    assert code == 0, verdict["line"]
    (piece,) = verdict["pieces"]
    assert piece["frames"] == [0, 61]
    assert piece["counts"]["unread"] == 0


def test_a_falsified_digit_is_found_where_it_stands(
    day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    """Over five frames the speed of a second and a half before is pasted."""
    lies_there(folder, day.same)
    film = laid(day, day.same, times(7.0, 90))
    rows = read_ledger(day.same.ledger).rows
    speed = rows[rows["instrument"] == "speed"]
    left, top = int(speed["x_px"].min()) - 4, int(speed["y_px"].min()) - 4
    right = int((speed["x_px"] + speed["width_px"]).max()) + 4
    bottom = int((speed["y_px"] + speed["height_px"]).max()) + 4
    for number in range(70, 75):
        film[number][top:bottom, left:right] = film[25][top:bottom, left:right]
    code, verdict = audit(encode(tmp_path / "f.mp4", film))
    assert code == 1
    found = [d for d in verdict["pieces"][0]["disagreements"] if d["instrument"] == "speed"]
    assert {n for d in found for n in range(d["frames"][0], d["frames"][1] + 1)} == set(
        range(70, 75)
    )
    pairs = {tuple(pair) for d in found for pair in d["pairs"]}
    assert pairs == {("picture", "ledger"), ("picture", "logs")}


def test_instruments_laid_half_a_second_late_disagree(
    day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    """Each digit is one that the ledger has, at another time than the footage under it."""
    lies_there(folder, day.same)
    film = laid(day, day.same, times(8.0, 50), late_s=0.5)
    code, verdict = audit(encode(tmp_path / "f.mp4", film))
    assert code == 1
    (piece,) = verdict["pieces"]
    wrong = {n for d in piece["disagreements"] if d["instrument"] == "speed"
             for n in range(d["frames"][0], d["frames"][1] + 1)}  # fmt: skip
    assert len(wrong) > 40


def test_bare_footage_carries_nothing(day: Day, folder: Path, tmp_path: Path, audit: Audit) -> None:
    lies_there(folder, day.same, day.larger)
    code, verdict = audit(encode(tmp_path / "f.mp4", laid(day, None, times(8.0, 60))))
    assert code == 3
    assert verdict["pieces"] == []
    (shot,) = verdict["shots"]
    assert shot["source"] == "recording bow"
    assert "carries no instrument of ours" in shot["sentence"]


def test_all_of_it_in_a_smaller_box(day: Day, folder: Path, tmp_path: Path, audit: Audit) -> None:
    """Footage and instruments together at 0.8, with bars around."""
    lies_there(folder, day.larger)
    film = []
    for picture in laid(day, day.larger, times(8.0, 40), size=(1024, 576)):
        frame = np.zeros((720, 1280, 3), np.uint8)
        frame[72:648, 128:1152] = picture
        film.append(frame)
    code, verdict = audit(encode(tmp_path / "f.mp4", film))
    assert code == 0, verdict["line"]
    assert verdict["pieces"][0]["counts"]["held"] > 30


def test_a_ledger_from_before_there_were_audits_is_named(
    day: Day, folder: Path, tmp_path: Path, audit: Audit
) -> None:
    lies_there(folder, day.same)
    path = folder / "clips" / day.same.ledger.name
    rewrite_facts(path, lambda facts: facts.pop("layout"))
    code, verdict = audit(encode(tmp_path / "f.mp4", laid(day, None, times(8.0, 40))))
    assert code == 3
    (told,) = [text for text in verdict["warnings"] if day.same.ledger.stem[:8] in text]
    assert "render it again" in told
