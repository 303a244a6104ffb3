"""The whole road on the demo: what its clip shows is what its logs say, worked out here anew.

Nothing of the product works out an expected value in this file: the logs are read with
pynmea2 and the csv module, the printed formulas are written a second time, and the truth is
the simulation's.
"""

import csv
import datetime as dt
import json
import math
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import NamedTuple

import av
import numpy as np
import pyarrow.parquet as pq
import pynmea2
import pytest

from overlay.cli.app import run

pytestmark = pytest.mark.whole_road

MPH = 0.44704  # m/s, exactly: NIST SP 811, appendix B.8
KN = 1852 / 3600  # m/s: the same


class Road(NamedTuple):
    folder: Path
    truth: dict
    clip: Path
    facts: dict
    rows: dict[str, np.ndarray]
    printed: str


@pytest.fixture(scope="module")
def road(tmp_path_factory: pytest.TempPathFactory) -> Road:
    """The demo as a user runs it, in a folder and a cache that did not exist before."""
    import contextlib
    import io

    place = tmp_path_factory.mktemp("road")
    folder = place / "demo"
    said = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(said):
        patch.setenv("TRIALREEL_CACHE", str(place / "cache"))
        assert run(["demo", str(folder)]) == 0
    ledger = folder / "clips" / "launch.ledger.parquet"
    table = pq.read_table(ledger)
    return Road(
        folder=folder,
        truth=json.loads((folder / "truth.json").read_text()),
        clip=folder / "clips" / "launch.mp4",
        facts=json.loads(pq.read_metadata(ledger).metadata[b"trialreel"]),
        rows={name: np.array(table[name].to_pylist()) for name in table.column_names},
        printed=said.getvalue(),
    )


# -- the logs, read a second time ------------------------------------------------------------


def nmea_speed(path: Path) -> tuple[np.ndarray, np.ndarray]:
    """Times (UTC) and speeds (m/s) of all valid RMC sentences, by pynmea2 alone."""
    times, speeds = [], []
    for line in path.read_text().splitlines():
        sentence = pynmea2.parse(line, check=True)
        if sentence.sentence_type == "RMC" and sentence.status == "A":
            stamp = dt.datetime.combine(sentence.datestamp, sentence.timestamp)
            times.append(stamp.replace(tzinfo=dt.UTC).timestamp())
            speeds.append(float(sentence.spd_over_grnd) * KN)
    return np.array(times), np.array(speeds)


def columns(path: Path, *names: str) -> list[np.ndarray]:
    """Columns of a table; rows without a value in all of them are left out."""
    with path.open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if all(row[name] for name in names)]
    out = []
    for name in names:
        if name == "time":
            stamps = [dt.datetime.fromisoformat(row[name]).timestamp() for row in rows]
            out.append(np.array(stamps))
        else:
            out.append(np.array([float(row[name]) for row in rows]))
    return out


def engine_utc(folder: Path, own_s: np.ndarray) -> np.ndarray:
    """Times of the engine log's clock on UTC: the line through the marks that both logs have."""
    with (folder / "logs" / "engine.csv").open(newline="") as file:
        own = {row["event"]: float(row["time (s)"]) for row in csv.DictReader(file) if row["event"]}
    with (folder / "logs" / "marks.csv").open(newline="") as file:
        utc = {
            row["event"]: dt.datetime.fromisoformat(row["time"]).timestamp()
            for row in csv.DictReader(file)
        }
    assert set(own) == set(utc) == {"clap", "button", "evening button"}
    middle = own["button"]
    line = np.polyfit(
        [own[name] - middle for name in own], [utc[name] - own[name] for name in own], 1
    )
    return own_s + np.polyval(line, own_s - middle)


# -- the printed formulas, written a second time ---------------------------------------------


def polynomial(t: np.ndarray, v: np.ndarray, at: float, half_s: float, degree: int) -> float:
    """Least-squares polynomial through the samples within `half_s` of an instant, read there."""
    near = np.abs(t - at) <= half_s + 1e-6
    return float(np.polynomial.Polynomial.fit(t[near] - at, v[near], degree)(0.0))


class Aided:
    """A(t) + least-squares line through v − A within 1.5 s of t, A the integral of acceleration;
    the parabola within 0.5 s where that line leaves more than 0.1 m/s."""

    def __init__(self, t: np.ndarray, v: np.ndarray, t_acc: np.ndarray, acc: np.ndarray) -> None:
        gained = np.append(0.0, np.cumsum(np.diff(t_acc) * (acc[1:] + acc[:-1]) / 2))
        self.t, self.v = t, v
        self.grown = lambda at: np.interp(at, t_acc, gained)
        self.left = v - self.grown(t)
        self.alone = 0

    def __call__(self, at: float) -> float:
        near = np.abs(self.t - at) <= 1.5 + 1e-6
        slope, height = np.polyfit(self.t[near] - at, self.left[near], 1)
        misfit = self.left[near] - height - slope * (self.t[near] - at)
        if math.sqrt(np.sum(misfit**2) / (near.sum() - 2)) <= 0.1:
            return float(height + self.grown(at))
        self.alone += 1
        return polynomial(self.t, self.v, at, 0.5, 2)


def shown_instant(t: float, rate: float, marks: list[float]) -> float:
    """g = floor(t × rate) / rate; m if the last mark m not after t is > g − 1/rate, else g."""
    grid = math.floor(t * rate + 1e-6 * rate) / rate
    passed = [m for m in marks if m <= t + 1e-6]
    return passed[-1] if passed and passed[-1] > grid - 1 / rate + 1e-6 else grid


def text(value: float, step: str) -> str:
    number = (Decimal(repr(round(value, 9))) / Decimal(step)).quantize(1, ROUND_HALF_UP)
    number *= Decimal(step)
    places = 1 if step == "0.1" else 0
    shown = f"{abs(number):.{places}f}"
    return f"−{shown}" if number < 0 else shown


def crossing(speed: Aided, wanted: float, after: float) -> float:
    """First instant at which the shown speed reaches a threshold."""
    low, high = after, after
    while speed(high) < wanted:
        low, high = high, high + 0.02
    for _ in range(40):
        middle = (low + high) / 2
        if speed(middle) < wanted:
            low = middle
        else:
            high = middle
    return high


# -- what must hold --------------------------------------------------------------------------


def test_the_clip_plays_from_end_to_end(road: Road) -> None:
    with av.open(str(road.clip)) as clip:
        video = clip.streams.video[0]
        assert (video.width, video.height) == (1280, 720)
        assert sum(1 for _ in clip.decode(video=0)) == road.rows["frame"].max() + 1
    with av.open(str(road.clip)) as clip:
        length = sum(frame.samples / frame.sample_rate for frame in clip.decode(audio=0))
        assert length == pytest.approx((road.rows["frame"].max() + 1) / 30, abs=0.1)


def test_an_independent_reader_opens_the_clip(road: Road) -> None:
    """Against MoviePy, which decodes through a program of its own."""
    from moviepy import VideoFileClip

    with VideoFileClip(str(road.clip)) as clip:
        assert clip.size == [1280, 720]
        assert clip.fps == pytest.approx(30)
        assert clip.audio is not None
        middle = clip.get_frame(clip.duration / 2)
        assert middle.shape == (720, 1280, 3)
        assert middle.std() > 20


def test_the_tie_is_within_five_milliseconds_of_the_truth(road: Road) -> None:
    assert road.facts["tie"]["offset_s"] == pytest.approx(road.truth["footage_offset_s"], abs=0.005)
    miss = abs(road.facts["tie"]["offset_s"] - road.truth["footage_offset_s"])
    assert miss < 4 * road.facts["tie"]["sd_s"]
    engine = road.facts["log_ties"]["log:engine"]
    own = road.truth["clap_utc_s"] - road.truth["engine_offset_s"]
    assert engine["offset_s"] + engine["rate"] * own == pytest.approx(
        road.truth["clap_utc_s"], abs=0.005
    )
    assert (engine["rate"] - road.truth["engine_rate"]) * 1e6 == pytest.approx(0.0, abs=2.0)


def test_launch_times_are_within_five_hundredths_of_the_truth(road: Road) -> None:
    results = json.loads((road.folder / "trial.results.json").read_text())
    true = [piece for piece in road.truth["pieces"] if piece["kind"] == "launch"]
    assert [launch["name"] for launch in results["launches"]] == [p["name"] for p in true]
    for launch, piece in zip(results["launches"], true, strict=True):
        assert launch["start"]["t_s"] == pytest.approx(piece["start_utc_s"], abs=0.05)
        found = {row["label"]: row for row in launch["ladder"]}
        assert set(found) == {"10 mph", "20 mph", "30 mph", "40 mph"}
        for speed, true_s in piece["launch_times_s"].items():
            row = found[f"{speed} mph"]
            assert row["time_s"] == pytest.approx(true_s, abs=0.05)
            assert abs(row["time_s"] - true_s) < 3 * row["sd_s"]


def test_every_frame_stands_at_the_time_that_the_ledger_gives_it(road: Road) -> None:
    """Against the clip's own time stamps, read by PyAV."""
    offset = road.facts["tie"]["offset_s"]
    frames, first = np.unique(road.rows["frame"], return_index=True)
    assert frames.tolist() == list(range(len(frames)))
    np.testing.assert_allclose(
        road.rows["t_utc_s"][first], road.rows["t_footage_s"][first] + offset, atol=1e-6
    )
    with av.open(str(road.clip)) as clip:
        stream = clip.streams.video[0]
        stamps = sorted(packet.pts for packet in clip.demux(stream) if packet.pts is not None)
        seconds = np.array([float(pts * stream.time_base) for pts in stamps])
    film = road.rows["t_footage_s"][first]
    np.testing.assert_allclose(seconds - seconds[0], film - film[0], atol=1e-6)
    assert road.rows["pts"][first].tolist() == stamps


def test_every_digit_of_every_frame_is_the_logs(road: Road) -> None:
    logs = road.folder / "logs"
    delays = {(row["log"], key): row["delay_s"] for key, row in road.facts["delays"].items()}
    t_gps, v_gps = nmea_speed(logs / "gps.nmea")
    t_gps = t_gps - delays["gps", "speed"]
    t_eng, rpm = columns(logs / "engine.csv", "time (s)", "rpm")
    tie = road.facts["log_ties"]["log:engine"]
    by_marks = engine_utc(road.folder, t_eng)
    t_eng = tie["offset_s"] + tie["rate"] * t_eng
    assert np.abs(t_eng - by_marks).max() < 0.001  # the marks, fitted a second time
    t_eng = t_eng - delays["engine", "engine_speed"]
    t_att, pitch = columns(logs / "attitude.csv", "time", "pitch (deg)")
    t_att = t_att - delays["attitude", "pitch"]
    t_acc, acc = columns(logs / "attitude.csv", "time", "acceleration (m/s2)")
    pace = Aided(t_gps, v_gps, t_acc - delays["attitude", "acceleration"], acc)

    start = road.facts["run"]["start_utc_s"]
    marks = [mark["t_utc_s"] for mark in road.facts["run"]["marks"]]
    for mark, speed in zip(marks, [10, 20, 30, 40], strict=True):
        assert mark == pytest.approx(crossing(pace, speed * MPH, start), abs=1e-4)
    rest = (t_att >= start - 10.0) & (t_att < start)
    level = float(pitch[rest].mean())

    def expected(instrument: str, t: float) -> str:
        if instrument == "speed":
            at = shown_instant(t, 4.0, marks)
            return text(pace(at) / MPH, "0.1")
        if instrument == "engine":
            at = shown_instant(t, 10.0, [])
            return text(polynomial(t_eng, rpm, at, 0.2, 1), "10")
        at = shown_instant(t, 4.0, [])
        return text(polynomial(t_att, pitch, at, 0.2, 1) - level, "1")

    checked = {"speed": 0, "engine": 0, "bow": 0}
    known: dict[tuple[str, float], str] = {}
    for instrument, item, shown, t in zip(
        *(road.rows[name] for name in ("instrument", "item", "text", "t_utc_s")), strict=True
    ):
        if item != "value":
            continue
        key = (str(instrument), round(float(t), 6))
        if key not in known:
            known[key] = expected(*key)
        assert shown == known[key], key
        checked[str(instrument)] += 1
    frames = int(road.rows["frame"].max()) + 1
    assert checked == {"speed": frames, "engine": frames, "bow": frames}
    assert len({shown for (which, _), shown in known.items() if which == "speed"}) > 60


def test_a_mark_appears_with_its_time_when_it_is_passed_and_stays(road: Road) -> None:
    times = [mark["t_utc_s"] for mark in road.facts["run"]["marks"]]
    for mark, t_mark in zip(road.facts["run"]["marks"], times, strict=True):
        rows = road.rows["item"] == mark["label"]
        seen = road.rows["t_utc_s"][rows]
        assert seen.min() >= t_mark - 1e-6
        assert seen.min() < t_mark + 1 / 30 + 1e-6
        assert seen.max() == road.rows["t_utc_s"].max()
        (shown,) = set(road.rows["text"][rows])
        true_s = road.truth["launch_times_s"][mark["label"].split()[0]]
        assert abs(float(shown) - true_s) <= 0.05 + 0.05  # its digit, and what is asked of it


def test_the_numbers_on_the_picture_stand_where_the_ledger_says(road: Road) -> None:
    """Cream digits on ink blue: inside each box both are found, on the decoded clip."""
    with av.open(str(road.clip)) as clip:
        for index, frame in enumerate(clip.decode(video=0)):
            if index % 90:
                continue
            luma = frame.to_ndarray(format="gray")
            for i in np.flatnonzero(road.rows["frame"] == index):
                x, y = road.rows["x_px"][i], road.rows["y_px"][i]
                box = luma[y : y + road.rows["height_px"][i], x : x + road.rows["width_px"][i]]
                assert box.size > 0
                assert box.max() > 190
                assert box.min() < 110


def test_the_last_lines_say_where_everything_is(road: Road) -> None:
    for name in ("clips/launch.mp4", "launch.ledger.parquet", "trial.results.json"):
        assert name in road.printed.replace("\n", "")
