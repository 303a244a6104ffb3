"""Single frames come upright, in true colours and with square pixels."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from film import number_in

from sync.errors import FootageError
from sync.media import pictures, probe

Shoot = Callable[..., Path]


def test_pictures_come_in_the_order_that_was_asked_for(shoot: Shoot) -> None:
    got = pictures(probe(shoot()), [50, 3, 3], 180)
    assert [p.shape for p in got] == [(180, 320, 3)] * 3
    assert [number_in(p[..., 1]) for p in got] == [50, 3, 3]
    assert not got[0].flags.writeable


def test_a_turned_picture_stands_upright(shoot: Shoot) -> None:
    """The block row lies along the top of the coded picture; turned by 90° counter-clockwise
    it lies along the left side."""
    (got,) = pictures(probe(shoot(rotation=90)), [7], 320)
    assert got.shape == (320, 180, 3)
    assert number_in(np.rot90(got, -1)[..., 1]) == 7


def test_wide_samples_are_made_square(shoot: Shoot) -> None:
    (got,) = pictures(probe(shoot(frames=5, aspect=Fraction(4, 3))), [0], 90)
    assert got.shape[:2] == (90, round(320 * 4 / 3 / 2))


@pytest.mark.parametrize(("matrix", "red"), [(1, (63, 102, 240)), (6, (81, 90, 240))])
def test_red_is_red_in_either_matrix(
    matrix: int, red: tuple[int, int, int], tmp_path: Path
) -> None:
    """Full red as code values of ITU-R BT.709 and BT.601: Y = 16 + 219 Kr, Cr = 240,
    Cb = 128 - 224 Kr / (2 (1 - Kb))."""
    path = tmp_path / "red.mp4"
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=30, options={"crf": "1"})
        video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        context = video.codec_context
        context.colorspace, context.color_range = matrix, 1
        context.color_primaries = context.color_trc = matrix
        frame = av.VideoFrame(64, 64, "yuv420p")
        for plane, value in zip(frame.planes, red, strict=True):
            plane.update(bytes([value]) * plane.buffer_size)
        out.mux(video.encode(frame))
        out.mux(video.encode(None))
    (got,) = pictures(probe(path), [0], 64)
    np.testing.assert_allclose(got[32, 32].astype(int), (255, 0, 0), atol=4)


def test_a_frame_that_is_not_there_is_refused(shoot: Shoot) -> None:
    with pytest.raises(FootageError, match="no frame 60: its frames are 0 to 59"):
        pictures(probe(shoot()), [60], 90)
