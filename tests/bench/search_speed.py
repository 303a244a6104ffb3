"""How long the search for clues takes, beside the length of the footage that is searched.

Ten minutes of 720p footage whose picture turns with a boat in a short sea, with her engine in
the wind for sound, are held against two hours of logs: engine speed and attitude ten times a
second, speed over ground, and a lamp's marks. Reading the logs and decoding the sound come
before; everything else counts: pictures are decoded and watched. A row holds where that takes
less than a tenth of the footage's length. Exits 1 where a row misses.

    python tests/bench/search_speed.py --short
    python tests/bench/search_speed.py --only "aboard, no stamp"
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from engine_days import RATE as SOUND_RATE
from engine_days import heard, some_day, speed_of
from picture_world import Attitude, at_sea
from scipy.signal import resample_poly

from overlay.trial import read_material
from overlay.workflow.evidence.search import search
from overlay.workflow.evidence.senses import Senses
from sync.clock import utc_text

LOG_S = 7200.0
FILM_S, SHORT_S = 600.0, 120.0
WIDE, HIGH, RATE_HZ = 1280, 720, 25
T0 = 1_781_150_400.0
FIRST_S = 3000.0
"""When in the logs the film begins."""

GOAL, SHORT_GOAL = 0.1, 0.2
"""A short film bears the cost of two hours of logs as well as a long one."""

SHEET = """\
schema = "trial/1"
name = "Long day"
date = 2026-06-11
time_zone = "UTC"
[[engines]]
cylinders = 4
strokes = 4
[[logs]]
name = "box"
file = "box.csv"
[[logs]]
name = "marks"
file = "marks.csv"
[[recordings]]
name = "bow"
files = ["bow.mp4"]
"""


@dataclass(frozen=True, kw_only=True)
class Row:
    """A camera: what its container says of the time, and what the sheet says of it."""

    name: str
    stamped: bool
    sheet: str = ""


ROWS = (
    Row(name="aboard, stamped", stamped=True),
    Row(name="aboard, no stamp", stamped=False),
    Row(name="afar, no stamp", stamped=False, sheet='engine_distance = "40 m"\n'),
)


def write_logs(folder: Path, rpm: np.ndarray, sea: Attitude) -> None:
    """Two hours of everything, ten rows a second, and three marks of a lamp."""
    t = np.arange(0.0, LOG_S - 2, 0.1)
    rng = np.random.default_rng(5)
    turning = np.gradient(sea.yaw, sea.t_s)
    columns = {
        "rpm": (np.interp(t, np.arange(rpm.size) / 100, rpm) + rng.normal(0, 4, t.size), 0),
        "speed (kn)": (2 * np.interp(t, sea.t_s, sea.speed) + rng.normal(0, 0.1, t.size), 2),
        "pitch (deg)": (np.degrees(sea.at("pitch", t)), 2),
        "roll (deg)": (np.degrees(sea.at("roll", t)), 2),
        "turn rate (deg/s)": (np.degrees(np.interp(t, sea.t_s, turning)), 2),
    }
    with (folder / "box.csv").open("w") as file:
        file.write("time," + ",".join(columns) + "\n")
        texts = [[f"{value:.{digits}f}" for value in values] for values, digits in columns.values()]
        for when, *row in zip(t, *texts, strict=True):
            file.write(f"{utc_text(T0 + when, 1)},{','.join(row)}\n")
    marks = "".join(f"{utc_text(T0 + FIRST_S + s, 3)},lamp\n" for s in (20.0, 21.3, 23.9))
    (folder / "marks.csv").write_text(f"time,event\n{marks}")


def write_film(path: Path, seconds: float, rpm: np.ndarray, sea: Attitude, stamp: bool) -> None:
    """A texture that turns as the boat does, under water's own motion, and the engine's sound."""
    rng = np.random.default_rng(6)
    texture = cv2.GaussianBlur(rng.normal(120, 500, (1400, 2200)).astype(np.float32), (0, 0), 6)
    texture = np.clip(texture, 16, 235).astype(np.uint8)
    metadata = {"creation_time": utc_text(T0 + FIRST_S + 20)} if stamp else {}
    with av.open(str(path), "w") as out:
        out.metadata.update(metadata)
        picture = out.add_stream(
            "libx264", rate=RATE_HZ, options={"preset": "ultrafast", "crf": "26"}
        )
        picture.width, picture.height, picture.pix_fmt = WIDE, HIGH, "yuv420p"
        voice = out.add_stream("aac", rate=48000, layout="mono")
        frame = np.full((HIGH * 3 // 2, WIDE), 128, np.uint8)
        for n in range(round(seconds * RATE_HZ)):
            at = FIRST_S + n / RATE_HZ
            pitch, roll, yaw = (float(sea.at(name, at)) for name in ("pitch", "roll", "yaw"))
            turn = cv2.getRotationMatrix2D((1100.0, 700.0), np.degrees(roll), 1.0)
            turn[:, 2] += (
                WIDE / 2 - 1100 + 60 * np.sin(3 * yaw), HIGH / 2 - 700 + 0.75 * WIDE * pitch
            )  # fmt: skip
            frame[:HIGH] = cv2.warpAffine(texture, turn, (WIDE, HIGH), borderMode=cv2.BORDER_WRAP)
            for packet in picture.encode(av.VideoFrame.from_ndarray(frame, format="yuv420p")):
                out.mux(packet)
        sound = resample_poly(heard(rpm, FIRST_S, seconds, rng, 0.0), 48000 // SOUND_RATE, 1)
        for first in range(0, sound.size, 1024):
            piece = av.AudioFrame.from_ndarray(
                sound[None, first : first + 1024].astype(np.float32), format="fltp", layout="mono"
            )
            piece.sample_rate, piece.pts, piece.time_base = 48000, first, Fraction(1, 48000)
            out.mux(voice.encode(piece))
        out.mux(picture.encode())
        out.mux(voice.encode())


def searched(folder: Path, sheet: str) -> tuple[float, float, str]:
    """Seconds for the sound and for the search, and what the film's tie rests on."""
    (folder / "trial.toml").write_text(SHEET + sheet)
    material = read_material(folder / "trial.toml")
    senses = Senses()
    began = time.perf_counter()
    senses.heard(material.footage["bow"])
    decoded = time.perf_counter()
    ties = search(material, senses).ties
    done = time.perf_counter()
    tie = ties.by_clock.get("footage:bow")
    told = "no tie" if tie is None else ", ".join(sorted({clue.kind for clue in tie.clues}))
    if tie is not None:
        told += f"; {1000 * (tie.map.carry(0.0) - T0 - FIRST_S):+.0f} ms"
    return decoded - began, done - decoded, told


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true", help="less footage, under 50 s in all")
    parser.add_argument("--only", metavar="ROW", choices=[row.name for row in ROWS])
    parser.add_argument("--trials", type=int, default=1, metavar="N")
    given = parser.parse_args()
    seconds, goal = (SHORT_S, SHORT_GOAL) if given.short else (FILM_S, GOAL)
    rows = [row for row in ROWS if given.only in (None, row.name)]
    rng = np.random.default_rng(4)
    rpm, sea = speed_of(some_day(rng, LOG_S), LOG_S, rng), at_sea(8, LOG_S)
    missed = []
    print(f"{'row':18}{'film':>7}{'sound':>8}{'search':>8}{'share':>8}{'goal':>7}  tie rests on")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_logs(folder, rpm, sea)
        made = None
        for row in rows[: 1 if given.short and given.only is None else None]:
            if made != row.stamped:
                write_film(folder / "bow.mp4", seconds, rpm, sea, row.stamped)
                made = row.stamped
            tried = [searched(folder, row.sheet) for _ in range(given.trials)]
            sound, took, told = min(tried, key=lambda one: one[1])
            share = took / seconds
            verdict = "holds" if share < goal else "misses"
            print(
                f"{row.name:18}{seconds:5.0f} s{sound:6.1f} s{took:6.1f} s{share:8.3f}{goal:7.2f}"
                f"  {told}   {verdict}",
                flush=True,
            )
            missed += [row.name] if verdict == "misses" else []
    print(f"misses: {', '.join(missed)}" if missed else "every row holds")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
