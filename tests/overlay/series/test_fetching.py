"""Trials at an address: fetched once, again where they changed, and made like any other."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path

import pytest
from season import make_season, run_series, write_series

from overlay.errors import SheetError
from overlay.series.asked import series_of, sheets_of
from overlay.series.fetching import fetch
from overlay.workflow.align import align

pytestmark = pytest.mark.whole_road


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_season(tmp_path_factory.mktemp("season") / "spring", trials=2)
    for day in folder.glob("day*"):
        align(day / "trial.toml")
    (folder / "day1" / "notes.txt").write_text("nothing that a sheet names")
    return folder


def test_a_pattern_at_an_address_finds_its_trials(made: Path, tmp_path: Path) -> None:
    sheets = fetch(f"file://{made}/day*/trial.toml", tmp_path / "own")
    assert [sheet.parent.name for sheet in sheets] == ["day1", "day2"]
    for sheet, day in zip(sheets, ("day1", "day2"), strict=True):
        assert {path.name for path in sheet.parent.iterdir()} == {
            "trial.toml", "gps.nmea", "bow.mp4", "trial.ties.json", ".fetched.json",
        }  # fmt: skip
        for name in ("trial.toml", "gps.nmea", "bow.mp4"):
            assert (sheet.parent / name).read_bytes() == (made / day / name).read_bytes()


def test_only_what_changed_is_fetched_again(made: Path, tmp_path: Path) -> None:
    far = Path(shutil.copytree(made, tmp_path / "far"))
    own = tmp_path / "own"
    (sheet,) = fetch(f"file://{far}/day1", own)
    film = sheet.parent / "bow.mp4"
    before = film.stat().st_mtime_ns
    with (far / "day1" / "gps.nmea").open("a") as log:
        log.write("$GPXXX\n")
    assert fetch(f"file://{far}/day1", own) == [sheet]
    assert film.stat().st_mtime_ns == before
    assert (sheet.parent / "gps.nmea").read_text().endswith("$GPXXX\n")
    film.unlink()
    fetch(f"file://{far}/day1", own)
    assert film.read_bytes() == (far / "day1" / "bow.mp4").read_bytes()


def test_a_series_is_made_of_trials_in_an_archive(made: Path, tmp_path: Path) -> None:
    """fsspec's own way of writing it: a file system in a file."""
    archive = tmp_path / "season.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as out:
        for path in made.rglob("*"):
            if path.is_file():
                out.write(path, path.relative_to(made))
    own = tmp_path / "own"
    own.mkdir()
    series = write_series(own)
    text = series.read_text().replace("day*/trial.toml", f"zip://day*/trial.toml::{archive}")
    series.write_text(text)
    assert len(sheets_of(series_of([str(own)]))) == 2
    ran = run_series(own)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "2 of 2 clips done" in ran.stdout
    assert len(list((own / "season.series" / "clips").glob("*.mp4"))) == 2


@pytest.mark.parametrize(
    "address",
    ["nonsense://x/trial.toml", "file:///nowhere/at/all/trial.toml", "zip://trial.toml::/no.zip"],
)
def test_an_address_that_leads_nowhere_is_one_sentence(address: str, tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="cannot be fetched") as caught:
        fetch(address, tmp_path / "own")
    assert "\n" not in str(caught.value)
    assert list(tmp_path.rglob("*.toml")) == []
