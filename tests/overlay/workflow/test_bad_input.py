"""Bad input ends with one clear sentence, the right exit code, and nothing half-written."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from film import Film, Track, make_film
from log_samples import nmea, rmc

from overlay.cli.app import run

SHEET = """\
schema = "trial/1"
name = "Tern"
units = "nautical"

[boat]
length = "6.0 m"

[[logs]]
name = "gps"
file = "gps.nmea"

[[recordings]]
name = "bow"
files = ["bow.mp4"]
ties = [{ frame = 0, utc = 2026-06-11T09:00:00.000Z }]

[[clips]]
name = "pass"
recording = "bow"
"""


def gps(first: int = 0, count: int = 40) -> str:
    """Ten fixes a second from 09:00 on, invented."""
    return nmea(
        rmc(
            f"{9 + (first + i) // 36000:02d}{(first + i) // 600 % 60:02d}"
            f"{(first + i) / 10 % 60:05.2f}",
            f"{10 + i / 10:.1f}",
        )
        for i in range(count)
    )


@pytest.fixture
def trial(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A trial of four seconds that renders as it stands: 2 s of film made by PyAV, a log of
    invented fixes, and a typed tie."""
    monkeypatch.setenv("TRIALREEL_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "trial"
    folder.mkdir()
    (folder / "trial.toml").write_text(SHEET)
    (folder / "gps.nmea").write_text(gps())
    make_film(folder / "bow.mp4", Film(frames=30, width=1280, height=720))
    return folder


def sentence_of(capsys: pytest.CaptureFixture[str]) -> str:
    """What was said on standard error: one line, and no traceback."""
    said = capsys.readouterr().err.strip()
    assert said.startswith("trialreel: ")
    assert said.endswith(".")
    assert "\n" not in said
    assert "Traceback" not in said
    return said


def state(folder: Path) -> dict[str, bytes]:
    """Every file of a folder but the ties, which may be found before a render fails."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != "trial.ties.json"
    }


def edit(folder: Path, old: str, new: str) -> None:
    sheet = (folder / "trial.toml").read_text()
    assert old in sheet
    (folder / "trial.toml").write_text(sheet.replace(old, new, 1))


def test_the_trial_as_it_stands_renders(trial: Path) -> None:
    assert run(["render", "--trial", str(trial)]) == 0
    assert sorted(path.name for path in (trial / "clips").iterdir()) == [
        "pass.ledger.parquet",
        "pass.mp4",
    ]


def empty_log(folder: Path) -> None:
    (folder / "gps.nmea").write_text("")


def never_a_position(folder: Path) -> None:
    lines = nmea(f"GPRMC,0900{i:02d}.00,V,,,,,,,110626,,,N" for i in range(30))
    (folder / "gps.nmea").write_text(lines)


def truncated_video(folder: Path) -> None:
    whole = (folder / "bow.mp4").read_bytes()
    (folder / "bow.mp4").write_bytes(whole[: len(whole) // 2])


def unknown_key(folder: Path) -> None:
    edit(folder, "length =", "lenght =")


def no_such_unit(folder: Path) -> None:
    edit(folder, "6.0 m", "6.0 cubits")


def wrong_dimension(folder: Path) -> None:
    edit(folder, "6.0 m", "6.0 deg")


def log_ends_before_the_footage(folder: Path) -> None:
    edit(folder, "T09:00:00.000Z", "T11:00:00.000Z")


def a_list_of_films_for_a_film(folder: Path) -> None:
    (folder / "bow.mp4").write_text("ffconcat version 1.0\nfile /etc/passwd\n")


def output_over_an_input(folder: Path) -> None:
    edit(folder, 'recording = "bow"\n', 'recording = "bow"\nfile = "bow.mp4"\n')


def output_outside_the_folder(folder: Path) -> None:
    edit(folder, 'recording = "bow"\n', 'recording = "bow"\nfile = "../pass.mp4"\n')


def missing_footage(folder: Path) -> None:
    (folder / "bow.mp4").unlink()


def no_such_run(folder: Path) -> None:
    edit(folder, 'recording = "bow"\n', 'recording = "bow"\nrun = "launch 7"\n')


def no_such_faceplate(folder: Path) -> None:
    edit(folder, 'recording = "bow"\n', 'recording = "bow"\nfaceplate = "lunch"\n')


def frame_beyond_the_last(folder: Path) -> None:
    edit(folder, "frame = 0", "frame = 4000")


CASES = [
    (empty_log, 2, ["gps.nmea", "empty"]),
    (never_a_position, 2, ["gps.nmea", "position"]),
    (truncated_video, 2, ["bow.mp4", "cut off"]),
    (unknown_key, 2, ["trial.toml", "boat.lenght", "'length'"]),
    (no_such_unit, 2, ["boat.length", "'cubits'"]),
    (wrong_dimension, 2, ["boat.length", "angle"]),
    (log_ends_before_the_footage, 3, ["end before", "09:00:0", "11:00:0"]),
    (a_list_of_films_for_a_film, 2, ["bow.mp4", "list"]),
    (output_over_an_input, 2, ["bow.mp4", "overwrite an input"]),
    (output_outside_the_folder, 2, ["leave the trial's folder"]),
    (missing_footage, 2, ["'bow.mp4' does not exist"]),
    (no_such_run, 2, ["'launch 7'", "trialreel results"]),
    (no_such_faceplate, 2, ["lunch", "launch"]),
    (frame_beyond_the_last, 2, ["4000", "29"]),
]


@pytest.mark.parametrize(
    ("spoil", "code", "said"), CASES, ids=[spoil.__name__ for spoil, _, _ in CASES]
)
def test_one_sentence_and_nothing_half_written(
    trial: Path,
    capsys: pytest.CaptureFixture[str],
    spoil: Callable[[Path], None],
    code: int,
    said: list[str],
) -> None:
    spoil(trial)
    before = state(trial)
    assert run(["render", "--trial", str(trial)]) == code
    sentence = sentence_of(capsys)
    for part in said:
        assert part in sentence
    assert state(trial) == before


def test_footage_without_sound_gets_no_tie_from_a_clap(
    trial: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(trial, "ties = [{ frame = 0, utc = 2026-06-11T09:00:00.000Z }]\n", "")
    edit(trial, "[[clips]]", '[[marks]]\nlabel = "clap"\nutc = 2026-06-11T09:00:01Z\n\n[[clips]]')
    make_film(trial / "bow.mp4", Film(frames=30, width=1280, height=720, sound=()))
    assert run(["align", "--trial", str(trial)]) == 3
    said = capsys.readouterr().err
    assert "the recording 'bow' has no tie" in said
    assert "has no sound" in said
    assert run(["render", "--trial", str(trial)]) == 3
    assert "has no sound" in sentence_of(capsys)
    assert not (trial / "clips").exists()


def test_footage_with_nothing_like_a_clap_gets_no_tie(
    trial: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(trial, "ties = [{ frame = 0, utc = 2026-06-11T09:00:00.000Z }]\n", "")
    edit(trial, "[[clips]]", '[[marks]]\nlabel = "clap"\nutc = 2026-06-11T09:00:01Z\n\n[[clips]]')
    assert run(["align", "--trial", str(trial), "--json"]) == 3
    assert "typed" in capsys.readouterr().err


CHILD = """\
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))
import signal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
from overlay.cli.app import run
sys.exit(run(["render", "--trial", sys.argv[2]]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on a file's size")
@pytest.mark.parametrize("most_bytes", [2_000, 30_000])
def test_a_disk_that_takes_no_more_leaves_nothing_behind(trial: Path, most_bytes: int) -> None:
    """A limit on the size of any file stands in for the full disk: the system refuses the
    write in the same place."""
    assert run(["align", "--trial", str(trial)]) == 0
    before = state(trial)
    ran = subprocess.run(
        [sys.executable, "-c", CHILD, str(most_bytes), str(trial)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ},
    )
    assert ran.returncode == 1, ran.stderr
    assert "Traceback" not in ran.stderr
    assert ran.stderr.strip().count("\n") == 0
    assert "cannot be written" in ran.stderr or "space" in ran.stderr or "large" in ran.stderr
    assert state(trial) == before
    assert not any((trial / "clips").glob(".*")) if (trial / "clips").exists() else True


def test_a_channel_without_a_value_shows_none_on_every_frame(trial: Path) -> None:
    """A hole in the log is a hole on the screen, and never the last value."""
    from overlay.figures import NO_VALUE
    from overlay.ledger import read_ledger

    make_film(trial / "bow.mp4", Film(frames=90, width=1280, height=720, sound=(Track(),)))
    (trial / "gps.nmea").write_text(gps(0, 10) + gps(22, 18))
    assert run(["render", "--trial", str(trial)]) == 0
    rows = read_ledger(trial / "clips" / "pass.ledger.parquet").rows
    speed = rows[rows["instrument"] == "speed"].set_index("frame")
    shown = speed["text"].astype(str)
    assert len(shown) == 90
    # The hole runs from 0.9 s to 2.2 s; the grid is a quarter of a second.
    assert set(shown[30:66]) == {NO_VALUE}
    assert NO_VALUE not in set(shown[15:22])
    assert np.isnan(speed["value_si"][30:66]).all()
