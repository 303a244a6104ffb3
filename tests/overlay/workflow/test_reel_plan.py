"""Where the pieces of a reel lie, to the frame, and which do not fit."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from overlay.errors import SheetError
from overlay.sheet.reels import Reel, ReelPart
from overlay.workflow.reel_plan import (
    Card,
    Change,
    Piece,
    form_of,
    in_frames,
    lay,
    stretch_of,
    upright_size,
)
from sync.media import frame_times, probe

RATE = Fraction(30000, 1001)
SHEET = Path("trial.toml")


def piece(frames: int, *, fade: int = 0, overlap: int = 0) -> Piece:
    return Piece(
        kind="card",
        name="title",
        where="reels, the day, part 1 (card title)",
        path=SHEET,
        source=Card(image=np.zeros((2, 2, 3), np.uint8)),
        frames=frames,
        fade=fade,
        overlap=overlap,
    )


def test_pieces_stand_one_behind_the_other() -> None:
    laid = lay([piece(90, fade=15), piece(240, fade=10), piece(60)], path=SHEET, rate_hz=RATE)
    assert [(one.start, one.stop) for one in laid] == [(0, 90), (90, 330), (330, 390)]
    assert laid[1].coming == laid[1].going == Change(over=False, frames=10)
    assert laid[2].coming.frames == 0


def test_an_overlap_is_shared_and_takes_the_place_of_both_fades() -> None:
    first, second = lay(
        [piece(90, fade=15), piece(60, fade=15, overlap=20)], path=SHEET, rate_hz=RATE
    )
    assert (first.stop, second.start, second.stop) == (90, 70, 130)
    assert first.going == second.coming == Change(over=True, frames=20)
    assert first.coming == second.going == Change(over=False, frames=15)


@pytest.mark.parametrize(
    ("pieces", "said"),
    [
        ([piece(29, fade=15)], "shorter than the fade of 0.5"),
        ([piece(40), piece(50, fade=25, overlap=30)], "the overlap of 1.0"),
        ([piece(100), piece(50, overlap=30), piece(50, overlap=30)], "and the overlap of"),
        ([piece(20), piece(90, overlap=30)], "it is shown for 0.6673 s"),
    ],
)
def test_a_piece_shorter_than_its_changes_is_refused(pieces: list[Piece], said: str) -> None:
    with pytest.raises(SheetError, match=said) as caught:
        lay(pieces, path=SHEET, rate_hz=RATE)
    assert "part 1" in str(caught.value)


def test_a_piece_may_be_all_change() -> None:
    (one,) = lay([piece(30, fade=15)], path=SHEET, rate_hz=RATE)
    assert one.stop == 30


def test_lengths_are_whole_frames() -> None:
    assert in_frames(5.0, RATE) == 150
    assert in_frames(0.1, Fraction(25)) == 2
    assert in_frames(1 / 3, Fraction(30)) == 10


def test_a_stretch_is_counted_from_the_clips_first_frame(shoot: Callable[..., Path]) -> None:
    """A late picture is no part of the clip's length: 60 frames at 30, the first at 0.2 s."""
    film = probe(shoot(frames=60, first_pts=3072))
    times = frame_times(film)
    where = {"path": SHEET, "where": "part 1"}
    stretch, length_s = stretch_of(ReelPart(clip="a"), film, times, **where)
    assert (stretch.start_s, length_s) == (Fraction(1, 5), 2)
    part = ReelPart(clip="a", start="0.5 s", stop="1.25 s")
    stretch, length_s = stretch_of(part, film, times, **where)
    assert (stretch.start_s, length_s) == (Fraction(7, 10), Fraction(3, 4))
    for beyond in ({"start": "2 s"}, {"stop": "2.1 s"}):
        with pytest.raises(SheetError, match=r"is 2\.00 s long, and this part of it runs from"):
            stretch_of(ReelPart(clip="a", **beyond), film, times, **where)


def test_size_and_rate_follow_the_first_clip(shoot: Callable[..., Path]) -> None:
    reel = Reel(name="a", parts=["card title"])
    assert form_of(reel, None) == ((1920, 1080), Fraction(30))
    turned = probe(shoot("turned.mp4", rotation=90, sound=()))
    assert form_of(reel, turned) == ((180, 320), Fraction(30))
    narrow = probe(shoot("narrow.mp4", aspect=Fraction(4, 3), steps=(615,), sound=()))
    assert upright_size(narrow) == (Fraction(1280, 3), Fraction(180))
    assert form_of(reel, narrow) == ((426, 180), Fraction(25))
    slow = probe(shoot("slow.mp4", steps=(1536,), frames=8, sound=()))
    assert form_of(reel, slow)[1] == Fraction(30)
    own = Reel(name="a", parts=["card title"], size="640x480", rate=29.97)
    assert form_of(own, turned) == ((640, 480), RATE)
