"""What a person sees of a series: plan, live view, status and summary, on a terminal of 80 columns
and without one."""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import pty
import re
import struct
import subprocess
import termios
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from season import COMMAND, make_season, write_series

from overlay.cli.amounts import about, size
from overlay.cli.app import run
from overlay.cli.live_series import sum_of
from overlay.series.folder import SeriesFolder
from overlay.series.state import AtWork, Ended, State
from overlay.workflow.align import align

ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two tried trials and a sheet that cannot be read."""
    large = {"clip_s": 3.0, "size": (1280, 720)}  # enough that a second shows it at work
    folder = make_season(tmp_path_factory.mktemp("season") / "spring", trials=2, **large)
    for day in folder.glob("day*"):
        align(day / "trial.toml")
    (folder / "day9").mkdir()
    (folder / "day9" / "trial.toml").write_text('schema = "trial/1"\nnmae = "x"\n')
    write_series(folder, "[limits]\ncores = 2\n")
    return folder


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = run(["series", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_plan_says_what_how_long_and_how_large(
    season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = asked(capsys, "plan", str(season))
    assert code == 1
    assert "season  3 clips of 3 trials" in out
    assert "2 to make, 1 that cannot be made" in out
    assert re.search(r"about \d+ s, 2 jobs at once; about \d+ MB of clips", out)
    assert "nothing was measured on this machine yet" in out
    assert re.search(r"day1 +clip1 +as-filmed +~ 90 +~ \d+ s +~ \d+ MB", out)
    assert "did you mean 'name'" in out
    assert all(len(line) <= 80 for line in out.splitlines() if str(season) not in line)
    assert not (season / "season.series").exists()


def test_status_before_anything_was_begun_is_one_sentence(
    season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = asked(capsys, "status", str(season))
    assert (code, out) == (2, "")
    assert "no series was begun here; `trialreel series run` begins one." in err


@pytest.mark.whole_road
def test_a_terminal_shows_each_job_and_the_sum_and_status_the_same_from_another(
    season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    process = subprocess.Popen(
        [*COMMAND, "series", "run", str(season)],
        stdout=theirs,
        stderr=theirs,
        stdin=theirs,
        env=os.environ | {"TERM": "xterm"} | {"COLUMNS": "80", "LINES": "24"},
    )
    os.close(theirs)
    seen, statuses = b"", []
    with contextlib.suppress(OSError):  # the terminal closes with its last program
        while told := os.read(mine, 4096):
            seen += told
            if b"renders" in told and not statuses:
                statuses.append(asked(capsys, "status", str(season)))
    os.close(mine)
    assert process.wait() == 1
    text = ESCAPES.sub("", seen.decode())
    assert re.search(r"season: 0 of 3 clips done, 1 failed, 2 at work, about \d+ s left", text)
    assert re.search(r"day[12]: clip1 +renders \d+/90 .*left", text)
    assert "failed: day9" in text
    assert "season  2 of 3 clips done, 1 failed" in text
    code, out, _ = statuses[0]
    assert code == 0
    assert re.search(r"season: \d of 3 clips done, 1 failed", out)
    assert re.search(r"day[12]: clip1", out)
    code, out, _ = asked(capsys, "status", str(season))
    assert code == 1
    assert "season  2 of 2 clips up to date, nothing at work" in out
    told = json.loads(asked(capsys, "status", str(season), "--json")[1])
    assert [row["up_to_date"] for row in told["jobs"]] == [True, True]
    code, out, _ = asked(capsys, "plan", str(season))
    assert "0 to make, 2 up to date, 1 that cannot be made" in out


def state(**facts: object) -> State:
    given = {
        "name": "season", "phase": "clips", "host": "here", "pid": 1, "started_ticks": 1,
        "seconds": 5.0,
        "updated_utc": "", "planned": 40, "up_to_date": 2, "done": 10, "waiting": 26,
        "elsewhere": 0, "left_s": 840.0,
        "at_work": (AtWork(key="a", name="day1: clip1", stage="render", done=1, of=30),),
        "troubles": (Ended(name="day2: go", outcome="failed", sentence="no."),
                     Ended(name="day3: go", outcome="disagrees", sentence="2 of 3.")),
    }  # fmt: skip
    return State(**{**given, **facts})  # type: ignore[arg-type]


def test_a_run_on_another_machine_is_at_work_while_it_tells_of_itself(tmp_path: Path) -> None:
    """Its process number means nothing here; its file is left alone until it has been silent."""
    folder = SeriesFolder(path=tmp_path)
    folder.prepare()
    now = datetime.now(UTC)
    for name, told in (("far", now), ("silent", now - timedelta(minutes=10))):
        one = state(host=name, pid=1, updated_utc=told.isoformat())
        (tmp_path / f"state.{name}.1.json").write_text(json.dumps(one.as_document()))
    assert [one.host for one in folder.states()] == ["far"]
    folder.sweep_all()
    assert [path.name for path in tmp_path.glob("state.*")] == ["state.far.1.json"]


def test_the_sum_counts_what_failed_and_not_what_disagrees() -> None:
    assert sum_of(state()) == (
        "season: 12 of 40 clips done, 1 failed, 1 at work, about 14 min left"
    )
    assert "3 in another run" in sum_of(state(elsewhere=3))
    assert sum_of(state(phase="ties", troubles=())).startswith("season: 12 of 40 trials tied")


def test_without_a_terminal_there_is_a_line_a_minute(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from overlay.cli import live_series

    now = [1000.0]
    monkeypatch.setattr(live_series.time, "monotonic", lambda: now[0])
    with live_series.view() as watch:
        for second in range(150):
            now[0] = 1000.0 + second
            watch(state(done=second))
    lines = capsys.readouterr().err.splitlines()
    assert [line.partition(" of")[0] for line in lines] == [
        "season: 2",
        "season: 62",
        "season: 122",
    ]


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.2, "1 s"), (89, "89 s"), (90, "2 min"), (840, "14 min"), (12_000, "3 h 20 min"),
     (7_190, "2 h"), (36_000, "10 h")],
)  # fmt: skip
def test_times_in_few_words(seconds: float, text: str) -> None:
    assert about(seconds) == text


@pytest.mark.parametrize(
    ("count", "text"), [(10, "1 MB"), (3_400_000, "3 MB"), (1_240_000_000, "1.2 GB")]
)
def test_sizes_in_few_words(count: float, text: str) -> None:
    assert size(count) == text


@pytest.mark.parametrize("command", ["plan", "run"])
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--memory", "lots"], "'lots' is not an amount of memory; write for example '4 GB'"),
        (["--cores", "0"], "greater than or equal to 1"),
        (["nowhere"], "there is nothing here"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_code_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str, words: list[str], said: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    (tmp_path / "trial.toml").write_text('schema = "trial/1"\n')
    code, _, err = asked(capsys, command, *words)
    assert code == 2
    assert said in err
    assert len(err.strip().splitlines()) == 1
