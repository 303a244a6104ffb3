"""`make_demo` gives the same trial each time, whole or not at all."""

from __future__ import annotations

import ast
import math
import os
from datetime import UTC, datetime
from pathlib import Path

import av
import numpy as np
import pytest

import demo_media
from demo_media import DemoTrial, FootageRecipe, make_demo
from demo_media.day import demo_day
from demo_media.footage import _drawn, make_footage
from demo_media.scenario import DEMO_SCENARIO
from demo_media.scene.film import make_stage
from demo_media.shots import BOW

SMALL = FootageRecipe(width_px=192, height_px=108, rate=10, length_s=6.5)
"""Footage as small as it can be and still hold the clap, 5.17 s after its start."""


class _Fatal(float):
    """A number that ends the process which receives it."""

    def __reduce__(self) -> tuple[object, tuple[int]]:
        return os._exit, (3,)


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> tuple[DemoTrial, Path]:
    folder = tmp_path_factory.mktemp("filmed")
    cache = folder / "cache"
    return make_demo(folder / "trial", cache=cache, recipe=SMALL, processes=1), cache


def test_two_demos_are_equal_to_the_byte(demo: DemoTrial, tmp_path: Path) -> None:
    other = make_demo(tmp_path / "again", footage=False)
    for path in sorted(demo.folder.rglob("*")):
        if path.is_file() and path.suffix != ".npz":
            assert path.read_bytes() == (other.folder / path.relative_to(demo.folder)).read_bytes()
    first, second = np.load(demo.folder / "truth.npz"), np.load(other.folder / "truth.npz")
    assert sorted(first.files) == sorted(second.files)
    assert all(np.array_equal(first[name], second[name]) for name in first.files)


def test_footage_has_every_frame_at_its_time(filmed: tuple[DemoTrial, Path]) -> None:
    film = filmed[0].footage
    assert film is not None
    with av.open(str(film)) as container:
        stream = container.streams.video[0]
        assert (stream.width, stream.height) == (192, 108)
        times = [frame.time for frame in container.decode(stream)]
    assert times == pytest.approx([i / 10 for i in range(65)], abs=1e-9)


def test_clap_in_the_decoded_sound_stands_where_the_truth_says(
    filmed: tuple[DemoTrial, Path],
) -> None:
    trial = filmed[0]
    with av.open(str(trial.footage)) as container:
        stream = container.streams.audio[0]
        assert (stream.codec_context.name, stream.rate) == ("aac", 48000)
        frames = list(container.decode(stream))
    first = float(frames[0].pts * frames[0].time_base)
    samples = np.concatenate([frame.to_ndarray()[0] for frame in frames])
    onset = first + int(np.flatnonzero(np.abs(samples) > 0.3)[0]) / 48000
    assert onset == pytest.approx(trial.truth.clap_heard_footage_s, abs=0.0005)
    assert samples.size / 48000 == pytest.approx(6.5, abs=0.05)


def test_container_tells_the_cameras_wrong_time(filmed: tuple[DemoTrial, Path]) -> None:
    trial = filmed[0]
    with av.open(str(trial.footage)) as container:
        stamp = datetime.fromisoformat(container.metadata["creation_time"]).astimezone(UTC)
    assert stamp.timestamp() == trial.truth.footage_creation_utc_s


def test_colours_are_tagged_and_coded_as_bt_709(tmp_path: Path) -> None:
    # ITU-T H.273 number 1 is BT.709
    film = tmp_path / "one.mp4"
    make_footage(
        (film,),
        BOW,
        FootageRecipe(width_px=192, height_px=108, rate=10, length_s=0.3),
        lambda _share: None,
        1,
    )
    with av.open(str(film)) as container:
        context = container.streams.video[0].codec_context
        frame = next(container.decode(video=0))
    assert (context.color_primaries, context.color_trc, context.colorspace) == (1, 1, 1)
    stage = make_stage(demo_day(), 62.0, (192, 108), DEMO_SCENARIO.instruments.seed)
    picture = stage.draw(BOW.start_s).astype(float)
    blue, green, red = picture.reshape(-1, 3).mean(axis=0) / 255
    luma = 16 + 219 * (0.2126 * red + 0.7152 * green + 0.0722 * blue)  # BT.709, narrow range
    planes = frame.to_ndarray()
    assert float(planes[:108].mean()) == pytest.approx(luma, abs=1.0)


def test_frames_are_equal_whoever_draws_them() -> None:
    times = [61.0, 62.3, 77.0, 90.0]
    alone, shared = (list(_drawn((BOW, (96, 64)), times, count)) for count in (1, 2))
    assert len(alone) == 4
    assert all(np.array_equal(a, b) for a, b in zip(alone, shared, strict=True))


def test_a_drawing_process_that_dies_is_told_in_one_sentence() -> None:
    with pytest.raises(ChildProcessError, match="try again with a single process"):
        list(_drawn((BOW, (96, 64)), [61.0, _Fatal(62.0)], 2))


def test_second_demo_takes_its_footage_from_the_cache(
    filmed: tuple[DemoTrial, Path], tmp_path: Path
) -> None:
    first, cache = filmed
    kept = list(cache.iterdir())
    assert [path.suffix for path in kept] == [".mp4"]
    stamp = kept[0].stat().st_mtime_ns
    told: list[str] = []
    second = make_demo(
        tmp_path / "again",
        cache=cache,
        recipe=SMALL,
        progress=lambda what, share: told.append(f"{what} {share:.0%}"),
    )
    assert kept[0].stat().st_mtime_ns == stamp
    assert [line for line in told if line.startswith("footage")] == ["footage 100%"]
    assert first.footage is not None
    assert second.footage is not None
    assert first.footage.read_bytes() == second.footage.read_bytes()


def test_cache_key_follows_the_recipe() -> None:
    assert SMALL.key() == FootageRecipe(width_px=192, height_px=108, rate=10, length_s=6.5).key()
    assert SMALL.key() != FootageRecipe(width_px=192, height_px=108, rate=10, length_s=6.4).key()


def test_cache_is_found_through_the_environment(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from demo_media.make import default_cache

    monkeypatch.setenv("TRIALREEL_CACHE", str(tmp_path))
    assert default_cache() == tmp_path / "demo"


def test_interrupted_footage_leaves_nothing_behind(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def interrupt(what: str, share: float) -> None:
        if what == "footage" and share > 0.3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        make_demo(
            tmp_path / "trial",
            cache=tmp_path / "cache",
            recipe=FootageRecipe(width_px=96, height_px=64, rate=10, length_s=1.0),
            progress=interrupt,
            processes=1,
        )
    assert list((tmp_path / "cache").iterdir()) == []
    assert not (tmp_path / "trial" / "footage").exists()


def test_a_folder_with_another_trial_is_left_alone(tmp_path: Path) -> None:
    sheet = tmp_path / "trial.toml"
    sheet.write_text('schema = "trial/1"\n', encoding="utf-8")
    with pytest.raises(FileExistsError, match="holds a trial that is not the demo"):
        make_demo(tmp_path, footage=False)
    assert sheet.read_text(encoding="utf-8") == 'schema = "trial/1"\n'
    assert list(tmp_path.iterdir()) == [sheet]


def test_an_earlier_demo_is_written_anew(tmp_path: Path) -> None:
    first = make_demo(tmp_path / "trial", footage=False)
    gps = first.folder / "logs/gps.nmea"
    whole = gps.read_bytes()
    gps.write_bytes(b"cut")
    make_demo(tmp_path / "trial", footage=False)
    assert gps.read_bytes() == whole


def test_a_file_where_the_folder_should_be_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "demo"
    place.write_text("not a folder", encoding="utf-8")
    with pytest.raises(NotADirectoryError, match="name a folder for the demo trial"):
        make_demo(place, footage=False)


@pytest.mark.parametrize(
    "wrong",
    [{"width_px": 321}, {"height_px": 32}, {"rate": 0}, {"length_s": 0.0}, {"length_s": math.inf}],
)
def test_a_recipe_that_cannot_be_filmed_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"must be|needs"):
        FootageRecipe(**wrong)  # type: ignore[arg-type]  # one wrong value at a time


def test_the_package_reaches_only_clocks_and_units_of_sync() -> None:
    root = Path(demo_media.__file__).parent
    for path in sorted(root.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = (
                [alias.name for alias in node.names]
                if isinstance(node, ast.Import)
                else [node.module or ""]
                if isinstance(node, ast.ImportFrom)
                else []
            )
            for name in names:
                assert name.split(".")[0] != "overlay", path
                if name.split(".")[0] == "sync":
                    assert name in ("sync.clock", "sync.units"), path
