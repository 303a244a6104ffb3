"""What a reviewer meets: a clip of a small trial is rendered, audited, falsified, audited again."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest
from small_trial import RATE, answered, ledger_of, make_trial, refused, rewrite_facts, rewrite_rows

from overlay.cli.app import run
from overlay.ledger import read_ledger
from overlay.workflow.auditing.mark import AUDITED
from overlay.workflow.clip_facts import NOT_AUDITED
from overlay.workflow.hashes import sha256_of


@pytest.fixture(scope="module")
def rendered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The trial with its clip; the film is a moving texture made for it."""
    folder = make_trial(tmp_path_factory.mktemp("audit") / "day")
    assert run(["render", "go", "--trial", str(folder)]) == 0
    return folder


@pytest.fixture
def folder(rendered: Path, tmp_path: Path) -> Path:
    """A copy of it, with the times of its files."""
    return Path(shutil.copytree(rendered, tmp_path / "day"))


def clip_of(folder: Path) -> Path:
    return folder / "clips" / "go.mp4"


def pairs(verdict: dict[str, Any]) -> set[tuple[str, str]]:
    return {tuple(p) for piece in verdict["pieces"] for d in piece["disagreements"]
            for p in d["pairs"]}  # fmt: skip


def test_an_honest_clip_agrees(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every character read, every value held against the log, and a page and a document left."""
    code, verdict = answered(capsys, "audit", str(clip_of(folder)))
    assert (code, verdict["outcome"]) == (0, "agrees")
    assert verdict["pieces"][0]["disagreements"] == []
    assert verdict["counts"]["unread"] == 0
    assert verdict["counts"]["characters"] > 1500
    assert verdict["counts"]["frames_read"] == verdict["counts"]["frames"]
    assert verdict["pieces"][0]["tie_check"]["outcome"] == "none available"
    assert {one["state"] for one in verdict["pieces"][0]["inputs"]} == {"same"}
    page = (folder / "clips" / "go.audit.html").read_text(encoding="utf-8")
    assert verdict["line"] in page
    assert "none available" in page
    document = json.loads((folder / "clips" / "go.audit.json").read_text(encoding="utf-8"))
    assert document["film_sha256"] == sha256_of(clip_of(folder))
    assert document["counts"] == verdict["counts"]


def test_a_frame_now_and_then_is_enough_for_a_look(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, verdict = answered(capsys, "audit", str(clip_of(folder)), "--every", "0.5s")
    assert code == 0
    assert 13 <= verdict["counts"]["frames_read"] <= 17


def test_a_digit_changed_in_the_ledger_is_found(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On one frame only; picture and logs agree, and the ledger stands alone."""
    ledger = ledger_of(clip_of(folder))
    other = {"1": "2"}
    rewrite_rows(ledger, "text", lambda text: text[:-1] + other.get(text[-1], "1"), slice(100, 101))
    code, verdict = answered(capsys, "audit", str(clip_of(folder)))
    assert (code, verdict["outcome"]) == (1, "disagrees")
    (found,) = verdict["pieces"][0]["disagreements"]
    assert {tuple(pair) for pair in found["pairs"]} == {("picture", "ledger"), ("ledger", "logs")}
    row = read_ledger(ledger_of(clip_of(folder))).rows.iloc[100]
    assert found["frames"] == [row["frame"], row["frame"]]
    assert found["ledger"] == row["text"]
    assert found["read"] == found["logs"] != row["text"]
    assert found["rows"]


def test_a_log_edited_after_the_render_is_found(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Picture and ledger agree, and the log says otherwise; the edited row is shown."""
    log = folder / "gps.nmea"
    lines = log.read_text().splitlines()
    parts = lines[90].split("*")[0].split(",")
    parts[7] = "33.3"
    body = ",".join(parts)[1:]
    check = 0
    for letter in body:
        check ^= ord(letter)
    lines[90] = f"${body}*{check:02X}"
    log.write_text("\n".join(lines) + "\n")
    code, verdict = answered(capsys, "audit", str(clip_of(folder)))
    assert code == 1
    piece = verdict["pieces"][0]
    assert {one["name"]: one["state"] for one in piece["inputs"]}["log:gps"] == "changed"
    assert pairs(verdict) == {("ledger", "logs"), ("picture", "logs")}
    shown = [row["text"] for found in piece["disagreements"] for row in found["rows"]]
    assert any("33.3" in row for row in shown)


def test_another_tie_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The sidecar was made anew since: the render rests on a tie that does not stand any more."""
    ties = folder / "trial.ties.json"
    document = json.loads(ties.read_text(encoding="utf-8"))
    document["ties"]["footage:bow"]["offset_s"] += 0.5
    ties.write_text(json.dumps(document), encoding="utf-8")
    code, verdict = answered(capsys, "audit", str(clip_of(folder)), "--every", "1s")
    assert code == 1
    states = {one["name"]: one["state"] for one in verdict["pieces"][0]["inputs"]}
    assert states["tie of footage:bow"] == "changed"


def test_a_film_painted_over_is_found(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A speed of one stretch is pasted over that of another, and the clip encoded anew."""
    clip = clip_of(folder)
    rows = read_ledger(ledger_of(clip_of(folder))).rows
    speed = rows[rows["instrument"] == "speed"].set_index("frame")
    frames = pictures(clip)
    early, late = 90, 140
    assert speed["text"][early] != speed["text"][late]
    left, top, right, bottom = extent(speed)
    for number in range(late, late + 5):
        frames[number][top:bottom, left:right] = frames[early][top:bottom, left:right]
    encode(clip, frames)
    code, verdict = answered(capsys, "audit", str(clip))
    assert code == 1
    found = [d for d in verdict["pieces"][0]["disagreements"] if d["instrument"] == "speed"]
    assert {n for d in found for n in range(d["frames"][0], d["frames"][1] + 1)} == set(
        range(late, late + 5)
    )
    assert {d["read"] for d in found} == {speed["text"][early]}
    assert pairs(verdict) == {("picture", "ledger"), ("picture", "logs")}


def test_what_cannot_be_read_is_never_agreement(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A grey patch over the speed: nothing is wrong, and nothing can be signed for."""
    clip = clip_of(folder)
    frames = pictures(clip)
    rows = read_ledger(ledger_of(clip_of(folder))).rows
    speed = rows[rows["instrument"] == "speed"]
    left, top, right, bottom = extent(speed)
    for frame in frames:
        frame[top - 4 : bottom + 2, left - 4 : right] = 128
    encode(clip, frames)
    code, verdict = answered(capsys, "audit", str(clip), "--every", "0.5s")
    assert (code, verdict["outcome"]) == (3, "cannot say")
    states = {strip["instrument"] + strip["item"]: {s for *_, s in strip["stretches"]}
              for strip in verdict["pieces"][0]["strips"]}  # fmt: skip
    assert states["speedvalue"] == {"unread"}


def test_an_edited_film_is_taken_apart(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two pieces of the clip out of order, the second smaller with bars, encoded anew."""
    frames = pictures(clip_of(folder))
    film = tmp_path / "film.mp4"
    small = [boxed(frame) for frame in frames[40:90]]
    encode(film, [*frames[100:170], *small])
    code, verdict = answered(capsys, "audit", str(film), "--against", str(folder))
    assert code == 0, verdict["line"]
    first, second = verdict["shots"]
    assert first["source"] == second["source"] == "clip go"
    assert "frames 100 to 169" in first["sentence"]
    assert "frames 40 to 89" in second["sentence"]
    assert [piece["counts"]["unread"] for piece in verdict["pieces"]] == [0, 0]


def test_the_mark_is_given_only_where_all_agrees(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The tag changes in its place, and nothing else of the file."""
    clip = clip_of(folder)
    before = clip.read_bytes()
    assert comment(clip).endswith(NOT_AUDITED)
    rewrite_rows(ledger_of(clip_of(folder)), "text", lambda _: "99.9", slice(50, 60))
    assert run(["audit", str(clip), "--mark"]) == 1
    assert clip.read_bytes() == before
    assert "not marked" in capsys.readouterr().out


def test_a_marked_clip_says_so(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    clip = clip_of(folder)
    before = clip.read_bytes()
    assert run(["audit", str(clip), "--mark"]) == 0
    capsys.readouterr()
    assert comment(clip).endswith(AUDITED)
    after = clip.read_bytes()
    assert len(after) == len(before)
    assert sum(a != b for a, b in zip(before, after, strict=True)) <= len(AUDITED)
    code, verdict = answered(capsys, "audit", str(clip), "--mark")
    assert (code, verdict["outcome"]) == (0, "agrees")
    code, said = refused(capsys, "audit", str(clip), "--every", "0.5s", "--mark")
    assert code == 2
    assert "every frame" in said


def test_another_picture_under_the_digits_is_found(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The plates are left as they are, and everything around them is grey."""
    clip = clip_of(folder)
    frames = pictures(clip)
    layout = read_ledger(ledger_of(clip_of(folder))).facts["layout"]
    left, top, wide, high = layout["fields"][0]["plate_px"]
    for frame in frames[75:]:
        plate = frame[top : top + high, left : left + wide].copy()
        frame[:] = 100
        frame[top : top + high, left : left + wide] = plate
    encode(clip, frames)
    code, verdict = answered(capsys, "audit", str(clip), "--every", "0.5s")
    assert code == 1
    (found,) = verdict["pieces"][0]["disagreements"]
    assert found["sort"] == "picture"
    assert found["frames"][0] == 75


@pytest.mark.parametrize("left_out", ["field", "inputs", "window", "gone"])
def test_what_a_ledger_leaves_out_is_never_signed_for(
    folder: Path, capsys: pytest.CaptureFixture[str], left_out: str
) -> None:
    """No field for a number, no hashes, a shorter window, a log that is gone: cannot say."""

    def change(facts: dict[str, Any]) -> None:
        if left_out == "field":
            facts["layout"]["fields"] = []
        elif left_out == "inputs":
            del facts["inputs"]
        elif left_out == "window":
            facts["layout"]["shown_utc_s"][1] -= 3
        else:
            facts["inputs"]["log:wind"] = "0" * 64

    rewrite_facts(ledger_of(clip_of(folder)), change)
    code, verdict = answered(capsys, "audit", str(clip_of(folder)), "--every", "0.5s")
    assert (code, verdict["outcome"]) == (3, "cannot say"), verdict["line"]


def test_a_clip_carried_elsewhere_needs_its_sheet_named(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    away = tmp_path / "a b" / "c" / "d"
    away.mkdir(parents=True)
    for path in (clip_of(folder), ledger_of(clip_of(folder))):
        shutil.copy(path, away / path.name)
    code, said = refused(capsys, "audit", str(away / "go.mp4"))
    assert code == 2
    assert "--against" in said
    code, verdict = answered(
        capsys, "audit", str(away / "go.mp4"), "--against", str(folder), "--every", "1s"
    )
    assert (code, verdict["outcome"]) == (0, "agrees")
    assert verdict["shots"] == []


def test_bad_input_is_one_sentence(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clip = clip_of(folder)
    code, said = refused(capsys, "audit", str(folder / "bow.mp4"))
    assert code == 2
    assert "--against" in said
    code, said = refused(capsys, "audit", str(clip), "--report", str(ledger_of(clip_of(folder))))
    assert code == 2
    code, said = refused(capsys, "audit", str(clip), "--report", str(tmp_path / "page.txt"))
    assert code == 2
    assert ".html" in said
    for odd in ("0s", "-1s", "often"):
        code, said = refused(capsys, "audit", str(clip), f"--every={odd}")
        assert code == 2
    ledger_of(clip_of(folder)).write_bytes(b"PAR1 but not")
    code, said = refused(capsys, "audit", str(clip))
    assert code == 2
    assert "ledger" in said
    code, said = refused(capsys, "audit", str(tmp_path / "nothing.mp4"))
    assert code == 2
    (tmp_path / "file").write_text("in the way")
    code, said = refused(
        capsys, "audit", str(clip), "--report", str(tmp_path / "file" / "page.html")
    )
    assert code in {1, 2}


def extent(rows: Any) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of all places of a number."""
    left, top = (int(rows[edge].min()) for edge in ("x_px", "y_px"))
    right = int((rows["x_px"] + rows["width_px"]).max())
    return left, top, right, int((rows["y_px"] + rows["height_px"]).max())


def comment(clip: Path) -> str:
    with av.open(str(clip)) as film:
        return str(film.metadata["comment"])


def pictures(clip: Path) -> list[np.ndarray]:
    """All frames of a clip in R'G'B'."""
    with av.open(str(clip)) as film:
        return [frame.to_ndarray(format="rgb24") for frame in film.decode(video=0)]


def boxed(frame: np.ndarray) -> np.ndarray:
    """A frame at 0.8 of its size, with bars around it."""
    high, wide = frame.shape[:2]
    across, down = wide * 8 // 10, high * 8 // 10
    out = np.zeros_like(frame)
    top, left = (high - down) // 2, (wide - across) // 2
    small = cv2.resize(frame, (across, down), interpolation=cv2.INTER_AREA)
    out[top : top + down, left : left + across] = small
    return out


def encode(path: Path, frames: list[np.ndarray]) -> None:
    """A film of these frames at CRF 20, 25 a second."""
    high, wide = frames[0].shape[:2]
    with av.open(str(path), "w") as film:
        stream = film.add_stream("libx264", rate=RATE, options={"crf": "20", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = wide, high, "yuv420p"
        for number, picture in enumerate(frames):
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
            frame.pts = number
            film.mux(stream.encode(frame))
        film.mux(stream.encode())
