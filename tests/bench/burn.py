"""How much a render costs over what must be done anyway: time, memory, and the wait before it.

Ratios are of two ways to make the same clip, run in turn in one process. They are judged by the
median of the pairs' ratios; the ratio of the medians stands beside it, and that of all processors'
time, which other programs move less. The render compiles the launch faceplate, draws its four
instruments and keeps its ledger; a ratio of 1 would mean that this costs nothing. What a process
imports is imported before the first pair; the rows of the command count it. Exits 1 where a row
misses its goal.

--short keeps 1080p veryfast, moviepy plates, drawing 1080p, memory, growth and help, with less
film: it shows that they work and where they stand, and only the whole run settles a ratio.

    python tests/bench/burn.py --short
    python tests/bench/burn.py --only "1080p veryfast" --trials 7
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import burn_command
import burn_memory
import cv2
import draw
import numpy as np
from burn_bare import bare_transcode, settings_of
from burn_film import RATE, SIZES, film
from burn_pairs import Figure, in_turn
from burn_render import render, the_plan

from overlay.graphics.specimen.sheet import FACEPLATES
from overlay.render import Recipe
from sync.media import probe

CODINGS = MappingProxyType(
    {
        "veryfast": {"preset": "veryfast"},
        "medium": {"preset": "medium"},
        # The cheapest preset asks the most of the render, and lets 2160p come to an end.
        "x265": {"encoder": "x265", "preset": "ultrafast"},
    }
)


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What a row works with."""

    folder: Path
    short: bool
    trials: int | None

    def times(self, short: int = 3) -> int:
        """How often a row is tried: as asked for, else five times, or fewer in the short run."""
        return self.trials or (short if self.short else 5)


@dataclass(frozen=True, kw_only=True)
class Row:
    """A row of the table, and whether the short run keeps it."""

    name: str
    work: Callable[[Bench], Figure]
    short: bool = False


def transcode_row(size: str, coding: str) -> Row:
    """Render with instruments / bare transcode of the same frames, same settings.

    Plates cost the encoder something too, whoever draws them. So it is told beside it what the
    render takes against a bare transcode of a film that has the plates in its pictures already.
    """
    name = f"{size} {coding}"

    def work(bench: Bench) -> Figure:
        few = size == "2160p" or coding == "x265"
        source = film(bench.folder, SIZES[size], 60 if bench.short else 90 if few else 10 * RATE)
        recipe, footage = Recipe(**CODINGS[coding]), probe(source)
        clip, settings = bench.folder / "clip.mp4", settings_of(recipe)
        the_plan(footage)
        pairs = in_turn(
            lambda: bare_transcode(source, clip, settings),
            lambda: render(footage, clip, recipe),
            bench.times(),
        )
        plated = bench.folder / "plated.mp4"
        render(footage, plated, Recipe(crf=23))  # as the film itself was made
        same = in_turn(
            lambda: bare_transcode(plated, clip, settings),
            lambda: render(footage, clip, recipe),
            bench.times(),
        )
        told = f"{pairs.told}; plates in the film already {same.of_pairs:.3f}"
        return Figure(row=name, value=pairs.of_pairs, goal=1.05, told=told)

    return Row(name=name, work=work, short=name == "1080p veryfast")


def moviepy_row(name: str, way: str) -> Row:
    """The same instruments composed with MoviePy / render."""

    def work(bench: Bench) -> Figure:
        import burn_moviepy

        compose = getattr(burn_moviepy, way)
        footage = probe(film(bench.folder, SIZES["1080p"], 30 if bench.short else 5 * RATE))
        clip, recipe = bench.folder / "clip.mp4", Recipe(**CODINGS["veryfast"])
        the_plan(footage)
        pairs = in_turn(
            lambda: render(footage, clip, recipe),
            lambda: compose(footage, clip, recipe),
            bench.times(short=1),
        )
        return Figure(row=name, value=pairs.of_pairs, goal=4, at_least=True, told=pairs.told)

    return Row(name=name, work=work, short=way == "plates")


def drawing(size: str) -> Row:
    """Milliseconds a frame for making it writable and drawing on it, on one core."""
    name = f"drawing {size}"

    def work(bench: Bench) -> Figure:
        frames, films = 60 if bench.short else 200, bench.times(short=1)
        threads = cv2.getNumThreads()
        cv2.setNumThreads(1)
        plan, _ = draw.compiled("launch", size)
        content = draw.film(plan, frames + 5)
        start_s = FACEPLATES["launch"] - 8
        tried = [draw.drawn(plan, content, start_s) for _ in range(films)]
        cv2.setNumThreads(threads)
        medians = [float(np.median(one)) for one in tried]
        slow = np.percentile(np.concatenate(tried), 95)
        return Figure(
            row=name, value=statistics.median(medians), unit="ms", digits=2,
            goal=draw.SIZES[size][2],
            told=f"slowest 5 %: {slow:.2f} ms, least disturbed {min(medians):.2f}, {films}×",
        )  # fmt: skip

    return Row(name=name, work=work, short=size == "1080p")


def memory(bench: Bench) -> Figure:
    """Peak of a process that renders, less that of one that only transcodes."""
    source = film(bench.folder, SIZES["1080p"], 60 if bench.short else 10 * RATE)
    clip, how = bench.folder / "clip.mp4", CODINGS["veryfast"]
    settings = settings_of(Recipe(**how))
    bare, rendered = [], []
    for _ in range(bench.times(short=1)):
        bare.append(burn_memory.of_bare(source, clip, settings))
        rendered.append(burn_memory.of_render(source, clip, how))
    a, b = statistics.median(bare), statistics.median(rendered)
    return Figure(
        row="memory", value=b - a, unit="MB", digits=0, goal=250, told=f"{b:.0f} less {a:.0f} MB"
    )


def growth(bench: Bench) -> Figure:
    """How much more memory a film ten times as long takes; in the short run, four times."""
    size, seconds = ("360p", (10, 40)) if bench.short else ("1080p", (60, 600))
    # The cheapest preset holds the fewest pictures, so that what grows is the larger share.
    how: dict[str, Any] = {"preset": "ultrafast"}
    a, b = (
        burn_memory.of_render(
            film(bench.folder, SIZES[size], RATE * length), bench.folder / "clip.mp4", how
        )
        for length in seconds
    )
    told = f"{size}, {seconds[0]} s: {a:.0f} MB, {seconds[1]} s: {b:.0f} MB"
    return Figure(row="growth", value=100 * (b / a - 1), unit="%", digits=1, goal=5, told=told)


def first_frame(bench: Bench) -> Figure:
    """From starting `trialreel render` on a trial that is aligned to its first frame."""
    seconds, told = burn_command.first_frame_s(bench.folder, bench.times())
    return Figure(row="first frame", value=seconds, unit="s", digits=2, goal=2.0, told=told)


def help_page(bench: Bench) -> Figure:
    """`trialreel --help`."""
    seconds = burn_command.help_s(bench.times())
    return Figure(row="help", value=seconds, unit="s", digits=2, goal=0.5)


def all_rows() -> list[Row]:
    """The table's rows."""
    return [
        *(transcode_row(size, coding) for size in ("720p", "1080p", "2160p") for coding in CODINGS),
        moviepy_row("moviepy plates", "plates"),
        moviepy_row("moviepy clip", "as_offered"),
        drawing("1080p"),
        drawing("2160p"),
        Row(name="memory", work=memory, short=True),
        Row(name="growth", work=growth, short=True),
        Row(name="first frame", work=first_frame),
        Row(name="help", work=help_page, short=True),
    ]


def show(figures: Iterable[Figure]) -> bool:
    """Print the table and the verdict; whether every row holds."""
    print(f"\n{'row':14}{'is':>9}{'goal':>10}")
    missed = []
    for one in figures:
        value, sign = f"{one.value:.{one.digits}f} {one.unit}", "≥" if one.at_least else "≤"
        goal = f"{sign}{one.goal:g} {one.unit}"
        verdict = "holds" if one.holds else "misses"
        line = f"{one.row:14}{value.strip():>9}{goal.strip():>10}  {verdict:7}{one.told}"
        print(line.rstrip())
        missed += [] if one.holds else [one.row]
    print(f"misses: {', '.join(missed)}" if missed else "every row holds")
    return not missed


def main() -> int:
    rows = all_rows()
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--short", action="store_true",
        help="less film, under 50 s in all; keeps " + ", ".join(r.name for r in rows if r.short),
    )  # fmt: skip
    parser.add_argument("--only", metavar="ROW", choices=[row.name for row in rows])
    parser.add_argument("--trials", type=int, metavar="N", help="pairs, or runs, of a row")
    given = parser.parse_args()
    figures = []
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(folder=Path(name), short=given.short, trials=given.trials)
        for row in rows:
            if row.name == given.only or (not given.only and (row.short or not given.short)):
                print(f"{row.name} ...", flush=True)
                figures.append(row.work(bench))
    return 0 if show(figures) else 1


if __name__ == "__main__":
    sys.exit(main())
