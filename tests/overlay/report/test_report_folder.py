"""A report's folder is whole or not there, and never takes the place of other people's work."""

import hashlib
import json
from pathlib import Path

import pytest

from overlay.cli.app import run
from overlay.errors import OutputError
from overlay.workflow.report import report_folder
from overlay.workflow.report_folder import MANIFEST, put_in_place

FILES = {"index.html": "<p>one</p>", "tables/steps.csv": "a\n1\n"}


def content(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): path.read_text()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_manifest_says_what_was_written(tmp_path: Path) -> None:
    put_in_place(tmp_path / "report", FILES)
    found = content(tmp_path / "report")
    manifest = json.loads(found.pop(MANIFEST))
    assert found == FILES
    assert manifest["schema"] == "report/1"
    assert manifest["files"] == {
        name: hashlib.sha256(text.encode()).hexdigest() for name, text in FILES.items()
    }
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


def test_a_report_takes_the_place_of_an_earlier_one_whole(tmp_path: Path) -> None:
    put_in_place(tmp_path / "report", FILES)
    put_in_place(tmp_path / "report", {"index.html": "<p>two</p>"})
    found = content(tmp_path / "report")
    assert set(found) == {"index.html", MANIFEST}
    assert found["index.html"] == "<p>two</p>"
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


def foreign(folder: Path) -> None:
    folder.mkdir()
    (folder / "letter.txt").write_text("dear all")


def empty(folder: Path) -> None:
    folder.mkdir()


def a_file(folder: Path) -> None:
    folder.write_text("minutes of the meeting")


def a_link(folder: Path) -> None:
    put_in_place(folder.with_name("elsewhere"), FILES)
    folder.symlink_to(folder.with_name("elsewhere"))


def added(folder: Path) -> None:
    put_in_place(folder, FILES)
    (folder / "tables" / "mine.csv").write_text("b\n2\n")


def changed(folder: Path) -> None:
    put_in_place(folder, FILES)
    (folder / "index.html").write_text("<p>one, as I see it</p>")


def no_manifest_of_ours(folder: Path) -> None:
    folder.mkdir()
    (folder / MANIFEST).write_text('{"schema": "invoice/1", "files": []}')


def broken_manifest(folder: Path) -> None:
    folder.mkdir()
    (folder / MANIFEST).write_text("[1, 2")


@pytest.mark.parametrize(
    "before",
    [foreign, empty, a_file, a_link, added, changed, no_manifest_of_ours, broken_manifest],
    ids=lambda made: made.__name__,
)
def test_what_no_report_wrote_stays_as_it_is(before, tmp_path: Path) -> None:
    place = tmp_path / "report"
    before(place)
    was = content(tmp_path)
    with pytest.raises(OutputError) as caught:
        put_in_place(place, {"index.html": "<p>two</p>"})
    assert "\n" not in str(caught.value)
    assert caught.value.path is not None
    assert content(tmp_path) == was


def test_a_failure_in_the_middle_leaves_the_old_report(tmp_path: Path) -> None:
    """By a name that no file system takes, after the page has been written."""
    place = tmp_path / "report"
    put_in_place(place, FILES)
    was = content(place)
    with pytest.raises(OutputError, match="cannot be written"):
        put_in_place(place, {"index.html": "<p>two</p>", "n" * 300: "x"})
    assert content(place) == was
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


def test_a_sheet_of_another_name_has_a_folder_of_its_own(tmp_path: Path) -> None:
    assert report_folder(tmp_path / "trial.toml") == tmp_path / "report"
    assert report_folder(tmp_path / "second.toml") == tmp_path / "second.report"


def test_the_command_says_where_the_report_is(
    day_sheet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["report", "--trial", str(day_sheet.parent), "--units", "metric", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    folder = Path(told["folder"])
    assert folder == day_sheet.with_name("report-metric")
    assert told["units"] == "metric"
    assert len(list((folder / "tables").glob("*.csv"))) == told["tables"]
    assert len(list((folder / "plots").glob("*.svg"))) == told["plots"]
    assert "km/h" in Path(told["page"]).read_text()
    found = json.loads((folder / "results.json").read_text())
    assert [row["label"] for row in found["launches"][1]["ladder"]] == [
        "20 km/h", "40 km/h", "60 km/h", "80 km/h",
    ]  # fmt: skip


def test_the_command_leaves_a_foreign_folder_alone(
    day_sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import shutil

    folder = tmp_path / "copy"
    shutil.copytree(day_sheet.parent, folder, ignore=shutil.ignore_patterns("report"))
    foreign(folder / "report")
    assert run(["report", "--trial", str(folder)]) == 1
    said = capsys.readouterr().err.strip()
    assert "no report of trialreel" in said
    assert "\n" not in said
    assert content(folder / "report") == {"letter.txt": "dear all"}


def test_a_wrong_set_of_units_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", "--units", "furlongs"]) == 2
    assert "nautical" in capsys.readouterr().err
