"""The whole day: its programme, what its logs add to the morning's, and its other recordings."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pynmea2
import pytest

from demo_media import DemoTrial, FootageRecipe, make_demo
from demo_media.boat import DEMO
from demo_media.chase import pace
from demo_media.cutting import cut_film
from demo_media.day import demo_day
from demo_media.footage import make_footage
from demo_media.listening import left_s
from demo_media.programme import programme
from demo_media.scenario import DEMO_SCENARIO
from demo_media.scene.chase_film import ChaseStage, make_chase_stage
from demo_media.shots import CHASE, STEPS
from demo_media.simulate import Day
from demo_media.sound import make_sound
from demo_media.tables import engine_log
from sync.channel import Channel
from sync.clock import Span
from sync.clues import engine_note_clues

KNOT = 1852 / 3600  # NIST SP 811: 1852 m an hour
MPH = 0.44704  # NIST SP 811: exactly 0.447 04 m/s
RATE = 24000


@pytest.fixture(scope="module")
def whole() -> Day:
    return demo_day("day")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> DemoTrial:
    return make_demo(tmp_path_factory.mktemp("whole") / "trial", part="day", footage=False)


def _between(day: Day, name: str, start_s: float, stop_s: float) -> np.ndarray:
    return getattr(day, name)[(day.t_s >= start_s) & (day.t_s < stop_s)]


def test_the_day_lasts_forty_minutes_and_begins_with_the_morning(whole: Day) -> None:
    assert whole.t_s[-1] == pytest.approx(2400.0)
    morning = demo_day("morning")
    for name in ("speed_mps", "engine_rps", "pitch_rad", "lever"):
        first = getattr(whole, name)[: morning.t_s.size - 1]
        assert np.array_equal(first, getattr(morning, name)[:-1]), name


def test_every_step_is_held_both_ways_within_thirty_rpm(whole: Day) -> None:
    steps = [p for p in programme("day").pieces if p.kind == "step"]
    held = [step for step in steps if step.set_rpm is not None]
    for heading in (62.0, 242.0):
        rpms = [step.set_rpm for step in held if step.heading_deg == heading]
        assert rpms == list(range(1000, 5501, 500))
    assert len(steps) == len(held) + 4  # idle and full throttle, each way
    for step in held:
        assert step.stop_s - step.start_s >= 20
        rpm = _between(whole, "engine_rps", step.start_s, step.stop_s) * 60
        assert abs(rpm.mean() - step.set_rpm) < 15, step
        assert np.abs(rpm - step.set_rpm).max() < 45, step


def test_speed_rises_from_step_to_step(whole: Day) -> None:
    for heading in (62.0, 242.0):
        steps = [p for p in programme("day").pieces if p.kind == "step"]
        means = [
            float(_between(whole, "water_mps", p.start_s, p.stop_s).mean())
            for p in steps
            if p.heading_deg == heading
        ]
        assert len(means) == 12
        assert means == sorted(means)


def test_the_two_ways_differ_over_ground_by_twice_the_current_along_them(whole: Day) -> None:
    # a drift of 0.8 kn to 218° has 0.8·cos(24°) kn along 242°
    plan = programme("day")
    along = 2 * 0.8 * KNOT * np.cos(np.radians(24.0))
    for rpm in (1000, 2000, 4500):
        drift = []
        for way in ("062", "242"):
            piece = plan.piece(f"{rpm} {way}")
            ground, water = (
                float(_between(whole, name, piece.start_s, piece.stop_s).mean())
                for name in ("speed_mps", "water_mps")
            )
            drift.append(ground - water)
        assert drift[1] - drift[0] == pytest.approx(float(along), abs=0.03)


def test_four_launches_two_each_way_one_of_them_spoiled(whole: Day) -> None:
    launches = [p for p in programme("day").pieces if p.kind == "launch"]
    assert [p.heading_deg for p in launches] == [62.0, 242.0, 62.0, 242.0]
    assert [p.spoiled for p in launches] == [False, False, True, False]
    (air,) = programme("day").script.airings
    spoiled, clean = launches[2], launches[0]
    for start in (spoiled.start_s, clean.start_s):
        since = air.start_s - spoiled.start_s
        flared = _between(whole, "engine_rps", start + since, start + since + 1.6) * 60
        assert bool(flared.max() > 6000) is (start == spoiled.start_s)
    gained = [
        float(np.ptp(_between(whole, "water_mps", p.start_s + 3.5, p.start_s + 5.0)))
        for p in (clean, spoiled)
    ]
    assert gained[1] < 0.7 * gained[0]  # thrust drops


def test_the_other_pieces_are_what_they_are_called(whole: Day) -> None:
    plan = programme("day")
    roll = plan.piece("roll-on")
    assert float(whole.at("water_mps", roll.start_s)[0]) == pytest.approx(20 * MPH, abs=0.8)
    assert float(whole.at("water_mps", roll.stop_s)[0]) > 40 * MPH
    for name, sense in (("turn to starboard", 1), ("turn to port", -1)):
        turn = plan.piece(name)
        heading = np.degrees(_between(whole, "heading_rad", turn.start_s, turn.stop_s))
        assert sense * float(heading[-1] - heading[0]) > 270
        assert float(_between(whole, "water_mps", turn.start_s, turn.stop_s).min()) > 10
    stop = plan.piece("stop")
    assert float(whole.at("water_mps", stop.start_s)[0]) > 20
    assert float(whole.at("water_mps", stop.stop_s - 0.1)[0]) < 1.5
    astern = plan.piece("astern")
    assert float(whole.at("water_mps", astern.stop_s - 0.1)[0]) < -2


def test_truth_tells_every_piece_and_recording(made: DemoTrial, whole: Day) -> None:
    truth = made.truth
    assert [p.name for p in truth.pieces] == [p.name for p in programme("day").pieces]
    for piece in truth.pieces:
        assert (set(piece.launch_times_s) == {"10", "20", "30", "40"}) is (piece.kind == "launch")
    assert [r.name for r in truth.recordings] == ["bow", "steps", "chase"]
    chase = truth.recordings[2]
    believed = chase.creation_utc_s[0] - 3 * 3600  # Europe/Helsinki in summer: UTC+3 (tzdata)
    off = believed - chase.offset_s
    assert chase.local_stamp
    assert chase.camera_fast_s - 1 < off <= chase.camera_fast_s
    assert 15 < chase.engine_distance_m[0] < chase.engine_distance_m[1] < 30


def test_the_receiver_is_void_through_the_drop_out(made: DemoTrial) -> None:
    ((start, stop),) = made.truth.drop_out_utc_s
    void = []
    for line in (made.folder / "logs/gps.nmea").read_text(encoding="ascii").splitlines():
        if "RMC" in line:
            said = pynmea2.parse(line, check=True)
            if said.status == "V":
                assert said.lat == said.spd_over_grnd == "" or said.spd_over_grnd is None
                void.append(said.timestamp)
    assert len(void) == round((stop - start) * 10)


def test_the_engine_logs_clock_runs_slow_between_its_first_and_last_mark(made: DemoTrial) -> None:
    rows = (made.folder / "logs/engine.csv").read_text(encoding="utf-8").splitlines()
    marked = [row.split(",") for row in rows[1:] if not row.endswith(",")]
    own = {row[-1]: float(row[0]) for row in marked}
    utc = made.truth.marks_utc_s
    assert set(own) == set(utc) == {"clap", "button", "evening button"}
    lost = (utc["evening button"] - utc["clap"]) - (own["evening button"] - own["clap"])
    assert lost / (utc["evening button"] - utc["clap"]) == pytest.approx(14e-6, abs=1e-6)


@pytest.mark.parametrize("shot", [STEPS, CHASE], ids=lambda shot: shot.name)
def test_the_engines_note_ties_the_other_recordings_within_what_it_states(
    whole: Day, shot: object
) -> None:
    """Near their stamps, as a crew would look; the truth is the scenario's."""
    assert shot in (STEPS, CHASE)
    film = STEPS if shot == STEPS else CHASE
    rows = [line.split(",") for line in engine_log(whole, DEMO_SCENARIO, "day").splitlines()[1:]]
    t_s, rpm = np.array([(float(r[0]), float(r[1])) for r in rows if r[1]]).T
    middle = film.recipe.length_s / 2
    truth_s = DEMO_SCENARIO.engine_own(film.start_s + middle) - middle
    near = Span(start_s=truth_s - 120, stop_s=truth_s + 120)
    (clue,) = engine_note_clues(
        clock=f"footage:{film.name}",
        samples=make_sound(whole, DEMO_SCENARIO, 4, film.recipe.length_s, RATE, film),
        rate_hz=RATE, start_s=0.0,
        channel=Channel(name="engine_speed", clock="log:engine", t_s=t_s, values=rpm / 60,
                        delay_s=0.15, delay_sd_s=0.02),
        cylinders=4, strokes=4, windows=(near,),
        sound_delay_s=film.engine_distance_m / DEMO_SCENARIO.sound_speed_mps,
        sound_delay_sd_s=0.1 * film.engine_distance_m / DEMO_SCENARIO.sound_speed_mps,
    ).clues  # fmt: skip
    assert abs(clue.offset_s - truth_s) < 0.03
    assert abs(clue.offset_s - truth_s) < 1.96 * clue.sd_s


def test_sound_across_the_water_left_when_its_way_says(whole: Day) -> None:
    heard = CHASE.start_s + np.linspace(1, 25, 9)
    left = left_s(whole, DEMO_SCENARIO, CHASE, heard)
    camera = pace(whole, heard)
    heading = whole.at("heading_rad", left)
    east = whole.at("x_m", left) - 3.0 * np.sin(heading) - camera.x_m
    north = whole.at("y_m", left) - 3.0 * np.cos(heading) - camera.y_m
    way = np.sqrt(east**2 + north**2 + 1.9**2)
    # 331.3·√(1 + T/273.15) m/s at 17 °C
    assert (heard - left) * 341.45 == pytest.approx(way, abs=0.02)


SMALL = FootageRecipe(width_px=192, height_px=108, rate=10, length_s=26.0)


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("pair")
    paths = (folder / "steps-1.mp4", folder / "steps-2.mp4")
    make_footage(paths, STEPS, SMALL, lambda _share: None, 1)
    assert sorted(folder.iterdir()) == sorted(paths)
    return paths


def _sound(path: Path) -> np.ndarray:
    with av.open(str(path)) as film:
        frames = list(film.decode(audio=0))
    assert float(frames[0].pts * frames[0].time_base) == 0.0
    return np.concatenate([frame.to_ndarray()[0] for frame in frames])


def test_two_files_of_a_recording_go_on_where_the_first_stops(pair: tuple[Path, Path]) -> None:
    """Frames at their times in both, and the sound of both in a row that of one recording."""
    for path, count in zip(pair, (160, 100), strict=True):
        with av.open(str(path)) as film:
            times = [frame.time for frame in film.decode(video=0)]
        assert times == pytest.approx([i / 10 for i in range(count)], abs=1e-9)
    first, second = (_sound(path) for path in pair)
    assert first.size == 16 * 48000
    joined = np.concatenate([first, second])
    true = make_sound(demo_day("day"), DEMO_SCENARIO, DEMO.engine.cylinders, 26.0, 48000, STEPS)
    seam = slice(16 * 48000 - 4000, 16 * 48000 + 4000)
    assert np.corrcoef(joined[seam], true[seam])[0, 1] > 0.9
    step = np.abs(np.diff(joined[seam]))
    assert step[3998:4002].max() <= step.max()


def test_each_file_says_when_its_camera_thought_it_began(pair: tuple[Path, Path]) -> None:
    stamps = []
    for path in pair:
        with av.open(str(path)) as film:
            stamps.append(film.metadata["creation_time"])
    assert stamps == ["2026-06-11T04:24:27.000000Z", "2026-06-11T04:24:43.000000Z"]


def test_a_film_is_not_cut_where_no_key_frame_stands(
    pair: tuple[Path, Path], tmp_path: Path
) -> None:
    pieces = ((tmp_path / "a.mp4", 0.0, "x"), (tmp_path / "b.mp4", 3.0, "x"))
    with pytest.raises(ValueError, match="cannot be cut at"):
        cut_film(pair[0], pieces)


@pytest.fixture(scope="module")
def stage(whole: Day) -> ChaseStage:
    return make_chase_stage(whole, (320, 180), 7)


def test_the_chase_films_frame_depends_on_its_time_alone(stage: ChaseStage) -> None:
    once = stage.draw(CHASE.start_s + 12)
    stage.draw(CHASE.start_s + 3)
    assert np.array_equal(once, stage.draw(CHASE.start_s + 12))
    assert not np.array_equal(once, stage.draw(CHASE.start_s + 12.04))


def test_the_chase_film_shows_the_boat_and_its_spray_only_under_way(stage: ChaseStage) -> None:
    """The jackets are the reddest thing there; spray is white low down behind the boat."""
    white = []
    for since in (2.0, 15.0):
        picture = stage.draw(CHASE.start_s + since).astype(int)
        red = picture[..., 2] - picture[..., 0] > 60
        rows, columns = np.nonzero(red)
        assert rows.size > 20
        assert 60 < rows.mean() < 130
        assert 80 < columns.mean() < 260
        white.append(int((picture[105:150, 225:].min(axis=2) > 200).sum()))
    assert white[1] > white[0] + 40
