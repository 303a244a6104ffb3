"""The command line as its users meet it."""

import datetime as dt
import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from film import Film, make_film
from log_samples import nmea, rmc

from demo_media import make_demo
from overlay.cli.app import app, run
from sync.clues import CLUES

ROOT = Path(__file__).parents[3]
COMMANDS = [command.name or command.callback.__name__ for command in app.registered_commands]


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's logs and sheet, without its footage."""
    folder = tmp_path_factory.mktemp("demo")
    make_demo(folder, footage=False)
    sheet = (folder / "trial.toml").read_text()
    (folder / "trial.toml").write_text(sheet[: sheet.index("[[recordings]]")])
    return folder


def test_there_are_the_commands_of_the_house() -> None:
    house = ["demo", "new", "check", "align", "clues", "results", "report", "specimen", "compare",
             "render", "transparent", "lineup", "card", "reel", "audit"]  # fmt: skip
    assert house == COMMANDS
    assert [group.name for group in app.registered_groups] == ["series"]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([command, "--help"]) == 0
    said = capsys.readouterr().out
    assert f"trialreel {command}" in said
    assert len(said.splitlines()) > 5


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_stands_in_the_readme(command: str) -> None:
    assert f"trialreel {command}" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_a_clue_is_explained_by_the_name_that_align_has_for_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["clues"]) == 0
    listed = capsys.readouterr().out
    for kind in CLUES.values():
        shown = kind.key.replace("_", " ")
        assert shown in listed
        assert run(["clues", shown]) == 0
        assert f"{kind.key}: {kind.text}" in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [["render", "--nosuch"], ["nosuch"], ["clues", "horn"], ["align", "--frame", "x"], ["new"]],
)
def test_a_wrong_call_is_one_sentence_and_bad_input(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(arguments) == 2
    said = capsys.readouterr().err.strip()
    assert said.startswith("trialreel: ")
    assert "\n" not in said


def test_frame_and_time_belong_together(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["align", "bow", "--frame", "3"]) == 2
    assert "--utc" in capsys.readouterr().err


def test_the_sheets_schema_can_be_had(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--sheet-schema"]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert schema["$schema"].endswith("2020-12/schema")
    assert "usable_tank" in json.dumps(schema)


def test_a_machine_without_libgl_is_told_what_to_install(tmp_path: Path) -> None:
    """OpenCV's own import error, raised by a stand-in on the path of a child process."""
    (tmp_path / "cv2.py").write_text(
        "raise ImportError('libGL.so.1: cannot open shared object file: No such file')\n"
    )
    code = (
        "import sys\n"
        "sys.path.insert(0, sys.argv[1])\n"
        "from overlay.cli.app import run\n"
        "sys.exit(run(['specimen', sys.argv[2]]))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path), str(tmp_path / "all.png")],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "TRIALREEL_CACHE": str(tmp_path / "cache")},
    )
    assert ran.returncode == 1
    assert "apt install libgl1" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_an_unforeseen_error_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import overlay.workflow.check

    def fall(sheet: Path) -> None:
        raise ZeroDivisionError("by zero\nand so on")

    monkeypatch.setattr(overlay.workflow.check, "check", fall)
    assert run(["check"]) == 1
    said = capsys.readouterr().err.strip()
    assert "defect" in said
    assert "\n" not in said


def test_check_tells_rates_marks_and_clocks(
    trial: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["check", "--trial", str(trial)]) == 0
    said = capsys.readouterr().out
    for part in ("nmea0183", "10.0 Hz", "50.0 Hz", "clap, button", "log engine"):
        assert part in said


def test_check_answers_a_program(trial: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--trial", str(trial), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["schema"] == "check/2"
    assert [log["name"] for log in answer["logs"]] == ["gps", "engine", "attitude", "marks"]


def test_results_print_definitions_delays_and_doubt(
    trial: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["results", "--trial", str(trial)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for part in (
        "launch 1",
        "40 mph",
        "± is one standard deviation",
        "start of a launch:",
        "common practice, no published source",
        "least-squares",
        "one direction only",
        "never a passage plan",
        "keep 10% of the usable tank back",
    ):
        assert part in said
    delays = said[said.index("delays taken out") :]
    assert "speed gps 0.20 0.02 the sheet" in delays


def test_results_answer_a_program_as_their_file_does(
    trial: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["results", "--trial", str(trial), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer == json.loads((trial / "trial.results.json").read_text())
    assert answer["schema"] == "results/1"


def test_the_sheet_may_choose_another_start(
    trial: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import shutil

    folder = tmp_path / "chosen"
    shutil.copytree(trial, folder)
    with (folder / "trial.toml").open("a") as sheet:
        sheet.write('\n[definitions]\nlaunch_start = "first_movement"\n')
    assert run(["results", "--trial", str(folder)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    began = said[said.index("how each began") : said.index("launches: acceleration")]
    assert " speed " in began
    assert " throttle " not in began
    assert "start of a launch: the boat's first movement" in said


def pass_by(folder: Path) -> None:
    """Twenty fixes of an invented pass at 09:00, and a second of film by PyAV."""
    (folder / "gps.nmea").write_text(
        nmea(rmc(f"0900{i / 10:05.2f}", f"{12 + i / 10:.1f}") for i in range(20))
    )
    make_film(folder / "bow.mp4", Film(frames=30, width=320, height=180))


def test_a_new_trial_goes_down_the_road_once_it_is_tied(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pass_by(tmp_path)
    assert run(["new", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "what I could not tell" in said
    assert "next: trialreel check" in said
    sheet = tomllib.loads((tmp_path / "trial.toml").read_text())
    assert sheet["date"] == dt.date(2026, 6, 11)
    assert [log["name"] for log in sheet["logs"]] == ["gps"]
    assert run(["check", "--trial", str(tmp_path)]) == 0
    assert run(["render", "--trial", str(tmp_path)]) == 3
    assert "no tie" in capsys.readouterr().err
    typed = ["align", "bow", "--trial", str(tmp_path), "--frame", "6", "--utc"]
    assert run([*typed, "2026-06-11T09:00:00.500Z"]) == 0
    assert (tmp_path / "checks" / "bow-frame-6.png").stat().st_size > 1000
    assert "typed" in capsys.readouterr().out
    tie = json.loads((tmp_path / "trial.ties.json").read_text())["ties"]["footage:bow"]
    at_nine = dt.datetime(2026, 6, 11, 9, tzinfo=dt.UTC).timestamp()
    assert tie["offset_s"] == pytest.approx(at_nine + 0.5 - 6 * 512 / 15360, abs=1e-6)
    assert "# time_zone" in (tmp_path / "trial.toml").read_text()  # comments are kept


def test_a_typed_tie_can_be_corrected(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pass_by(tmp_path)
    assert run(["new", str(tmp_path)]) == 0
    for second in ("0.500", "0.700"):
        call = ["align", "bow", "--trial", str(tmp_path), "--frame", "6"]
        assert run([*call, "--utc", f"2026-06-11T09:00:0{second}Z"]) == 0
    sheet = tomllib.loads((tmp_path / "trial.toml").read_text())
    (tie,) = sheet["recordings"][0]["ties"]
    assert tie["utc"].microsecond == 700_000
    capsys.readouterr()
    assert run(["align", "bow", "--trial", str(tmp_path), "--frame", "99", "--utc", "9:00"]) == 2
    assert "'9:00' is not a time" in capsys.readouterr().err


def test_a_sheet_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pass_by(tmp_path)
    (tmp_path / "trial.toml").write_text('schema = "trial/1"\n')
    assert run(["new", str(tmp_path)]) == 1
    assert "already" in capsys.readouterr().err
    assert (tmp_path / "trial.toml").read_text() == 'schema = "trial/1"\n'


def test_the_demo_does_not_settle_on_other_peoples_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "letter.txt").write_text("dear all")
    assert run(["demo", str(tmp_path)]) == 1
    assert "taken by something else" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["letter.txt"]


def test_the_demo_does_not_write_over_a_sheet_that_somebody_edited(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = make_demo(tmp_path / "demo", footage=False)
    made.sheet.write_text(made.sheet.read_text() + "# my own note\n")
    assert run(["demo", str(made.folder)]) == 1
    assert "written over" in capsys.readouterr().err
    assert made.sheet.read_text().endswith("# my own note\n")


def test_an_interrupt_ends_with_130_and_leaves_nothing(tmp_path: Path) -> None:
    """Ctrl-C in the middle of a render, sent as the terminal would."""
    import signal
    import time

    if sys.platform == "win32":
        pytest.skip("Windows has no SIGINT to send to another process")
    pass_by(tmp_path)
    quick = {"preset": "ultrafast", "g": "24"}
    make_film(tmp_path / "bow.mp4", Film(frames=600, width=1280, height=720, options=quick))
    assert run(["new", str(tmp_path)]) == 0
    call = ["align", "bow", "--trial", str(tmp_path), "--frame", "0"]
    assert run([*call, "--utc", "2026-06-11T09:00:00.000Z"]) == 0
    code = (
        "import signal, sys\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from overlay.cli.app import run\n"
        "sys.exit(run(['render', '--trial', sys.argv[1]]))\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ},
    )
    deadline = time.monotonic() + 180
    while time.monotonic() < deadline and not any((tmp_path / "clips").glob(".making-*/*")):
        time.sleep(0.02)
    child.send_signal(signal.SIGINT)
    _, said = child.communicate(timeout=180)
    assert child.returncode == 130, said
    assert "interrupted" in said
    assert "Traceback" not in said
    assert list((tmp_path / "clips").iterdir()) == []
