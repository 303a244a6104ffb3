"""Small grey copies of all frames: as many as there are, at their times, upright, and right."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from film import Film, make_film

from sync.clock import Span
from sync.errors import FootageError
from sync.media import frame_times, probe
from sync.media.small import small_frames


def test_every_frame_has_its_copy_at_its_own_time(tmp_path: Path) -> None:
    path = make_film(tmp_path / "a.mp4", Film(frames=70, steps=(512, 640, 300)))
    footage = probe(path)
    found = list(small_frames(footage))
    assert [one.t_s for one in found] == frame_times(footage).seconds().tolist()
    assert len(found) == 70
    assert not any(one.stand_in for one in found)


def test_a_stretch_has_the_very_copies_that_the_whole_has(tmp_path: Path) -> None:
    footage = probe(make_film(tmp_path / "a.mp4", Film(frames=70)))
    whole = list(small_frames(footage))
    span = Span(start_s=whole[31].t_s, stop_s=whole[44].t_s)
    part = list(small_frames(footage, span=span))
    assert [one.t_s for one in part] == [one.t_s for one in whole[31:44]]
    for one, other in zip(part, whole[31:44], strict=True):
        assert np.array_equal(one.luma, other.luma)
    assert list(small_frames(footage, span=Span(start_s=1e4, stop_s=2e4))) == []


def test_a_copy_is_the_mean_of_what_each_pixel_covers(tmp_path: Path) -> None:
    """Held against the full luma as PyAV hands it out, averaged by NumPy alone."""
    path = make_film(tmp_path / "a.mp4", Film(frames=12))
    with av.open(str(path)) as film:
        full = [frame.to_ndarray(format="yuv420p")[:180] for frame in film.decode(video=0)]
    for one, luma in zip(small_frames(probe(path)), full, strict=True):
        wanted = luma.reshape(90, 2, 160, 2).mean(axis=(1, 3))
        assert np.max(np.abs(one.luma - wanted)) <= 1.0


@pytest.mark.parametrize(("wide", "high", "most"), [(960, 540, 1.5), (1440, 1080, 1.0)])
def test_a_large_picture_is_shrunk_in_steps_to_the_same_means(
    wide: int, high: int, most: float, tmp_path: Path
) -> None:
    """Held against sums by NumPy of the whole luma; 1440 to 160 is 9 to 1, which has no half."""
    path = make_film(tmp_path / "a.mp4", Film(frames=3, width=wide, height=high, sound=()))
    with av.open(str(path)) as film:
        full = [frame.to_ndarray(format="yuv420p")[:high] for frame in film.decode(video=0)]
    shape = (round(160 * high / wide), 160)
    for one, luma in zip(small_frames(probe(path)), full, strict=True):
        assert one.luma.shape == shape
        wanted = luma.reshape(shape[0], high // shape[0], 160, wide // 160).mean(axis=(1, 3))
        assert np.max(np.abs(one.luma - wanted)) <= most
        assert abs(np.mean(one.luma - wanted)) < 0.6


def test_the_copies_are_the_same_at_any_number_of_threads(tmp_path: Path) -> None:
    footage = probe(make_film(tmp_path / "a.mp4", Film(frames=30)))
    one, four = (list(small_frames(footage, threads=n)) for n in (1, 4))
    assert all(np.array_equal(a.luma, b.luma) for a, b in zip(one, four, strict=True))


@pytest.mark.parametrize(
    ("film", "shape"),
    [
        (Film(frames=4), (90, 160)),
        (Film(frames=4, rotation=90), (160, 90)),
        (Film(frames=4, width=240, aspect=Fraction(4, 3)), (90, 160)),
        (Film(frames=4, pix_fmt="yuv420p10le"), (90, 160)),
    ],
)
def test_a_copy_is_upright_and_has_square_pixels(
    tmp_path: Path, film: Film, shape: tuple[int, int]
) -> None:
    found = list(small_frames(probe(make_film(tmp_path / "a.mp4", film))))
    assert {one.luma.shape for one in found} == {shape}
    assert all(not one.luma.flags.writeable and np.ptp(one.luma) > 50 for one in found)


def test_footage_that_is_gone_is_an_error_in_words(tmp_path: Path) -> None:
    footage = probe(make_film(tmp_path / "a.mp4", Film(frames=4)))
    footage.path.unlink()
    with pytest.raises(FootageError):
        list(small_frames(footage))
