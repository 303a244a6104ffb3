"""Steps, turns and stops as clips film them: which runs there are, what stands on the neatline."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sailed import T0, logged, sailed, write_trial

from demo_media.day import demo_day
from overlay.analysis.results import Results, compute_results
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.picture import Picture
from overlay.graphics.plan import compile_plan
from overlay.report.facts import facts_of
from overlay.trial import Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.clip_facts import sources_shown
from overlay.workflow.clip_run import faceplate_for
from overlay.workflow.filmed import in_film, run_called, runs_of
from overlay.workflow.subject import subject_of
from sync.clock import Span

HD = Picture(width_px=1280, height_px=720)


def trial_of(folder: Path, day) -> tuple[Trial, Results]:
    material = read_material(write_trial(folder, logged(day)))
    trial = build_trial(material, ties_for(material))
    return trial, compute_results(trial)


@pytest.fixture(scope="module")
def short(tmp_path_factory) -> tuple[Trial, Results]:
    """Four steps each way and two launches."""
    return trial_of(tmp_path_factory.mktemp("short") / "day", sailed())


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> tuple[Trial, Results]:
    """The demo's day, with turns and a stop."""
    return trial_of(tmp_path_factory.mktemp("whole") / "day", demo_day("day"))


def shown_by(trial: Trial, run, t_utc_s: float) -> dict[str, str]:
    """What the faceplate that suits a run says at an instant."""
    span = Span(start_s=run.span.start_s - 5, stop_s=run.span.stop_s + 20)
    subject = subject_of(trial, run, span)
    plan = compile_plan(load_faceplate(faceplate_for(subject)), picture=HD, subject=subject)
    planes = tuple(np.full(shape, 90, np.uint8) for shape in ((720, 1280), (360, 640), (360, 640)))
    return {
        f"{one.instrument} {one.item}": f"{one.text} {one.unit}"
        for one in plan.draw(planes, t_utc_s)
    }


def test_all_runs_are_there_by_the_names_of_the_results(whole) -> None:
    _, results = whole
    names = [run.name for run in runs_of(results)]
    assert len(names) == len(set(names))
    assert {launch.name for launch in results.launches} <= set(names)
    for step in results.steps:
        assert step.name in names
        assert f"{step.name}, pass {len(step.passes)}" in names
    assert any(name.startswith("turn 1 to ") for name in names)
    assert "stop 1" in names


def test_a_step_shows_its_passes_and_the_mean_both_ways_once_they_are_in(short) -> None:
    trial, results = short
    step = max(results.steps, key=lambda one: one.speed.value)
    run = run_called(results, step.name)
    assert run is not None
    assert run.kind == "top speed"
    first = run.passes[0].run.span
    during = shown_by(trial, run, first.start_s + 5)
    assert not any(item.startswith("time ") for item in during)
    after = shown_by(trial, run, first.stop_s + 1)
    assert "time pass 1" in after
    assert "time both ways" not in after
    done = shown_by(trial, run, run.span.stop_s + 0.5)
    number, unit = done["time both ways"].split()
    assert unit == "mph"
    assert abs(float(number) * 0.44704 - step.speed.value) <= 0.5 * 0.44704


def test_of_a_step_that_goes_on_after_the_film_no_mean_is_shown(short) -> None:
    trial, results = short
    step = results.steps[-1]
    run = run_called(results, step.name)
    assert run is not None
    first = run.passes[0].run.span
    part = in_film(run, Span(start_s=first.start_s - 3, stop_s=first.stop_s + 3))
    assert [one.number for one in part.passes] == [1]
    assert part.span == first
    shown = shown_by(trial, part, first.stop_s + 1)
    assert "time pass 1" in shown
    assert "time both ways" not in shown


def test_brackets_are_the_bands_that_steps_are_found_by(short) -> None:
    """2 % or 50 rpm of engine speed, 3 % or 0.3 kn of speed (see `analysis.steady`)."""
    trial, results = short
    run = run_called(results, results.steps[-1].name)
    assert run is not None
    assert run.step is not None
    subject = subject_of(trial, run, run.span)
    for one in run.passes:
        band = subject.bracket("engine_speed", one.run.span.start_s + 1)
        assert band is not None
        middle = one.run.engines[0].value
        half = max(0.02 * middle, 50 / 60)
        assert band == pytest.approx((middle - half, middle + half))
        speeds = subject.bracket("speed", one.run.span.stop_s - 1)
        assert speeds is not None
        assert sum(speeds) / 2 == pytest.approx(one.run.speed.value)


def test_a_turn_shows_its_diameter_when_it_is_done(whole) -> None:
    trial, results = whole
    run = next(one for one in runs_of(results) if one.kind == "turn")
    assert run.turn is not None
    assert run.turn.held is not None
    before = shown_by(trial, run, run.turn.held.stop_s - 0.5)
    assert "time diameter" not in before
    done = shown_by(trial, run, run.span.stop_s + 0.5)
    number = float(done["time diameter"].split()[0])
    assert number * 0.3048 == pytest.approx(run.turn.diameter_m.value, rel=0.06)
    swept = float(done["swept swept"].split()[0])
    assert swept == pytest.approx(np.degrees(run.turn.swept_rad), abs=3)


def test_a_stop_ends_with_its_time(whole) -> None:
    trial, results = whole
    run = run_called(results, "stop 1")
    assert run is not None
    assert run.stop is not None
    shown = shown_by(trial, run, run.span.stop_s + 0.5)
    assert float(shown["time way off"].split()[0]) == pytest.approx(run.stop.time_s.value, abs=0.6)


def test_facts_are_lines_of_what_the_sheet_states(short) -> None:
    trial, _ = short
    facts = facts_of(trial.sheet)
    assert facts["trial"] == "Reciprocal day"
    assert facts["load"] == "2601 lb as tested"
    assert facts["propeller"] == "pitch 21 in"
    assert "boat" not in facts
    assert T0 > 0


def test_of_two_engines_the_ledger_names_the_channel_of_each(short) -> None:
    trial, results = short
    subject = subject_of(trial, run_called(results, "launch 1"), results.launches[0].span)
    named = sources_shown(trial, load_faceplate("twin"), subject)
    assert named["engines", "port"] == ("engine_speed", "engine")
    assert named["engines", "starboard"][0] == "engine_speed.1"
    assert named["speed"] == ("speed", "gps")
    assert named["time"] == ("speed", "gps")


def test_a_decimal_comma_reaches_readouts_and_flags(short) -> None:
    trial, results = short
    sheet = trial.sheet.model_copy(update={"decimal_sign": ","})
    with_comma = replace(trial, material=replace(trial.material, sheet=sheet))
    launch = run_called(results, "launch 1")
    assert launch is not None
    shown = shown_by(with_comma, launch, launch.span.stop_s + 0.5)
    assert "," in shown["speed value"]
    assert any("," in text for item, text in shown.items() if item.startswith("time "))
    assert not any("." in text for text in shown.values())


def test_a_film_of_the_way_between_two_passes_has_nothing_of_the_step(short) -> None:
    _, results = short
    run = run_called(results, results.steps[-1].name)
    assert run is not None
    first, second = (one.run.span for one in run.passes[:2])
    between = Span(start_s=first.stop_s + 1, stop_s=second.start_s - 1)
    assert in_film(run, between) is None


def test_heel_is_positive_to_the_side_that_she_turns_to(whole) -> None:
    """As the table of turns has it, whichever way she turns."""
    trial, results = whole
    seen = set()
    for run in runs_of(results):
        if run.turn is not None and run.turn.held is not None:
            middle = (run.turn.held.start_s + run.turn.held.stop_s) / 2
            heel = float(shown_by(trial, run, middle)["heel value"].split()[0])
            assert heel == pytest.approx(np.degrees(run.turn.heel.value), abs=6)
            assert heel > 5
            seen.add(run.turn.to)
    assert seen == {"port", "starboard"}
