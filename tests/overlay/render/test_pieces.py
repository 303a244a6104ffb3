"""A clip that was made in pieces is the clip that was made at once, but for the encoder's own cuts.

The whole clip of the same line is the reference; its own tests hold it against the footage.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from boxes import TrackTimes, box_names, picture_entry, tracks
from film import Film, Track, make_film, number_in
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from overlay.errors import RenderError
from overlay.render import Burned, Chapter, Recipe, Wanted, burn, join_pieces
from overlay.render.decode_times import decode_times
from sync.clock import ClockMap, Span
from sync.media import decoded_frames, frame_times, probe
from sync.media.planes import planes_of

CLOCK = ClockMap(from_clock="bow", to_clock="utc", offset_s=1_781_172_000.25)
LOSSLESS = Recipe(crf=0, preset="veryfast", threads=1)
CAMERA = {"options": {"preset": "veryfast", "g": "30", "bf": "2", "crf": "12"}}
TIMECODE = {"time_base": Fraction(1, 30000), "steps": (1001,),
            "metadata": {"timecode": "00:00:59;20"}}  # fmt: skip

UNSEEN = {
    "btrt",  # rates of bits, for buffers: the muxer counts them where no encoder tells them
    "fiel",  # that ProRes is progressive, which its pictures say too: known once they were read
    "sdtp",  # which pictures none depends on, of AV1: said by its encoder, and not kept in a file
}
"""Boxes in which a joined clip differs though nobody sees it."""


class Plate:
    """Draws a plate that tells the frames apart, and keeps what it has drawn."""

    def __init__(self) -> None:
        self.drawn: list[NDArray[Any]] = []

    def draw(self, planes: Any, t_utc_s: float) -> tuple[Any, ...]:
        planes[0][60:80, 40:120] = 60 + round(t_utc_s * 1000) % 90
        self.drawn.append(planes[0].copy())
        return (f"{t_utc_s:.6f}",)


def made(source: Path, output: Path, wanted: Wanted, piece: range | None = None) -> Any:
    plate, rows = Plate(), []
    burned = burn(
        probe(source),
        output,
        plan=plate,
        clock_map=CLOCK,
        span=wanted.span,
        recipe=wanted.recipe,
        tags=wanted.tags,
        chapters=wanted.chapters,
        record=lambda *row: rows.append(row),
        piece=piece,
    )
    return burned, plate.drawn, rows


def both_ways(
    source: Path, folder: Path, wanted: Wanted, ends: Sequence[int], ending: str = ".mp4"
) -> tuple[tuple[Burned, Path], tuple[Burned, Path]]:
    """A clip made at once and joined from pieces; what was drawn and recorded is the same."""
    whole, drawn, rows = made(source, folder / f"whole{ending}", wanted)
    pieces, own_drawn, own_rows = [], [], []
    for n, (start, stop) in enumerate(itertools.pairwise(ends)):
        path = folder / f"piece-{n}{ending}"
        burned, some_drawn, some_rows = made(source, path, wanted, range(start, stop))
        assert burned.frames == stop - start
        with av.open(str(path)) as piece:
            assert not piece.streams.audio
        pieces.append(path)
        own_drawn += some_drawn
        own_rows += some_rows
    assert own_rows == rows
    assert len(own_drawn) == len(drawn)
    assert all(np.array_equal(a, b) for a, b in zip(drawn, own_drawn, strict=True))
    joined = join_pieces(probe(source), folder / f"joined{ending}", pieces, wanted)
    return (whole, folder / f"whole{ending}"), (joined, folder / f"joined{ending}")


def packets(path: Path, kind: str) -> list[list[tuple[Any, ...]]]:
    """What the muxer says of every packet of each track of a kind, in the order of showing."""
    with av.open(str(path)) as container:
        streams = [stream for stream in container.streams if stream.type == kind]
        found: dict[int, list[tuple[Any, ...]]] = {stream.index: [] for stream in streams}
        for p in container.demux(streams) if streams else ():
            if p.size:
                data = b"" if kind == "video" else bytes(p)
                found[p.stream.index].append((p.pts, p.duration, data))
    return [sorted(track) for track in found.values()]


def facts(path: Path) -> tuple[Any, ...]:
    """What a player is told of a file."""
    with av.open(str(path)) as container:
        video = container.streams.video[0]
        context = video.codec_context
        return (
            video.time_base, video.start_time, video.duration, video.sample_aspect_ratio,
            video.average_rate,
            context.color_primaries, context.color_trc, context.colorspace, context.color_range,
            context.pix_fmt, context.codec_tag, bytes(context.extradata or b""),
            dict(video.metadata), dict(container.metadata), container.chapters(),
            [stream.type for stream in container.streams],
        )  # fmt: skip


def pictures(path: Path) -> list[tuple[NDArray[Any], ...]]:
    footage = probe(path)
    times = frame_times(footage)
    return [
        tuple(plane.copy() for plane in planes_of(one.picture))
        for one in decoded_frames(footage, times, range(len(times)))
    ]


def described(track: TrackTimes) -> tuple[Any, ...]:
    """What is in a track, and how it is coded, but for what nobody sees."""
    names = [name for name in box_names(track.box) if name not in UNSEEN]
    if track.handler != "vide":
        return names, track.box.need(b"mdia", b"minf", b"stbl", b"stsd").body
    entry = [(one.kind.decode(), one.body) for one in picture_entry(track)]
    return names, [one for one in entry if one[0] not in UNSEEN]


def assert_alike(first: tuple[Burned, Path], second: tuple[Burned, Path]) -> None:
    whole, joined = first[1], second[1]
    for kind in ("video", "audio", "data"):  # the timecode is data
        assert packets(joined, kind) == packets(whole, kind)
    assert facts(joined) == facts(whole)
    for a, b in zip(tracks(whole), tracks(joined), strict=True):
        assert (a.matrix, a.edit_s) == (b.matrix, b.edit_s)
        assert sorted(a.shown_s) == sorted(b.shown_s)
        assert described(a) == described(b)
    assert (first[0].frames, first[0].seconds) == (second[0].frames, second[0].seconds)
    assert first[0].warnings == second[0].warnings


FILMS = {
    "constant rate": Film(frames=60, **CAMERA),
    "variable rate": Film(frames=60, time_base=Fraction(1, 90000), steps=(3003, 1502, 4500, 3003),
                          **CAMERA),
    "begins late": Film(frames=60, first_pts=1536, **CAMERA),
    "turned": Film(frames=60, rotation=90, **CAMERA),
    "two sounds": Film(frames=60, sound=(Track(clicks_s=(1.0,)), Track(rate_hz=44100, seed=2)),
                       **CAMERA),
    "silent": Film(frames=60, sound=(), **CAMERA),
    "timecode": Film(frames=60, **TIMECODE, **CAMERA),
}  # fmt: skip


@pytest.mark.parametrize("kind", FILMS)
@pytest.mark.parametrize("span", [None, Span(start_s=0.35, stop_s=1.7)], ids=["whole", "cut"])
def test_joined_pieces_are_the_clip(kind: str, span: Span | None, tmp_path: Path) -> None:
    """Without loss in the encoder the pictures are equal to the code."""
    source = make_film(tmp_path / "film.mp4", FILMS[kind])
    wanted = Wanted(span=span, recipe=LOSSLESS, tags={"title": "launch"},
                    chapters=(Chapter(t_footage_s=0.5, title="away"),))  # fmt: skip
    times = frame_times(probe(source))
    count = len(times) if span is None else len(times.within(span))
    first, second = both_ways(source, tmp_path, wanted, [0, 17, 18, count // 2 + 10, count])
    assert_alike(first, second)
    assert len(packets(second[1], "audio")) == len(FILMS[kind].sound)
    assert all(packets(second[1], "audio"))
    assert any(packets(second[1], "data")) == (kind == "timecode")
    for a, b in zip(pictures(first[1]), pictures(second[1]), strict=True):
        assert all(np.array_equal(one, other) for one, other in zip(a, b, strict=True))


@pytest.mark.parametrize(
    ("recipe", "pix_fmt", "ending"),
    [
        (Recipe(encoder="x265", crf=12, preset="ultrafast"), "yuv420p10le", ".mp4"),
        (Recipe(encoder="svt-av1", crf=20, preset="10"), "yuv420p", ".mp4"),
        (Recipe(encoder="prores", preset="hq"), "yuv422p10le", ".mov"),
        (Recipe(crf=23, preset="veryfast"), "yuv420p", ".mov"),
    ],
    ids=lambda value: getattr(value, "encoder", value),
)
def test_every_encoder_can_be_joined(
    recipe: Recipe, pix_fmt: str, ending: str, tmp_path: Path
) -> None:
    film = Film(frames=60, pix_fmt=pix_fmt, **TIMECODE, **CAMERA)
    source = make_film(tmp_path / "film.mp4", film)
    first, second = both_ways(source, tmp_path, Wanted(recipe=recipe), [0, 23, 60], ending)
    assert_alike(first, second)
    for n, (a, b) in enumerate(zip(pictures(first[1]), pictures(second[1]), strict=True)):
        depth = 4 if "10" in pix_fmt else 1
        assert number_in((b[0] // depth).astype(np.uint8)) == n
        assert np.abs(a[0].astype(int) - b[0]).mean() < 3 * depth


def test_pieces_may_be_of_one_picture(tmp_path: Path) -> None:
    """Of fewer than three, x265 says anything of when they are decoded."""
    source = make_film(tmp_path / "film.mp4", FILMS["constant rate"])
    recipe = Recipe(encoder="x265", crf=12, preset="ultrafast")
    wanted = Wanted(recipe=recipe, span=Span(start_s=0.0, stop_s=0.4))
    count = len(frame_times(probe(source)).within(wanted.span))
    ends = [0, 1, 3, 4, 6, 7, 9, count]
    first, second = both_ways(source, tmp_path, wanted, ends)
    assert_alike(first, second)
    for n in range(len(ends) - 2):
        with av.open(str(tmp_path / f"piece-{n}.mp4")) as piece:
            found = [p for p in piece.demux(video=0) if p.size]
        assert [p.dts for p in found] == [p.pts for p in found]


def test_each_piece_begins_with_an_idr_picture(tmp_path: Path) -> None:
    """Rec. ITU-T H.264, table 7-1: a NAL unit of type 5 is a slice of an IDR picture."""
    source = make_film(tmp_path / "film.mp4", FILMS["constant rate"])
    _, (_, joined) = both_ways(source, tmp_path, Wanted(recipe=LOSSLESS), [0, 40, 60])
    with av.open(str(joined)) as container:
        stream = container.streams.video[0]
        starts = {p.pts: nal_types(bytes(p)) for p in container.demux(stream) if p.size}
    begun = sorted(starts)
    assert 5 in starts[begun[0]]
    assert 5 in starts[begun[40]]
    assert 5 not in starts[begun[39]]


def nal_types(packet: bytes) -> list[int]:
    """Types of the NAL units in a packet of an MP4 file (ISO/IEC 14496-15: lengths of 4 bytes)."""
    types, at = [], 0
    while at + 4 < len(packet):
        size = int.from_bytes(packet[at : at + 4], "big")
        types.append(packet[at + 4] & 31)
        at += 4 + size
    return types


def test_pieces_that_are_not_of_the_clip_are_refused(tmp_path: Path) -> None:
    source = make_film(tmp_path / "film.mp4", FILMS["constant rate"])
    wanted = Wanted(recipe=LOSSLESS)
    parts = [tmp_path / "a.mp4", tmp_path / "b.mp4"]
    for path, piece in zip(parts, (range(40), range(40, 60)), strict=True):
        made(source, path, wanted, piece)
    other = tmp_path / "other.mp4"
    made(source, other, Wanted(recipe=Recipe(crf=0, preset="slow", threads=1)), range(40, 60))
    torn = tmp_path / "torn.mp4"
    torn.write_bytes(parts[1].read_bytes()[:3000])
    output = tmp_path / "joined.mp4"
    for pieces, words in (
        (parts[:1], "is missing"),
        ([parts[1], parts[0], parts[1]], "other frames"),
        ([parts[0], other], "other settings"),
        ([parts[0], torn], "cannot be read"),
        ([parts[0], tmp_path / "gone.mp4"], "cannot be read"),
    ):
        with pytest.raises(RenderError, match=words):
            join_pieces(probe(source), output, pieces, wanted)
        assert not output.exists()
    with pytest.raises(RenderError, match="the clip has 60 frames"):
        made(source, output, wanted, range(50, 61))


@given(st.data())
def test_decoding_comes_before_showing(data: st.DataObject) -> None:
    """For any order that a decoder could be asked for."""
    steps = data.draw(st.lists(st.integers(1, 5000), min_size=1, max_size=40))
    shown = np.cumsum([data.draw(st.integers(-10, 10_000)), *steps]).tolist()
    late = data.draw(st.integers(0, 4))
    order = sorted(
        range(len(shown)), key=lambda n: n + data.draw(st.integers(0, late), label=str(n))
    )
    times = decode_times([shown[n] for n in order], 500)
    assert len(times) == len(shown)
    assert all(a < b for a, b in itertools.pairwise(times))
    ahead = [shown[n] - dts for dts, n in zip(times, order, strict=True)]
    assert min(ahead) == 0, "no later than shown, and no earlier than is needed"
