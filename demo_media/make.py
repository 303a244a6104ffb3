"""The demo trial, from nothing to a folder that every command can work on."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from demo_media.boat import DEMO
from demo_media.day import demo_day
from demo_media.files import beside, copy_file, write_text
from demo_media.nmea import gps_log
from demo_media.recipe import FootageRecipe
from demo_media.scenario import DEMO_SCENARIO
from demo_media.sheet import sheet_text
from demo_media.simulate import Day
from demo_media.tables import attitude_log, engine_log, marks_log
from demo_media.truth import SCHEMA, Truth, truth_of

Progress = Callable[[str, float], None]

FOOTAGE = Path("footage") / "bow.mp4"


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoTrial:
    """Where the demo trial lies; `footage` is None where none was asked for."""

    folder: Path
    sheet: Path
    truth_path: Path
    truth: Truth
    footage: Path | None


def make_demo(
    folder: Path,
    *,
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
    cache
        Where footage is kept between demos; None for the user's cache folder, or the one
        that the environment names in `TRIALREEL_CACHE`.
    progress
        Called with what is being made and the share of it that is done.
    footage
        False leaves the footage out, which takes a second instead of a minute.
    recipe
        Size and length of the footage; None for the demo's own.
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
    day = demo_day()
    truth = truth_of(day, DEMO_SCENARIO, DEMO)
    tell("simulation", 1.0)
    texts: dict[str, Callable[[], str]] = {
        "logs/gps.nmea": lambda: gps_log(day, DEMO_SCENARIO),
        "logs/engine.csv": lambda: engine_log(day, DEMO_SCENARIO),
        "logs/attitude.csv": lambda: attitude_log(day, DEMO_SCENARIO),
        "logs/marks.csv": lambda: marks_log(DEMO_SCENARIO),
        "truth.json": truth.json,
        "trial.toml": lambda: sheet_text(DEMO, DEMO_SCENARIO),
    }
    for done, (name, text) in enumerate(texts.items()):
        tell("logs", done / len(texts))
        write_text(folder / name, text())
    _write_series(folder / "truth.npz", day)
    tell("logs", 1.0)
    film = None
    if footage:
        film = folder / FOOTAGE
        copy_file(_cached_footage(cache, recipe or FootageRecipe(), tell, processes), film)
    return DemoTrial(
        folder=folder,
        sheet=folder / "trial.toml",
        truth_path=folder / "truth.json",
        truth=truth,
        footage=film,
    )


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
    cache: Path | None, recipe: FootageRecipe, tell: Progress, processes: int
) -> Path:
    """The footage of a recipe, made where the cache does not hold it yet."""
    from demo_media.footage import make_footage  # encoders and drawing: a second to import

    path = (cache or default_cache()) / f"bow-{recipe.key()}.mp4"
    if not path.is_file():
        with beside(path) as part:
            make_footage(part, recipe, lambda share: tell("footage", share), processes)
    tell("footage", 1.0)
    return path


def default_cache() -> Path:
    """Where footage is kept where nobody says otherwise."""
    from platformdirs import user_cache_dir

    named = os.environ.get("TRIALREEL_CACHE")
    return Path(named) / "demo" if named else Path(user_cache_dir("trialreel")) / "demo"
