"""Single frames are the very ones that decoding everything gives, whatever the film is like."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
from film import Film, cut_film, make_film, number_in

from sync.media import Footage, decoded_frames, frame_times, join, picking, probe
from sync.media.picking import picked_frames
from sync.media.planes import planes_of

Shoot = Callable[..., Path]

WANTED = (0, 1, 7, 13, 14, 22, 23, 24, 40, 47, 58, 59)
WAYS = {
    "no pictures between": {"preset": "veryfast", "g": "24", "bf": "0"},
    "three between": {"preset": "veryfast", "g": "24", "bf": "3"},
    "pyramid": {"preset": "medium", "g": "24", "bf": "7", "x264-params": "b-pyramid=normal:ref=4"},
    "open groups": {"preset": "veryfast", "g": "12", "bf": "3", "x264-params": "open-gop=1"},
    "one key frame": {"preset": "veryfast", "g": "600", "bf": "3"},
    "only key frames": {"preset": "veryfast", "g": "1"},
}


def same_as_all(footage: Footage, wanted: Sequence[int], threads: int | None = None) -> None:
    """The frames picked are those of the whole film, code for code."""
    times = frame_times(footage)
    everything = {d.index: d for d in decoded_frames(footage, times, range(len(times)))}
    got = list(picked_frames(footage, times, wanted, threads=threads))
    assert [d.index for d in got] == list(wanted)
    for one in got:
        assert one.picture.pts == times.pts[one.index]
        planes = zip(planes_of(one.picture), planes_of(everything[one.index].picture), strict=True)
        for mine, theirs in planes:
            np.testing.assert_array_equal(mine, theirs)


@pytest.mark.parametrize("threads", [1, 4])
@pytest.mark.parametrize("way", list(WAYS))
def test_picked_frames_are_those_of_the_whole_film(way: str, threads: int, shoot: Shoot) -> None:
    same_as_all(probe(shoot("way.mp4", options=WAYS[way])), WANTED, threads)


@pytest.mark.parametrize("name", ["a.mkv", "a.ts", "a.mov"])
def test_in_other_containers_too(name: str, shoot: Shoot) -> None:
    same_as_all(probe(shoot(name, options=WAYS["three between"])), WANTED)


@pytest.mark.parametrize(
    ("name", "codec", "options"),
    [
        ("a.mp4", "libx265", {"preset": "fast", "x265-params": "keyint=24:bframes=4:log-level=0"}),
        ("a.mov", "prores_ks", {}),
        ("a.webm", "libvpx-vp9", {"deadline": "realtime", "g": "24"}),
        ("a.mp4", "mpeg4", {"g": "12", "bf": "2"}),
    ],
)
def test_of_other_codecs_too(name: str, codec: str, options: dict[str, str], shoot: Shoot) -> None:
    deep = {"pix_fmt": "yuv422p10le"} if codec == "prores_ks" else {}
    same_as_all(probe(shoot(name, codec=codec, options=options, sound=(), **deep)), WANTED)


def test_pictures_that_nobody_refers_to_are_left_out(
    shoot: Shoot, monkeypatch: pytest.MonkeyPatch
) -> None:
    footage = probe(shoot("b.mp4", options=WAYS["three between"] | {"b_strategy": "0"}))
    times = frame_times(footage)
    made: list[int] = []
    decode = picking.decode

    def counted(packet: object) -> list[object]:
        pictures = decode(packet)
        made.extend(picture.pts for picture in pictures)
        return pictures

    monkeypatch.setattr(picking, "decode", counted)
    assert [d.index for d in picked_frames(footage, times, [23])] == [23]
    assert len(made) < 24 * 0.7


def test_of_a_recording_in_two_files(tmp_path: Path) -> None:
    whole = Film(frames=90, sound=())
    paths = [make_film(tmp_path / f"{n}.mp4", part) for n, part in enumerate(cut_film(whole, 60))]
    footage = join([probe(path) for path in paths])
    same_as_all(footage, (3, 58, 59, 60, 61, 89))
    got = picked_frames(footage, frame_times(footage), [59, 60])
    assert [number_in(planes_of(d.picture)[0]) for d in got] == [59, 60]


def damaged_film(shoot: Shoot, tmp_path: Path, frames: Sequence[int]) -> Footage:
    """All-intra film; the bytes of some frames are overwritten, their places in the table not."""
    import av

    path = shoot("intra.mp4", options=WAYS["only key frames"], sound=())
    data = bytearray(path.read_bytes())
    with av.open(str(path)) as container:
        for number, packet in enumerate(container.demux(video=0)):
            if number in frames and packet.pos is not None:
                data[packet.pos : packet.pos + packet.size] = bytes(packet.size)
    bad = tmp_path / "bad.mp4"
    bad.write_bytes(bytes(data))
    return probe(bad)


def test_a_lost_frame_is_stood_in_for_as_in_the_whole_film(shoot: Shoot, tmp_path: Path) -> None:
    footage = damaged_film(shoot, tmp_path, (20,))
    got = list(picked_frames(footage, frame_times(footage), [10, 20, 30]))
    assert [(d.index, d.stand_in) for d in got] == [(10, False), (20, True), (30, False)]
    assert [number_in(planes_of(d.picture)[0]) for d in got] == [10, 19, 30]


def test_nothing_is_picked_where_nothing_is_wanted(shoot: Shoot) -> None:
    footage = probe(shoot())
    assert list(picked_frames(footage, frame_times(footage), [])) == []
