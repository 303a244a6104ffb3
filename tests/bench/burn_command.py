"""How soon the command answers, each time as a process of its own.

A render's first frame is learnt from the line that `--verbose` prints as the encoder gets it. The
clip's first bytes say nothing of it: they are the head of the file, and sound.

The row is judged with logs that an earlier command kept, as they are after `align`; what it takes
where the logs must be parsed is told beside it. Modules are compiled in the first, uncounted run,
as they are once for an installed program.
"""

from __future__ import annotations

import os
import shutil
import signal
import statistics
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

from burn_film import SIZES, film

from demo_media import make_demo
from demo_media.shots import BOW
from sync import log_cache
from sync.cache_folder import CACHE_VARIABLE

COMMAND = (sys.executable, "-P", "-c", "from overlay.cli import main; main()")
FIRST_FRAME = "the first frame"
FILM_S = 40
PATIENCE_S = 60.0


def help_s(trials: int) -> float:
    """Median wall seconds of `trialreel --help`; a first one, which reads from disk, is not
    counted."""
    took = []
    for _ in range(trials + 1):
        began = time.perf_counter()
        subprocess.run([*COMMAND, "--help"], check=True, capture_output=True)
        took.append(time.perf_counter() - began)
    return statistics.median(took[1:])


def first_frame_s(folder: Path, trials: int) -> tuple[float, str]:
    """Median wall seconds from starting `trialreel render` to its first frame, and by what it was
    told; a first one is not counted."""
    environment = _installed(folder)
    trial, logs = aligned_trial(folder, environment), folder / "cache" / log_cache.FOLDER
    kept, parsed = [], []
    for _ in range(trials + 1):
        if not any(logs.iterdir()):
            raise RuntimeError(f"no log was kept in {logs}")
        kept.append(_first_frame(trial, environment))
        shutil.rmtree(logs)
        parsed.append(_first_frame(trial, environment))
    took, first_took = (statistics.median(one for one, _ in runs[1:]) for runs in (kept, parsed))
    return took, f"{kept[-1][1]}; {first_took:.2f} s where the logs must be parsed"


def _installed(folder: Path) -> dict[str, str]:
    """An environment in which modules are compiled once, as an installed program's are."""
    environment = os.environ | {
        CACHE_VARIABLE: str(folder / "cache"),
        "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
    }
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    return environment


def aligned_trial(folder: Path, environment: dict[str, str]) -> Path:
    """The demo's launch morning with a 720p film of the right length, tied by its first frame."""
    made = make_demo(folder / "trial", part="morning", footage=False)
    bow = made.folder / BOW.files[0]
    bow.parent.mkdir(exist_ok=True)
    film(folder, SIZES["720p"], FILM_S * 30).replace(bow)
    began = datetime.fromtimestamp(made.truth.footage_offset_s, UTC).isoformat("T", "milliseconds")
    told = ["--frame", "0", "--utc", began.replace("+00:00", "Z")]
    done = subprocess.run(
        [*COMMAND, "align", BOW.name, "-t", str(made.folder), *told],
        check=False,
        env=environment,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        raise RuntimeError(f"the trial could not be aligned:\n{done.stdout}{done.stderr}")
    return made.folder


def _first_frame(trial: Path, environment: dict[str, str]) -> tuple[float, str]:
    began = time.perf_counter()
    process = subprocess.Popen(
        [*COMMAND, "--verbose", "render", "-t", str(trial)],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    heard: list[str] = []
    assert process.stderr is not None
    ending = threading.Timer(PATIENCE_S, process.kill)
    ending.start()
    try:
        for line in process.stderr:
            heard.append(line)
            if FIRST_FRAME in line:
                return time.perf_counter() - began, "by the line of --verbose"
    finally:
        ending.cancel()
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=PATIENCE_S)
    raise RuntimeError("there was no first frame:\n" + "".join(heard))
