"""The headline of launches: both ways or none."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sailed import T0, logged

from demo_media.day import demo_day
from overlay.analysis.both_ways import both_ways
from overlay.analysis.ladder import LadderTime, rungs
from overlay.analysis.launches import Launch, find_launches
from overlay.analysis.start import LaunchStart


def launch(
    name: str, course_deg: float, time_s: float, *, aired: bool = False, broken: bool = False,
    sd_s: float = 0.03,
) -> Launch:  # fmt: skip
    row = LadderTime(
        label="20 mph",
        speed_mps=8.9,
        t_s=time_s,
        time_s=time_s,
        sd_s=sd_s,
        reading_sd_s=0.02,
        distance_m=20.0,
    )
    return Launch(
        name=name, start=LaunchStart(t_s=0.0, sd_s=0.01, event="throttle", state="at rest"),
        stop_s=15.0, ladder=(row,), roll_on=(), missed=(), broken=broken, peak_acceleration=3.0,
        mean_acceleration=1.0, peak_speed_mps=20.0, course_rad=math.radians(course_deg),
        aired_s=(3.0,) if aired else (),
    )  # fmt: skip


def test_directions_count_alike_however_often_each_was_run() -> None:
    found = both_ways(
        [launch("a", 62, 4.5), launch("b", 60, 4.7), launch("c", 243, 4.0), launch("d", 64, 4.6)]
    )
    (time,) = found.times
    assert time.time_s.value == pytest.approx((4.6 + 4.0) / 2)
    assert time.spread_s == pytest.approx(0.7)
    assert time.launches == ("a", "b", "d", "c")


def test_one_direction_has_no_headline() -> None:
    assert both_ways([launch("a", 62, 4.5), launch("b", 65, 4.4)]).times == ()
    assert both_ways([]).times == ()


def test_what_drew_air_or_broke_off_is_left_out_and_named() -> None:
    found = both_ways(
        [
            launch("a", 62, 4.5),
            launch("b", 242, 6.0, aired=True),
            launch("c", 242, 4.1),
            launch("d", 62, 9.0, broken=True),
            launch("e", 150, 4.0),
        ]
    )
    (time,) = found.times
    assert time.launches == ("a", "c")
    assert dict(found.left_out) == {
        "b": "the propeller drew air",
        "d": "the log of speed breaks off in it",
        "e": "on another course",
    }


def test_the_deviation_is_that_of_the_two_ways() -> None:
    (time,) = both_ways([launch("a", 62, 4.5), launch("b", 242, 4.0)]).times
    assert time.time_s.sd == pytest.approx(
        math.hypot(0.02 / math.sqrt(2), math.sqrt(0.03**2 - 0.02**2))
    )


def test_no_mean_makes_a_shared_delay_smaller() -> None:
    """Two launches each way, all of them by a log whose delay is known to 0.2 s: intervals hold
    the truth in 90 to 99 of 100 days."""
    rng = np.random.default_rng(8)
    held = []
    for _ in range(400):
        late = rng.normal(0, 0.2)
        found = both_ways(
            [
                launch(f"{i}", course, 5.0 + late + rng.normal(0, 0.02), sd_s=math.hypot(0.2, 0.02))
                for i, course in enumerate((62, 242, 62, 242))
            ]
        )
        time = found.times[0].time_s
        held.append(abs(time.value - 5.0) <= 1.96 * time.sd)
    assert 0.90 <= np.mean(held) <= 0.99


def test_the_demo_day_comes_to_what_it_would_be_without_current() -> None:
    """Launch 3 drew air. The mean of the true times both ways differs from still water by what
    wind and swell do; here it is held against the simulation's own launches 1, 2 and 4."""
    channels = logged(demo_day("day"))
    found = both_ways(find_launches(channels, rungs("mph", [10, 20, 30, 40]), "throttle_or_engine"))
    assert [name for name, _ in found.left_out] == ["launch 3"]
    true = {"10 mph": (2.079, 1.734, 1.772), "20 mph": (4.478, 3.979, 4.036),
            "30 mph": (6.855, 6.220, 6.308), "40 mph": (10.262, 9.217, 9.259)}  # fmt: skip
    for time in found.times:
        out, *back = true[time.label]
        assert time.time_s.value == pytest.approx((out + sum(back) / 2) / 2, abs=0.06)
    assert min(one.start.t_s for one in find_launches(channels, rungs("mph", [10]), "")) > T0
