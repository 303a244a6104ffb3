"""The read-back: what is read wrong, what is not read, how far off pointers are, and what it costs.

Clips are drawn by the real renderer over noise like spray and over footage, each frame on an
instant of its own, encoded by x264, and read from their pixels. Reading counts characters of every
field and still. Times are of the processor, since others may use the machine. Exits 1 where a row
misses its goal.

    python tests/bench/read_back.py --short
    python tests/bench/read_back.py --footage bow.mp4 --only "1080p crf 23" --trials 200
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import read_film
from read_rows import Bench, agreement, characters, cost, pointers, sampled

from burn_pairs import Figure  # isort: skip


@dataclass(frozen=True, kw_only=True)
class Row:
    """A row of the table, and whether the short run keeps it."""

    name: str
    work: Callable[[Bench], list[Figure]]
    short: bool = False


def all_rows() -> list[Row]:
    """The table's rows."""
    rows = [
        Row(
            name=f"{size} crf {crf}",
            work=lambda bench, size=size, crf=crf: characters(bench, size, crf),
            short=(size, crf) == ("720p", 23),
        )
        for size in read_film.SIZES
        for crf in (18, 23, 28)
    ]
    rows += [
        Row(
            name=f"pointers {size}",
            work=lambda bench, size=size: pointers(bench, size),
            short=size == "720p",
        )
        for size in read_film.SIZES
    ]
    return [
        *rows,
        Row(name="cost", work=cost, short=True),
        Row(name="every 0.5 s", work=sampled, short=True),
        Row(name="two readers", work=agreement),
    ]


def show(figures: Iterable[Figure]) -> bool:
    """Print the table and the verdict; whether every row holds."""
    print(f"\n{'row':26}{'is':>12}{'goal':>12}")
    missed = []
    for one in figures:
        value, sign = f"{one.value:.{one.digits}f} {one.unit}", "≥" if one.at_least else "≤"
        goal = f"{sign}{one.goal:g} {one.unit}"
        verdict = "holds" if one.holds else "misses"
        line = f"{one.row:26}{value.strip():>12}{goal.strip():>12}  {verdict:7}{one.told}"
        print(line.rstrip())
        missed += [] if one.holds else [one.row]
    print(f"misses: {', '.join(missed)}" if missed else "every row holds")
    return not missed


def main() -> int:
    rows = all_rows()
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--short", action="store_true",
        help="fewer frames, under 50 s in all; keeps " + ", ".join(r.name for r in rows if r.short),
    )  # fmt: skip
    parser.add_argument("--only", metavar="ROW", choices=[row.name for row in rows])
    parser.add_argument("--trials", type=int, metavar="N", help="frames of each clip of a row")
    parser.add_argument("--footage", type=Path, metavar="FILE", help="a film to lie below, too")
    given = parser.parse_args()
    figures: list[Figure] = []
    with tempfile.TemporaryDirectory() as name:
        bench = Bench(
            folder=Path(name), short=given.short, frames=given.trials, footage=given.footage
        )
        for row in rows:
            if row.name == given.only or (not given.only and (row.short or not given.short)):
                print(f"{row.name} ...", flush=True)
                figures += row.work(bench)
    return 0 if show(figures) else 1


if __name__ == "__main__":
    sys.exit(main())
