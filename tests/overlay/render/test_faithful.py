"""What the camera recorded is in the clip: depth, colour, turn, tags; and what is not is told."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from boxes import colour_box, tracks
from film import Film, make_film
from numpy.typing import NDArray

from overlay.errors import RenderError
from overlay.graphics.layer import Layer, Mask
from overlay.render import Burned, Chapter, Recipe, burn, surface_of
from overlay.render.encoders import ENCODERS
from overlay.render.fitness import sampling_of
from overlay.render.tags import clip_tags
from sync.clock import ClockMap, Span
from sync.media import Footage, decoded_frames, frame_times, probe
from sync.media.planes import planes_of

Shoot = Callable[..., Path]
Codes = NDArray[np.unsignedinteger[Any]]
CLOCK = ClockMap(from_clock="bow", to_clock="utc", offset_s=1_781_172_000.25)
MAGENTA = (194, 24, 120)

LOSSLESS = {
    "x264": Recipe(crf=0, preset="ultrafast", all_colour=True),
    "x265": Recipe(encoder="x265", crf=0, preset="ultrafast", all_colour=True),
    "svt-av1": Recipe(encoder="svt-av1", crf=4, preset="10"),
    "prores": Recipe(encoder="prores", preset="hq"),
}


class Plate:
    """A plate of one colour at an upright place, drawn by the product's own blend."""

    left, top, width, height = 16, 20, 48, 24

    def __init__(self, footage: Footage, recipe: Recipe, rgb: tuple[int, int, int] = MAGENTA):
        picture = surface_of(footage, recipe).picture
        self.colour = picture.yuv(rgb)
        self.sizes: set[tuple[int, ...]] = set()
        self.layer = Layer.of(picture, self.width, self.height)
        alpha = np.full((self.height, self.width), 255, np.uint8)
        self.layer.cover(Mask(left=0, top=0, alpha=alpha), self.colour)

    def draw(self, planes: Any, _t_utc_s: float) -> tuple[Any, ...]:
        self.sizes.add(planes[0].shape)
        self.layer.blend(planes, self.left, self.top)
        return ("plate",)


def render(source: Path, output: Path, recipe: Recipe, **kinds: Any) -> tuple[Burned, Plate]:
    footage = probe(source)
    plate = Plate(footage, recipe, **{k: kinds.pop(k) for k in ("rgb",) if k in kinds})
    return burn(footage, output, plan=plate, clock_map=CLOCK, recipe=recipe, **kinds), plate


def frames_in(path: Path) -> list[tuple[Codes, ...]]:
    footage = probe(path)
    times = frame_times(footage)
    return [
        tuple(plane.copy() for plane in planes_of(decoded.picture))
        for decoded in decoded_frames(footage, times, range(len(times)))
    ]


def on_plate(shape: tuple[int, int], whole: tuple[int, int]) -> tuple[slice, slice]:
    """Where the plate lies on a plane of some shape, of a picture of a whole size."""
    down, across = round(whole[0] / shape[0]), round(whole[1] / shape[1])
    return (
        slice(Plate.top // down, (Plate.top + Plate.height) // down),
        slice(Plate.left // across, (Plate.left + Plate.width) // across),
    )


@pytest.mark.parametrize(
    ("encoder", "pix_fmt"),
    [
        (encoder, pix_fmt)
        for encoder in ("x264", "x265")
        for pix_fmt in ("yuv420p", "yuv422p", "yuv444p", "yuv420p10le", "yuv422p10le")
    ]
    + [("svt-av1", "yuv420p"), ("svt-av1", "yuv420p10le"), ("prores", "yuv422p10le")],
)
def test_depth_and_colour_resolution_are_kept(
    encoder: str, pix_fmt: str, shoot: Shoot, tmp_path: Path
) -> None:
    """Outside the plate the clip is the footage, inside it the colour that was laid there: to the
    code where the encoder can be lossless, within what it loses where not."""
    source = shoot(pix_fmt=pix_fmt, frames=8, sound=(), options={"crf": "0"})
    output = tmp_path / f"clip{ENCODERS[encoder].containers[-1]}"
    burned, plate = render(source, output, LOSSLESS[encoder])
    assert burned.warnings == ()
    assert sampling_of(probe(output).pix_fmt) == sampling_of(pix_fmt)
    own = (plate.colour.y, plate.colour.u, plate.colour.v)
    # x264 is lossless at a crf of 0 with 8 bits, and nearly so with 10.
    loss = {"x264": 0, "x265": 3, "svt-av1": 6, "prores": 4}[encoder]
    scale = 4 if "10" in pix_fmt else 1
    if (encoder, scale) == ("x264", 4):
        loss = 0.5
    for before, after in zip(frames_in(source), frames_in(output), strict=True):
        for code, old, new in zip(own, before, after, strict=True):
            place = on_plate(old.shape, before[0].shape)
            outside = np.ones(old.shape, bool)
            outside[place] = False
            inner = new[place][2:-2, 2:-2].astype(int)
            assert np.abs(inner - code).mean() <= loss * scale
            wrong = np.abs(new.astype(int) - old)[outside]
            assert wrong.mean() <= loss * scale / 3
            if not loss:
                assert wrong.max() == 0
                assert (new[place] == code).all()


@pytest.mark.parametrize(
    ("quality", "pix_fmt", "kept"),
    [
        ("upload", "yuv422p10le", ((2, 2), 10)),
        ("master", "yuv422p10le", ((2, 1), 10)),
        ("upload", "yuv444p", ((2, 2), 8)),
        ("master", "yuv444p", ((1, 1), 8)),
    ],
)
def test_an_upload_has_half_the_colour_and_a_master_all(
    quality: Any, pix_fmt: str, kept: Any, shoot: Shoot, tmp_path: Path
) -> None:
    source = shoot(pix_fmt=pix_fmt, frames=4, sound=())
    burned, _ = render(source, tmp_path / "clip.mp4", Recipe.of("x264", quality))
    assert sampling_of(probe(tmp_path / "clip.mp4").pix_fmt) == kept
    told = [w for w in burned.warnings if "half the colour resolution" in w]
    assert len(told) == (quality == "upload")


@pytest.mark.parametrize(
    ("pix_fmt", "encoder"),
    [("yuvj420p", "x264"), ("yuvj420p", "x265"), ("yuvj420p", "svt-av1"), ("yuv420p10le", "x265")],
)
def test_full_range_stays_full(pix_fmt: str, encoder: str, shoot: Shoot, tmp_path: Path) -> None:
    """Phones record in full range; a stretch would lift their blacks from 0 to 16."""
    source = shoot(pix_fmt=pix_fmt, colour=(1, 1, 1, 2), frames=6, sound=(), options={"crf": "0"})
    output = tmp_path / "clip.mp4"
    render(source, output, LOSSLESS[encoder])
    assert probe(output).colour.full_range is True
    for before, after in zip(frames_in(source), frames_in(output), strict=True):
        place = on_plate(before[0].shape, before[0].shape)
        outside = np.ones(before[0].shape, bool)
        outside[place] = False
        wrong = np.abs(after[0].astype(int) - before[0])[outside]
        assert wrong.mean() < (2 if encoder == "svt-av1" else 1) * (4 if "10" in pix_fmt else 1)


def test_prores_has_no_full_range_and_says_so(shoot: Shoot, tmp_path: Path) -> None:
    """Limited codes by ITU-R BT.709-6: black at 64 and white at 940 of 10 bits."""
    source = shoot(pix_fmt="yuvj420p", colour=(1, 1, 1, 2), frames=3, sound=())
    output = tmp_path / "clip.mov"
    burned, _ = render(source, output, LOSSLESS["prores"])
    assert any("full range and prores is not" in w for w in burned.warnings)
    before, after = frames_in(source)[0][0], frames_in(output)[0][0]
    wanted = 64 + 876 * before.astype(float) / 255
    outside = np.ones(before.shape, bool)
    outside[on_plate(before.shape, before.shape)] = False
    assert np.abs(after - wanted)[outside].mean() < 4


TURNS: dict[str, tuple[int, ...]] = {
    # a, b, c, d of ISO/IEC 14496-12, 6.2.2: x' = a x + c y, y' = b x + d y.
    "quarter right": (0, 1, -1, 0),
    "quarter left": (0, -1, 1, 0),
    "upside down": (-1, 0, 0, -1),
    "mirrored": (-1, 0, 0, 1),
    "flipped": (1, 0, 0, -1),
    "mirrored and turned": (0, 1, 1, 0),
    "flipped and turned": (0, -1, -1, 0),
}


def turned_film(path: Path, turn: tuple[int, ...], pix_fmt: str = "yuv420p") -> Path:
    """A film whose container asks for a turn, its packets those of an upright one."""
    plain = make_film(path.with_name("plain.mp4"), Film(frames=6, sound=(), pix_fmt=pix_fmt,
                                                        options={"crf": "0"}))  # fmt: skip
    a, b, c, d = (part << 16 for part in turn)
    with av.open(str(plain)) as given, av.open(str(path), "w") as out:
        video = out.add_stream_from_template(given.streams.video[0])
        video.set_display_matrix((a, b, 0, c, d, 0, 0, 0, 1 << 30))
        for packet in given.demux(video=0):
            if packet.size:
                packet.stream = video
                out.mux(packet)
    return path


def shown(plane: Codes, turn: tuple[int, ...]) -> Codes:
    """A coded plane as a player shows it, pixel by pixel from the matrix."""
    a, b, c, d = turn
    high, wide = plane.shape
    y, x = np.mgrid[0:high, 0:wide]
    across, down = a * x + c * y, b * x + d * y
    across, down = across - across.min(), down - down.min()
    out = np.empty((down.max() + 1, across.max() + 1), plane.dtype)
    out[down, across] = plane
    return out


@pytest.mark.parametrize("pix_fmt", ["yuv420p", "yuv422p"])
@pytest.mark.parametrize("turn", TURNS)
def test_a_turned_picture_keeps_its_matrix_and_its_plate_stands_upright(
    turn: str, pix_fmt: str, tmp_path: Path
) -> None:
    source = turned_film(tmp_path / "turned.mp4", TURNS[turn], pix_fmt)
    output = tmp_path / "clip.mp4"
    _, plate = render(source, output, LOSSLESS["x264"])
    (old,), (new,) = ([t for t in tracks(p) if t.handler == "vide"] for p in (source, output))
    assert new.matrix == old.matrix
    own = (plate.colour.y, plate.colour.u, plate.colour.v)
    for before, after in zip(frames_in(source), frames_in(output), strict=True):
        whole = shown(before[0], TURNS[turn]).shape
        assert plate.sizes == {whole}
        for code, coded_old, coded_new in zip(own, before, after, strict=True):
            upright_old, upright_new = (shown(p, TURNS[turn]) for p in (coded_old, coded_new))
            place = on_plate(upright_old.shape, whole)
            assert (upright_new[place] == code).all()
            upright_new[place] = upright_old[place]
            np.testing.assert_array_equal(upright_new, upright_old)


def test_a_picture_turned_by_an_odd_angle_is_refused(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot(rotation=30, frames=4)
    with pytest.raises(RenderError, match="only quarter turns") as caught:
        render(source, tmp_path / "clip.mp4", Recipe())
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("width", "height"), [(321, 180), (320, 181), (321, 181)])
def test_odd_sizes_get_a_column_or_a_row_more(
    width: int, height: int, shoot: Shoot, tmp_path: Path
) -> None:
    source = shoot(width=width, height=height, pix_fmt="yuv444p", frames=4, sound=(),
                   options={"crf": "0"})  # fmt: skip
    output = tmp_path / "clip.mp4"
    burned, _ = render(source, output, Recipe(crf=0))
    wide, high = width + width % 2, height + height % 2
    assert (probe(output).width, probe(output).height) == (wide, high)
    assert any(f"the clip is {wide}×{high}" in w for w in burned.warnings)
    before, after = frames_in(source)[3][0], frames_in(output)[3][0]
    place = on_plate(after.shape, after.shape)
    after[place] = 0
    expected = np.pad(before, ((0, high - height), (0, wide - width)), mode="edge")
    expected[place] = 0
    np.testing.assert_array_equal(after, expected)


def test_a_master_keeps_an_odd_size_where_every_pixel_has_its_colour(
    shoot: Shoot, tmp_path: Path
) -> None:
    source = shoot(width=321, pix_fmt="yuv444p", frames=4, sound=())
    burned, _ = render(source, tmp_path / "clip.mp4", Recipe.of("x264", "master"))
    assert burned.warnings == ()
    assert probe(tmp_path / "clip.mp4").width == 321


@pytest.mark.parametrize(
    ("transfer", "share"),
    [
        (16, 0.5807),  # PQ
        (18, 0.7499),  # HLG
    ],
)
def test_graphics_white_lies_where_bt2408_puts_it(
    transfer: int, share: float, shoot: Shoot, tmp_path: Path
) -> None:
    """ITU-R BT.2408, table 1: HDR reference white of 203 cd/m² is 58 % PQ and 75 % HLG; the
    shares here follow from the formulas of BT.2100."""
    source = shoot(
        pix_fmt="yuv420p10le", codec="libx265", colour=(9, 9, transfer, 1), frames=3, sound=(),
        options={"x265-params": "log-level=none"},
    )  # fmt: skip
    output = tmp_path / "clip.mp4"
    _, plate = render(source, output, LOSSLESS["x265"], rgb=(255, 255, 255))
    assert plate.colour.y == pytest.approx(64 + 876 * share, abs=1)
    assert (plate.colour.u, plate.colour.v) == (512, 512)
    (picture,) = (t for t in tracks(output) if t.handler == "vide")
    assert colour_box(picture) == (9, transfer, 9, False)
    luma = frames_in(output)[0][0]
    inside = luma[on_plate(luma.shape, luma.shape)][4:-4, 4:-4]
    assert inside.mean() == pytest.approx(plate.colour.y, abs=2)


MASTERING = (
    "master-display=G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(10000000,50)"
    ":max-cll=1000,400"
)


def hdr_film(path: Path) -> Path:
    """P3 in BT.2020, as graded on a display of 1000 cd/m² (x265's own example values)."""
    return make_film(
        path,
        Film(codec="libx265", pix_fmt="yuv420p10le", colour=(9, 9, 16, 1), frames=3, sound=(),
             options={"x265-params": f"log-level=none:hdr10=1:{MASTERING}"}),
    )  # fmt: skip


@pytest.mark.parametrize("encoder", ["x264", "x265", "svt-av1"])
def test_the_mastering_display_is_kept(encoder: str, tmp_path: Path) -> None:
    source, output = hdr_film(tmp_path / "hdr.mp4"), tmp_path / "clip.mp4"
    render(source, output, LOSSLESS[encoder])
    old, new = probe(source).side_data, probe(output).side_data
    assert set(new) == set(old) == {"MASTERING_DISPLAY_METADATA", "CONTENT_LIGHT_LEVEL"}
    assert new["CONTENT_LIGHT_LEVEL"] == old["CONTENT_LIGHT_LEVEL"]
    numbers = [np.frombuffer(d["MASTERING_DISPLAY_METADATA"], "<i4")[:20] for d in (old, new)]
    before, after = (n[0::2] / n[1::2] for n in numbers)
    np.testing.assert_allclose(after, before, rtol=1e-3, atol=2e-4)


def test_prores_says_that_it_loses_the_mastering_display(tmp_path: Path) -> None:
    burned, _ = render(hdr_film(tmp_path / "hdr.mp4"), tmp_path / "clip.mov", LOSSLESS["prores"])
    assert any("no place for" in w and "mastering" in w for w in burned.warnings)


def test_a_dolby_vision_layer_is_dropped_and_told(tmp_path: Path) -> None:
    """H.265 with a unit of type 62 behind each picture, which is where such a layer lies; what
    is in it is made up."""
    plain, source = hdr_film(tmp_path / "hdr.mp4"), tmp_path / "layered.mp4"
    unit = b"\x7c\x01\x19" + bytes(range(1, 60))
    with av.open(str(plain)) as given, av.open(str(source), "w") as out:
        video = out.add_stream_from_template(given.streams.video[0])
        for packet in given.demux(video=0):
            if packet.size:
                longer = av.Packet(bytes(packet) + len(unit).to_bytes(4, "big") + unit)
                longer.pts, longer.dts, longer.duration = packet.pts, packet.dts, packet.duration
                longer.time_base, longer.is_keyframe = packet.time_base, packet.is_keyframe
                longer.stream = video
                out.mux(longer)
    assert "DOVI_RPU_BUFFER" in probe(source).side_data
    output = tmp_path / "clip.mp4"
    burned, _ = render(source, output, LOSSLESS["x265"])
    assert sum("Dolby Vision layer" in w for w in burned.warnings) == 1
    assert "DOVI_RPU_BUFFER" not in probe(output).side_data
    assert len(frames_in(output)) == 3


def test_timecode_is_carried_over_and_counted_on(shoot: Shoot, tmp_path: Path) -> None:
    """Drop-frame labels by check value: frame 1800 of 29.97 is 00:01:00;02 (OpenTimelineIO,
    tests/test_opentime.py)."""
    source = shoot(
        "a.mov", frames=30, time_base=Fraction(1, 30000), steps=(1001,),
        metadata={"timecode": "00:00:59;20"},
    )  # fmt: skip
    burned, _ = render(source, tmp_path / "whole.mp4", Recipe())
    assert burned.warnings == ()
    assert probe(tmp_path / "whole.mp4").timecode == "00:00:59;20"
    span = Span(start_s=10 * 1001 / 30000, stop_s=20 * 1001 / 30000)
    render(source, tmp_path / "span.mov", Recipe(), span=span)
    assert probe(tmp_path / "span.mov").timecode == "00:01:00;02"
    assert frame_times(probe(tmp_path / "span.mov")).pts[0] == 0


def test_timecode_that_does_not_fit_the_rate_is_told(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot("a.mov", frames=30, metadata={"timecode": "00:00:59:29"})
    footage = probe(source)
    uneven = Footage(**{n: getattr(footage, n) for n in footage.__slots__}
                     | {"average_rate_hz": Fraction(2345, 100)})  # fmt: skip
    burned = burn(uneven, tmp_path / "clip.mp4", plan=Plate(uneven, Recipe()), clock_map=CLOCK)
    assert any("timecode 00:00:59:29 is not carried over" in w for w in burned.warnings)


PLACE = {"location": "+59.9000+010.7000/"}
CAMERA = {"make": "Bow", "model": "One", "com.bow.lens": "24 mm", "comment": "morning"}


@pytest.mark.parametrize("ending", ["mp4", "mov"])
@pytest.mark.parametrize("odd", [True, False])
def test_camera_tags_are_kept_and_the_place_only_if_wanted(
    ending: str, odd: bool, shoot: Shoot, tmp_path: Path
) -> None:
    camera = {name: text for name, text in CAMERA.items() if odd or "." not in name}
    source = shoot(
        f"a.{ending}", frames=4,
        metadata={**camera, **PLACE, "creation_time": "2026-06-11T09:00:00.000000Z"},
        container_options={"movflags": "+use_metadata_tags"},
    )  # fmt: skip
    footage = probe(source)
    for strip in (False, True):
        output = tmp_path / f"clip-{strip}.{ending}"
        tags = clip_tags(footage, "ours; not yet audited", strip_location=strip)
        render(source, output, Recipe(), tags=tags)
        kept = probe(output)
        assert kept.created == footage.created
        for name in camera.keys() - {"comment"}:
            assert kept.tags[name] == camera[name]
        assert kept.tags["comment"] == "ours; not yet audited; morning"
        assert ("location" in kept.tags) is not strip
        assert (b"+59.9000" in output.read_bytes()) is not strip


def test_chapters_stand_at_their_instants(shoot: Shoot, tmp_path: Path) -> None:
    output = tmp_path / "clip.mp4"
    chapters = (
        Chapter(t_footage_s=0.0, title="before"),
        Chapter(t_footage_s=0.5, title="launch 1"),
        Chapter(t_footage_s=1.25, title="20 mph, 2.1 s"),
    )
    burned, _ = render(shoot(), output, Recipe(), chapters=chapters)
    with av.open(str(output)) as clip:
        found = [
            (c["metadata"]["title"], float(c["start"] * c["time_base"]),
             float(c["end"] * c["time_base"]))
            for c in clip.chapters()
        ]  # fmt: skip
    stops = [0.5, 1.25, burned.seconds]
    for chapter, (title, start_s, stop_s), stop in zip(chapters, found, stops, strict=True):
        assert title == chapter.title
        assert start_s == pytest.approx(chapter.t_footage_s, abs=1e-3)
        assert stop_s == pytest.approx(stop, abs=1e-3)


def test_tracks_that_are_not_carried_over_are_told(shoot: Shoot, tmp_path: Path) -> None:
    """A film with a track of chapter titles, which is text, and a timecode, which is kept."""
    chaptered = tmp_path / "a.mp4"
    source = shoot("b.mov", frames=30, metadata={"timecode": "10:00:00:00"})
    chapters = (Chapter(t_footage_s=0.0, title="one"), Chapter(t_footage_s=0.5, title="two"))
    render(source, chaptered, Recipe(), chapters=chapters)
    assert probe(chaptered).timecode == "10:00:00:00"
    burned, _ = render(chaptered, tmp_path / "clip.mp4", Recipe())
    assert burned.warnings == ("1 more track of the footage (data) is not carried over",)


@pytest.mark.parametrize("encoder", LOSSLESS)
def test_time_stamps_are_kept_by_every_encoder(encoder: str, shoot: Shoot, tmp_path: Path) -> None:
    """At variable rate, with a late picture."""
    source = shoot(
        steps=(512, 700, 333, 1000), first_pts=777, frames=20,
        container_options={"movie_timescale": "15360"},
    )  # fmt: skip
    output = tmp_path / f"clip{ENCODERS[encoder].containers[-1]}"
    render(source, output, LOSSLESS[encoder])
    old, new = (
        [int(p) * t.time_base for p in t.pts]
        for t in (frame_times(probe(source)), frame_times(probe(output)))
    )
    assert new == old


@pytest.mark.parametrize("rate", ["24000/1001", "60000/1001", "120"])
def test_rates_from_23_976_to_120_are_kept(rate: str, shoot: Shoot, tmp_path: Path) -> None:
    hz = Fraction(rate)
    source = shoot("a.mov", time_base=Fraction(1, hz.numerator), steps=(hz.denominator,))
    render(source, tmp_path / "clip.mp4", Recipe())
    times = frame_times(probe(tmp_path / "clip.mp4"))
    assert {int(step) * times.time_base for step in np.diff(times.pts)} == {1 / hz}


def test_non_square_pixels_are_kept_and_told(shoot: Shoot, tmp_path: Path) -> None:
    burned, _ = render(shoot(aspect=Fraction(4, 3), frames=4), tmp_path / "clip.mp4", Recipe())
    assert any("looks wider by 33%" in w for w in burned.warnings)
    assert probe(tmp_path / "clip.mp4").sample_aspect == Fraction(4, 3)


def test_an_encoder_is_only_written_into_what_holds_it(shoot: Shoot, tmp_path: Path) -> None:
    for encoder, ending in (("prores", "mp4"), ("svt-av1", "mov")):
        with pytest.raises(RenderError, match=f"{encoder} is not written as .{ending}"):
            render(shoot(frames=4), tmp_path / f"clip.{ending}", LOSSLESS[encoder])
    assert not list(tmp_path.glob("*clip*"))


BARS = {
    # 75 % bars, as FFmpeg's libavfilter/vsrc_testsrc.c has them (`rainbowhd`, `rainbow`).
    1: {(191, 191, 0): (168, 44, 136), (0, 191, 0): (133, 63, 52), (191, 0, 0): (51, 109, 212),
        (0, 0, 191): (28, 212, 120)},
    6: {(191, 191, 0): (162, 44, 142), (0, 191, 0): (112, 72, 58), (191, 0, 0): (65, 100, 212),
        (0, 0, 191): (35, 212, 114)},
}  # fmt: skip


@pytest.mark.parametrize(
    ("matrix", "rgb"), [(matrix, rgb) for matrix, bars in BARS.items() for rgb in bars]
)
def test_drawn_colour_bars_have_the_codes_of_the_footages_matrix(
    matrix: int, rgb: tuple[int, int, int], shoot: Shoot, tmp_path: Path
) -> None:
    source = shoot(colour=(matrix, matrix, matrix, 1), frames=2, sound=())
    output = tmp_path / "clip.mp4"
    render(source, output, LOSSLESS["x264"], rgb=rgb)
    planes = frames_in(output)[1]
    for plane, code in zip(planes, BARS[matrix][rgb], strict=True):
        inside = plane[on_plate(plane.shape, planes[0].shape)].astype(int)
        assert np.abs(inside - code).max() <= 1


@pytest.mark.parametrize(("size", "matrix"), [((1280, 720), 1), ((320, 180), 6)])
def test_red_green_and_blue_become_the_matrix_that_the_clip_is_tagged_with(
    size: tuple[int, int], matrix: int, tmp_path: Path
) -> None:
    """QuickTime animation, which has no matrix: bars of 75 % in four fields."""
    source, output = tmp_path / "rgb.mov", tmp_path / "clip.mov"
    colours = list(BARS[matrix])
    with av.open(str(source), "w") as out:
        video = out.add_stream("qtrle", rate=25)
        video.width, video.height, video.pix_fmt = *size, "rgb24"
        fields = np.zeros((size[1], size[0], 3), np.uint8)
        for place, rgb in enumerate(colours):
            fields[:, place * size[0] // 4 : (place + 1) * size[0] // 4] = rgb
        frame = av.VideoFrame.from_ndarray(fields, "rgb24")
        frame.pts, frame.time_base = 0, Fraction(1, 25)
        out.mux(video.encode(frame))
        out.mux(video.encode(None))
    render(source, output, LOSSLESS["x264"])
    planes = frames_in(output)[0]
    for place, rgb in enumerate(colours):
        for plane, code in zip(planes, BARS[matrix][rgb], strict=True):
            middle = round((place + 0.5) / 4 * plane.shape[1])
            assert abs(int(plane[-4, middle]) - code) <= 1


def test_prores_of_all_colour_is_that_of_4444(shoot: Shoot, tmp_path: Path) -> None:
    """The four letters of SMPTE RDD 36's profiles: `ap4h` has 4:4:4, `apch` 4:2:2."""
    for pix_fmt, tag in (("yuv444p", "ap4h"), ("yuv422p", "apch")):
        output = tmp_path / f"{pix_fmt}.mov"
        render(shoot(pix_fmt=pix_fmt, frames=3, sound=()), output, Recipe.of("prores", "master"))
        with av.open(str(output)) as clip:
            assert clip.streams.video[0].codec_tag == tag


@pytest.mark.parametrize("encoder", LOSSLESS)
def test_one_recipe_makes_one_picture(encoder: str, shoot: Shoot, tmp_path: Path) -> None:
    """At one number of encoder threads, run after run; what lies in the packets is held too."""
    source = shoot(frames=40, sound=())
    recipe = {"x264": Recipe(threads=3), "x265": Recipe.of("x265", "draft"),
              "svt-av1": Recipe.of("svt-av1", "draft"),
              "prores": Recipe.of("prores", "draft")}[encoder]  # fmt: skip
    made = []
    for number in range(2):
        output = tmp_path / f"{number}{ENCODERS[encoder].containers[0]}"
        render(source, output, recipe)
        with av.open(str(output)) as clip:
            made.append([bytes(packet) for packet in clip.demux(video=0) if packet.size])
    assert made[0] == made[1]
