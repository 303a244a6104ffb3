"""Results by their printed definitions a second time: on paper, and the demo's whole document."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest

from overlay.audit.recompute import CannotRecompute
from overlay.audit.recompute.day import Day
from overlay.audit.recompute.recorded import Recorded, recorded
from overlay.audit.recompute.results.attitude import bow_of, plane_of
from overlay.audit.recompute.results.document import compare_results
from overlay.audit.recompute.results.launches import foot, launch_near
from overlay.audit.recompute.results.passes import PassAgain, both_ways, unsteady
from overlay.audit.recompute.results.stops import stop_again
from overlay.audit.recompute.results.turns import diameter, onset, turn_again
from overlay.audit.recompute.sheet import Sheet, read_sheet
from overlay.audit.recompute.units import unit

KNOT, MPH = 1852 / 3600, 0.44704


def day_of(**rows: tuple[np.ndarray, np.ndarray]) -> Day:
    return Day(
        channels=MappingProxyType({key: channel(key, *row) for key, row in rows.items()}),
        unread={},
    )


def channel(key: str, t: np.ndarray, values: np.ndarray) -> Recorded:
    made = recorded(
        key=key,
        log="log",
        path=Path("log"),
        t_s=t,
        values=values,
        lines=np.arange(t.size),
        printed=values,
        worth_si=1.0,
        means="doppler",
    )
    assert made is not None
    return made


@pytest.fixture
def sheet(tmp_path: Path) -> Sheet:
    (tmp_path / "trial.toml").write_text('units = "us"\n[load]\ntest_mass = "1180 kg"\n')
    return read_sheet(tmp_path / "trial.toml")


TEN = np.arange(0.0, 80.0, 0.1)
FIFTY = np.arange(0.0, 80.0, 0.02)


def launched(*, start: float = 20.0, push: float = 3.0) -> Day:
    """At rest, the lever pushed over from 20.0 to 20.6 s, and 3 m/s² from 20.2 to 27.2 s."""
    speed = np.clip(TEN - start - 0.2, 0, 7.0) * push
    lever = np.clip((TEN - start) / 0.6, 0, 1)
    return day_of(speed=(TEN, speed), throttle=(TEN, lever))


def test_a_launch_on_paper(sheet: Sheet) -> None:
    found = launch_near(launched(), sheet, 20.0)
    assert found.event == "throttle"
    assert found.start_s == pytest.approx(20.0, abs=1e-6)
    for speed in (10, 20, 30, 40):
        t = 20.2 + speed * MPH / 3.0
        assert found.ladder[f"{speed} mph"] == pytest.approx(t, abs=2e-6)
    assert found.peak_mps2 == pytest.approx(3.0, abs=0.01)
    assert found.peak_mps == pytest.approx(21.0, abs=0.1)


def test_a_start_by_the_boats_own_movement(sheet: Sheet) -> None:
    found = launch_near(launched(), replace(sheet, launch_start="first_movement"), 20.0)
    assert found.event == "speed"
    assert found.start_s == pytest.approx(20.2, abs=0.03)


def test_a_speed_that_is_not_reached_has_no_time(sheet: Sheet) -> None:
    found = launch_near(launched(push=2.0), sheet, 20.0)
    assert math.isfinite(found.ladder["30 mph"])
    assert math.isnan(found.ladder["40 mph"])


def test_where_there_is_no_launch_that_is_told(sheet: Sheet) -> None:
    with pytest.raises(CannotRecompute, match="finds no launch there"):
        launch_near(launched(), sheet, 60.0)


def test_a_foot_between_two_samples_is_their_middle() -> None:
    """A lever that is thrown over within one sample began somewhere between two."""
    values = np.where(TEN < 20.05, 0.0, 1.0)
    assert foot(channel("throttle", TEN, values), 12.0, 25.0, 0.05, 0.95) == pytest.approx(20.05)


def test_bow_rise_and_time_to_plane_on_paper(sheet: Sheet) -> None:
    """From 1° to 9° over two seconds, held for two, and down to 3° at 2°/s: the mean over 0.3 s
    keeps the top, and two thirds of the way from 9° to 3° is 5°, at 26 s."""
    t = FIFTY
    angle = np.interp(t, [0, 20, 22, 24, 27, 80], [1, 1, 9, 9, 3, 3])
    launch_day = launched()
    day = replace(
        launch_day,
        channels={**launch_day.channels, "pitch": channel("pitch", t, np.radians(angle))},
    )
    launch = launch_near(day, sheet, 20.0)
    bow = bow_of(day, replace(sheet, bow_limit_rad=math.radians(4)), launch)
    assert math.degrees(bow.rise_rad) == pytest.approx(8.0, abs=1e-9)
    assert math.degrees(bow.level_rad) == pytest.approx(1.0)
    # Above 5° of pitch from 21 to 26 s.
    assert bow.above_s == pytest.approx(5.0, abs=0.01)
    assert plane_of(day, sheet, launch, math.radians(3.0)) == pytest.approx(26.0, abs=0.03)
    at_speed = replace(sheet, time_to_plane="speed", plane_speed_mps=15.0)
    assert plane_of(day, at_speed, launch, None) == pytest.approx(25.2, abs=1e-5)


def test_a_froude_number_of_two_on_paper(sheet: Sheet) -> None:
    """1180 kg displace 1.151 m³ of sea water, whose cube root is 1.048 m: 2·√(9.80665·1.048) is
    6.412 m/s, by hand."""
    day = launched()
    launch = launch_near(day, sheet, 20.0)
    when = plane_of(day, replace(sheet, time_to_plane="froude_2"), launch, None)
    assert (when - 20.2) * 3.0 == pytest.approx(6.412, abs=0.001)
    with pytest.raises(CannotRecompute, match="button"):
        plane_of(day, replace(sheet, time_to_plane="button"), launch, None)


def passes(*speeds_kn: float, gap_s: float = 600.0) -> list[PassAgain]:
    return [
        PassAgain(
            spans=[(i * gap_s, i * gap_s + 60)],
            speed_mps=speed * KNOT,
            course_rad=math.radians(45 if i % 2 == 0 else 225),
            engine_rps=50.0,
            flow_m3ps=1e-6,
            pitch_rad=0.0,
        )
        for i, speed in enumerate(speeds_kn)
    ]


# Worked numbers of check-values, section 2; the model and the weights: Tupper, pp. 244 and 245.
@pytest.mark.parametrize(
    ("speeds", "mean"),
    [((21.0, 18.75, 21.60, 17.95), 20.0), ((21.0, 18.8, 21.4), 20.0), ((22.0, 18.0), 20.0)],
)
def test_the_mean_of_means_on_paper(speeds: tuple[float, ...], mean: float) -> None:
    found = both_ways(passes(*speeds), [0.01] * len(speeds))
    assert found is not None
    assert found[0] / KNOT == pytest.approx(mean, abs=1e-9)
    assert found[1] == len(speeds) - 2


def test_a_stream_across_drops_out() -> None:
    """20 kn north and south in a stream of 2 kn to the east."""
    ground = math.hypot(20, 2)
    rows = [
        replace(one, speed_mps=ground * KNOT, course_rad=way)
        for one, way in zip(
            passes(0, 0), (math.atan2(2, 20), math.pi - math.atan2(2, 20)), strict=True
        )
    ]
    found = both_ways(rows, [0.01, 0.01])
    assert found is not None
    assert found[0] / KNOT == pytest.approx(20.0)


def test_passes_one_way_have_no_mean_both_ways() -> None:
    assert both_ways([passes(20)[0], passes(21)[0]], [0.1, 0.1]) is None


def circled(stream_mps: float = 0.0, *, port: bool = False, turns: float = 2.0) -> Day:
    """10 m/s round a circle of 100 m, from 10 s on, carried to the east."""
    way = -1.0 if port else 1.0
    rate = np.where((TEN >= 10) & (10 + turns * 10 * math.pi > TEN), way * 0.2, 0.0)
    heading = np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2 * 0.1)])
    velocity = 10 * np.exp(1j * (math.pi / 2 - heading)) + stream_mps
    course = np.mod(math.pi / 2 - np.angle(velocity), math.tau)
    return day_of(
        speed=(TEN, np.abs(velocity)), course=(TEN, course), turn_rate=(TEN, rate)
    )  # fmt: skip


@pytest.mark.parametrize("port", [False, True])
def test_a_circle_on_paper(port: bool) -> None:
    day = circled(port=port)
    turn = turn_again(day, 9.95, 60.0, to_port=port)
    assert turn.when(math.pi) == pytest.approx(9.95 + 5 * math.pi, abs=0.06)
    assert turn.entry_mps == pytest.approx(10.0)
    assert diameter(day, 28.0, 65.0) == pytest.approx(100.0, abs=0.05)
    assert onset(day, 9.95, 60.0, to_port=port) == pytest.approx(9.7, abs=0.2)


def test_the_stream_is_taken_out_of_a_circle_that_was_held_long() -> None:
    """A whole turn and more from 28 s on: 37 s at 0.2 rad/s are 424°; 40 s are 458°."""
    assert diameter(circled(0.5), 28.0, 68.0) == pytest.approx(100.0, abs=0.1)
    assert abs(diameter(circled(0.5), 28.0, 50.0) - 100.0) > 1.0


def test_a_stop_on_paper() -> None:
    """20 m/s until the throttle closes over half a second at 20 s, then 1 m/s² less: 2 kn are
    passed at 20 + 20 − 1.0289 s, after 199.47 m."""
    speed = np.clip(20 - np.clip(TEN - 20.0, 0, None), 0.0, None)
    lever = 1 - np.clip((TEN - 20.0) / 0.5, 0, 1)
    stop = stop_again(day_of(speed=(TEN, speed), throttle=(TEN, lever)), 20.0, 39.0)
    off = unit("kn").to_si(2.0)
    assert stop.start_s == pytest.approx(20.0, abs=1e-6)
    assert stop.time_s == pytest.approx(20 - off, abs=0.021)
    assert stop.distance_m == pytest.approx((400 - off**2) / 2, abs=0.1)


@pytest.mark.parametrize(
    ("key", "values", "why"),
    [
        ("speed", 10 + 0.2 * (TEN - 30), "speed does not keep to its band"),
        ("engine_speed", 50 + 0.5 * (TEN - 30), "engine_speed does not keep to its band"),
        ("course", np.radians(100 + 5 * (TEN - 30)), "the course does not keep to 20°"),
    ],
)
def test_what_is_not_steady_is_told(key: str, values: np.ndarray, why: str) -> None:
    ones = np.ones(TEN.size)
    rows = {"speed": (TEN, 10 * ones), "engine_speed": (TEN, 50 * ones), "course": (TEN, ones)}
    assert unsteady(day_of(**rows), (20.0, 40.0)) is None
    assert unsteady(day_of(**{**rows, key: (TEN, np.clip(values, 0.1, None))}), (20.0, 40.0)) == why
    assert unsteady(day_of(**rows), (20.0, 27.0)) == "it lasts 7.0 s"


def test_the_demos_whole_document_is_borne_out(demo) -> None:
    rows = compare_results(read_sheet(demo.sheet_path), demo.day, demo.document)
    assert [row.what for row in rows if not row.agrees] == []
    told = {row.what for row in rows}
    assert {
        "launch 1, start",
        "launch 4, 40 mph",
        "launch 2, bow rise",
        "launch 3, time to plane",
        "launch 1, peak acceleration",
        "both ways, 20 mph",
        "3490 rpm, speed",
        "5550 rpm, pass 8",
        "turn 2, diameter",
        "stop 1, distance",
    } <= told
    assert len(rows) > 120


def test_most_of_it_agrees_a_hundred_times_better_than_it_must(demo) -> None:
    """The two implementations see the same logs: what differs is where they read them off."""
    rows = compare_results(read_sheet(demo.sheet_path), demo.day, demo.document)
    off = np.array([abs(row.found - row.said) / row.sd for row in rows])
    assert np.quantile(off, 0.9) < 0.01
    assert off.max() < 0.5
