"""The rows of the study of the read-back."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import read_film
from burn_pairs import Figure

from overlay.audit.reading import Readings, read_clip
from overlay.graphics.specimen.sheet import FACEPLATES
from overlay.ledger import Pointer
from sync.media import decoded_frames, frame_times, probe
from sync.units import from_si


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What a row works with: a folder, how much is asked for, and a film to lie below."""

    folder: Path
    short: bool
    frames: int | None
    footage: Path | None

    def each(self, short: int, full: int) -> int:
        """Frames of a clip."""
        return self.frames or (short if self.short else full)


def clips(bench: Bench, size: str, crf: int, frames: int) -> Iterator[read_film.Made]:
    """Every faceplate over spray, and over footage where there is some."""
    grounds = ["spray"] if bench.footage is None or bench.short else ["spray", "footage"]
    for faceplate in FACEPLATES:
        for name in grounds:
            ground = (
                read_film.spray(read_film.SIZES[size])
                if name == "spray"
                else read_film.footage(read_film.SIZES[size], bench.footage or Path())
            )
            path = bench.folder / "clip.mp4"
            yield read_film.make(path, faceplate, size, crf=crf, frames=frames, ground=ground)


@dataclass
class Count:
    """Characters that should have been read, those read wrong, and those not read."""

    all: int = 0
    wrong: int = 0
    unread: int = 0
    least: float = 1.0

    def add(self, found: Readings, made: read_film.Made) -> None:
        """Count what one clip came to."""
        wanted = wanted_texts(made)
        for row in found.texts.itertuples():
            key = (row.frame, row.instrument, row.item)
            still = row.kind == "still"
            text = made.layout.stills[row.index].text if still else wanted.pop(key)
            self.all += len(text)
            if not row.legible:
                self.unread += (
                    max(1, row.text.count("?")) if len(row.text) == len(text) else len(text)
                )
            elif row.text != text:
                self.wrong += max(1, sum(a != b for a, b in zip(row.text, text, strict=False)))
                print(f"  wrong: {row.instrument} {row.item}: {row.text!r}, not {text!r}")
            else:
                self.least = min(self.least, row.confidence)
        self.unread += sum(len(text) for text in wanted.values())  # what was not looked for


def wanted_texts(made: read_film.Made) -> dict[tuple[int, str, str], str]:
    """What each field was made to show."""
    return {
        (frame, one.instrument, one.item): one.text
        for frame, shown in enumerate(made.shown)
        for one in shown
    }


def characters(bench: Bench, size: str, crf: int) -> list[Figure]:
    """Characters read wrong and unread, of all faceplates."""
    count = Count()
    for made in clips(bench, size, crf, bench.each(3, 40 if size == "2160p" else 120)):
        count.add(read_clip(made.path, made.layout, clock=made.clock), made)
    name = f"{size} crf {crf}"
    read = 100 * (1 - count.unread / count.all)
    return [
        Figure(row=f"{name} wrong", value=count.wrong, goal=0, digits=0,
               told=f"of {count.all} characters"),
        Figure(row=f"{name} read", value=read, unit="%", goal=99.5, at_least=True, digits=2,
               told=f"least sure of what is right: {count.least:.2f}"),
    ]  # fmt: skip


def pointers(bench: Bench, size: str) -> list[Figure]:
    """The greatest error of a pointer in shares of its sweep, at CRF 23; and how many are told."""
    errors: dict[str, list[float]] = {}
    over_sd: list[float] = []
    lost, count = Counter[str](), 0
    for made in clips(bench, size, 23, bench.each(10, 120)):
        found = read_clip(made.path, made.layout, clock=made.clock).pointers
        run = read_film.plan_of(made.faceplate, read_film.SIZES[size]).run
        for row in found.itertuples():
            pointer = made.layout.pointers[row.index]
            wanted = _wanted(made, pointer, row.frame, run.counted.along(made.utc_s[row.frame]))
            if math.isnan(wanted):
                continue
            count += 1
            if math.isnan(row.value):
                lost[f"{pointer.instrument} {pointer.item}"] += 1
                continue
            error = (row.value - wanted) / (pointer.high - pointer.low)
            errors.setdefault(f"{pointer.instrument} {pointer.item}", []).append(100 * error)
            over_sd.append((row.value - wanted) / row.sd)
    told = ", ".join(f"{k} {np.mean(v):+.2f}±{np.std(v):.2f}" for k, v in errors.items())
    worst = max(float(np.abs(v).max()) for v in errors.values())
    return [
        Figure(row=f"pointers {size} error", value=worst, unit="%", goal=2, digits=2, told=told),
        Figure(row=f"pointers {size} error/sd", value=float(np.std(over_sd)), goal=1.5, digits=2),
        Figure(row=f"pointers {size} told", value=100 * (1 - lost.total() / count), unit="%",
               goal=98, at_least=True, digits=1,
               told="not told: " + ", ".join(f"{k} {n}" for k, n in lost.items())),
    ]  # fmt: skip


def _wanted(made: read_film.Made, pointer: Pointer, frame: int, along: float) -> float:
    if pointer.item == "along":
        return min(max(along, pointer.low), pointer.high)
    for one in made.shown[frame]:
        if (one.instrument, one.item) == (pointer.instrument, pointer.item):
            value = from_si(one.value, pointer.unit, pointer.quantity)
            return min(max(value, pointer.low), pointer.high) if math.isfinite(value) else math.nan
    return math.nan


@lru_cache(maxsize=1)
def _camera(bench: Bench) -> read_film.Made:
    """A film as cameras write them, with a key frame every two seconds."""
    size = read_film.SIZES["1080p"]
    path = bench.footage
    return read_film.make(
        bench.folder / "camera.mp4", "launch", "1080p", crf=23, frames=bench.each(300, 900),
        ground=read_film.water(size) if path is None else read_film.footage(size, path),
        step_s=1 / read_film.RATE,
        options={"crf": "23", "preset": "veryfast", "g": "60", "keyint_min": "60"},
    )  # fmt: skip


def cost(bench: Bench) -> list[Figure]:
    """Milliseconds of the processor a frame of 1080p over those of decoding it, on the median of
    runs in turn."""
    made = _camera(bench)
    footage = probe(made.path)
    times = frame_times(footage)

    def bare() -> float:
        begun = time.process_time()
        count = sum(1 for _ in decoded_frames(footage, times, range(len(times))))
        return 1000 * (time.process_time() - begun) / count

    def whole() -> float:
        begun = time.process_time()
        found = read_clip(made.path, made.layout, clock=made.clock)
        return 1000 * (time.process_time() - begun) / found.frames

    pairs = [(bare(), whole()) for _ in range(1 if bench.short else 5)]
    over = float(np.median([full - decoding for decoding, full in pairs]))
    told = f"decoding {np.median([decoding for decoding, _ in pairs]):.1f} ms"
    return [Figure(row="cost a frame, 1080p", value=over, unit="ms", goal=4, digits=2, told=told)]


def sampled(bench: Bench) -> list[Figure]:
    """How many times faster than the film runs a frame every half second is read, of a film with a
    key frame every two seconds, as cameras write them."""
    made = _camera(bench)
    span = frame_times(probe(made.path)).span
    seconds = span.stop_s - span.start_s
    taken, worked = [], []
    for _ in range(3):
        begun, work = time.perf_counter(), time.process_time()  # it is about waiting
        read_clip(made.path, made.layout, clock=made.clock, every_s=0.5)
        taken.append(time.perf_counter() - begun)
        worked.append(time.process_time() - work)
    told = f"{seconds:.0f} s of film; {seconds / min(worked):.1f} by the processor"
    return [
        Figure(row="every 0.5 s, times real", value=seconds / min(taken), goal=10, at_least=True,
               digits=1, told=told),
    ]  # fmt: skip


def agreement(bench: Bench) -> list[Figure]:
    """Share of the fields that both readers read and read alike."""
    same = both = count = 0
    for made in clips(bench, "1080p", 23, bench.each(2, 4)):
        ours = read_clip(made.path, made.layout, clock=made.clock).texts
        other = read_clip(made.path, made.layout, clock=made.clock, reader="tesseract").texts
        pair = ours.merge(other, on=["frame", "kind", "index"])
        pair = pair[pair["kind"] == "field"]
        read = pair[pair["legible_x"] & pair["legible_y"]]
        count, both = count + len(pair), both + len(read)
        same += int((read["text_x"] == read["text_y"]).sum())
    share = 100 * same / max(both, 1)
    return [
        Figure(row="two readers, fields alike", value=share, unit="%", goal=95, at_least=True,
               digits=1, told=f"both read {both} of {count}"),
    ]  # fmt: skip
