"""How fast and in how much memory a bus log loads, beside the decoder library's own loop.

    python tests/bench/load_bus.py --short
    python tests/bench/load_bus.py LOG --copies 100

LOG is in plain text with ISO stamps; without it a sample of npm signalk-server 2.23.0 is fetched.
It is strung together in copies, each later than the one before, so that a short sample makes
an hour; the library's loop runs over a tenth of the copies, or one, and is scaled. Exits 1 where
loading is slower than the library.
"""

from __future__ import annotations

import argparse
import datetime as dt
import logging
import resource
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import outside

from sync.readers import READERS, LogSettings
from sync.readers.can_signals import WANTED

AAVA_SHA256 = "65abc4a8db5e6a970d47cd204c25126857b99577bec67b653ddf0b128fad1b8f"
GOAL = 1.0


def strung(source: Path, copies: int, into: Path) -> int:
    """Write copies of a log one after the other in time; returns the number of lines."""
    lines = [x.split(",", 1) for x in source.read_text("latin-1").splitlines() if x[:1] == "2"]
    stamps = [dt.datetime.fromisoformat(stamp) for stamp, _ in lines]
    length = stamps[-1] - stamps[0] + dt.timedelta(milliseconds=50)
    with into.open("w", encoding="latin-1") as file:
        for copy in range(copies):
            for stamp, (_, rest) in zip(stamps, lines, strict=True):
                when = (stamp + copy * length).isoformat(timespec="milliseconds")
                file.write(f"{when.replace('+00:00', 'Z')},{rest}\n")
    return len(lines) * copies


def library(path: Path) -> float:
    """Seconds that the decoder's own loop takes, set to the same parameter groups."""
    from nmea2000 import NMEA2000Decoder

    logging.disable(logging.CRITICAL)
    decoder = NMEA2000Decoder(include_pgns=sorted(WANTED))
    start = time.perf_counter()
    decoded = 0
    for line in path.read_text("latin-1").splitlines():
        try:
            decoded += decoder.decode(line) is not None
        except ValueError:
            continue
    took = time.perf_counter() - start
    assert decoded
    return took


def peak_mib() -> float:
    """Most memory that the process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def row(source: Path, copies: int, folder: Path) -> float:
    """Load a log of so many copies, print what it took, and return the ratio of speeds."""
    path = folder / "bus.txt"
    lines = strung(source, copies, path)
    before = peak_mib()
    start = time.perf_counter()
    log = READERS["canbus"].read(path, "bus", LogSettings())
    took = time.perf_counter() - start
    grown = peak_mib() - before
    print(f"{lines:,} lines, {log.counts['messages']:,} messages used: {took:.2f} s")
    print(f"memory grew by {grown:.0f} MiB at its peak (file {path.stat().st_size / 2**20:.0f})")
    few = max(copies // 10, 1)
    theirs = library(path) * lines / strung(source, few, path)
    print(f"decoder library's loop: {theirs:.2f} s; ratio of speeds {theirs / took:.1f}")
    return theirs / took


def main() -> int:
    """Measure, print, and say whether loading keeps up with the decoder library."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("log", nargs="?", type=Path, help="plain text with ISO stamps")
    parser.add_argument("--copies", type=int, default=360)
    parser.add_argument("--short", action="store_true", help="a tenth of the copies")
    parser.add_argument("--only", metavar="ROW", choices=["load"], help="there is one row")
    parser.add_argument("--trials", type=int, default=1, metavar="N")
    given = parser.parse_args()
    source = given.log or outside.npm(
        "signalk-server", "2.23.0", "samples/aava-n2k.data", AAVA_SHA256
    )
    copies = max(given.copies // 10, 1) if given.short else given.copies
    with tempfile.TemporaryDirectory() as folder:
        ratios = [row(source, copies, Path(folder)) for _ in range(given.trials)]
    ratio = statistics.median(ratios)
    good = ratio >= GOAL
    verdict = "within the goal" if good else "misses the goal"
    print(f"speed over the decoder library's: {ratio:.1f}, goal {GOAL} ({verdict})")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
