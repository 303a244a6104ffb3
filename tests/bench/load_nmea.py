"""How fast and in how much memory an hour of NMEA 0183 loads, beside a bare loop of pynmea2.

    python tests/bench/load_nmea.py --short
    python tests/bench/load_nmea.py --only tagged --trials 3

A made-up receiver writes ten fixes a second, four sentences a fix. Every measurement has a
process of its own, and the two of a pair run one after the other; CPU time is compared, since
both sides have one thread and a busy machine moves it least. The ratio of speeds is the
median over the pairs. Exits 1 where a row is slower than its goal or grows beyond its limit.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import reduce
from operator import xor
from pathlib import Path

GOAL = 0.6
"""Speed over that of a bare loop (the project's own goal)."""

MOST_MIB = 300.0
"""Growth above what the imports take."""

FIXES = 36_000


def sentence(body: str) -> str:
    """A body with its `$` and checksum."""
    return f"${body}*{reduce(xor, body.encode(), 0):02X}"


def bodies(i: int) -> tuple[str, str, str]:
    """RMC, GGA and VTG of one fix."""
    seconds = 9 * 3600 + i / 10
    clock = f"{seconds // 3600:02.0f}{seconds // 60 % 60:02.0f}{seconds % 60:05.2f}"
    knots, course = 20 + 10 * math.sin(i / 600), i / 50 % 360
    place = f"60{5 + i / 36000:08.5f},N,02332.34612,E"
    return (
        f"GPRMC,{clock},A,{place},{knots:.3f},{course:.2f},110626,,,A",
        f"GPGGA,{clock},{place},1,09,0.9,{3 + math.sin(i / 30):.1f},M,18.0,M,,",
        f"GPVTG,{course:.2f},T,,M,{knots:.3f},N,{knots * 1.852:.3f},K,A",
    )


def with_clock(i: int) -> Iterator[str]:
    """A fix with ZDA."""
    rmc, gga, vtg = bodies(i)
    yield from (rmc, gga, vtg, f"GPZDA,{rmc[6:15]},11,06,2026,00,00")


def with_heading(i: int) -> Iterator[str]:
    """A fix with HDT."""
    yield from (*bodies(i), f"HEHDT,{i / 50 % 360:.1f},T")


def plain(text: str, _: int) -> str:
    """A line that is a sentence and nothing else."""
    return text


def tagged(text: str, i: int) -> str:
    """A line that begins with a tag block of the logger's."""
    block = f"s:bow,c:{1781168400 + i // 10}"
    return f"\\{block}*{reduce(xor, block.encode(), 0):02X}\\{text}"


def damaged(text: str, i: int) -> str:
    """A line of which one in a hundred has lost a character."""
    return text if i % 25 else text[:20] + text[21:]


Row = tuple[Callable[[int], Iterator[str]], Callable[[str, int], str]]

ROWS: dict[str, Row] = {
    "zda": (with_clock, plain),
    "hdt": (with_heading, plain),
    "tagged": (with_heading, tagged),
    "damaged": (with_clock, damaged),
}


def write(row: Row, fixes: int, path: Path) -> int:
    """Write the log of a row; returns how many sentences it has."""
    make, dress = row
    lines = [dress(sentence(body), i) for i in range(fixes) for body in make(i)]
    path.write_text("\r\n".join(lines) + "\r\n")
    return len(lines)


def peak_mib() -> float:
    """Most memory that the process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def load(path: Path) -> dict[str, float]:
    """Load a log as the project does."""
    from sync.readers import LogSettings, read_log

    before = peak_mib()
    start = time.process_time()
    log = read_log(path, settings=LogSettings())
    took = time.process_time() - start
    assert log.channels["speed"].values.size > 0.9 * FIXES / 60
    return {"s": took, "mib": peak_mib() - before, "sentences": log.counts["sentences"]}


def parse(path: Path) -> dict[str, float]:
    """The bare loop: every sentence through pynmea2.parse, and nothing done with it."""
    import pynmea2

    parsed = 0
    start = time.process_time()
    with path.open(encoding="latin-1") as file:
        for line in file:
            try:
                pynmea2.parse(line[line.rfind("$") :])
            except pynmea2.ParseError:
                continue
            parsed += 1
    return {"s": time.process_time() - start, "mib": peak_mib(), "sentences": parsed}


SIDES = {"load": load, "parse": parse}


def child(side: str, path: Path) -> dict[str, float]:
    """One side in a process of its own."""
    ran = subprocess.run(
        [sys.executable, __file__, "--child", side, str(path)],
        capture_output=True,
        text=True,
        check=True,
    )
    return dict(json.loads(ran.stdout))


def measure(name: str, trials: int, fixes: int) -> bool:
    """Measure one row, print it, and say whether it keeps within its goals."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "gps.nmea"
        count = write(ROWS[name], fixes, path)
        pairs = [(child("load", path), child("parse", path)) for _ in range(trials)]
    assert all(ours["sentences"] == theirs["sentences"] for ours, theirs in pairs)
    ratio = statistics.median(theirs["s"] / ours["s"] for ours, theirs in pairs)
    grown = max(ours["mib"] for ours, _ in pairs)
    took = statistics.median(ours["s"] for ours, _ in pairs)
    print(f"{name:8} {count:10,} {took:8.2f} {ratio:8.2f} {GOAL:6.2f} {grown:8.0f} {MOST_MIB:6.0f}")
    return ratio >= GOAL and grown <= MOST_MIB


def main() -> int:
    """Measure, print a table, and say whether loading keeps within its goals."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true", help="one pair a row")
    parser.add_argument("--only", metavar="ROW", choices=sorted(ROWS))
    parser.add_argument("--trials", type=int, metavar="N", help="pairs a row (5; short: 1)")
    parser.add_argument("--child", nargs=2, metavar=("SIDE", "PATH"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.child:
        side, path = given.child
        sys.path.insert(0, str(Path(__file__).parents[2]))
        print(json.dumps(SIDES[side](Path(path))))
        return 0
    trials = given.trials or (1 if given.short else 5)
    print(
        f"{'row':8} {'sentences':>10} {'CPU s':>8} {'ratio':>8} {'goal':>6} {'MiB':>8} {'most':>6}"
    )
    rows = [given.only] if given.only else list(ROWS)
    missed = [name for name in rows if not measure(name, trials, FIXES)]
    print(f"misses: {', '.join(missed)}" if missed else "all rows are within their goals")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
