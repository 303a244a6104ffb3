"""Trials at an address: fetched once, again where they changed, and made like any other."""

from __future__ import annotations

import shutil
import subprocess
import threading
import zipfile
from pathlib import Path

import pytest
from season import COMMAND, make_season, run_series, write_series

from overlay.errors import SheetError
from overlay.series.asked import series_of, sheets_of
from overlay.series.fetching import fetch
from overlay.series.locks import held, locked
from overlay.series.plan import plan_of
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
            "trial.toml", "gps.nmea", "bow.mp4", "trial.ties.json",
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
    assert fetch(f"file://{far}/day1", own) == {sheet: None}
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


@pytest.mark.parametrize("address", ["nonsense://x/trial.toml", "zip://trial.toml::/no.zip"])
def test_an_address_that_leads_nowhere_is_one_sentence(address: str, tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="cannot be fetched") as caught:
        fetch(address, tmp_path / "own")
    assert "\n" not in str(caught.value)
    assert list(tmp_path.rglob("*.toml")) == []


def test_a_trial_that_is_not_there_is_refused_in_one_sentence(tmp_path: Path) -> None:
    address = "file:///nowhere/at/all/trial.toml"
    ((sheet, why),) = fetch(address, tmp_path / "own").items()
    assert f"{address} cannot be fetched" in str(why)
    assert "\n" not in str(why)
    assert not sheet.exists()


BARE = """\
schema = "trial/1"
name = "Tern"

[[logs]]
name = "gps"
file = "{log}"
"""


def archive_of(path: Path, files: dict[str, str], *, broken: str | None = None) -> Path:
    """Files in an archive; one letter of the broken one is another than its check sum is of."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as out:
        for name, text in files.items():
            out.writestr(zipfile.ZipInfo(name), text)
    if broken is not None:
        whole = path.read_bytes()
        assert whole.count(files[broken].encode()) == 1
        path.write_bytes(whole.replace(files[broken].encode(), files[broken][:-1].encode() + b"~"))
    return path


def test_a_file_that_could_not_be_fetched_is_fetched_by_the_next_run(tmp_path: Path) -> None:
    def files(log: str) -> dict[str, str]:
        return {"day/trial.toml": BARE.format(log="gps.nmea"), "day/gps.nmea": log}

    archive, own = tmp_path / "season.zip", tmp_path / "own"
    address = f"zip://day::{archive}"
    archive_of(archive, files("the old log"))
    ((sheet, why),) = fetch(address, own).items()
    assert why is None
    archive_of(archive, files("a new and longer log"), broken="day/gps.nmea")
    assert "cannot be fetched" in str(fetch(address, own)[sheet])
    archive_of(archive, files("a new and longer log"))
    assert fetch(address, own) == {sheet: None}
    assert sheet.with_name("gps.nmea").read_text() == "a new and longer log"


def test_a_log_that_is_gone_there_is_gone_here(tmp_path: Path) -> None:
    day = tmp_path / "day"
    day.mkdir()
    (day / "trial.toml").write_text(BARE.format(log="gps.nmea"))
    (day / "gps.nmea").write_text("a log")
    (sheet,) = fetch(f"file://{day}", tmp_path / "own")
    assert sheet.with_name("gps.nmea").is_file()
    (day / "gps.nmea").unlink()
    fetch(f"file://{day}", tmp_path / "own")
    assert not sheet.with_name("gps.nmea").exists()
    (day / "gps.nmea").write_text("a log")
    fetch(f"file://{day}", tmp_path / "own")
    assert sheet.with_name("gps.nmea").is_file()


def test_folders_of_one_name_in_two_archives_are_two_trials(tmp_path: Path) -> None:
    own = tmp_path / "own"
    sheets = []
    for name in ("spring", "autumn"):
        files = {"day/trial.toml": BARE.format(log="gps.nmea"), "day/gps.nmea": name}
        archive_of(tmp_path / f"{name}.zip", files)
        sheets += fetch(f"zip://day/trial.toml::file://{tmp_path}/{name}.zip", own)
    logs = [sheet.with_name("gps.nmea").read_text() for sheet in sheets]
    assert logs == ["spring", "autumn"]


@pytest.mark.parametrize("home", ["", "day/"])
@pytest.mark.parametrize("up", [2, 3, 4])
def test_nothing_is_written_outside_of_a_trials_folder(home: str, up: int, tmp_path: Path) -> None:
    """Names that lead upwards, in an archive and in a sheet that knows of them."""
    name = "../" * up + "escaped.txt"
    far = f"{home}{name}" if home else name
    files = {f"{home}trial.toml": BARE.format(log=name), far: "out", "../" * (up - 1) + "x": "out"}
    archive = archive_of(tmp_path / "season.zip", files)
    own = tmp_path / "a" / "b" / "own"
    ((sheet, why),) = fetch(f"zip://{home}trial.toml::{archive}", own).items()
    assert why is None
    assert sheet.is_file()
    assert list(tmp_path.rglob("escaped*")) == []


def test_a_link_does_not_lead_out_of_a_trials_folder(tmp_path: Path) -> None:
    day, outside = tmp_path / "day", tmp_path / "outside"
    (day / "logs").mkdir(parents=True)
    outside.mkdir()
    (day / "trial.toml").write_text(BARE.format(log="logs/gps.nmea"))
    (day / "logs" / "gps.nmea").write_text("a log")
    own = tmp_path / "own"
    (sheet,) = fetch(f"file://{day}", own)
    shutil.rmtree(sheet.parent / "logs")
    (sheet.parent / "logs").symlink_to(outside)
    assert "leads out" in str(fetch(f"file://{day}", own)[sheet])
    assert list(outside.iterdir()) == []


def test_who_plans_waits_while_another_fetches_the_trial(tmp_path: Path) -> None:
    day, own = tmp_path / "day", tmp_path / "own"
    day.mkdir()
    (day / "trial.toml").write_text(BARE.format(log="gps.nmea"))
    (day / "gps.nmea").write_text("a log")
    (sheet,) = fetch(f"file://{day}", own)
    (day / "gps.nmea").write_text("a longer log")
    place = sheet.parents[1]
    (place / ".99999999.part").write_text("half of a film, of a process that was killed")
    waiting = threading.Thread(target=fetch, args=(f"file://{day}", own))
    with locked(place / ".lock"):
        waiting.start()
        waiting.join(0.5)
        assert waiting.is_alive()
        assert sheet.with_name("gps.nmea").read_text() == "a log"
    waiting.join(20)
    assert not waiting.is_alive()
    assert sheet.with_name("gps.nmea").read_text() == "a longer log"
    assert {path.name for path in place.iterdir()} == {sheet.parent.name, ".fetched.json"}
    assert held(place / ".lock") is None


def test_what_is_wrong_with_one_trial_does_not_end_the_series(made: Path, tmp_path: Path) -> None:
    """One sheet with a key that there is not, one log that cannot be read from the archive."""
    files = {
        str(path.relative_to(made)): path.read_bytes() for path in made.rglob("*") if path.is_file()
    }
    archive = tmp_path / "season.zip"
    broken = BARE.format(log="gps.nmea")
    more = {"day3/trial.toml": 'schema = "trial/1"\nnonsense = 3\n', "day4/trial.toml": broken}
    archive_of(archive, {**more, "day4/gps.nmea": "a log 123"}, broken="day4/gps.nmea")
    with zipfile.ZipFile(archive, "a", zipfile.ZIP_STORED) as out:
        for name, content in files.items():
            out.writestr(name, content)
    own = tmp_path / "own"
    own.mkdir()
    series = write_series(own)
    address = f"zip://day*/trial.toml::{archive}"
    series.write_text(series.read_text().replace("day*/trial.toml", address))
    plan = plan_of(series_of([str(own)]))
    assert [job.name for job in plan.jobs] == ["day1: clip1", "day2: clip1"]
    sheet, log = plan.refused
    assert sheet.trial == "day3"
    assert "nonsense: no such key" in sheet.sentence
    assert log.trial == "day4"
    assert f"day4/trial.toml, which {address} finds, cannot be fetched" in log.sentence


MOUNTED = 'mount -t tmpfs -o size=256k tmpfs "$0" && cd "$0" && exec "$@"'


def test_a_full_disk_is_told_as_such(tmp_path: Path) -> None:
    """A disk of 256 kB, in memory and in a name space of its own, and a log of a megabyte."""
    disk, day = tmp_path / "disk", tmp_path / "day"
    disk.mkdir()
    day.mkdir()
    alone = ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", MOUNTED, str(disk)]
    tried = subprocess.run([*alone, "true"], capture_output=True, text=True, check=False)
    if tried.returncode:
        pytest.skip(f"no disk can be mounted here: {tried.stderr.strip()}")
    (day / "trial.toml").write_text(BARE.format(log="gps.nmea"))
    (day / "gps.nmea").write_text("log\n" * 250_000)
    left = f"{shutil.which('find')} . -name '*.part' -o -name gps.nmea"
    plan = [*alone, "sh", "-c", f'"$@"; echo $?; {left}', "sh", *COMMAND, "series", "plan"]
    ran = subprocess.run(
        [*plan, f"file://{day}"], capture_output=True, text=True, check=False, timeout=60
    )
    assert "the disk is full, and the trial was not fetched" in " ".join(ran.stderr.split())
    assert "check the address" not in ran.stderr
    assert ran.stdout.split() == ["1"]
