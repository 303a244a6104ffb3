"""Trim and lift times, from the channel and on film, against movements known on paper."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
from film import Film, make_film
from hypothesis import given, settings
from hypothesis import strategies as st
from long_day import trial_of
from sailed import T0

from overlay.analysis.results import compute_results
from overlay.analysis.timed import TimedRun, movements
from overlay.trial import Trial, footage_clock
from sync.channel import Channel
from sync.clock import UTC, ClockMap
from sync.tie import Tie

OUT = {"name": "trim, all the way out", "channel": "trim", "from": "0 %", "to": "100 %"}


def trim(*points: tuple[float, float], period: float = 0.1, digit: float = 0.0) -> Channel:
    """A gauge that goes straight from point to point, each a time [s] and a share."""
    t = np.arange(0.0, points[-1][0] + period / 2, period)
    values = np.interp(t, [p[0] for p in points], [p[1] for p in points])
    if digit:
        values = np.round(values / digit) * digit
    return Channel(name="trim", clock=UTC, t_s=T0 + t, values=values)


def timed(channel: Channel, entry: dict[str, object] = OUT) -> tuple[list[TimedRun], list[str]]:
    results = compute_results(trial_of({"trim": channel}, {"timed": [entry]}))
    told = [line for line in results.missing if line.startswith(str(entry["name"]))]
    return list(results.timed), told


OUT_AND_BACK = ((0.0, 0.0), (5.0, 0.0), (17.0, 1.0), (25.0, 1.0), (34.0, 0.0), (40.0, 0.0))


def test_each_way_is_timed_whenever_it_is_gone() -> None:
    again = [(40.0 + t, share) for t, share in OUT_AND_BACK[1:]]
    runs, told = timed(trim(*OUT_AND_BACK, *again))
    assert [one.way for one in runs] == ["there", "back", "there", "back"]
    for one, length in zip(runs, (12.0, 9.0, 12.0, 9.0), strict=True):
        assert one.time.value == pytest.approx(length, abs=0.02)
        assert 0.02 < one.time.sd < 0.1
    assert runs[0].start_s - T0 == pytest.approx(5.0, abs=0.1)
    assert "trim from 0 % to 100 %" in runs[0].how
    assert "trim from 100 % to 0 %" in runs[1].how
    assert told == []


def test_a_part_of_the_way_is_timed_by_what_it_passes() -> None:
    entry = {**OUT, "from": "20 %", "to": "80 %"}
    (there, back), _ = timed(trim(*OUT_AND_BACK), entry)
    assert there.time.value == pytest.approx(0.6 * 12.0, abs=0.02)
    assert back.time.value == pytest.approx(0.6 * 9.0, abs=0.02)


@settings(max_examples=100, deadline=None)
@given(st.floats(4.0, 40.0), st.floats(0.0, 1.0), st.sampled_from([0.1, 0.25, 0.5, 1.0]),
       st.sampled_from([0.0, 0.01, 0.02]))  # fmt: skip
def test_the_stated_doubt_covers_rate_and_last_digit(
    length: float, phase: float, period: float, digit: float
) -> None:
    start = 5.0 + phase
    channel = trim((0.0, 0.0), (start, 0.0), (start + length, 1.0), (start + length + 8, 1.0),
                   period=period, digit=digit)  # fmt: skip
    ((_, time, why),) = movements(channel, 0.0, 1.0)
    assert not why
    assert abs(time.value - length) <= 3 * time.sd + 1e-6


@pytest.mark.parametrize(
    ("points", "why"),
    [
        (((0, 0), (5, 0), (9, 0.4), (20, 0.4), (28, 1), (35, 1)), "halted"),
        (((0, 0), (5, 0), (9, 0.6), (11, 0.3), (20, 1), (35, 1)), "turned back"),
        (((0, 0), (5, 0), (9, 0.9), (20, 0.9)), "lay between 0 % and 90 %"),
    ],
)
def test_what_is_no_movement_of_the_drives_is_left_out(
    points: tuple[tuple[float, float], ...], why: str
) -> None:
    runs, told = timed(trim(*points))
    assert runs == []
    assert len(told) == 1
    assert why in told[0]


def test_a_hole_in_a_movement_leaves_that_one_out_alone() -> None:
    whole = trim(*OUT_AND_BACK)
    keep = (whole.t_s < T0 + 8) | (whole.t_s > T0 + 10)
    runs, told = timed(replace(whole, t_s=whole.t_s[keep], values=whole.values[keep]))
    assert [one.way for one in runs] == ["back"]
    assert "1 of 2 movements left out: the log of trim has a hole in it" in told[0]


def test_no_channel_is_said() -> None:
    speed = replace(trim(*OUT_AND_BACK), name="throttle")
    results = compute_results(trial_of({"throttle": speed}, {"timed": [OUT]}))
    assert results.timed == ()
    assert any(line == "trim, all the way out: no log has trim" for line in results.missing)


HATCH = {"name": "lift, up", "recording": "stern", "from_frame": 3, "to_frame": 40}
STEPS = (512, 512, 1024, 256)
"""Of a camera whose frames do not come evenly."""


def filmed(folder: Path, entry: dict[str, object] = HATCH, **recording: object) -> Trial:
    make_film(folder / "stern.mp4", Film(frames=60, steps=STEPS, sound=()))
    sheet = {
        "timed": [entry],
        "recordings": [{"name": "stern", "files": ["stern.mp4"], **recording}],
    }
    trial = trial_of({}, sheet)
    return replace(trial, material=replace(trial.material, sheet_path=folder / "trial.toml"))


def between(first: int, last: int) -> float:
    """From one frame to another, by the steps that the film was made with."""
    ticks = sum(STEPS[n % len(STEPS)] for n in range(first, last))
    return float(ticks * Fraction(1, 15360))


def test_on_film_the_frames_own_stamps_count(tmp_path: Path) -> None:
    """A rate would say another time: the frames are uneven."""
    (one,) = compute_results(filmed(tmp_path)).timed
    assert one.time.value == pytest.approx(between(3, 40), abs=1e-6)
    assert one.time.value != pytest.approx(37 * between(0, 60) / 60, abs=1e-3)
    assert one.time.sd == pytest.approx(1024 / 15360), "the longest frame beside the two"
    assert "counted on film" in one.how
    assert "± 1 frame" in one.how
    assert math.isnan(one.start_s)


def test_slow_motion_is_taken_back_to_life(tmp_path: Path) -> None:
    (one,) = compute_results(filmed(tmp_path, slow_motion=4.0)).timed
    assert one.time.value == pytest.approx(between(3, 40) / 4, abs=1e-6)


def test_a_tied_film_says_when(tmp_path: Path) -> None:
    trial = filmed(tmp_path)
    clock = footage_clock("stern")
    tie = Tie(map=ClockMap(from_clock=clock, to_clock=UTC, offset_s=T0), sd_s=0.01)
    ties = replace(trial.ties, by_clock=MappingProxyType({clock: tie}))
    (one,) = compute_results(replace(trial, ties=ties)).timed
    assert one.start_s - T0 == pytest.approx(between(0, 3), abs=1e-4)


def test_frames_and_films_that_are_not_there_are_said(tmp_path: Path) -> None:
    far = compute_results(filmed(tmp_path, {**HATCH, "to_frame": 60}))
    assert far.timed == ()
    assert any("no frame 60 in 'stern': the last of 60 is 59" in line for line in far.missing)
    trial = filmed(tmp_path)
    (tmp_path / "stern.mp4").unlink()
    gone = compute_results(trial)
    assert gone.timed == ()
    assert any("lift, up: the frames of 'stern' cannot be looked at" in x for x in gone.missing)
