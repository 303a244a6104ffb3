"""The demo trial, from nothing to a folder that every command can work on."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np

from demo_media.boat import DEMO
from demo_media.cache import default_cache
from demo_media.day import demo_day
from demo_media.files import beside, copy_file, write_text
from demo_media.nmea import gps_log
from demo_media.programme import Part
from demo_media.recipe import FootageRecipe
from demo_media.scenario import DEMO_SCENARIO
from demo_media.sheet import sheet_text
from demo_media.shots import BOW, Shot
from demo_media.simulate import Day
from demo_media.tables import attitude_log, engine_log, marks_log
from demo_media.truth import SCHEMA, Truth, truth_of

Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoTrial:
    """Where the demo trial lies.

    `films` has the files of every recording by its name, and `footage` is the first of all;
    they are empty and None where no footage was asked for.
    """

    folder: Path
    sheet: Path
    truth_path: Path
    truth: Truth
    films: dict[str, tuple[Path, ...]]

    @property
    def footage(self) -> Path | None:
        """The first recording's film."""
        return self.films[BOW.name][0] if self.films else None


def make_demo(
    folder: Path,
    *,
    part: Part = "morning",
    cache: Path | None = None,
    progress: Progress | None = None,
    footage: bool = True,
    recipe: FootageRecipe | None = None,
    processes: int = 2,
) -> DemoTrial:
    """Write the demo trial into a folder: logs, sheet, truth and footage.

    Parameters
    ----------
    folder
        Made where it does not exist. One that holds an earlier demo is written anew.
    part
        The whole day of forty minutes with three recordings, or its first three minutes, the
        launch morning, with one.
    cache
        Where footage is kept between demos; None for the user's cache folder, or the one
        that the environment names in `TRIALREEL_CACHE`.
    progress
        Called with what is being made and the share of it that is done.
    footage
        False leaves the footage out, which takes seconds instead of a minute and more.
    recipe
        Size, rate and settings of the footage, and the length of the first recording; None
        for the demo's own.
    processes
        How many processes draw; 1 draws in this one.

    Raises
    ------
    FileExistsError
        Where the folder holds a trial that this function did not write.
    NotADirectoryError
        Where the folder's path is a file.
    OSError
        Where something cannot be written; nothing half-written stays behind.
    """
    tell = progress or _quiet
    _check_place(folder)
    tell("simulation", 0.0)
    day = demo_day(part)
    truth = truth_of(day, DEMO_SCENARIO, DEMO, part)
    tell("simulation", 1.0)
    texts: dict[str, Callable[[], str]] = {
        "logs/gps.nmea": lambda: gps_log(day, DEMO_SCENARIO),
        "logs/engine.csv": lambda: engine_log(day, DEMO_SCENARIO, part),
        "logs/attitude.csv": lambda: attitude_log(day, DEMO_SCENARIO),
        "logs/marks.csv": lambda: marks_log(DEMO_SCENARIO, part),
        "truth.json": truth.json,
        "trial.toml": lambda: sheet_text(DEMO, DEMO_SCENARIO, part),
    }
    for done, (name, text) in enumerate(texts.items()):
        tell("logs", done / len(texts))
        write_text(folder / name, text())
    _write_series(folder / "truth.npz", day)
    tell("logs", 1.0)
    films = {}
    for shot in DEMO_SCENARIO.shots(part) if footage else ():
        films[shot.name] = tuple(folder / name for name in shot.files)
        kept = _cached_footage(shot, cache, _recipe(shot, recipe), tell, processes)
        for source, film in zip(kept, films[shot.name], strict=True):
            copy_file(source, film)
    return DemoTrial(
        folder=folder,
        sheet=folder / "trial.toml",
        truth_path=folder / "truth.json",
        truth=truth,
        films=films,
    )


def demo_sheet(part: Part) -> str:
    """The sheet that `make_demo` writes for a part of the day."""
    return sheet_text(DEMO, DEMO_SCENARIO, part)


def _recipe(shot: Shot, asked: FootageRecipe | None) -> FootageRecipe:
    """What a recording is made to; only the first one's length may be another."""
    if asked is None:
        return shot.recipe
    return asked if shot == BOW else replace(asked, length_s=shot.recipe.length_s)


def _quiet(_what: str, _share: float) -> None:
    """Tell nobody."""


def _check_place(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise NotADirectoryError(f"{folder} is a file; name a folder for the demo trial")
    if (folder / "trial.toml").exists() and not _is_demo(folder / "truth.json"):
        raise FileExistsError(
            f"{folder} holds a trial that is not the demo; name another folder for the demo"
        )


def _is_demo(path: Path) -> bool:
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(document, dict) and document.get("schema") == SCHEMA


def _write_series(path: Path, day: Day) -> None:
    with beside(path) as part, part.open("wb") as file:
        np.savez_compressed(file, **{field.name: getattr(day, field.name) for field in fields(day)})


def _cached_footage(
    shot: Shot, cache: Path | None, recipe: FootageRecipe, tell: Progress, processes: int
) -> tuple[Path, ...]:
    """The files of a recording, made where the cache does not hold them yet."""
    from demo_media.footage import make_footage  # encoders and drawing: a second to import

    folder, key = cache or default_cache(), recipe.key()
    paths = tuple(folder / f"{Path(name).stem}-{key}.mp4" for name in shot.files)
    stage = "footage" if shot == BOW else f"footage: {shot.name}"
    if not all(path.is_file() for path in paths):
        make_footage(paths, shot, recipe, lambda share: tell(stage, share), processes)
    tell(stage, 1.0)
    return paths
