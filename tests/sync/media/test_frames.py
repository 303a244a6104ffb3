"""Every frame's time stamp is exact, at whatever rate, and is read once."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from boxes import tracks
from film import number_in
from hypothesis import given
from hypothesis import strategies as st
from outside import pypi

from sync.clock import Span
from sync.errors import FootageError
from sync.media import FrameTimes, decoded_frames, frame_times, probe
from sync.media import frame_cache as cache_module
from sync.media.planes import planes_of

Shoot = Callable[..., Path]

UNEVEN = (512, 700, 333, 1000, 1)


def times_of(path: Path) -> FrameTimes:
    return frame_times(probe(path))


def test_variable_rate_keeps_every_time_stamp(shoot: Shoot) -> None:
    times = times_of(shoot(steps=UNEVEN, container_options={"movie_timescale": "15360"}))
    want = np.concatenate([[0], np.cumsum(np.resize(UNEVEN, 59))])
    assert times.time_base == Fraction(1, 15360)
    np.testing.assert_array_equal(times.pts, want)
    assert times.pts.dtype == np.int64
    assert not times.pts.flags.writeable


@pytest.mark.parametrize("name", ["a.mp4", "a.mov"])
def test_the_time_stamps_are_those_of_the_boxes(name: str, shoot: Shoot) -> None:
    """Against a second reader, written from ISO/IEC 14496-12: stts, ctts and elst."""
    path = shoot(name, steps=UNEVEN, first_pts=777, container_options={"movie_timescale": "15360"})
    times = times_of(path)
    (picture,) = (t for t in tracks(path) if t.handler == "vide")
    assert [int(p) * times.time_base for p in times.pts] == sorted(picture.shown_s)


@pytest.mark.outside
def test_a_real_films_time_stamps_are_those_of_the_boxes() -> None:
    """Its picture starts two frames late: there is a composition offset and no edit list."""
    path = pypi(
        "pymediainfo",
        "7.0.1",
        "tests/data/sample.mp4",
        "3cde735feab9d484365777ca77d09e0fd7e9ecf853375a38884ee20178693bcc",
        kind="sdist",
    )
    times = times_of(path)
    (picture,) = (t for t in tracks(path) if t.handler == "vide")
    assert [int(p) * times.time_base for p in times.pts] == sorted(picture.shown_s)


@pytest.mark.parametrize("name", ["a.mkv", "a.ts"])
def test_other_containers_give_as_many_frames_in_order(name: str, shoot: Shoot) -> None:
    times = times_of(shoot(name))
    assert len(times) == 60
    assert np.all(np.diff(times.pts) > 0)
    assert times.span.length_s == pytest.approx(2.0, abs=2e-3)


def test_an_avi_whose_frames_are_stored_in_order_is_read(shoot: Shoot) -> None:
    times = times_of(
        shoot(
            "a.avi",
            codec="mjpeg",
            pix_fmt="yuvj420p",
            time_base=Fraction(1, 30),
            steps=(1,),
            options={},
            colour=(5, 5, 6, 2),
            sound=(),
        )
    )
    np.testing.assert_array_equal(times.pts, np.arange(60))
    assert times.key.all()


def test_an_avi_that_cannot_say_when_its_frames_show_is_refused(shoot: Shoot) -> None:
    path = shoot("a.avi", time_base=Fraction(1, 30), steps=(1,))
    with pytest.raises(FootageError, match="AVI does not say when each is shown"):
        times_of(path)


def test_the_frame_at_an_instant_is_the_one_on_the_screen(shoot: Shoot) -> None:
    times = times_of(shoot(steps=UNEVEN, container_options={"movie_timescale": "15360"}))
    for index in (0, 1, 17, 59):
        start = times.time_s(index)
        assert times.index_at(start) == index
        assert times.index_at(start + 0.9 * times.duration_pts(index) / 15360) == index
    for t_s in (-0.001, times.span.stop_s + 0.001):
        with pytest.raises(FootageError, match="has no frame at"):
            times.index_at(t_s)


def test_a_span_holds_its_first_frame_and_not_the_one_at_its_end(shoot: Shoot) -> None:
    times = times_of(shoot())
    assert times.within(Span(start_s=10 / 30, stop_s=20 / 30)) == range(10, 20)
    assert times.within(Span(start_s=0.3334, stop_s=0.6667)) == range(11, 21)
    assert len(times.within(Span(start_s=5.0, stop_s=6.0))) == 0
    assert len(times.within(Span(start_s=0.001, stop_s=0.002))) == 0


@given(
    steps=st.lists(st.integers(1, 10**6), min_size=1, max_size=50),
    tick=st.sampled_from([Fraction(1, 15360), Fraction(1001, 30000), Fraction(1, 90000)]),
    share=st.floats(0, 1),
)
def test_nearest_is_nearest(steps: list[int], tick: Fraction, share: float) -> None:
    pts = np.cumsum([0, *steps])
    times = FrameTimes(
        path=Path("film"),
        pts=pts,
        key=np.ones(len(pts), bool),
        stop_pts=int(pts[-1]) + 1,
        time_base=tick,
    )
    t_s = share * times.span.stop_s
    distances = [abs(int(p) * tick - Fraction(t_s)) for p in pts]
    assert times.nearest(t_s) == distances.index(min(distances))


def test_frame_times_are_read_once_and_kept_on_disk(shoot: Shoot, tmp_path: Path) -> None:
    path = shoot()
    footage = probe(path)
    first = frame_times(footage)
    assert frame_times(footage) is first
    (kept,) = (tmp_path / "cache" / "frame-times").iterdir()
    assert kept.suffix == ".npz"
    cache_module.forget()
    written = kept.stat().st_mtime_ns
    again = frame_times(footage)
    assert again is not first
    assert kept.stat().st_mtime_ns == written
    np.testing.assert_array_equal(again.pts, first.pts)
    np.testing.assert_array_equal(again.key, first.key)
    assert (again.stop_pts, again.time_base) == (first.stop_pts, first.time_base)


def test_a_damaged_cache_is_read_afresh(shoot: Shoot, tmp_path: Path) -> None:
    footage = probe(shoot())
    first = frame_times(footage)
    (kept,) = (tmp_path / "cache" / "frame-times").iterdir()
    for damage in (b"", b"PK\x03\x04 no archive", kept.read_bytes()[:200]):
        kept.write_bytes(damage)
        cache_module.forget()
        np.testing.assert_array_equal(frame_times(footage).pts, first.pts)


def test_a_changed_file_is_read_anew(shoot: Shoot) -> None:
    path = shoot(frames=60)
    assert len(times_of(path)) == 60
    shoot(frames=20)
    assert len(times_of(path)) == 20


def test_a_cache_that_cannot_be_written_costs_nothing_but_time(
    shoot: Shoot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    monkeypatch.setenv("TRIALREEL_CACHE", str(blocked))
    assert len(times_of(shoot())) == 60
    assert blocked.read_text() == "not a folder"


def test_a_truncated_file_gives_what_it_has(shoot: Shoot, tmp_path: Path) -> None:
    whole = shoot("whole.mp4", container_options={"movflags": "faststart"}).read_bytes()
    path = tmp_path / "cut.mp4"
    path.write_bytes(whole[: len(whole) * 6 // 10])
    times = times_of(path)
    assert 20 < len(times) < 50
    assert times.warnings[0] == "the file is cut off; what comes before the cut is used"


@pytest.mark.parametrize("stretch", [range(60), range(40, 50), range(25, 26), range(59, 60)])
@pytest.mark.parametrize("name", ["a.mp4", "a.mkv", "a.ts"])
def test_any_stretch_decodes_to_its_own_frames(name: str, stretch: range, shoot: Shoot) -> None:
    """Each made picture bears its number; a seek that lands a key frame late would show."""
    footage = probe(shoot(name, options={"preset": "veryfast", "g": "12", "bf": "3"}))
    got = list(decoded_frames(footage, frame_times(footage), stretch))
    assert [d.index for d in got] == list(stretch)
    assert [number_in(planes_of(d.picture)[0]) for d in got] == list(stretch)
    assert not any(d.stand_in or d.damaged for d in got)


def test_open_groups_of_pictures_decode_from_the_right_key_frame(shoot: Shoot) -> None:
    options = {"preset": "veryfast", "g": "12", "bf": "3", "x264-params": "open-gop=1"}
    footage = probe(shoot("open.mp4", options=options))
    times = frame_times(footage)
    for start in range(5, 55, 7):
        got = list(decoded_frames(footage, times, range(start, start + 4)))
        numbers = [number_in(planes_of(d.picture)[0]) for d in got]
        assert numbers == list(range(start, start + 4))


def test_pictures_are_the_same_at_any_number_of_threads(shoot: Shoot) -> None:
    footage = probe(shoot())
    times = frame_times(footage)
    one, four = (
        [
            [plane.copy() for plane in planes_of(d.picture)]
            for d in decoded_frames(footage, times, range(60), threads=threads)
        ]
        for threads in (1, 4)
    )
    for left, right in zip(one, four, strict=True):
        for a, b in zip(left, right, strict=True):
            np.testing.assert_array_equal(a, b)


def test_a_lost_frame_is_stood_in_for_by_the_one_before(shoot: Shoot, tmp_path: Path) -> None:
    """All-intra film; the bytes of three frames are overwritten, their places in the table not."""
    path = shoot("intra.mp4", options={"preset": "veryfast", "g": "1"}, sound=())
    damaged, lost = damage_frames(path, tmp_path / "bad.mp4", (20, 21, 30))
    footage = probe(damaged)
    got = list(decoded_frames(footage, frame_times(footage), range(60)))
    assert [d.index for d in got] == list(range(60))
    assert [d.index for d in got if d.stand_in] == list(lost)
    want = [19 if n in (20, 21) else 29 if n == 30 else n for n in range(60)]
    assert [number_in(planes_of(d.picture)[0]) for d in got] == want


def test_a_stand_in_shares_no_memory_with_its_model(shoot: Shoot, tmp_path: Path) -> None:
    path = shoot("intra.mp4", options={"preset": "veryfast", "g": "1"}, sound=())
    damaged, _ = damage_frames(path, tmp_path / "bad.mp4", (20,))
    footage = probe(damaged)
    frames = decoded_frames(footage, frame_times(footage), range(60))
    for decoded in frames:
        if decoded.index == 19:
            decoded.picture.make_writable()
            planes_of(decoded.picture)[0][:] = 0
        if decoded.index == 20:
            assert number_in(planes_of(decoded.picture)[0]) == 19
            break
    frames.close()


def test_footage_of_which_nothing_decodes_is_refused(shoot: Shoot, tmp_path: Path) -> None:
    path = shoot("intra.mp4", options={"preset": "veryfast", "g": "1"}, sound=())
    damaged, _ = damage_frames(path, tmp_path / "bad.mp4", tuple(range(10, 60)))
    footage = probe(damaged)
    with pytest.raises(FootageError, match="cannot be decoded between"):
        list(decoded_frames(footage, frame_times(footage), range(20, 30)))


def damage_frames(
    path: Path, damaged: Path, frames: tuple[int, ...]
) -> tuple[Path, tuple[int, ...]]:
    """A copy of an all-intra film in which some frames' bytes are zero."""
    import av

    data = bytearray(path.read_bytes())
    with av.open(str(path)) as container:
        for number, packet in enumerate(container.demux(video=0)):
            if number in frames and packet.pos is not None:
                data[packet.pos : packet.pos + packet.size] = bytes(packet.size)
    damaged.write_bytes(bytes(data))
    return damaged, frames
