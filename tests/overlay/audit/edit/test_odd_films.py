"""What else comes back from an editor, and what was never cut from the trial's footage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from at_sea import HIGH, WIDE, Gray, Sea, World, write_film

from overlay.audit.edit import Shot, clip_source, find_shots, recording_source
from sync.errors import FootageError
from sync.media import probe

Encode = Callable[..., Path]
FIRST = 60


def barred(picture: Gray) -> Gray:
    out = picture.copy()
    out[:44] = out[-44:] = 16
    return out


def nearer(picture: Gray) -> Gray:
    return np.asarray(cv2.resize(picture[36:324, 64:576], (WIDE, HIGH)), np.uint8)


def regraded(picture: Gray) -> Gray:
    return np.clip(230 * (picture / 255.0) ** 0.7 + 8, 0, 255).astype(np.uint8)


def larger(picture: Gray) -> Gray:
    return np.asarray(cv2.resize(picture, (960, 540)), np.uint8)


def in_a_corner(picture: Gray) -> Gray:
    out = np.full((HIGH, WIDE), 16, np.uint8)
    out[170:350, 310:630] = cv2.resize(picture, (320, 180), interpolation=cv2.INTER_AREA)
    return out


@pytest.mark.parametrize(
    ("change", "scale", "left_px", "top_px"),
    [
        (barred, 1.0, 0.0, 0.0),
        (nearer, 1.25, -80.0, -45.0),
        (regraded, 1.0, 0.0, 0.0),
        (larger, 1.5, 0.0, 0.0),
        (in_a_corner, 0.5, 310.0, 170.0),
    ],
    ids=["letterbox", "zoom", "regraded", "larger", "smaller, off the middle"],
)
def test_pictures_that_were_changed_are_known(
    change: Callable[[Gray], Gray],
    scale: float,
    left_px: float,
    top_px: float,
    world: World,
    encoded_twice: Encode,
) -> None:
    pictures = world.pictures("launch")[FIRST : FIRST + 50]
    (shot,) = find_shots(encoded_twice([change(p) for p in pictures]), world.sources())
    assert shot.source == "launch"
    assert shot.source_frames.tolist() == list(range(FIRST, FIRST + 50))
    assert shot.framing.scale_x == pytest.approx(scale, abs=0.003)
    assert shot.framing.scale_y == pytest.approx(scale, abs=0.003)
    assert shot.framing.left_px == pytest.approx(left_px, abs=1.0)
    assert shot.framing.top_px == pytest.approx(top_px, abs=1.0)


@pytest.mark.parametrize(
    ("rate_hz", "speed"), [(15, 1.0), (24, 1.0), (30, 1.37), (30, 0.25)], ids=str
)
def test_rates_and_speeds(rate_hz: int, speed: float, world: World, encoded_twice: Encode) -> None:
    ought = [FIRST + int(k / rate_hz * speed * 30 + 1e-9) for k in range(48)]
    pictures = world.pictures("launch")
    (shot,) = find_shots(encoded_twice([pictures[n] for n in ought], rate_hz), world.sources())
    assert shot.source == "launch"
    assert np.abs(shot.source_frames - np.array(ought)).max() <= 1
    assert shot.speed == pytest.approx(speed, rel=0.01)


def test_frames_blended_for_half_speed(world: World, encoded_twice: Encode) -> None:
    pictures = world.pictures("launch")
    ought = [100 + k // 2 for k in range(70)]
    film = [
        cv2.addWeighted(pictures[n], 0.5, pictures[n + k % 2], 0.5, 0) for k, n in enumerate(ought)
    ]
    (shot,) = find_shots(encoded_twice(film), world.sources())
    assert shot.source == "launch"
    assert np.abs(shot.source_frames - np.array(ought)).max() <= 1
    assert shot.speed == 0.5


def test_a_picture_that_is_held(world: World, encoded_twice: Encode) -> None:
    picture = world.pictures("launch")[100]
    (shot,) = find_shots(encoded_twice([picture] * 40), world.sources())
    assert shot.source == "launch"
    assert np.abs(shot.source_frames - 100).max() <= 1
    assert shot.speed == 0.0


def test_a_fade_belongs_to_no_shot(world: World, encoded_twice: Encode) -> None:
    a, b = world.pictures("launch")[50:130], world.pictures("chase")[100:180]
    film = list(a[:60])
    for n in range(20):
        share = (n + 1) / 21
        film.append(cv2.addWeighted(a[60 + n], 1 - share, b[n], share, 0))
    film += b[20:]
    first, second = find_shots(encoded_twice(film), world.sources())
    assert (first.source, second.source) == ("launch", "chase")
    assert first.frames.start == 0
    assert 58 <= first.frames.stop <= 63
    assert 77 <= second.frames.start <= 82
    assert second.frames.stop == len(film)
    assert (first.source_frames == 50 + np.array(first.frames)).all()
    assert np.abs(second.source_frames - 40 - np.array(second.frames)).max() <= 1


def test_without_the_clip_its_ledger_is_enough(world: World, encoded_twice: Encode) -> None:
    sources = [
        clip_source(name, world.folder / "gone.mp4", path, size_px=(WIDE, HIGH))
        for name, path in world.ledgers.items()
    ]
    assert all(source.film is None for source in sources)
    pictures = world.pictures("launch")
    film = [*pictures[100:160], *(Sea(5).picture(n) for n in range(50))]
    mine, other = find_shots(encoded_twice(film), sources)
    assert mine.source == "launch"
    assert np.abs(mine.source_frames - np.arange(100, 160)).max() <= 1
    assert mine.doubt_frames <= 3
    assert other.kind == "elsewhere"


def test_a_still_scene_is_not_placed(world: World, tmp_path: Path, encoded_twice: Encode) -> None:
    """A quay on which nothing moves, filmed for five seconds: which of them, nobody can say."""
    quay = Sea(9).picture(0)
    recording = write_film(tmp_path / "quay.mp4", [quay] * 150, 30, 20)
    sources = [*world.sources(), recording_source("quay", probe(recording))]
    (shot,) = find_shots(encoded_twice([quay] * 45), sources)
    assert shot.kind == "alike"
    assert shot.source is None
    assert shot.source_frames is None
    assert {one.source for one in shot.alike} == {"quay"}
    assert "nothing moves" in shot.why


def elsewhere(kind: str) -> list[Gray]:
    if kind == "black":
        return [np.full((HIGH, WIDE), 16, np.uint8)] * 40
    if kind == "card":
        card = np.full((HIGH, WIDE), 40, np.uint8)
        cv2.putText(card, "THE END", (120, 200), cv2.FONT_HERSHEY_SIMPLEX, 3, (220,), 8)
        return [card] * 40
    if kind == "noise":
        rng = np.random.default_rng(4)
        return [rng.integers(16, 235, (HIGH, WIDE)).astype(np.uint8) for _ in range(40)]
    sea = Sea(int(kind), deck=int(kind) % 2 == 0)
    return [sea.picture(1.5 * n) for n in range(60)]


@pytest.mark.parametrize("kind", ["black", "card", "noise", "40", "41"])
def test_what_is_from_elsewhere_is_never_placed(
    kind: str, world: World, encoded_twice: Encode
) -> None:
    """Numbers are other days at sea, with and without the same boat's deck in front."""
    shots = find_shots(encoded_twice(elsewhere(kind)), world.sources())
    assert shots
    assert {shot.kind for shot in shots} <= {"elsewhere", "short"}


def test_a_flash_of_frames_is_too_short_to_say(world: World, encoded_twice: Encode) -> None:
    pictures = world.pictures("launch")
    film: Sequence[Gray] = [*pictures[:40], *pictures[200:203], *pictures[40:80]]
    shots: tuple[Shot, ...] = find_shots(encoded_twice(film), world.sources())
    assert [shot.kind for shot in shots] == ["placed", "short", "placed"]
    assert len(shots[1].frames) == 3
    assert "cannot say" in shots[1].why
    assert shots[2].source_frames[0] == 40


def test_no_source_at_all(encoded_twice: Encode) -> None:
    (shot,) = find_shots(encoded_twice([Sea(3).picture(n) for n in range(30)]), ())
    assert shot.kind == "elsewhere"


def test_progress_is_told(world: World, encoded_twice: Encode) -> None:
    told: list[tuple[str, float, float]] = []
    film = encoded_twice(world.pictures("launch")[:60])
    find_shots(film, world.sources(), lambda *step: told.append(step))
    assert {stage for stage, _, _ in told} == {"read the film", "place shots"}
    assert told[-1][1] == told[-1][2] == 60


def test_a_clip_that_is_not_the_ledgers_own_is_refused(world: World) -> None:
    with pytest.raises(FootageError, match="360 frames and its ledger has 300"):
        clip_source("launch", world.paths["bow"], world.ledgers["launch"])


def test_a_clip_that_is_gone_with_no_size_is_refused(world: World) -> None:
    with pytest.raises(FootageError, match="is not there"):
        clip_source("launch", world.folder / "gone.mp4", world.ledgers["launch"])


def test_prints_of_recordings_are_kept(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    footage = probe(world.paths["chase"])
    first = recording_source("chase", footage)

    def decoded(*_: object, **__: object) -> None:
        raise AssertionError("it was decoded a second time")

    monkeypatch.setattr("overlay.audit.edit.recording_prints.small_frames", decoded)
    again = recording_source("chase", footage)
    assert (first.cells == again.cells).all()
    with pytest.raises(AssertionError, match="second time"):
        recording_source("bow", replace(probe(world.paths["bow"])))
