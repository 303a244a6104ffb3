"""A season of small trials for the tests of the series: invented launches, films of waves.

The films are made by `film.make_film` (x264 through PyAV); each trial has one launch of 30 kn,
logged ten times a second, and its camera tied by a typed time.
"""

from __future__ import annotations

import contextlib
import hashlib
import math
import os
import shutil
import signal
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

import av
from film import Film, Track, make_film
from log_samples import nmea, rmc

COMMAND = (sys.executable, "-P", "-c", "from overlay.cli import main; main()")
RATE = Fraction(30000, 1001)

SHEET = """\
schema = "trial/1"
name = "Tern {number}"
units = "nautical"

[[logs]]
name = "gps"
file = "gps.nmea"

[[recordings]]
name = "bow"
files = ["bow.mp4"]
ties = [{{ frame = 0, utc = 2026-06-11T09:00:02.000Z }}]
"""

CLIP = """
[[clips]]
name = "{name}"
recording = "bow"
start = "{start_s} s"
stop = "{stop_s} s"
"""


def launch(length_s: float) -> str:
    """Ten fixes a second: rest, from 6 s on up to 30 kn, and that held with a slow swing of a knot
    either way; invented."""
    held = max(120, round(10 * length_s))
    speeds = [0.0] * 60 + [min(30.0, i * 0.5) for i in range(120)]
    speeds += [30.0 + math.sin(i / 40) for i in range(held - 120)]
    return nmea(rmc(_clock(i), f"{kn:.1f}") for i, kn in enumerate(speeds))


def _clock(tenth: int) -> str:
    minutes, tenths = divmod(tenth, 600)
    return f"09{minutes:02d}{tenths / 10:05.2f}"


def make_season(
    folder: Path,
    *,
    trials: int = 2,
    clips: int = 1,
    clip_s: float = 1.0,
    start_s: float = 2.0,
    size: tuple[int, int] = (640, 360),
    film_s: float = 5.0,
) -> Path:
    """Trials `day1`, `day2` … in a folder, each with clips `clip1` …, all of one length."""
    folder.mkdir(parents=True, exist_ok=True)
    film = make_film(
        folder / "film.mp4",
        Film(frames=round(film_s * float(RATE)), width=size[0], height=size[1],
             time_base=1 / RATE / 1001, steps=(1001,), sound=(Track(),),
             options={"preset": "ultrafast", "g": "30"}),
    )  # fmt: skip
    for number in range(1, trials + 1):
        day = folder / f"day{number}"
        day.mkdir()
        (day / "gps.nmea").write_text(launch(film_s))
        text = SHEET.format(number=number)
        for clip in range(1, clips + 1):
            begin_s = start_s + 0.25 * (clip - 1)
            text += CLIP.format(name=f"clip{clip}", start_s=begin_s, stop_s=begin_s + clip_s)
        (day / "trial.toml").write_text(text, encoding="utf-8")
        shutil.copy(film, day / "bow.mp4")
    film.unlink()
    return folder


def write_series(folder: Path, more: str = "", *, audit: bool = False) -> Path:
    """A `series.toml` for all trials of a folder."""
    path = folder / "series.toml"
    path.write_text(
        'schema = "series/1"\nname = "season"\ntrials = ["day*/trial.toml"]\n'
        f"audit = {str(audit).lower()}\n{more}",
        encoding="utf-8",
    )
    return path


def run_series(
    folder: Path, *words: str, timeout_s: float = 120.0
) -> subprocess.CompletedProcess[str]:
    """`trialreel series run` as a person's shell runs it."""
    return subprocess.run(
        [*COMMAND, "series", "run", *words, str(folder)],
        capture_output=True,
        text=True,
        timeout=timeout_s,
        check=False,
        env=os.environ | {"COLUMNS": "100"},
    )


def prints_of(clip: Path) -> list[tuple[int, str]]:
    """Time stamp and a hash of each picture of a clip, as decoded."""
    with av.open(str(clip)) as film:
        return [
            (frame.pts, hashlib.sha256(frame.to_ndarray().tobytes()).hexdigest())
            for frame in film.decode(video=0)
        ]


def outputs_of(folder: Path) -> dict[str, object]:
    """What a series made: ledgers by their bytes, clips by their pictures."""
    clips = next(folder.glob("*.series")) / "clips"
    made: dict[str, object] = {}
    for path in sorted(clips.iterdir()):
        if path.name.endswith(".ledger.parquet"):
            made[path.name] = hashlib.sha256(path.read_bytes()).hexdigest()
        elif path.suffix == ".mp4":
            made[path.name] = prints_of(path)
        else:
            made[path.name] = "there"
    return made


def left_behind(folder: Path) -> list[str]:
    """What no run should leave: halves, locks, orders, states."""
    own = next(folder.glob("*.series"))
    return [
        str(path.relative_to(own))
        for path in own.rglob("*")
        if path.name.startswith((".making", "state."))
        or ".part" in path.name
        or path.parent.name == ".locks"
    ]


def begun(folder: Path) -> subprocess.Popen[bytes]:
    """A run of a series in the background, in a process group of its own."""
    return subprocess.Popen(
        [*COMMAND, "series", "run", str(folder)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        process_group=0,
    )


def killed_parent(folder: Path, after_s: float) -> bool:
    """Begin a run and kill it so long after its first job began; whether it was killed at work."""
    process = begun(folder)
    workers = _at_work(folder, process)
    time.sleep(after_s)
    killed = process.poll() is None
    process.kill()
    process.wait()
    _wait_for_end_of(workers | _workers_of(folder))
    return killed


def killed_child(folder: Path, after_s: float) -> bool:
    """Begin a run, kill one of its children so long after it began, and let the run go on; whether
    there was one to kill. The run must come to a good end by itself."""
    process = begun(folder)
    try:
        workers = _at_work(folder, process)
        time.sleep(after_s)
        workers = _workers_of(folder) or workers
        killed = False
        for pid in sorted(workers)[:1]:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
                killed = True
        code = process.wait(timeout=120)
        assert code == 0, f"the run ended with {code}"
        return killed
    finally:
        process.kill()
        process.wait()


def _at_work(folder: Path, process: subprocess.Popen[bytes]) -> set[int]:
    """The processes of the first jobs, as soon as there are some; none where the run is over."""
    until = time.monotonic() + 60
    while time.monotonic() < until and process.poll() is None:
        workers = _workers_of(folder)
        if workers:
            return workers
        time.sleep(0.02)
    return set()


def _workers_of(folder: Path) -> set[int]:
    """Processes that do a job of this folder, by their command lines."""
    found = set()
    for place in Path("/proc").glob("[0-9]*"):
        try:
            words = (place / "cmdline").read_bytes().split(b"\0")
        except OSError:
            continue
        if b"overlay.series.work" in words and str(folder).encode() in b" ".join(words):
            found.add(int(place.name))
    return found


def _wait_for_end_of(workers: set[int]) -> None:
    until = time.monotonic() + 30
    while any(Path(f"/proc/{pid}").exists() for pid in workers):
        assert time.monotonic() < until, "a child outlived its parent by half a minute"
        time.sleep(0.05)
