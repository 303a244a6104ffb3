"""A clip in another shape is its footage with less around: what is kept is the camera's own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import av.filter
import numpy as np
import pytest
from boxes import tracks
from film import Film, make_film
from numpy.typing import NDArray

from overlay.errors import RenderError, WishError
from overlay.render import Burned, Recipe, burn, surface_of
from overlay.render.cropping import SHAPES, Crop, crop_of
from overlay.render.encoders import ENCODERS
from overlay.render.fitness import sampling_of
from sync.clock import ClockMap, Span
from sync.media import ColourTags, Footage, decoded_frames, frame_times, probe
from sync.media.planes import planes_of

Shoot = Callable[..., Path]
Codes = NDArray[np.unsignedinteger[Any]]
CLOCK = ClockMap(from_clock="bow", to_clock="utc", offset_s=1_781_172_000.25)

LOSSLESS = {
    "x264": Recipe(crf=0, preset="ultrafast", all_colour=True),
    "x265": Recipe(encoder="x265", crf=0, preset="ultrafast", all_colour=True),
    "svt-av1": Recipe(encoder="svt-av1", crf=4, preset="10"),
    "prores": Recipe(encoder="prores", preset="hq"),
}

TURNS: dict[str, tuple[int, int, int, int]] = {
    # a, b, c, d of ISO/IEC 14496-12, 6.2.2: x' = a x + c y, y' = b x + d y.
    "as coded": (1, 0, 0, 1),
    "quarter right": (0, 1, -1, 0),
    "quarter left": (0, -1, 1, 0),
    "upside down": (-1, 0, 0, -1),
    "mirrored": (-1, 0, 0, 1),
    "flipped": (1, 0, 0, -1),
    "mirrored and turned": (0, 1, 1, 0),
    "flipped and turned": (0, -1, -1, 0),
}
ONE = 1 << 16


@dataclass
class Watcher:
    """A plan with one plate, which keeps what it was given before it drew on it."""

    seen: list[tuple[Codes, ...]] = field(default_factory=list)

    def draw(self, planes: Any, _t_utc_s: float) -> tuple[Any, ...]:
        self.seen.append(tuple(plane.copy() for plane in planes))
        for plane in planes:
            plane[on_plate(plane.shape, planes[0].shape)] = 60
        return ("plate",)


def on_plate(shape: tuple[int, ...], whole: tuple[int, ...]) -> tuple[slice, slice]:
    """The part of a plane under the plate: 40 by 80 pixels, 100 down and 40 across."""
    down, across = round(whole[0] / shape[0]), round(whole[1] / shape[1])
    return slice(100 // down, 140 // down), slice(40 // across, 120 // across)


def facts(width: int, height: int, aspect: Fraction = Fraction(1), turn: str = "as coded") -> Any:
    """Footage as far as its picture goes; nothing of it is read."""
    a, b, c, d = TURNS[turn]
    colour = ColourTags(matrix=1, primaries=1, transfer=1, full_range=False)
    whole = Footage(
        path=Path("bow.mp4"), size_bytes=1, container="mov", stream=0, width=width, height=height,
        sample_aspect=aspect, rotation_deg=0, codec="h264", pix_fmt="yuv420p", bit_depth=8,
        colour=colour, interlaced=False, time_base=Fraction(1, 25), average_rate_hz=Fraction(25),
        start_pts=0, duration_s=1.0, sound=(), other_tracks=(), created=None, timecode=None,
    )  # fmt: skip
    if turn == "as coded":
        return whole
    return replace(whole, display_matrix=(a * ONE, b * ONE, 0, c * ONE, d * ONE, 0, 0, 0, 1 << 30))


@pytest.mark.parametrize(
    ("footage", "shape", "look", "box"),
    [
        # 1080 · 9/16 = 607.5, the nearest even number 608; in the middle of 1920 at 656.
        (facts(1920, 1080), "upright", None, (656, 0, 608, 1080)),
        (facts(1920, 1080), "upright", 0.0, (0, 0, 608, 1080)),
        (facts(1920, 1080), "upright", 1.0, (1312, 0, 608, 1080)),
        (facts(1920, 1080), "upright", 0.25, (328, 0, 608, 1080)),
        (facts(1920, 1080), "square", None, (420, 0, 1080, 1080)),
        (facts(3840, 2160), "upright", None, (1312, 0, 1216, 2160)),
        # 4:3, as action cameras record: wide takes from above and below.
        (facts(1440, 1080), "wide", 0.0, (0, 0, 1440, 810)),
        (facts(1440, 1080), "wide", 1.0, (0, 270, 1440, 810)),
        (facts(4096, 2160), "wide", None, (128, 0, 3840, 2160)),
        # Pixels a third wider than high: 1440 of them are shown as 1920.
        (facts(1440, 1080, Fraction(4, 3)), "square", 0.0, (0, 0, 810, 1080)),
        # 576 · 45/64 = 405, and 404 is as near as 406.
        (facts(720, 576, Fraction(64, 45)), "square", 1.0, (316, 0, 404, 576)),
        # A phone that was held upright: 1080 by 1920 as it is shown.
        (facts(1920, 1080, turn="quarter right"), "square", 0.0, (0, 0, 1080, 1080)),
        (facts(1920, 1080, turn="quarter right"), "wide", 1.0, (0, 1312, 1080, 608)),
        (facts(1920, 1080, turn="quarter left"), "wide", 1.0, (0, 1312, 1080, 608)),
        # Odd sizes: one row less, and one column.
        (facts(1921, 1081), "square", 1.0, (840, 0, 1080, 1080)),
        (facts(1921, 1081, turn="upside down"), "square", 0.0, (1, 1, 1080, 1080)),
    ],
)
def test_the_part_is_the_greatest_of_its_shape(
    footage: Footage, shape: Any, look: float | None, box: tuple[int, ...]
) -> None:
    """Worked out on paper, on the picture as it is shown."""
    crop = crop_of(footage, shape, look)
    assert crop is not None
    assert crop.upright_box(footage) == box


@pytest.mark.parametrize(
    ("footage", "shape"),
    [
        (facts(1920, 1080), "wide"),
        (facts(1366, 768), "wide"),
        (facts(1920, 1088), "wide"),
        (facts(1440, 1080, Fraction(4, 3)), "wide"),
        (facts(1080, 1920), "upright"),
        (facts(1920, 1080, turn="quarter left"), "upright"),
        (facts(1080, 1080), "square"),
        (facts(1920, 1080), None),
    ],
)
def test_a_picture_of_that_shape_stays_whole(footage: Footage, shape: Any) -> None:
    assert crop_of(footage, shape, None if shape is None else 0.1) is None


def test_every_part_is_even_inside_and_near_its_shape() -> None:
    """Sizes, turns and looks at random, with a seed."""
    rng = np.random.default_rng(20260611)
    cut = 0
    for _ in range(2000):
        wide, high = (int(size) for size in rng.integers(640, 4000, 2))
        footage = facts(wide, high, turn=str(rng.choice(list(TURNS))))
        shape = rng.choice(list(SHAPES))
        try:
            crop = crop_of(footage, shape, float(rng.uniform(0, 1)))
        except RenderError:
            assert max(wide / high, high / wide) > 16 / 9 or min(wide, high) < 571
            continue
        if crop is None:
            continue
        cut += 1
        places = (crop.left_px, crop.top_px, crop.width_px, crop.height_px)
        assert all(place % 2 == 0 for place in places)
        assert 0 <= crop.left_px <= wide - crop.width_px
        assert 0 <= crop.top_px <= high - crop.height_px
        assert crop.width_px in (wide, wide - 1) or crop.height_px in (high, high - 1)
        _, _, across, down = crop.upright_box(footage)
        ratio = float(SHAPES[shape])
        assert abs(across - ratio * down) <= 1 or abs(across / ratio - down) <= 1
    assert cut > 1000


def test_a_part_that_is_too_small_is_refused_in_a_sentence() -> None:
    with pytest.raises(RenderError) as caught:
        crop_of(facts(640, 360), "upright")
    assert str(caught.value) == (
        "bow.mp4: upright leaves 202×360 of the picture's 640×360 pixels, and a clip needs 320"
        " each way; leave the shape out, or use footage with more pixels."
    )


@pytest.mark.parametrize(
    ("shape", "look", "said"),
    [
        ("square", 1.5, "a look of 1.5 lies outside of the picture"),
        ("square", -0.01, "a look of -0.01 lies outside of the picture"),
        ("square", float("nan"), "a look of nan lies outside of the picture"),
        ("tall", None, "there is no shape 'tall'"),
    ],
)
def test_what_is_no_shape_and_no_look_is_refused(shape: Any, look: Any, said: str) -> None:
    with pytest.raises(WishError, match=said):
        crop_of(facts(1920, 1080), shape, look)


def render(
    source: Path, output: Path, recipe: Recipe, shape: Any, look: float | None = None, **kinds: Any
) -> tuple[Burned, Watcher, Crop]:
    """A film cut to a shape, with a plate on it."""
    footage, watcher = probe(source), Watcher()
    crop = crop_of(footage, shape, look)
    assert crop is not None
    burned = burn(footage, output, plan=watcher, clock_map=CLOCK, recipe=recipe, crop=crop, **kinds)
    return burned, watcher, crop


def frames_in(path: Path) -> list[tuple[Codes, ...]]:
    footage = probe(path)
    times = frame_times(footage)
    return [
        tuple(plane.copy() for plane in planes_of(decoded.picture))
        for decoded in decoded_frames(footage, times, range(len(times)))
    ]


def cut_by_ffmpeg(source: Path, crop: Crop) -> list[tuple[Codes, ...]]:
    """The same part of each picture by FFmpeg's own filter (libavfilter/vf_crop.c)."""
    with av.open(str(source), options={"autorotate": "0"}) as film:
        video = film.streams.video[0]
        graph = av.filter.Graph()
        size = f"{crop.width_px}:{crop.height_px}:{crop.left_px}:{crop.top_px}"
        graph.link_nodes(
            graph.add_buffer(template=video), graph.add("crop", size), graph.add("buffersink")
        ).configure()
        made = []
        for frame in film.decode(video):
            graph.push(frame)
            made.append(tuple(plane.copy() for plane in planes_of(graph.pull())))
    return made


def outside(plane: Codes, whole: tuple[int, ...]) -> NDArray[np.bool_]:
    """Where a plane has no plate."""
    mask = np.ones(plane.shape, bool)
    mask[on_plate(plane.shape, whole)] = False
    return mask


@pytest.mark.parametrize(
    ("encoder", "pix_fmt"),
    [
        ("x264", "yuv420p"),
        ("x264", "yuv422p"),
        ("x264", "yuv444p"),
        ("x265", "yuv420p10le"),
        ("x265", "yuv422p10le"),
        ("svt-av1", "yuv420p10le"),
        ("prores", "yuv422p10le"),
    ],
)
@pytest.mark.parametrize("shape", ["upright", "square"])
def test_outside_the_plate_the_clip_is_that_part_of_the_footage(
    shape: str, encoder: str, pix_fmt: str, shoot: Shoot, tmp_path: Path
) -> None:
    """What is drawn on is the part that FFmpeg's own filter cuts out, to the code; and the clip is
    that, with the plate, as far as its encoder is lossless. So no reference frame of the decoder
    was damaged either, for most frames are predicted."""
    source = shoot(width=1024, height=576, pix_fmt=pix_fmt, frames=5, sound=(),
                   options={"crf": "0", "preset": "ultrafast"})  # fmt: skip
    output = tmp_path / f"clip{ENCODERS[encoder].containers[-1]}"
    burned, watcher, crop = render(source, output, LOSSLESS[encoder], shape, 0.3)
    assert burned.warnings == ()
    clip, footage = probe(output), probe(source)
    assert (clip.width, clip.height) == {"upright": (324, 576), "square": (576, 576)}[shape]
    assert sampling_of(clip.pix_fmt) == sampling_of(pix_fmt)
    assert clip.colour == footage.colour
    loss = {"x264": 0, "x265": 12, "svt-av1": 24, "prores": 16}[encoder] / 3
    expected, made = cut_by_ffmpeg(source, crop), frames_in(output)
    assert len(expected) == len(watcher.seen) == len(made) == 5
    for wanted, drawn, kept in zip(expected, watcher.seen, made, strict=True):
        for plane, before, after in zip(wanted, drawn, kept, strict=True):
            np.testing.assert_array_equal(before, plane)
            free = outside(plane, wanted[0].shape)
            wrong = np.abs(after.astype(int) - plane)
            assert wrong[free].mean() <= loss
            assert np.abs(after[~free].astype(int) - 60).mean() <= 3 * loss


def test_what_an_upload_loses_it_loses_in_the_part_alone(shoot: Shoot, tmp_path: Path) -> None:
    """10 bits of 4:2:2 become 4:2:0 as in a clip of the whole picture, code for code."""
    source = shoot(width=1024, height=576, pix_fmt="yuv422p10le", frames=3, sound=())
    whole = Watcher()
    burn(probe(source), tmp_path / "whole.mp4", plan=whole, clock_map=CLOCK, recipe=Recipe())
    burned, part, crop = render(source, tmp_path / "part.mp4", Recipe(), "square")
    assert [w for w in burned.warnings if "half the colour resolution" in w]
    for one, other in zip(whole.seen, part.seen, strict=True):
        for plane, cut in zip(one, other, strict=True):
            by = one[0].shape[0] // plane.shape[0]
            left = crop.left_px // by
            np.testing.assert_array_equal(cut, plane[:, left : left + crop.width_px // by])


@pytest.mark.parametrize("quality", ["upload", "master"])
def test_odd_sizes_lose_a_row_and_gain_none(quality: Any, shoot: Shoot, tmp_path: Path) -> None:
    source = shoot(width=641, height=361, pix_fmt="yuv444p", frames=3, sound=(),
                   options={"crf": "0"})  # fmt: skip
    recipe = Recipe.of("x264", quality)
    burned, watcher, _ = render(source, tmp_path / "clip.mp4", recipe, "square", 1.0)
    assert (probe(tmp_path / "clip.mp4").width, probe(tmp_path / "clip.mp4").height) == (360, 360)
    assert not [w for w in burned.warnings if "even sizes" in w]
    for before, drawn in zip(frames_in(source), watcher.seen, strict=True):
        np.testing.assert_array_equal(drawn[0], before[0][:360, 280:640])


def turned_film(path: Path, turn: str, moved: bool) -> Path:
    """A film of 640 by 360 whose container asks for a turn, its packets those of an upright one.

    `moved` is how cameras write it: with what brings the turned picture back to the origin.
    """
    plain = make_film(
        path.with_name("plain.mp4"), Film(frames=4, width=640, height=360, sound=(),
                                          options={"crf": "0"})
    )  # fmt: skip
    a, b, c, d = TURNS[turn]
    x, y = (-min(0, a * 640, c * 360), -min(0, b * 640, d * 360)) if moved else (0, 0)
    with av.open(str(plain)) as given, av.open(str(path), "w") as out:
        video = out.add_stream_from_template(given.streams.video[0])
        video.set_display_matrix(
            (a * ONE, b * ONE, 0, c * ONE, d * ONE, 0, x * ONE, y * ONE, 1 << 30)
        )
        for packet in given.demux(video=0):
            if packet.size:
                packet.stream = video
                out.mux(packet)
    return path


def shown(plane: Codes, turn: str) -> Codes:
    """A coded plane as a player shows it, pixel by pixel from the matrix."""
    a, b, c, d = TURNS[turn]
    high, wide = plane.shape
    y, x = np.mgrid[0:high, 0:wide]
    across, down = a * x + c * y, b * x + d * y
    across, down = across - across.min(), down - down.min()
    out = np.empty((down.max() + 1, across.max() + 1), plane.dtype)
    out[down, across] = plane
    return out


@pytest.mark.parametrize("moved", [False, True])
@pytest.mark.parametrize("turn", [turn for turn in TURNS if turn != "as coded"])
def test_a_turned_picture_is_cut_as_it_stands_upright(
    turn: str, moved: bool, tmp_path: Path
) -> None:
    """A quarter of the way along what is cut off; the coded pictures stay as turned as they were,
    and where the container brought them back to the origin, it still does."""
    source, output = turned_film(tmp_path / "turned.mp4", turn, moved), tmp_path / "clip.mp4"
    _, watcher, _ = render(source, output, LOSSLESS["x264"], "square", 0.25)
    for before, drawn, after in zip(
        frames_in(source), watcher.seen, frames_in(output), strict=True
    ):
        for coded, upright, clip in zip(before, drawn, after, strict=True):
            whole = shown(coded, turn)
            kept, along = min(whole.shape), (max(whole.shape) - min(whole.shape)) // 4
            down = along if whole.shape[0] > whole.shape[1] else 0
            part = whole[down : down + kept, along - down : along - down + kept]
            np.testing.assert_array_equal(upright, part)
            free = outside(part, drawn[0].shape)
            np.testing.assert_array_equal(shown(clip, turn)[free], part[free])
    (old,), (new,) = ([t for t in tracks(p) if t.handler == "vide"] for p in (source, output))
    assert new.matrix[:6] == old.matrix[:6]
    if not moved:
        assert new.matrix == old.matrix
        return
    a, b, _, c, d, _, x, y, _ = new.matrix
    corners = [(across, down) for across in (0, 360) for down in (0, 360)]
    places = [((a * p + c * q + x) / ONE, (b * p + d * q + y) / ONE) for p, q in corners]
    assert (min(p for p, _ in places), min(q for _, q in places)) == (0, 0)


def test_time_stamps_and_sound_are_those_of_the_footage(shoot: Shoot, tmp_path: Path) -> None:
    """At variable rate, with a late first picture, whole and in a stretch."""
    source = shoot(
        width=640, height=360, steps=(512, 700, 333, 1000), first_pts=777, frames=40,
        container_options={"movie_timescale": "15360"},
    )  # fmt: skip
    render(source, tmp_path / "clip.mp4", Recipe(), "square")
    old, new = frame_times(probe(source)), frame_times(probe(tmp_path / "clip.mp4"))
    assert [int(p) * new.time_base for p in new.pts] == [int(p) * old.time_base for p in old.pts]
    assert packets(tmp_path / "clip.mp4") == packets(source)
    span = Span(start_s=0.5, stop_s=1.2)
    render(source, tmp_path / "span.mp4", Recipe(), "square", span=span)
    kept = [t for t in old.seconds() if 0.5 <= t < 1.2]
    begun = frame_times(probe(tmp_path / "span.mp4")).seconds()
    np.testing.assert_allclose(begun - begun[0], np.array(kept) - kept[0], atol=1e-9)


def test_the_timecode_runs_on(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot(
        width=640, height=360, frames=40, sound=(), metadata={"timecode": "10:20:30:00"}
    )  # fmt: skip
    span = Span(start_s=0.5, stop_s=1.2)
    render(source, tmp_path / "clip.mp4", Recipe(), "square", span=span)
    assert probe(source).timecode == "10:20:30:00"
    assert probe(tmp_path / "clip.mp4").timecode == "10:20:30:15"


def packets(path: Path) -> list[tuple[Fraction, bytes]]:
    """Time and bytes of each packet of the sound."""
    with av.open(str(path)) as container:
        return [
            (packet.pts * packet.time_base, bytes(packet))
            for packet in container.demux(audio=0)
            if packet.size
        ]


MASTERING = (
    "master-display=G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(10000000,50)"
    ":max-cll=1000,400"
)


@pytest.mark.parametrize("encoder", ["x264", "x265", "svt-av1"])
def test_a_part_keeps_its_colours_meaning(encoder: str, tmp_path: Path) -> None:
    """PQ in BT.2020, as graded on a display of 1000 cd/m² (x265's own example values)."""
    source, output = tmp_path / "hdr.mp4", tmp_path / "clip.mp4"
    make_film(
        source,
        Film(codec="libx265", pix_fmt="yuv420p10le", colour=(9, 9, 16, 1), frames=3, sound=(),
             width=640, height=360,
             options={"x265-params": f"log-level=none:hdr10=1:{MASTERING}"}),
    )  # fmt: skip
    render(source, output, LOSSLESS[encoder], "square")
    old, new = probe(source), probe(output)
    assert new.colour == old.colour
    assert set(new.side_data) == {"MASTERING_DISPLAY_METADATA", "CONTENT_LIGHT_LEVEL"}
    assert new.side_data["CONTENT_LIGHT_LEVEL"] == old.side_data["CONTENT_LIGHT_LEVEL"]


def test_pixels_that_are_not_square_stay_so(shoot: Shoot, tmp_path: Path) -> None:
    """480 pixels that are shown as 640: a square of 360 by 360 takes 270 of them."""
    source = shoot(width=480, height=360, aspect=Fraction(4, 3), frames=3, sound=())
    with pytest.raises(RenderError, match="square leaves 270×360"):
        render(source, tmp_path / "clip.mp4", Recipe(), "square")
    source = shoot("b.mp4", width=640, height=480, aspect=Fraction(4, 3), frames=3, sound=())
    render(source, tmp_path / "clip.mp4", Recipe(), "square")
    clip = probe(tmp_path / "clip.mp4")
    assert (clip.width, clip.height, clip.sample_aspect) == (360, 480, Fraction(4, 3))


def test_instruments_are_drawn_for_the_part(shoot: Shoot) -> None:
    """The picture of the plan has its size and its shape."""
    footage = probe(shoot(width=1024, height=576, frames=2, sound=()))
    for shape in ("upright", "square"):
        surface = surface_of(footage, Recipe(), crop_of(footage, shape))
        assert surface.picture.shape == shape
    assert surface_of(footage, Recipe(), crop_of(footage, "wide")).picture.shape == "wide"
