"""`check` on a whole day: what a crew must know before the boat is out of the water.

The day is simulated (`sailed.py`): four steps each way, a launch each way; its logs are
written as instruments write them, and every test spoils something in them.
"""

from __future__ import annotations

import json
import math
import os
import pty
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from film import Film, make_film
from sailed import DELAYS, T0, changed, logged, only, sailed, script, within, write_trial

from demo_media import make_demo
from overlay.cli.app import run
from overlay.delays import LAGGING
from overlay.workflow.check import CheckOutcome, check
from overlay.workflow.checking.model import RunReport
from sync.channel import Channel
from sync.clock import utc_text

Channels = dict[str, Channel]

LAUNCH, BACK = (one for one in script()[1] if one.what == "launch")
FULL = [one for one in script()[1] if one.what == "step"][3]


@pytest.fixture(scope="module")
def sound() -> Channels:
    return logged(sailed())


@pytest.fixture(scope="module")
def whole(sound: Channels, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The day with nothing wrong."""
    return write_trial(tmp_path_factory.mktemp("day") / "whole", sound).parent


@pytest.fixture(scope="module")
def good(whole: Path) -> CheckOutcome:
    """What `check` says of it."""
    return check(whole)


@pytest.fixture
def spoilt(tmp_path: Path, sound: Channels) -> Callable[..., CheckOutcome]:
    """What `check` says of the day with other channels, or with another sheet."""

    def look(channels: Channels | None = None, more: str = DELAYS) -> CheckOutcome:
        return check(write_trial(tmp_path / "trial", channels or sound, more))

    return look


def on_the_water(outcome: CheckOutcome) -> list[str]:
    return [one.text for one in outcome.concerns if one.where == "water"]


def at_the_desk(outcome: CheckOutcome) -> list[str]:
    return [one.text for one in outcome.concerns if one.where == "desk"]


def one_of(texts: list[str], *parts: str) -> str:
    """The one text that has all the parts."""
    (found,) = [text for text in texts if all(part in text for part in parts)]
    return found


def assert_only_the_hump_is_missing(outcome: CheckOutcome) -> None:
    """These days have no step where the boat climbs onto the plane, which the cycle asks for."""
    (missing,) = outcome.cannot
    assert missing.startswith("weighted fuel flow: no step was run about 33")


def test_a_good_day_has_nothing_to_see_to(good: CheckOutcome) -> None:
    assert good.concerns == ()
    assert_only_the_hump_is_missing(good)
    assert [one.ailments for log in good.logs for one in log.channels if one.ailments] == []


@pytest.mark.usefixtures("common_cache")
def test_of_the_demo_day_it_tells_the_drop_out_and_raises_no_false_alarm(tmp_path: Path) -> None:
    """Forty minutes with a receiver that has no fix for eight seconds, and no sensor at fault;
    every five hundred rpm from 1000 to 5000 was run each way, and four launches went two by two."""
    sheet = make_demo(tmp_path / "demo", part="day", footage=False).sheet
    text = sheet.read_text()
    sheet.write_text(text[: text.index("[[recordings]]")])
    outcome = check(sheet)
    assert on_the_water(outcome) == []
    (hole,) = at_the_desk(outcome)
    assert hole.startswith("Speed in 'gps' has holes: 8.")
    assert_only_the_hump_is_missing(outcome)
    assert [run.kind for run in outcome.runs].count("launch") == 4
    steps = [run for run in outcome.runs if run.kind == "step"]
    for rpm in range(1000, 5001, 500):
        ways = {round(math.degrees(r.course_rad) / 180) % 2 for r in steps if _near(r, rpm)}
        assert ways == {0, 1}


def _near(run: RunReport, rpm: float) -> bool:
    return abs(run.engine_speed_rps * 60 - rpm) < 50


def test_it_writes_nothing(whole: Path, tmp_path: Path) -> None:
    folder = tmp_path / "day"
    shutil.copytree(whole, folder)
    before = {path: path.read_bytes() for path in folder.rglob("*")}
    check(folder)
    assert {path: path.read_bytes() for path in folder.rglob("*")} == before


def test_the_runs_of_the_day_are_there(good: CheckOutcome) -> None:
    """Every step and launch of the script, in its order; idling in gear is a run as well."""
    runs = [run for run in good.runs if not run.name.startswith("6")]
    kinds = [(run.kind, round(math.degrees(run.course_rad) / 45)) for run in runs]
    out, back = 1, 5
    steps = [("step", out)] * 4 + [("step", back)] * 4
    launches = [("launch", out), ("step", out), ("launch", back), ("step", back)]
    assert kinds == steps + launches
    assert [run.name for run in runs if run.kind == "launch"] == ["launch 1", "launch 2"]


def test_a_stuck_engine_speed_is_named_with_its_time(
    spoilt: Callable[..., CheckOutcome], sound: Channels
) -> None:
    engine = sound["engine_speed"]
    inside = within(engine, FULL.start_s + 15, FULL.start_s + 23)
    values = np.where(inside, engine.values[np.flatnonzero(inside)[0]], engine.values)
    outcome = spoilt({**sound, "engine_speed": changed(engine, values)})
    told = one_of(on_the_water(outcome), "Engine speed in 'engine'", "one and the same value")
    start_s = T0 + FULL.start_s + 15
    when = re.search(r"07:0(\d):(\d\d)", told)
    assert when is not None
    seconds = int(when[2])
    assert abs(seconds - start_s % 60) < 2
    assert "for 8 s" in told


def test_an_empty_column_is_named(spoilt: Callable[..., CheckOutcome], sound: Channels) -> None:
    flow = sound["fuel_flow"]
    outcome = spoilt({**sound, "fuel_flow": changed(flow, flow.values * np.nan)})
    assert one_of(on_the_water(outcome), "'fuel_flow_lph' holds no value")
    assert one_of(on_the_water(outcome), "a delay for 'fuel_flow'", "'engine' has no value of it")
    assert one_of(list(outcome.cannot), "fuel flow, economy and range")


def test_launches_and_steps_that_went_one_way_are_told(
    spoilt: Callable[..., CheckOutcome], sound: Channels
) -> None:
    """The day without its way back."""
    gone = [one for one in script()[1] if one.course_deg == 225]
    first, last = gone[0].start_s - 1, gone[3].stop_s + 1
    kept = {key: only(one, ~within(one, first, last)) for key, one in sound.items()}
    kept = {key: only(one, ~within(one, BACK.start_s - 1, 9999)) for key, one in kept.items()}
    outcome = spoilt(kept)
    assert one_of(on_the_water(outcome), "The only launch went one way (045°)")
    steps = one_of(on_the_water(outcome), "were run one way only")
    assert all(re.search(f"{rpm} rpm on 045°", steps) for rpm in ("2070", "43.0", "50.0"))
    assert one_of(list(outcome.cannot), "launch times free of current and wind")
    assert one_of(list(outcome.cannot), "two-way means")


def test_a_hole_in_a_launch_is_told(spoilt: Callable[..., CheckOutcome], sound: Channels) -> None:
    pitch = sound["pitch"]
    gap = within(pitch, LAUNCH.start_s + 5, LAUNCH.start_s + 9)
    outcome = spoilt({**sound, "pitch": changed(pitch, np.where(gap, np.nan, pitch.values))})
    assert one_of(list(outcome.cannot), "launch 1: pitch has a hole of 4.0 s")


def test_unstated_delays_are_one_line(spoilt: Callable[..., CheckOutcome]) -> None:
    """Four channels lag, and the sheet speaks of none of them. Clues may settle some."""
    outcome = spoilt(more="")
    unknown = [
        one.key
        for log in outcome.logs
        for one in log.channels
        if one.delay_origin == "unstated" and one.key in LAGGING
    ]
    told = one_of(list(outcome.cannot), "states no delay")
    assert unknown
    assert all(key in told for key in unknown)


def test_the_delay_and_its_source_stand_in_the_report(good: CheckOutcome) -> None:
    delays = {one.key: one for log in good.logs for one in log.channels}
    assert (delays["speed"].delay_s, delays["speed"].delay_sd_s) == (0.0, 0.01)
    assert delays["speed"].delay_origin == "stated"


def test_what_the_sheet_leaves_out_costs_its_figures(
    spoilt: Callable[..., CheckOutcome], tmp_path: Path
) -> None:
    sheet = spoilt().sheet_path
    bare = "\n".join(
        line
        for line in sheet.read_text().splitlines()
        if not line.startswith(("usable_tank", "rated_rpm", "pitch"))
    )
    sheet.write_text(bare)
    cannot = list(check(sheet).cannot)
    for part in ("load.usable_tank", "engines.rated_rpm", "propeller.pitch"):
        assert one_of(cannot, part)


def test_a_log_of_another_day_is_named(spoilt: Callable[..., CheckOutcome]) -> None:
    sheet = spoilt().sheet_path
    sheet.write_text(sheet.read_text().replace("date = 2026-06-11", "date = 2026-06-13"))
    told = one_of(on_the_water(check(sheet)), "'gps'")
    assert "2026-06-11" in told
    assert "2026-06-13" in told


def test_an_engine_log_of_another_day_is_doubted(
    spoilt: Callable[..., CheckOutcome], sound: Channels
) -> None:
    """An engine log that was stamped as if it were of this trial, and is not: half a day's
    worth of its values stands elsewhere."""
    engine = {
        key: changed(sound[key], np.roll(sound[key].values, 1000))
        for key in ("engine_speed", "throttle", "fuel_flow")
    }
    outcome = spoilt({**sound, **engine})
    assert one_of(on_the_water(outcome), "Engine speed in 'engine'", "with speed")


def test_a_log_that_nothing_ties_is_told_with_what_would(
    spoilt: Callable[..., CheckOutcome], sound: Channels
) -> None:
    """No button in common, and no motion, since only the engine's temper is logged."""
    sheet = spoilt().sheet_path
    (sheet.parent / "marks.csv").write_text(f"time,event\n{utc_text(T0 + 4, 3)},lamp\n")
    rows = (sheet.parent / "engine.csv").read_text().splitlines()
    head = rows[0].replace("rpm", "oil pressure (kPa)").replace("throttle (%)", "boost (kPa)")
    (sheet.parent / "engine.csv").write_text("\n".join([head, *rows[1:]]) + "\n")
    text = sheet.read_text()
    sheet.write_text(text[: text.index("[[sensors]]")])
    outcome = check(sheet)
    told = one_of(on_the_water(outcome), "log 'engine' has no tie")
    assert "would settle it" in told
    (clock,) = outcome.clocks
    assert clock.refused is not None
    assert not next(log for log in outcome.logs if log.name == "engine").tied


def test_places_without_speed_carry_no_headline(tmp_path: Path) -> None:
    """A GPX track without speed, a minute at 10 m/s to the north: what is differenced is told."""
    points = "".join(
        f'<trkpt lat="{60 + 10 * i / 111_200:.7f}" lon="24.0">'
        f"<time>2026-06-11T04:00:{i:02d}Z</time></trkpt>"
        for i in range(60)
    )
    (tmp_path / "track.gpx").write_text(
        '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"><trk>'
        f"<trkseg>{points}</trkseg></trk></gpx>"
    )
    sheet = 'schema = "trial/1"\n[[logs]]\nname = "track"\nfile = "track.gpx"\n'
    (tmp_path / "trial.toml").write_text(sheet)
    outcome = check(tmp_path)
    speeds = [one.means for log in outcome.logs for one in log.channels if one.key == "speed"]
    assert speeds == ["differenced"]
    assert one_of(list(outcome.cannot), "any headline figure")


BOW = """
[[recordings]]
name = "bow"
files = ["bow.mp4"]
ties = [{{ frame = 0, utc = {utc} }}]
[[clips]]
name = "first"
recording = "bow"
run = "launch 1"
[[clips]]
name = "third"
recording = "bow"
run = "launch 3"
[[clips]]
name = "back"
recording = "bow"
run = "launch 2"
"""


@pytest.fixture(scope="module")
def filmed(whole: Path, tmp_path_factory: pytest.TempPathFactory) -> CheckOutcome:
    """The day with a silent film of 30 s from ten seconds before the first launch on."""
    folder = tmp_path_factory.mktemp("filmed") / "day"
    shutil.copytree(whole, folder)
    make_film(folder / "bow.mp4", Film(frames=300, width=128, height=72, steps=(1536,), sound=()))
    sheet = folder / "trial.toml"
    utc = utc_text(T0 + LAUNCH.start_s - 10, 3)
    sheet.write_text(sheet.read_text() + BOW.format(utc=utc))
    return check(sheet)


def test_each_run_says_what_the_recording_has_of_it(filmed: CheckOutcome) -> None:
    """Film time is exact: the launch begins ten seconds into the film."""
    by_name = {run.name: run for run in filmed.runs}
    (launch,) = by_name["launch 1"].coverage
    assert (launch.recording, launch.part) == ("bow", "part")
    assert launch.film_s == pytest.approx(10, abs=0.2)
    assert (launch.from_s, launch.to_s) == (0, pytest.approx(20, abs=0.2))
    ends = T0 + LAUNCH.start_s + 20
    cut = [one for one in filmed.runs if one.span.start_s < ends < one.span.stop_s]
    assert cut
    for one in cut:
        assert one.coverage[0].part == "part"
        assert one.coverage[0].to_s == pytest.approx(ends - one.span.start_s, abs=0.01)
    assert by_name["launch 2"].coverage[0].part == "none"


def test_each_run_names_the_clips_that_show_it(filmed: CheckOutcome) -> None:
    by_name = {run.name: run.clips for run in filmed.runs}
    assert by_name["launch 1"] == ("first",)
    assert by_name["launch 2"] == ()


def test_clips_whose_run_and_recording_do_not_meet_are_named(filmed: CheckOutcome) -> None:
    assert one_of(at_the_desk(filmed), "'third'", "'launch 3'", "not found", "'launch 2'")
    assert one_of(at_the_desk(filmed), "'back'", "'launch 2'", "'bow' has nothing of it")


def test_a_recording_without_sound_says_why_no_clap_is_heard(filmed: CheckOutcome) -> None:
    (recording,) = filmed.recordings
    assert recording.sound == "none"
    assert recording.claps == ()
    assert any("sound" in remark for remark in recording.remarks)


def test_launches_that_nobody_filmed_whole_are_told(filmed: CheckOutcome) -> None:
    assert one_of(on_the_water(filmed), "No recording has the whole of", "launch 2")


def test_a_recording_that_is_not_tied_is_told_once(whole: Path, tmp_path: Path) -> None:
    folder = tmp_path / "day"
    shutil.copytree(whole, folder)
    make_film(folder / "bow.mp4", Film(frames=20, width=128, height=72))
    sheet = folder / "trial.toml"
    sheet.write_text(sheet.read_text() + '[[recordings]]\nname = "bow"\nfiles = ["bow.mp4"]\n')
    outcome = check(sheet)
    told = one_of(on_the_water(outcome), "recording 'bow' has no tie")
    assert "would settle it" in told
    assert outcome.recordings[0].shot is None
    assert {one.part for run in outcome.runs for one in run.coverage} == {"none"}


def test_a_broken_recording_is_bad_input_and_holds_nothing_else_up(
    whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "day"
    shutil.copytree(whole, folder)
    (folder / "bow.mp4").write_bytes(b"\0" * 5000)
    sheet = folder / "trial.toml"
    sheet.write_text(sheet.read_text() + '[[recordings]]\nname = "bow"\nfiles = ["bow.mp4"]\n')
    assert run(["check", "--trial", str(folder)]) == 2
    said = capsys.readouterr()
    assert "launch 1" in said.out
    assert "1 thing to see to before leaving the water" in said.out
    assert "The recording 'bow' cannot be used" in said.out
    assert said.err.startswith("trialreel: ")


def test_claps_that_were_heard_are_told(whole: Path, tmp_path: Path) -> None:
    """Two claps an uneven pause apart, in the film's sound and in the log of marks."""
    from film import Track

    folder = tmp_path / "day"
    shutil.copytree(whole, folder)
    claps_s = (3.0, 7.3, 9.1)
    track = Track(clicks_s=claps_s, codec="pcm_s16le", layout="mono", format="s16")
    make_film(
        folder / "bow.mov",
        Film(frames=120, width=128, height=72, steps=(1536,), sound=(track,)),
    )
    at = T0 + LAUNCH.start_s - 10
    marks = (folder / "marks.csv").read_text()
    marks += "".join(f"{utc_text(at + clap, 3)},clap\n" for clap in claps_s)
    (folder / "marks.csv").write_text(marks)
    sheet = folder / "trial.toml"
    more = '[[recordings]]\nname = "bow"\nfiles = ["bow.mov"]\nclap_distance = "1.0 m"\n'
    sheet.write_text(sheet.read_text() + more)
    (recording,) = check(sheet).recordings
    assert len(recording.claps) == 1
    assert "'clap'" in recording.claps[0]
    assert "2 more" in recording.claps[0]
    assert recording.shot is not None
    assert recording.shot.start_s == pytest.approx(at, abs=0.01)


def test_the_document_has_its_version_and_no_nan(
    whole: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["check", "--trial", str(whole), "--json"]) == 0
    text = capsys.readouterr().out
    answer = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))
    assert answer["schema"] == "check/2"
    assert [log["name"] for log in answer["logs"]] == ["gps", "engine", "attitude", "marks"]
    assert {"concerns", "runs", "clocks", "loops", "recordings", "cannot"} <= set(answer)
    assert answer["runs"][0]["coverage"] == []


@pytest.mark.parametrize("columns", [80, 100, 120])
def test_it_fits_the_terminal(whole: Path, tmp_path: Path, columns: int, sound: Channels) -> None:
    """On a terminal of its own, with three recordings and enough wrong to fill sentences."""
    folder = tmp_path / "day"
    pitch = sound["pitch"]
    spoilt = {**sound, "pitch": replace(pitch, values=pitch.values + math.radians(6))}
    sheet = write_trial(folder, spoilt, "")
    make_film(folder / "bow.mp4", Film(frames=20, width=128, height=72, sound=()))
    more = "".join(
        f'[[recordings]]\nname = "{name}"\nfiles = ["{name}.mp4"]\n'
        f"ties = [{{ frame = 0, utc = {utc_text(T0 + LAUNCH.start_s + 5, 3)} }}]\n"
        for name in ("bow", "stern", "chase")
    )
    for name in ("stern", "chase"):
        shutil.copy(folder / "bow.mp4", folder / f"{name}.mp4")
    more += '[[clips]]\nname = "first go"\nrecording = "bow"\nstart = "0 s"\nwhole = true\n'
    more += 'run = "launch 1"\n'
    sheet.write_text(sheet.read_text() + more)
    said = on_a_terminal(["check", "--trial", str(folder)], columns)
    assert re.search(r"07:08:\d\d +launch 2 +\d+ s +225°", said)
    assert re.search(r"07:02:\d\d +55\d\d rpm +\d+ s +045° +49\.\d ", said)
    assert "first go" in said
    too_long = [line for line in said.splitlines() if len(line.rstrip()) > columns]
    assert too_long == []


def on_a_terminal(arguments: list[str], columns: int) -> str:
    """What the program prints on a pseudo-terminal of a width."""
    ours, theirs = pty.openpty()
    code = "import sys\nfrom overlay.cli.app import run\nsys.exit(run(sys.argv[1:]))"
    child = subprocess.Popen(
        [sys.executable, "-c", code, *arguments],
        stdout=theirs,
        stderr=subprocess.STDOUT,
        env={**os.environ, "COLUMNS": str(columns), "TERM": "dumb"},
    )
    os.close(theirs)
    said = b""
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        try:
            part = os.read(ours, 65536)
        except OSError:
            break  # the other end is closed
        if not part:
            break
        said += part
    assert child.wait(timeout=10) == 0
    os.close(ours)
    return said.decode().replace("\r", "")
