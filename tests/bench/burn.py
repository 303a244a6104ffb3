"""How long a render takes, held against a bare transcode of the same frames.

Both are run in turn, in one process, with the same encoder settings; the medians are compared.
The render compiles the launch faceplate, draws its four instruments and keeps its ledger.
A ratio of 1 would mean that instruments cost nothing. Exits 1 where a row misses its goal.

    python tests/bench/burn.py --short
    python tests/bench/burn.py --only 1080p --trials 7
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from av.video.frame import PictureType

from overlay.analysis.signals import signal_of
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.picture import Picture
from overlay.graphics.plan import Plan, compile_plan
from overlay.graphics.subject import RunFace, RunMark, Subject
from overlay.ledger import LedgerWriter
from overlay.render import Recipe, burn
from sync.clock import ClockMap
from sync.log import Channel
from sync.media import Footage, probe


@dataclass(frozen=True, kw_only=True)
class Row:
    name: str
    width: int
    height: int
    rate: int
    seconds: int
    goal: float
    preset: str = "veryfast"


ROWS = (
    Row(name="1080p", width=1920, height=1080, rate=30, seconds=10, goal=1.15),
    Row(name="720p", width=1280, height=720, rate=30, seconds=10, goal=1.15),
)

SHORT_SECONDS = 3
SHORT_TRIALS = 3
TRIALS = 5


def the_plan(row: Row, seconds: float) -> Plan:
    """The launch faceplate over a made-up launch that fills the film: the boat gains way after
    a tenth of it, and a mark falls in every fifth."""
    t = np.arange(-2.0, seconds + 2.0, 0.1)
    run = np.clip((t - 0.1 * seconds) / (0.9 * seconds), 0, 1)
    values = {
        "speed": 20 * np.sqrt(run),
        "engine_speed": 12 + 80 * np.tanh(5 * run),
        "pitch": 0.15 * np.sin(np.pi * run),
    }
    marks = [0.3 * seconds, 0.5 * seconds, 0.7 * seconds, 0.9 * seconds]
    signals = {
        name: signal_of(
            Channel(name=name, t_s=t, values=data, clock="utc"),
            {},
            tuple(marks) if name == "speed" else (),
        )
        for name, data in values.items()
    }
    face = RunFace(
        kind="launch",
        title="launch 1",
        start_utc_s=0.1 * seconds,
        stop_utc_s=marks[-1],
        shown_from_utc_s=-1.0,
        shown_to_utc_s=seconds + 1.0,
        marks=tuple(
            RunMark(t_utc_s=m, label=f"{10 * k} mph", text=f"{m:.1f} s", value=m, sd=0.03)
            for k, m in enumerate(marks, start=1)
        ),
    )
    return compile_plan(
        load_faceplate("launch"),
        picture=Picture(width_px=row.width, height_px=row.height),
        subject=Subject(
            signals=signals, units="us", run=face, bands={"engine_speed": (5000 / 60, 6000 / 60)}
        ),
    )


def render(row: Row, footage: Footage, output: Path, recipe: Recipe, seconds: float) -> None:
    """What `trialreel render` does for one clip: compile, burn, and keep the ledger."""
    clock = ClockMap(from_clock="bench", to_clock="utc", offset_s=0.0)
    plan = the_plan(row, seconds)
    with LedgerWriter(output.with_suffix(".parquet"), {}) as ledger:
        burn(footage, output, plan=plan, clock_map=clock, recipe=recipe, record=ledger.record)


def make_footage(path: Path, row: Row, seconds: int) -> Path:
    """A few Mbit/s of what a camera over the bow sees: a sky, and a sea that rushes by."""
    rng = np.random.default_rng(7)
    high, wide = row.height, row.width
    coarse = rng.normal(0, 1, (high // 8, wide // 4)).astype(np.float32)
    fine = rng.normal(0, 1, (high, 2 * wide)).astype(np.float32)
    sea = cv2.resize(coarse, (2 * wide, high), interpolation=cv2.INTER_CUBIC) * 22
    sea += cv2.GaussianBlur(fine, (0, 0), 1.4) * 60
    depth = np.linspace(0, 1, high, dtype=np.float32)[:, None]
    sky = np.broadcast_to(190 - 60 * depth, (high, wide))
    x, y = np.meshgrid(np.arange(wide, dtype=np.float32), np.arange(high, dtype=np.float32))
    with av.open(str(path), "w") as out:
        video = out.add_stream(
            "libx264", rate=row.rate, options={"preset": "veryfast", "crf": "22"}
        )
        video.width, video.height, video.pix_fmt = wide, high, "yuv420p"
        video.codec_context.thread_type = "FRAME"
        sound = out.add_stream("aac", rate=48000)
        for number in range(seconds * row.rate):
            shift = 9.0 * number * (0.2 + y / high)
            swell = 14 * np.sin(number / 12 + x / 300)
            moved = cv2.remap(
                sea,
                (x + shift * 0.35) % (2 * wide - 2),
                (y + swell).clip(0, high - 2),
                cv2.INTER_LINEAR,
            )
            grain = np.roll(fine[:, :wide], rng.integers(0, high, 2), axis=(0, 1)) * 3.5
            luma = np.where(y + swell > high * 0.42, 95 + moved, sky) + grain
            luma = luma.clip(16, 235).astype(np.uint8)
            frame = av.VideoFrame(wide, high, "yuv420p")
            for plane, values in zip(frame.planes, (luma, 134, 118), strict=True):
                target = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
                target[:, : plane.width] = values
            frame.pts, frame.time_base = number, Fraction(1, row.rate)
            out.mux(video.encode(frame))
        for start in range(0, seconds * 48000, 1024):
            block = rng.normal(0, 0.05, (2, 1024)).astype(np.float32)
            hiss = av.AudioFrame.from_ndarray(block, "fltp", "stereo")
            hiss.sample_rate, hiss.pts, hiss.time_base = 48000, start, Fraction(1, 48000)
            out.mux(sound.encode(hiss))
        out.mux(video.encode(None))
        out.mux(sound.encode(None))
    return path


def bare_transcode(source: Path, output: Path, recipe: Recipe) -> None:
    """Decode, encode and mux in the plainest loop, with the render's own encoder settings."""
    with (
        av.open(str(source)) as given,
        av.open(str(output), "w", container_options={"movflags": "+faststart"}) as out,
    ):
        video_in, sound_in = given.streams.video[0], given.streams.audio[0]
        video_in.thread_type = "AUTO"
        video = out.add_stream(recipe.codec, rate=video_in.average_rate, options=recipe.options())
        video.width, video.height, video.pix_fmt = video_in.width, video_in.height, "yuv420p"
        context = video.codec_context
        context.time_base = video.time_base = video_in.time_base
        context.thread_count, context.thread_type = recipe.threads, "FRAME"
        sound = out.add_stream_from_template(sound_in)
        for packet in given.demux(video_in, sound_in):
            if packet.stream is sound_in:
                if packet.size:
                    packet.stream = sound
                    out.mux(packet)
                continue
            for frame in packet.decode():
                frame.pict_type = PictureType.NONE
                out.mux(video.encode(frame))
        out.mux(video.encode(None))


@dataclass(frozen=True, kw_only=True)
class Times:
    """Wall and processor seconds of each run."""

    wall: list[float]
    cpu: list[float]

    def run(self, work: Callable[[], object]) -> None:
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        self.wall.append(time.perf_counter() - wall)
        self.cpu.append(time.process_time() - cpu)


def time_row(row: Row, folder: Path, seconds: int, trials: int) -> tuple[Times, Times]:
    source = make_footage(folder / f"{row.name}.mp4", row, seconds)
    recipe = Recipe(preset=row.preset)
    footage = probe(source)
    output = folder / "out.mp4"
    print(
        f"{row.name}: {seconds} s at {row.rate} frames a second,"
        f" {source.stat().st_size * 8e-6 / seconds:.1f} Mbit/s, x264 {recipe.preset},"
        f" {recipe.threads} threads",
        flush=True,
    )
    bare, rendered = Times(wall=[], cpu=[]), Times(wall=[], cpu=[])
    for _ in range(trials):
        bare.run(lambda: bare_transcode(source, output, recipe))
        rendered.run(lambda: render(row, footage, output, recipe, seconds))
    return bare, rendered


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true", help="3 s of film, under 50 s in all")
    parser.add_argument("--only", metavar="ROW", choices=[row.name for row in ROWS])
    parser.add_argument("--trials", type=int, metavar="N")
    given = parser.parse_args()
    only = given.only or ("1080p" if given.short else None)
    trials = given.trials or (SHORT_TRIALS if given.short else TRIALS)
    results = []
    with tempfile.TemporaryDirectory() as name:
        os.environ["TRIALREEL_CACHE"] = str(Path(name, "cache"))
        for row in ROWS:
            if only in (None, row.name):
                seconds = SHORT_SECONDS if given.short else row.seconds
                results.append((row, *time_row(row, Path(name), seconds, trials)))
    print(f"{'row':8}{'bare, s':>10}{'render, s':>11}{'ratio':>8}{'goal':>7}{'cpu':>7}   pairs")
    ratios = []
    for row, bare, rendered in results:
        ratios.append(statistics.median(rendered.wall) / statistics.median(bare.wall))
        cpu = statistics.median(rendered.cpu) / statistics.median(bare.cpu)
        pairs = " ".join(f"{r / b:.3f}" for b, r in zip(bare.wall, rendered.wall, strict=True))
        print(
            f"{row.name:8}{statistics.median(bare.wall):10.2f}"
            f"{statistics.median(rendered.wall):11.2f}"
            f"{ratios[-1]:8.3f}{row.goal:7.2f}{cpu:7.3f}   {pairs}"
        )
    good = all(ratio <= row.goal for ratio, (row, _, _) in zip(ratios, results, strict=True))
    verdict = "within the goal" if good else "misses the goal"
    print(f"render / bare transcode: {max(ratios):.3f} ({verdict})")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
