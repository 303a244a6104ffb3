"""Cut lists of line-ups that are made up, read back with the adapter that wrote them."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import opentimelineio as otio
import pytest
from film import Film, make_film

from overlay.exchange.edl import (
    REEL_LETTERS,
    best_view,
    hour_one,
    over_midnight,
    recording_list,
    reels_of,
    run_list,
)
from overlay.exchange.grid import grid_from
from overlay.exchange.lineup import Lineup, Noted, RunSpan
from overlay.exchange.placing import PlacedPart, PlacedRecording
from overlay.exchange.sources import Source
from sync.clock import Span
from sync.media import probe
from sync.timecode import RATES, frames_of, is_drop_label

DAY = 1_781_150_000.0


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory):
    return probe(make_film(tmp_path_factory.mktemp("film") / "bow.mp4", Film(frames=10)))


def source(film, name: str, rate_hz: Fraction, frames: int, label: str | None = None) -> Source:
    first = 0
    if label is not None:
        key = next(
            key for key, rate in RATES.items()
            if rate.rate_hz == rate_hz and rate.drop == is_drop_label(label)
        )  # fmt: skip
        first = frames_of(label, RATES[key])
    path = film.path.with_name(name)
    return Source(
        film=replace(film, path=path), proxy=None, rate_hz=rate_hz, first=first, label=label,
        frames=frames, start_s=Fraction(0), stop_s=frames / rate_hz,
    )  # fmt: skip


def recording(name: str, start: int, *parts: tuple[Source, int], slower: float = 1.0):
    placed = []
    for one, frames in parts:
        placed.append(PlacedPart(source=one, start=start, frames=frames))
        start += frames
    return PlacedRecording(
        name=name, parts=tuple(placed), off_start_s=0.0, off_stop_s=0.0, sd_start_s=0.0,
        sd_stop_s=0.0, gains_ppm=0.0, gains_sd_ppm=0.0, slower=slower, has_sound=False,
    )  # fmt: skip


def lined_up(key: str, recordings, runs=(), notes=()) -> Lineup:
    return Lineup(
        trial="Tern", grid=grid_from(DAY, RATES[key], "UTC"), recordings=tuple(recordings),
        renders=(), notes=tuple(notes), runs=tuple(runs), left_out=(),
    )  # fmt: skip


def events(text: str, key: str) -> list:
    back = otio.adapters.read_from_string(text, "cmx_3600", rate=float(RATES[key].rate_hz))
    return [item for item in back.tracks[0] if isinstance(item, otio.schema.Clip)]


@pytest.mark.parametrize("key", ["24", "25", "29.97 drop", "30", "50", "59.94 drop", "60"])
def test_events_come_back_as_they_were_laid(film, key: str, tmp_path: Path) -> None:
    rate = RATES[key]
    label = f"10:20:30{';' if rate.drop else ':'}07"
    one = source(film, "bow 1.mp4", rate.rate_hz, 400, label)
    two = source(film, "bow 2.mp4", rate.rate_hz, 175)
    made = lined_up(key, [recording("bow", 3333, (one, 400), (two, 175))])
    text = recording_list(made, made.recordings[0], tmp_path)
    assert text.splitlines()[1] == f"FCM: {'DROP FRAME' if rate.drop else 'NON-DROP FRAME'}"
    back = events(text, key)
    assert [e.source_range.start_time.value for e in back] == [frames_of(label, rate), 0]
    assert [e.source_range.duration.value for e in back] == [400, 175]
    labels = re.findall(r"\d\d:\d\d:\d\d[:;]\d\d", text)
    record = [frames_of(row, rate) - made.grid.first for row in labels]
    assert record[2:4] == [3333, 3733]
    assert record[6:8] == [3733, 3908]


def test_no_two_files_share_a_reel(film) -> None:
    rate = Fraction(25)
    names = ["bow camera 1.mp4", "bow camera 2.mp4", "BOW-CAMERA.mp4", "æ.mp4", "ax.mp4", "—.mp4"]
    names += [f"bowcamera {n}.mp4" for n in range(12)]
    made = lined_up("25", [recording(n, 0, (source(film, n, rate, 10), 10)) for n in names])
    reels = list(reels_of(made).values())
    assert len(set(reels)) == len(names)
    assert all(re.fullmatch(rf"[A-Z0-9]{{1,{REEL_LETTERS}}}", reel) for reel in reels)
    assert "AX" not in reels


def test_the_view_with_most_of_a_run_is_taken(film) -> None:
    rate = Fraction(25)
    bow = recording("bow", 0, (source(film, "bow.mp4", rate, 100), 100))
    chase = recording("chase", 40, (source(film, "chase.mp4", rate, 100), 100))
    slow = recording("slow", 0, (source(film, "slow.mp4", rate, 400), 100), slower=4.0)
    made = lined_up("25", [slow, bow, chase])
    zero = float(made.grid.zero_utc_s)
    at = [
        Span(start_s=zero + a / 25, stop_s=zero + b / 25)
        for a, b in ((10, 60), (60, 130), (300, 310))
    ]
    views = [best_view(made, span) for span in at]
    assert [None if one is None else one.name for one in views] == ["bow", "chase", None]


def test_runs_stand_in_a_row_with_handles_and_their_notes(film, tmp_path: Path) -> None:
    rate = RATES["29.97 drop"]
    one = source(film, "bow 1.mp4", rate.rate_hz, 300)
    two = source(film, "bow 2.mp4", rate.rate_hz, 300)
    made = lined_up("29.97 drop", [recording("bow", 100, (one, 300), (two, 300))])
    grid = made.grid

    def t(frame: int) -> float:
        return float(grid.zero_utc_s + (frame + Fraction(1, 2)) / rate.rate_hz)

    made = replace(
        made,
        runs=(
            RunSpan(name="launch 1", span=Span(start_s=t(200), stop_s=t(249))),
            RunSpan(name="turn 1", span=Span(start_s=t(390), stop_s=t(409))),
            RunSpan(name="stop 1", span=Span(start_s=t(5000), stop_s=t(5100))),
        ),
        notes=(Noted(kind="mark", name="launch 1, 10 kn", text="2.1 s", start_utc_s=t(225)),),
    )
    made_list = run_list(made, tmp_path, Fraction(1))
    assert (made_list.runs, made_list.unseen) == (2, ("stop 1",))
    back = events(made_list.text, "29.97 drop")
    begins = [e.source_range.start_time.value for e in back]
    lasts = [e.source_range.duration.value for e in back]
    # Thirty frames on either side; the turn goes over from the one file to the other.
    assert begins == [200 - 30 - 100, 390 - 30 - 100, 0]
    assert lasts == [50 + 60, 400 - 360, 409 + 1 + 30 - 400]
    assert hour_one(rate) == 107_892
    (locator,) = re.findall(r"LOC: (\S+) MAGENTA launch 1, 10 kn: 2\.1 s\n", made_list.text)
    assert frames_of(locator, rate) == 107_892 + 225 - 170


def test_a_timecode_of_the_other_kind_stands_in_a_comment(film, tmp_path: Path) -> None:
    """The list drops labels and the camera did not: the event has the frame, the comment the
    label that the camera gave it."""
    hz = RATES["29.97"].rate_hz
    one = source(film, "bow.mp4", hz, 90, "10:00:00:00")
    made = lined_up("29.97 drop", [recording("bow", 0, (one, 90))])
    text = recording_list(made, made.recordings[0], tmp_path)
    assert "* SOURCE TIMECODE 10:00:00:00" in text
    assert events(text, "29.97 drop")[0].source_range.start_time.value == 1_080_000


def test_no_list_where_no_run_is_filmed(film, tmp_path: Path) -> None:
    made = lined_up("25", [recording("bow", 0, (source(film, "bow.mp4", Fraction(25), 9), 9))])
    run = RunSpan(name="launch 1", span=Span(start_s=DAY + 900, stop_s=DAY + 910))
    made_list = run_list(replace(made, runs=(run,)), tmp_path, Fraction(2))
    assert (made_list.text, made_list.unseen) == (None, ("launch 1",))


@pytest.mark.parametrize("key", ["25", "29.97", "29.97 drop"])
def test_a_recording_over_midnight_is_listed_from_hour_one(film, key: str, tmp_path: Path) -> None:
    """From 23:50 to 00:10: no event can go over midnight, where labels begin anew. The camera's
    own timecode does so as well."""
    rate = RATES[key]
    mark = ";" if rate.drop else ":"
    late = replace(
        lined_up(key, []),
        grid=grid_from(dt.datetime(2026, 6, 11, 23, 40, tzinfo=dt.UTC).timestamp(), rate, "UTC"),
    )
    start = frames_of(f"23:50:00{mark}00", rate) - late.grid.first
    frames = round(20 * 60 * rate.rate_hz)
    one = source(film, "bow.mp4", rate.rate_hz, frames, f"23:50:00{mark}00")
    two = source(film, "bow 2.mp4", rate.rate_hz, 100)
    made = replace(late, recordings=(recording("bow", start, (one, frames), (two, 100)),))
    assert over_midnight(made, made.recordings[0])
    text = recording_list(made, made.recordings[0], tmp_path)
    assert text is not None
    back = otio.adapters.read_from_string(text, "cmx_3600", rate=float(rate.rate_hz)).tracks[0]
    assert -back.source_range.start_time.value == hour_one(rate)
    assert [e.source_range.duration.value for e in back] == [frames, 100]
    assert back[0].source_range.start_time.value == 0
    assert f"BEGINS AT 23:50:00{mark}00 OF THE DAY" in text
    assert "SOURCE TIMECODE GOES OVER MIDNIGHT" in text


def test_a_recording_after_midnight_has_the_labels_of_its_day(film, tmp_path: Path) -> None:
    rate = RATES["25"]
    evening = dt.datetime(2026, 6, 11, 23, 40, tzinfo=dt.UTC).timestamp()
    grid = grid_from(evening, rate, "UTC")
    start = rate.frames_in_a_day - grid.first + 10 * 60 * 25
    made = replace(
        lined_up("25", [recording("bow", start, (source(film, "bow.mp4", Fraction(25), 50), 50))]),
        grid=grid,
    )
    assert not over_midnight(made, made.recordings[0])
    text = recording_list(made, made.recordings[0], tmp_path)
    assert text is not None
    back = otio.adapters.read_from_string(text, "cmx_3600", rate=25.0).tracks[0]
    assert -back.source_range.start_time.value == 10 * 60 * 25
    assert "OF THE DAY" not in text


def test_what_does_not_fit_into_a_day_has_no_list(film, tmp_path: Path) -> None:
    rate = RATES["25"]
    frames = 24 * 3600 * 25
    one = source(film, "bow.mp4", rate.rate_hz, frames)
    made = lined_up("25", [recording("bow", 0, (one, frames))])
    assert recording_list(made, made.recordings[0], tmp_path) is None
    zero = float(made.grid.zero_utc_s)
    whole = RunSpan(name="turn 1", span=Span(start_s=zero + 1, stop_s=zero + 23.5 * 3600))
    made_list = run_list(replace(made, runs=(whole,)), tmp_path, Fraction(0))
    assert (made_list.text, made_list.runs, made_list.unseen) == (None, 1, ())
