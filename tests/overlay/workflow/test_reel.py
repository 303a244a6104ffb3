"""`trialreel reel` from a sheet to a film: colours, times, sound, and what is refused.

Clips are films that the tests make (`film.Film`), with a ledger as a render leaves it beside them;
one test goes the whole road with the demo.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from dataclasses import asdict
from fractions import Fraction
from importlib.metadata import version
from pathlib import Path

import av
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from film import Film, Track, make_film, number_in
from log_samples import nmea, rmc
from numpy.typing import NDArray
from sailed import DELAYS, logged, sailed, write_trial

from demo_media import FootageRecipe, make_demo
from overlay.cli.app import run
from overlay.errors import OutputError, RenderError, SheetError
from overlay.ledger import LedgerWriter, read_ledger
from overlay.render import Recipe
from overlay.trial import read_material
from overlay.workflow import reel_parts
from overlay.workflow.hashes import input_hashes
from overlay.workflow.outputs import ledger_of
from overlay.workflow.reel import MadeReel, reel
from overlay.workflow.reel_fresh import sheet_hash
from overlay.workflow.render import render
from overlay.workflow.wishes import Wish
from sync.media.planes import planes_of

BARS_709 = (
    (180, 128, 128), (168, 44, 136), (145, 147, 44), (133, 63, 52), (63, 193, 204),
    (51, 109, 212), (28, 212, 120),
)  # fmt: skip
"""75 % bars in limited range: FFmpeg libavfilter/vsrc_testsrc.c, `rainbowhd`."""

BARS_601 = (
    (180, 128, 128), (162, 44, 142), (131, 156, 44), (112, 72, 58), (84, 184, 198),
    (65, 100, 212), (35, 212, 114),
)  # fmt: skip
"""The same colours in BT.601: there, `rainbow`."""


def made_trial(folder: Path, films: dict[str, Path], reels: str = "") -> Path:
    """A trial whose clips are there: each film is a recording, and its clip rendered already."""
    folder.mkdir(exist_ok=True)
    text = 'schema = "trial/1"\n'
    for name, film in films.items():
        shutil.copy(film, folder / f"{name}{film.suffix}")
        text += f'[[recordings]]\nname = "{name}"\nfiles = ["{name}{film.suffix}"]\n'
        text += f'[[clips]]\nname = "{name}"\nrecording = "{name}"\n'
    sheet = folder / "trial.toml"
    sheet.write_text(text, encoding="utf-8")
    (folder / "clips").mkdir(exist_ok=True)
    material = read_material(sheet)
    for name, film in films.items():
        clip = folder / "clips" / f"{name}.mp4"
        shutil.copy(film, clip)
        facts = {
            "inputs": input_hashes(material, name),
            "software": f"trialreel {version('trialreel')}",
            "recipe": asdict(Recipe()),
        }
        with LedgerWriter(ledger_of(clip), facts):
            pass
    sheet.write_text(f"{text}\n{reels}", encoding="utf-8")
    return sheet


def one_reel(parts: str, more: str = "") -> str:
    return f'[[reels]]\nname = "day"\nparts = [{parts}]\n{more}\n'


def made(sheet: Path) -> MadeReel:
    (one,) = reel(sheet).reels
    return one


def frames_of(path: Path) -> list[tuple[Fraction, list[NDArray[np.uint8]]]]:
    """Times and Y', Cb and Cr of every frame, without any conversion."""
    with av.open(str(path)) as film:
        return [
            (frame.pts * frame.time_base, [plane.copy() for plane in planes_of(frame)])
            for frame in film.decode(video=0)
        ]


def sound_of(path: Path, rate_hz: int = 48_000) -> NDArray[np.float32]:
    with av.open(str(path)) as film:
        assert film.streams.audio[0].rate == rate_hz
        assert film.streams.audio[0].layout.name == "stereo"
        return np.concatenate([block.to_ndarray() for block in film.decode(audio=0)], axis=1)


def level(sound: NDArray[np.float32], start_s: float, stop_s: float) -> float:
    """Root mean square of both channels over a stretch."""
    part = sound[:, round(start_s * 48_000) : round(stop_s * 48_000)].astype(float)
    return float(np.sqrt((part**2).mean()))


def bars(
    path: Path, codes: tuple[tuple[int, int, int], ...], tags: tuple[int, int, int, int]
) -> Path:
    """Seven bars of 128 pixels, x264 without loss, 12 frames at 25."""
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=25, options={"qp": "0", "preset": "veryfast"})
        video.width, video.height = 896, 504
        video.pix_fmt = "yuvj420p" if tags[3] == 2 else "yuv420p"
        context = video.codec_context
        context.colorspace, context.color_primaries, context.color_trc, context.color_range = tags
        for number in range(12):
            frame = av.VideoFrame(896, 504, video.pix_fmt)
            for place, plane in enumerate(planes_of(frame)):
                wide = plane.shape[1] // 7
                for bar, code in enumerate(codes):
                    plane[:, bar * wide : (bar + 1) * wide] = code[place]
            frame.pts, frame.time_base = number, Fraction(1, 25)
            out.mux(video.encode(frame))
        out.mux(video.encode(None))
    return path


def full_range(codes: tuple[tuple[int, int, int], ...]) -> tuple[tuple[int, int, int], ...]:
    """Limited codes at full range: ITU-T H.273, equations 23 to 25 against 26 to 28."""
    return tuple(
        (
            round((y - 16) * 255 / 219),
            round(128 + (u - 128) * 255 / 224),
            round(128 + (v - 128) * 255 / 224),
        )
        for y, u, v in codes
    )


@pytest.mark.parametrize(
    ("codes", "tags"),
    [
        (BARS_709, (1, 1, 1, 1)),
        (BARS_601, (6, 1, 1, 1)),
        (BARS_601, (5, 5, 6, 1)),
        (full_range(BARS_709), (1, 1, 1, 2)),
    ],
    ids=["BT.709", "BT.601", "BT.601 of 625 lines", "full range"],
)
@pytest.mark.parametrize("size", ["896x504", "1280x720"])
def test_colour_bars_come_out_as_bt709(
    codes: tuple[tuple[int, int, int], ...],
    tags: tuple[int, int, int, int],
    size: str,
    tmp_path: Path,
) -> None:
    """Within two codes, whatever the clip was in; taken for BT.601, green is 21 off."""
    film = bars(tmp_path / "bars.mp4", codes, tags)
    sheet = made_trial(
        tmp_path / "trial",
        {"bars": film},
        one_reel('"clip bars"', f'fade = "0 s"\nsize = "{size}"'),
    )
    frames = frames_of(made(sheet).path)
    assert len(frames) == 12
    for _, planes in frames:
        for place, plane in enumerate(planes):
            wide = plane.shape[1] / 7
            for bar, wanted in enumerate(BARS_709):
                inner = plane[8:-8, round(bar * wide) + 8 : round((bar + 1) * wide) - 8]
                assert np.abs(inner.astype(int) - wanted[place]).max() <= 2, (bar, place)


@pytest.fixture
def pair(tmp_path: Path, shoot: Callable[..., Path]) -> dict[str, Path]:
    """Two clips of 2 s at 30 frames: a low tone in stereo, and a higher one in mono at 44.1 kHz."""
    low = Track(tone_hz=440.0, clicks_s=(1.0,))
    high = Track(tone_hz=660.0, rate_hz=44_100, layout="mono")
    return {
        "low": shoot("low.mp4", sound=(low,)),
        "high": shoot("high.mp4", sound=(high,), first_number=500),
    }


def test_a_reel_is_tagged_constant_and_as_long_as_its_parts(
    pair: dict[str, Path], tmp_path: Path
) -> None:
    parts = '"clip low", { clip = "high", overlap = "0.5 s" }, { clip = "low", stop = "1 s" }'
    one = made(made_trial(tmp_path / "trial", pair, one_reel(parts, "rate = 29.97")))
    assert one.frames == 60 + 60 - 15 + 30
    with av.open(str(one.path)) as film:
        video, sound = film.streams
        context = film.streams.video[0].codec_context
        assert (context.name, context.pix_fmt) == ("h264", "yuv420p")
        tags = (context.colorspace, context.color_primaries, context.color_trc)
        assert [*map(int, tags), int(context.color_range)] == [1, 1, 1, 1]
        assert video.average_rate == Fraction(30_000, 1001)
        assert sound.codec_context.name == "aac"
        assert film.metadata["comment"] == f"trialreel {version('trialreel')}; not yet audited"
        length_s = 135 * Fraction(1001, 30_000)
        assert video.duration * video.time_base == length_s
        assert float(sound.duration * sound.time_base) == pytest.approx(length_s, abs=1e-4)
    assert [time for time, _ in frames_of(one.path)] == [
        Fraction(n * 1001, 30_000) for n in range(135)
    ]
    head = one.path.read_bytes()
    assert 0 < head.index(b"moov") < head.index(b"mdat")


def test_every_frame_is_the_one_that_is_shown_then(
    tmp_path: Path, shoot: Callable[..., Path]
) -> None:
    """At variable rate, from a picture that begins late: time stamps decide."""
    facts = {"frames": 90, "steps": (512, 1300, 217, 640), "first_pts": 3072, "sound": ()}
    film = shoot("varied.mp4", **facts)
    sheet = made_trial(
        tmp_path / "trial",
        {"varied": film},
        one_reel('{ clip = "varied", start = "0.4 s", stop = "3.4 s" }', 'rate = 25\nfade = "0 s"'),
    )
    frames = frames_of(made(sheet).path)
    assert len(frames) == 75
    stamps = np.array([pts * Fraction(1, 15_360) for pts in Film(**facts).pts()])
    wanted = [
        int(np.searchsorted(stamps, Fraction(3072, 15_360) + Fraction(2, 5) + time, "right")) - 1
        for time, _ in frames
    ]
    assert len(set(wanted)) > 50
    assert [number_in(planes[0]) for _, planes in frames] == wanted


TURNS: dict[str, tuple[tuple[int, ...], Callable[[NDArray[np.uint8]], NDArray[np.uint8]]]] = {
    # a, b, c, d of ISO/IEC 14496-12, 6.2.2 (x' = a x + c y, y' = b x + d y), and how what is then
    # shown is brought back to what is coded.
    "quarter right": ((0, 1, -1, 0), lambda shown: np.rot90(shown, 1)),
    "quarter left": ((0, -1, 1, 0), lambda shown: np.rot90(shown, -1)),
    "upside down": ((-1, 0, 0, -1), lambda shown: shown[::-1, ::-1]),
    "mirrored": ((-1, 0, 0, 1), lambda shown: shown[:, ::-1]),
}


@pytest.mark.parametrize("turn", TURNS)
def test_a_turned_clip_stands_upright_in_the_middle_of_black(
    turn: str, tmp_path: Path, shoot: Callable[..., Path]
) -> None:
    """320×180 is 480×270 in 480×480, and turned 270×480, about 105 of black at either side."""
    (a, b, c, d), back = TURNS[turn]
    film = tmp_path / "turned.mp4"
    with (
        av.open(str(shoot("plain.mp4", sound=(), frames=10))) as given,
        av.open(str(film), "w") as out,
    ):
        video = out.add_stream_from_template(given.streams.video[0])
        video.set_display_matrix((a << 16, b << 16, 0, c << 16, d << 16, 0, 0, 0, 1 << 30))
        for packet in given.demux(video=0):
            if packet.size:
                packet.stream = video
                out.mux(packet)
    parts = one_reel('"clip turned"', 'size = "480x480"\nfade = "0 s"')
    one = made(made_trial(tmp_path / "trial", {"turned": film}, parts))
    for number, (_, (luma, cb, _)) in enumerate(frames_of(one.path)):
        upright, chroma = (luma, cb) if b else (luma.T, cb.T)
        assert (upright[:, :100] < 20).all()
        assert (upright[:, 378:] < 20).all()
        assert np.abs(chroma[:, :48].astype(int) - 128).max() <= 3
        shown = luma[:, 104:374] if b else luma[104:374]
        assert number_in(back(shown)) == number
    size = ("180×320", "270×480") if b else ("320×180", "480×270")
    said = f"{size[0]} is brought to {size[1]}, with black to 480×480"
    assert any(said in remark for remark in one.remarks)


def test_a_fade_goes_to_black_and_an_overlap_from_one_to_the_other(
    tmp_path: Path, shoot: Callable[..., Path]
) -> None:
    """Two films of one luma each, so that every frame's light is known: R'G'B' is blended."""
    films = {}
    for name, luma in (("dark", 60), ("light", 200)):
        film = tmp_path / f"{name}.mp4"
        bars(film, ((luma, 128, 128),) * 7, (1, 1, 1, 1))
        films[name] = film
    parts = '"clip dark", { clip = "light", overlap = "0.2 s" }, "clip dark"'
    one = made(made_trial(tmp_path / "trial", films, one_reel(parts, 'fade = "0.16 s"')))
    light = [float(planes[0].mean()) for _, planes in frames_of(one.path)]
    assert one.frames == len(light) == 12 + 12 - 5 + 12

    def faded(share: float, luma: int) -> float:
        return 16 + (luma - 16) * share

    wanted = [faded(min(1, n / 4), 60) for n in range(7)]
    wanted += [60 + (200 - 60) * n / 5 for n in range(5)]
    wanted += [faded(min(1, (11 - n) / 4), 200) for n in range(5, 12)]
    wanted += [faded(min(1, n / 4, (11 - n) / 4), 60) for n in range(12)]
    assert light == pytest.approx(wanted, abs=1.5)
    assert light[0] == light[-1] == pytest.approx(16, abs=0.2)


def test_sound_comes_and_goes_with_its_picture(pair: dict[str, Path], tmp_path: Path) -> None:
    """A tone of 0.05 has a level of 0.0354; the two clips' rates and layouts differ."""
    parts = '"clip low", { clip = "high", overlap = "0.5 s" }, { clip = "low", start = "0.8 s" }'
    one = made(made_trial(tmp_path / "trial", pair, one_reel(parts)))
    sound = sound_of(one.path)
    tone = 0.05 / np.sqrt(2)
    assert level(sound, 0.6, 0.95) == pytest.approx(tone, rel=0.05)
    assert level(sound, 0.0, 0.05) < 0.1 * tone
    assert level(sound, 0.24, 0.26) == pytest.approx(0.5 * tone, rel=0.1)
    # In the middle of the overlap each is at a half; two tones add up by their squares.
    assert level(sound, 1.7, 1.8) == pytest.approx(tone / np.sqrt(2), rel=0.1)
    assert level(sound, 2.1, 2.9) == pytest.approx(tone, rel=0.05)
    assert level(sound, 3.47, 3.53) < 0.1 * tone
    assert np.abs(sound[0, 96_000:140_000] - sound[1, 96_000:140_000]).max() < 0.01
    click = int(np.argmax(np.abs(sound[0, :72_000])))
    assert click == pytest.approx(48_000, abs=5)


def test_a_click_stays_with_its_picture_in_a_cut_part(
    pair: dict[str, Path], tmp_path: Path
) -> None:
    parts = '{ clip = "high", stop = "1 s" }, { clip = "low", start = "0.7 s", stop = "1.7 s" }'
    one = made(made_trial(tmp_path / "trial", pair, one_reel(parts, 'fade = "0.1 s"')))
    click = int(np.argmax(np.abs(sound_of(one.path)[1])))
    assert click / 48_000 == pytest.approx(1.3, abs=1e-4)


def test_without_any_sound_there_is_no_track(tmp_path: Path, shoot: Callable[..., Path]) -> None:
    film = shoot("mute.mp4", sound=())
    one = made(made_trial(tmp_path / "trial", {"mute": film}, one_reel('"clip mute"')))
    with av.open(str(one.path)) as reel_film:
        assert len(reel_film.streams) == 1
    assert "clip mute: it has no sound" in one.remarks


def test_the_parts_are_written_down_beside_it(pair: dict[str, Path], tmp_path: Path) -> None:
    parts = '"clip low", { clip = "high", start = "0.5 s", overlap = "0.5 s" }'
    one = made(made_trial(tmp_path / "trial", pair, one_reel(parts)))
    told = json.loads(one.parts_path.read_text(encoding="utf-8"))
    assert one.parts_path.name == "reel-day.parts.json"
    assert told["schema"] == "reel/1"
    assert told["audit"] == "not yet audited"
    assert told["sha256"] == hashlib.sha256(one.path.read_bytes()).hexdigest()
    assert (told["rate"], told["frames"], told["length_s"]) == ("30", 90, 3.0)
    low, high = told["parts"]
    assert (low["kind"], low["file"]) == ("clip", "clips/low.mp4")
    clip = tmp_path / "trial" / "clips" / "low.mp4"
    assert low["sha256"] == hashlib.sha256(clip.read_bytes()).hexdigest()
    assert (low["start_s"], low["stop_s"]) == (0.0, 2.0)
    assert (high["start_s"], high["stop_s"], high["file_start_s"]) == (1.5, 3.0, 0.5)
    assert low["going"] == high["coming"] == {"how": "overlap", "seconds": 0.5}


def test_cards_are_those_of_the_results(tmp_path: Path) -> None:
    """A reel of cards alone is silent, at the size and rate that it names."""
    sheet = write_trial(tmp_path / "day", logged(sailed()), DELAYS)
    more = 'size = "640x360"\nrate = 25\ncard_length = "1 s"\nfade = "0.2 s"'
    sheet.write_text(sheet.read_text() + one_reel('"card title", "card launches"', more))
    one = made(sheet)
    assert run(["card", "title", "--trial", str(sheet), "--size", "640x360"]) == 0
    frames = frames_of(one.path)
    assert len(frames) == one.frames
    with av.open(str(sheet.parent / "clips" / "card-title-640x360.png")) as still:
        rgb = next(still.decode(video=0)).to_ndarray(format="rgb24") / 255
    luma = 16 + 219 * (rgb @ [0.2126, 0.7152, 0.0722])  # ITU-R BT.709-6, item 3.2
    assert np.abs(frames[12][1][0] - luma).mean() < 1.5
    assert frames[25][1][0].max() < 20
    assert one.parts[0]["file"] == "trial.toml"
    with av.open(str(one.path)) as film:
        assert len(film.streams) == 1


@pytest.mark.parametrize(
    ("colour", "said"),
    [((9, 9, 18, 1), "is in HLG"), ((9, 9, 16, 1), "is in PQ"), ((9, 9, 14, 1), "is in BT.2020")],
)
def test_what_is_not_of_ordinary_range_is_refused(
    colour: tuple[int, ...], said: str, tmp_path: Path, shoot: Callable[..., Path]
) -> None:
    film = shoot("wide.mp4", colour=colour, sound=(), frames=5)
    sheet = made_trial(tmp_path / "trial", {"wide": film}, one_reel('"clip wide"'))
    with pytest.raises(RenderError, match=said) as caught:
        reel(sheet)
    assert "leave it out of the reel" in str(caught.value)


def test_ten_bits_are_brought_to_eight_and_that_is_said(
    tmp_path: Path, shoot: Callable[..., Path]
) -> None:
    film = shoot("deep.mp4", pix_fmt="yuv420p10le", sound=(), frames=40)
    one = made(made_trial(tmp_path / "trial", {"deep": film}, one_reel('"clip deep"')))
    assert "clip deep: 10 bits are brought to 8" in one.remarks
    assert [number_in(p[0]) for _, p in frames_of(one.path)[16:24]] == list(range(16, 24))


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ('{ clip = "low", fade = "1.5 s" }', "shorter than the fade of 1.5 s at its start"),
        ('{ clip = "low", stop = "5 s" }', "is 2.00 s long"),
        ('"clip low", { clip = "high", overlap = "1.9 s" }', "part 1 .clip low."),
    ],
)
def test_parts_that_do_not_fit_are_refused(
    parts: str,
    said: str,
    pair: dict[str, Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    sheet = made_trial(tmp_path / "trial", pair, one_reel(parts))
    with pytest.raises(SheetError, match=said):
        reel(sheet)
    assert run(["reel", "--trial", str(sheet)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert not (sheet.parent / "clips" / "reel-day.mp4").exists()


def test_a_reel_that_is_not_there_is_named(pair: dict[str, Path], tmp_path: Path) -> None:
    sheet = made_trial(tmp_path / "trial", pair, one_reel('"clip low"'))
    with pytest.raises(SheetError, match=r"no reel called 'night' \(allowed: day\)"):
        reel(sheet, "night")
    bare = made_trial(tmp_path / "bare", pair)
    with pytest.raises(SheetError, match="the sheet lists no reels"):
        reel(bare)


def test_other_peoples_files_are_left_alone(pair: dict[str, Path], tmp_path: Path) -> None:
    sheet = made_trial(tmp_path / "trial", pair, one_reel('"clip low"'))
    place = sheet.parent / "clips" / "reel-day.mp4"
    place.write_bytes(b"holidays")
    with pytest.raises(OutputError, match="it is no reel of trialreel"):
        reel(sheet)
    assert place.read_bytes() == b"holidays"
    place.unlink()
    parts = place.with_name("reel-day.parts.json")
    parts.write_text("{}")
    with pytest.raises(OutputError, match="it is no reel of trialreel"):
        reel(sheet)
    assert parts.read_text() == "{}"


def test_a_reel_does_not_leave_the_trials_folder(pair: dict[str, Path], tmp_path: Path) -> None:
    sheet = made_trial(tmp_path / "trial", pair, one_reel('"clip low"'))
    (sheet.parent / "clips").rename(tmp_path / "elsewhere")
    (sheet.parent / "clips").symlink_to(tmp_path / "elsewhere")
    before = sorted((tmp_path / "elsewhere").iterdir())
    with pytest.raises(OutputError, match="leave the trial's folder"):
        reel(sheet)
    assert sorted((tmp_path / "elsewhere").iterdir()) == before


def test_an_interruption_leaves_what_was_there(pair: dict[str, Path], tmp_path: Path) -> None:
    sheet = made_trial(tmp_path / "trial", pair, one_reel('"clip low"'))
    made(sheet)
    clips = sheet.parent / "clips"
    before = {path.name: path.read_bytes() for path in clips.iterdir()}

    def interrupted(stage: str, done: float, total: float) -> None:
        assert (stage, total) == ("reel day", 60)
        if done == 40:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        reel(sheet, progress=interrupted)
    assert {path.name: path.read_bytes() for path in clips.iterdir()} == before


def test_the_same_reel_again_is_the_same(pair: dict[str, Path], tmp_path: Path) -> None:
    sheet = made_trial(tmp_path / "trial", pair, one_reel('"clip low", "clip high"'))
    first = frames_of(made(sheet).path)
    again = frames_of(made(sheet).path)
    assert len(first) == len(again) == 120
    assert all(
        (plane == other).all()
        for (_, planes), (_, others) in zip(first, again, strict=True)
        for plane, other in zip(planes, others, strict=True)
    )


def test_the_command_says_what_lies_where(
    pair: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = made_trial(tmp_path / "trial", pair, one_reel('"clip low", "clip high"'))
    assert run(["reel", "--trial", str(sheet)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    lines = out.splitlines()
    assert lines[0] == "day  4.00 s, 320×180, 30 frames a second"
    assert lines[1:3] == [
        "   0:00.00 to  0:02.00  clip low",
        "   0:02.00 to  0:04.00  clip high",
    ]
    assert run(["reel", "day", "--trial", str(sheet), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "reels/1"
    assert [part["name"] for part in told["reels"][0]["parts"]] == ["low", "high"]
    assert Path(told["reels"][0]["film"]).is_file()


def launch_day(folder: Path) -> Path:
    """A launch of 30 kn, logged ten times a second, eight seconds of a small film that says where
    it was shot, and a clip of them that a reel shows; invented."""
    folder.mkdir()
    speeds = [0.0] * 60 + [min(30.0, i * 0.5) for i in range(140)]
    rows = (rmc(f"0900{i / 10:05.2f}", f"{kn:.1f}") for i, kn in enumerate(speeds))
    (folder / "gps.nmea").write_text(nmea(rows))
    make_film(
        folder / "bow.mp4",
        Film(frames=80, steps=(1536,), metadata={"location": "+59.9000+010.7000/"},
             options={"preset": "ultrafast"}),
    )  # fmt: skip
    text = f"""\
schema = "trial/1"
name = "Tern"
[[logs]]
name = "gps"
file = "gps.nmea"
[[recordings]]
name = "bow"
files = ["bow.mp4"]
ties = [{{ frame = 0, utc = 2026-06-11T09:00:05.000Z }}]
[[clips]]
name = "go"
recording = "bow"
whole = true
{one_reel('"clip go"', "rate = 10")}"""
    (folder / "trial.toml").write_text(text, encoding="utf-8")
    return folder / "trial.toml"


def other_footage(folder: Path) -> None:
    make_film(
        folder / "bow.mp4",
        Film(frames=79, steps=(1536,), metadata={"location": "+59.9000+010.7000/"}),
    )


def other_sheet(folder: Path) -> None:
    _put_first(folder / "trial.toml", "units = 'metric'\n")


def broken_ledger(folder: Path) -> None:
    (folder / "clips" / "go.ledger.parquet").write_bytes(b"PAR1")


def odd_ledger(folder: Path) -> None:
    """One whose facts are a list."""
    table = pa.table({"frame": [0]}).replace_schema_metadata({b"trialreel": b"[1, 2]"})
    pq.write_table(table, folder / "clips" / "go.ledger.parquet")


def gone(folder: Path) -> None:
    (folder / "clips" / "go.mp4").unlink()


CHANGES = {
    other_footage: "footage:bow changed since",
    other_sheet: "the trial sheet has changed since",
    broken_ledger: "its ledger cannot be read",
    odd_ledger: "its ledger cannot be read",
    gone: "it is not rendered yet",
}


def _put_first(path: Path, line: str) -> None:
    path.write_text(line + path.read_text(encoding="utf-8"), encoding="utf-8")


def location_of(path: Path) -> str | None:
    with av.open(str(path)) as film:
        return film.metadata.get("location")


def recipe_in(path: Path) -> dict:
    return dict(read_ledger(ledger_of(path)).facts["recipe"])


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
def test_a_clip_that_is_not_up_to_date_is_rendered_again(
    change: Callable[[Path], None], tmp_path: Path
) -> None:
    """As it was rendered before, where its ledger says how: in a manner of its own, and without
    the place where it was shot."""
    sheet = launch_day(tmp_path / "day")
    clip = sheet.parent / "clips" / "go.mp4"
    quick = Recipe(preset="ultrafast", crf=30)
    render(sheet, "go", wish=Wish(recipe=quick, strip_location=True))
    assert not [said for said in made(sheet).remarks if "was rendered" in said]
    change(sheet.parent)
    one = made(sheet)
    assert f"the clip 'go' was rendered: {CHANGES[change]}" in one.remarks
    facts = read_ledger(ledger_of(clip)).facts
    if change in (broken_ledger, odd_ledger):
        assert recipe_in(clip) == asdict(Recipe())
    else:
        assert recipe_in(clip) == asdict(quick)
        assert facts["strip_location"] is True
        assert location_of(clip) is None
    assert facts["inputs"].items() >= input_hashes(read_material(sheet), "bow").items()
    assert one.frames == (79 if change is other_footage else 80)
    assert not [said for said in made(sheet).remarks if "was rendered" in said]


def test_a_place_that_was_kept_is_kept(tmp_path: Path) -> None:
    sheet = launch_day(tmp_path / "day")
    render(sheet, "go")
    other_sheet(sheet.parent)
    made(sheet)
    assert location_of(sheet.parent / "clips" / "go.mp4") == "+59.9000+010.7000/"


def test_a_recipe_that_the_file_cannot_hold_is_left(tmp_path: Path) -> None:
    """The clip was ProRes in .mov; the sheet has since given it the name of an .mp4."""
    sheet = launch_day(tmp_path / "day")
    render(sheet, "go")
    clip = sheet.parent / "clips" / "go.mp4"
    facts = dict(read_ledger(ledger_of(clip)).facts)
    facts |= {"recipe": asdict(Recipe.of("prores")), "strip_location": True}
    with LedgerWriter(ledger_of(clip), facts):
        pass
    other_sheet(sheet.parent)
    assert any("'go' was rendered" in said for said in made(sheet).remarks)
    assert recipe_in(clip) == asdict(Recipe())
    assert location_of(clip) is None


def test_a_sheet_that_changes_while_the_film_is_made_is_noticed(tmp_path: Path) -> None:
    """The document beside the reel speaks of the sheet that was read, not of the one that lies
    there when the film is done."""
    sheet = launch_day(tmp_path / "day")
    render(sheet, "go")
    before = sheet.read_bytes()

    def changed(stage: str, done: float, total: float) -> None:
        if stage == "reel day" and sheet.read_bytes() == before:
            other_sheet(sheet.parent)

    (one,) = reel(sheet, progress=changed).reels
    assert sheet.read_bytes() != before
    told = json.loads(one.parts_path.read_text(encoding="utf-8"))
    assert told["sheet_without_reels"] == sheet_hash(before)
    again = made(sheet).remarks
    assert "the clip 'go' was rendered: the trial sheet has changed since" in again


@pytest.mark.parametrize(
    "odd",
    [
        {"parts": 3},
        {"parts": None},
        {"parts": [3, {"sha256": ["a"]}, {}]},
        {"parts": {"sha256": "a"}, "sheet_without_reels": 3},
    ],
)
def test_an_odd_document_beside_a_reel_is_not_believed(
    odd: dict, pair: dict[str, Path], tmp_path: Path
) -> None:
    sheet = made_trial(tmp_path / "trial", pair, one_reel('"clip low"'))
    one = made(sheet)
    told = json.loads(one.parts_path.read_text(encoding="utf-8"))
    one.parts_path.write_text(json.dumps({**told, **odd}), encoding="utf-8")
    assert made(sheet).frames == 60
    assert json.loads(one.parts_path.read_text(encoding="utf-8"))["parts"] == told["parts"]


def test_a_change_of_the_reel_alone_leaves_clips_as_they_are(
    pair: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where a clip was rendered from the sheet with an earlier form of the reel in it."""
    sheet = made_trial(tmp_path / "trial", pair, one_reel('"clip low"'))
    material = read_material(sheet)
    clip = sheet.parent / "clips" / "low.mp4"
    facts = dict(read_ledger(ledger_of(clip)).facts) | {"inputs": input_hashes(material, "low")}
    with LedgerWriter(ledger_of(clip), facts):
        pass
    monkeypatch.setattr(reel_parts, "_rendered", lambda *_: pytest.fail("a clip was rendered"))
    assert made(sheet).frames == 60
    text = sheet.read_text(encoding="utf-8").replace('"clip low"', '"clip low", "clip low"')
    sheet.write_text(text, encoding="utf-8")
    assert made(sheet).frames == 120


@pytest.mark.whole_road
def test_the_whole_road(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The demo's morning: its clip is rendered on the way, once, and as it was rendered before."""
    small = FootageRecipe(width_px=480, height_px=270, rate=10)
    sheet = make_demo(tmp_path / "demo", cache=tmp_path / "kept", recipe=small).sheet
    parts = '"card title", { clip = "launch", stop = "4 s", overlap = "0.5 s" }, "card launches"'
    _put_last(sheet, one_reel(parts, 'card_length = "2 s"'))
    assert run(["reel", "--trial", str(sheet)]) == 0
    assert "the clip 'launch' was rendered: it is not rendered yet" in capsys.readouterr().out
    clip = sheet.parent / "clips" / "launch.mp4"
    first = clip.stat().st_mtime_ns
    _put_last(sheet, one_reel('"clip launch"').replace('"day"', '"clip alone"'))
    assert run(["reel", "day", "--trial", str(sheet)]) == 0
    assert "was rendered" not in capsys.readouterr().out
    assert clip.stat().st_mtime_ns == first
    made_reel = sheet.parent / "clips" / "reel-day.mp4"
    frames = frames_of(made_reel)
    told = json.loads(made_reel.with_name("reel-day.parts.json").read_text(encoding="utf-8"))
    assert len(frames) == told["frames"]
    shown = frames_of(clip)
    rate = Fraction(told["rate"])
    start = told["parts"][1]["start_frame"]
    at = int(2 * rate) / rate  # two seconds on, on the reel's grid
    own = max(n for n, (time, _) in enumerate(shown) if time <= at)
    luma = frames[start + int(at * rate)][1][0].astype(float)
    assert np.abs(luma - shown[own][1][0]).mean() < 2
    sound = sound_of(made_reel)
    assert level(sound, 0.0, 1.4) == 0
    assert level(sound, 2.5, 5.0) > 0.005


def _put_last(path: Path, text: str) -> None:
    path.write_text(path.read_text(encoding="utf-8") + f"\n{text}", encoding="utf-8")
