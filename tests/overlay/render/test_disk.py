"""A disk that fills up, and Ctrl-C, in processes of their own, as a user would meet them."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

Shoot = Callable[..., Path]

RENDER = """
import signal, sys, time
from pathlib import Path
from overlay.render import burn
from sync.clock import ClockMap
from sync.errors import TrialReelError
from sync.media import probe

# whoever is run in the background inherits a Ctrl-C that is ignored
signal.signal(signal.SIGINT, signal.default_int_handler)

class Slow:
    def draw(self, planes, t_utc_s):
        time.sleep(float(sys.argv[3]))
        print("frame", flush=True)
        return ()

try:
    burn(
        probe(Path(sys.argv[1])), Path(sys.argv[2]), plan=Slow(),
        clock_map=ClockMap(from_clock="bow", to_clock="utc", offset_s=0.0),
    )
except TrialReelError as error:
    print(type(error).__name__, error)
    sys.exit(2)
except KeyboardInterrupt:
    sys.exit(130)
"""


def command(source: Path, output: Path, wait_s: float = 0.0) -> list[str]:
    return [sys.executable, "-c", RENDER, str(source), str(output), str(wait_s)]


def test_ctrl_c_ends_at_once_and_leaves_nothing(shoot: Shoot, tmp_path: Path) -> None:
    source = shoot(frames=120)
    folder = tmp_path / "out"
    folder.mkdir()
    with subprocess.Popen(
        command(source, folder / "clip.mp4", 0.05), stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as child:
        assert child.stdout is not None
        for _ in range(10):
            child.stdout.readline()
        assert len(list(folder.iterdir())) == 1
        child.send_signal(signal.SIGINT)
        start = time.monotonic()
        _, said = child.communicate(timeout=20)
    assert child.returncode == 130, said.decode()
    assert time.monotonic() - start < 10
    assert said == b""
    assert list(folder.iterdir()) == []


def test_interrupted_renders_of_damaged_footage_always_end(shoot: Shoot, tmp_path: Path) -> None:
    """Codecs log from their own threads and need the interpreter's lock to do so; freed under
    that lock in the middle of their work, they would wait for it for ever."""
    whole = shoot("whole.mp4", frames=90, container_options={"movflags": "faststart"})
    code = """
import random, sys
from pathlib import Path
from overlay.render import burn
from sync.clock import ClockMap
from sync.media import probe

class Stop:
    def __init__(self, frames):
        self.left = frames
    def draw(self, planes, t_utc_s):
        self.left -= 1
        if self.left < 0:
            raise KeyboardInterrupt
        return ()

rng = random.Random(1)
whole, folder = Path(sys.argv[1]).read_bytes(), Path(sys.argv[2])
start = whole.index(b"mdat") + 100
for n in range(40):
    data = bytearray(whole)
    for _ in range(150):
        data[rng.randrange(start, len(data))] ^= rng.randrange(1, 255)
    path = folder / f"{n}.mp4"
    path.write_bytes(bytes(data))
    try:
        burn(probe(path), folder / "clip.mp4", plan=Stop(rng.randrange(60)),
             clock_map=ClockMap(from_clock="bow", to_clock="utc", offset_s=0.0))
    except KeyboardInterrupt:
        print(n)
"""
    folder = tmp_path / "out"
    folder.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", code, str(whole), str(folder)],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        env={**os.environ, "TRIALREEL_CACHE": str(tmp_path / "cache")},
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert len(done.stdout.split()) > 30
    assert not list(folder.glob("*clip*"))


def test_a_file_that_may_not_grow_is_told_and_removed(shoot: Shoot, tmp_path: Path) -> None:
    """The system's own limit on the size of a file, set for the child alone."""
    source = shoot("big.mp4", options={"preset": "ultrafast", "crf": "1"})
    folder = tmp_path / "out"
    folder.mkdir()

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    done = subprocess.run(
        command(source, folder / "clip.mp4"),
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=limit,
        timeout=60,
        env={**os.environ, "TRIALREEL_CACHE": str(tmp_path / "cache")},
    )
    assert done.returncode == 2, done.stderr
    last = done.stdout.splitlines()[-1]
    assert last.startswith("OutputError")
    assert "File too large" in last
    assert done.stderr == ""
    assert list(folder.iterdir()) == []


@pytest.fixture
def small_disk() -> list[str]:
    """The front of a command that runs the rest with a disk of 20 MB at $DISK.

    Needs Linux and the right to have a mount namespace; where that is missing there is no
    full disk to be had, and `test_a_file_that_may_not_grow_is_told_and_removed` stands alone.
    """
    unshare = shutil.which("unshare")
    if unshare is None:
        pytest.skip("there is no unshare here to mount a small disk with")
    probe = [unshare, "-rm", "sh", "-c", "mount -t tmpfs -o size=20m none /mnt"]
    if subprocess.run(probe, capture_output=True, check=False).returncode:
        pytest.skip("mounting a small disk is not allowed here")
    script = (
        'mount -t tmpfs -o size=20m none "$DISK" && "$@"; code=$?; ls -A "$DISK" >&2; exit $code'
    )
    return [unshare, "-rm", "sh", "-c", script, "sh"]


def test_a_disk_that_fills_up_is_told_and_nothing_stays(
    small_disk: list[str], shoot: Shoot, tmp_path: Path
) -> None:
    """While the clip is being made, another program takes the rest of the disk."""
    source = shoot("big.mp4", options={"preset": "ultrafast", "crf": "1"}, frames=120)
    disk = tmp_path / "disk"
    disk.mkdir()
    script = RENDER.replace(
        "        return ()",
        "        if not getattr(self, 'full', False):\n"
        "            self.full = True\n"
        "            import errno\n"
        "            with open(Path(sys.argv[2]).parent / 'other', 'wb', buffering=0) as file:\n"
        "                try:\n"
        "                    while True:\n"
        "                        file.write(bytes(4096))\n"
        "                except OSError as error:\n"
        "                    assert error.errno == errno.ENOSPC\n"
        "        return ()",
    )
    done = subprocess.run(
        [*small_disk, sys.executable, "-c", script, str(source), str(disk / "clip.mp4"), "0"],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        env={**os.environ, "DISK": str(disk), "TRIALREEL_CACHE": str(tmp_path / "cache")},
    )
    last = done.stdout.splitlines()[-1]
    assert last.startswith("OutputError"), done.stderr
    assert "the disk is full, and the clip was not finished" in last
    assert done.returncode == 2
    assert done.stderr.split() == ["other"]


def test_a_disk_with_too_little_room_is_refused_before_a_frame_is_drawn(
    small_disk: list[str], shoot: Shoot, tmp_path: Path
) -> None:
    source = shoot(
        "big.mp4", options={"preset": "ultrafast", "crf": "0"}, width=640, height=360, frames=180
    )
    assert source.stat().st_size > 4e6
    disk = tmp_path / "disk"
    disk.mkdir()
    done = subprocess.run(
        [*small_disk, *command(source, disk / "clip.mp4")],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        env={**os.environ, "DISK": str(disk), "TRIALREEL_CACHE": str(tmp_path / "cache")},
    )
    (line,) = done.stdout.splitlines()
    assert "MB free, and this clip may take" in line
    assert (done.returncode, done.stderr) == (2, "")
