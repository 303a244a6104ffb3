"""The whole road on inputs that nobody here made: a boat's log and a camera's film.

The log is npm signalk-server 2.23.0, samples/plaka.log; the film is the trailer in PyPI
moviepy 2.2.1's source archive. They have nothing to do with each other, so the tie is typed
into the sheet: frame 24 of the film is taken to be 11:50:12 of the log, so that the ten seconds
lie where the boat gathers way.
"""

import datetime as dt
import json
import math
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import av
import outside
import pyarrow.parquet as pq
import pynmea2
import pytest

from overlay.cli.app import run
from overlay.ledger import read_ledger

pytestmark = [pytest.mark.outside, pytest.mark.whole_road]

LOG_SHA256 = "c79c2365ece431cb0bf0fa0f60c0a74c6472edfec49cd4baabadf7ac04eac8fe"
FILM_SHA256 = "ce0d2ba68822a89ae65ee41b53be9de621771130c2aa1d0ff02d935df75b59ae"
FILM = "docs/_static/medias/getting_started/moviepy_10_minutes/trailer_bbb.mp4"
TIED = dt.datetime(2026, 6, 11, 11, 50, 12, tzinfo=dt.UTC).timestamp()

SHEET = """\
schema = "trial/1"
name = "A log and a film that never met"
date = 2026-06-11
units = "nautical"

[[logs]]
name = "boat"
file = "plaka.log"

[[recordings]]
name = "film"
files = ["film.mp4"]
ties = [{ frame = 24, utc = 2026-06-11T11:50:12Z, sd = "0.012 s" }]

[[clips]]
name = "ten seconds"
recording = "film"
start = "20 s"
stop = "30 s"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The rendered trial."""
    folder = tmp_path_factory.mktemp("real")
    (folder / "trial.toml").write_text(SHEET)
    log = outside.npm("signalk-server", "2.23.0", "samples/plaka.log", LOG_SHA256)
    film = outside.pypi("moviepy", "2.2.1", FILM, FILM_SHA256, kind="sdist")
    (folder / "plaka.log").symlink_to(log)
    (folder / "film.mp4").symlink_to(film)
    assert run(["render", "--trial", str(folder)]) == 0
    return folder


def speeds(path: Path) -> list[tuple[float, float]]:
    """Time and knots of each cycle: the VTG, and the time of the GLL that follows it."""
    out = []
    knots = None
    for line in path.read_text().splitlines():
        if line[3:6] not in ("VTG", "GLL"):
            continue
        sentence = pynmea2.parse(line, check=True)
        if line[3:6] == "VTG":
            knots = float(sentence.spd_over_grnd_kts)
        elif knots is not None:
            stamp = dt.datetime.combine(dt.date(2026, 6, 11), sentence.timestamp, dt.UTC)
            out.append((stamp.timestamp(), knots))
            knots = None
    return out


def test_ten_seconds_of_real_film_carry_the_log_s_own_digits(folder: Path) -> None:
    """Log every 2 s, so the printed law is the straight line between neighbours, read at
    g = floor(4 t) / 4, rounded to a tenth of a knot."""
    log = dict(speeds(folder / "plaka.log"))
    table = pq.read_table(folder / "clips" / "ten-seconds.ledger.parquet")
    facts = read_ledger(folder / "clips" / "ten-seconds.ledger.parquet").facts
    with av.open(str(folder / "film.mp4")) as film:
        stream = film.streams.video[0]
        base = stream.time_base
        stamps = sorted(p.pts for p in film.demux(stream) if p.pts is not None)
    wanted = [pts for pts in stamps if 20 <= float(pts * base) < 30]
    rows = [row for row in table.to_pylist() if row["instrument"] == "speed"]
    assert len(rows) == len(wanted) == 240
    seen = set()
    for row, pts in zip(rows, wanted, strict=True):
        t = TIED + float((pts - stamps[24]) * base)
        assert row["t_utc_s"] == pytest.approx(t, abs=2e-6)
        grid = math.floor(4 * t + 4e-6) / 4
        before = max(stamp for stamp in log if stamp <= grid)
        after = min(stamp for stamp in log if stamp >= grid)
        share = 0.0 if after == before else (grid - before) / (after - before)
        knots = log[before] + share * (log[after] - log[before])
        clean = Decimal(repr(round(knots, 9)))
        assert row["text"] == str(clean.quantize(Decimal("0.1"), ROUND_HALF_UP))
        assert row["unit"] == "kn"
        seen.add(row["text"])
    assert len(seen) >= 15
    assert facts["tie"]["sd_s"] < 0.05


def test_what_is_typed_is_marked_as_typed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["align", "--trial", str(folder)]) == 0
    assert "typed" in capsys.readouterr().out
    ties = json.loads((folder / "trial.ties.json").read_text())
    (clue,) = ties["ties"]["footage:film"]["clues"]
    assert clue["typed"] is True


def test_the_clip_has_the_film_s_pictures_and_its_sound(folder: Path) -> None:
    with av.open(str(folder / "clips" / "ten-seconds.mp4")) as clip:
        assert (clip.streams.video[0].width, clip.streams.video[0].height) == (1280, 720)
        assert sum(1 for _ in clip.decode(video=0)) == 240
        assert clip.streams.audio[0].codec_context.name.startswith("mp3")


def test_results_say_what_this_log_cannot_give(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["results", "--trial", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "launches: none was found" in said
