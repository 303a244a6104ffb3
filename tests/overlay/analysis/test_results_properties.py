"""What must never change a result, and what must scale with it."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from long_day import SHEET, trial_of
from sailed import logged, sailed

from overlay.analysis.document import document
from overlay.analysis.results import Results, compute_results
from overlay.sheet import TrialSheet
from overlay.trial import Material, Trial, build_trial
from sync.channel import Channel

LADDER = {"unit": "kn", "speeds": [10, 20, 30]}
FEW = settings(max_examples=4, deadline=None)


@cache
def day() -> dict[str, Channel]:
    return logged(sailed())


@cache
def plain() -> tuple[Results, dict[str, Any]]:
    return worked_out(trial_of(day(), {"ladder": LADDER}))


def worked_out(trial: Trial) -> tuple[Results, dict[str, Any]]:
    results = compute_results(trial)
    assert results.launches
    assert any(step.ways == "both" for step in results.steps)
    return results, document(results, trial)


def flat(value: Any, path: str = "") -> dict[str, Any]:
    """Every figure of a document by its place in it."""
    if isinstance(value, dict):
        parts = [(f"{path}.{key}", item) for key, item in value.items()]
    elif isinstance(value, list):
        parts = [(f"{path}[{i}]", item) for i, item in enumerate(value)]
    else:
        return {path: value}
    return {place: one for key, item in parts for place, one in flat(item, key).items()}


CLOCK = ("t_s", "start_s", "stop_s", "mid_s")
"""Figures that are instants and not lengths of time."""


@given(st.integers(-1_000_000, 1_000_000))
@FEW
def test_a_day_later_comes_to_the_same(shift_s: int) -> None:
    later = {k: replace(c, t_s=c.t_s + shift_s, max_gap_s=c.max_gap_s) for k, c in day().items()}
    _, found = worked_out(trial_of(later, {"ladder": LADDER}))
    before = flat(plain()[1])
    for place, value in flat(found).items():
        expected = before.pop(place)
        if isinstance(value, float) and abs(value - expected) > 1e6 - 1 >= abs(shift_s):
            pytest.fail(f"{place} is far off")
        if isinstance(value, float):
            moved = shift_s if value > 1e9 or expected > 1e9 else 0.0
            assert value == pytest.approx(expected + moved, rel=1e-6, abs=2e-5), place
        else:
            assert value == expected, place
    assert not before


@given(st.permutations(sorted(day())))
@FEW
def test_the_order_of_channels_does_not_matter(order: list[str]) -> None:
    _, found = worked_out(trial_of({key: day()[key] for key in order}, {"ladder": LADDER}))
    listed = ("laws", "delays")
    assert {k: v for k, v in found.items() if k not in listed} == {
        k: v for k, v in plain()[1].items() if k not in listed
    }
    assert found["laws"] == plain()[1]["laws"]


def test_a_log_that_is_listed_twice_changes_nothing_but_a_remark() -> None:
    once = trial_of(day(), {"ladder": LADDER})
    log = once.material.logs["all"]
    twice = replace(once.material, logs={"all": log, "copy": replace(log, name="copy")})
    _, found = worked_out(build_trial(twice, once.ties))
    told = found.pop("missing")
    before = dict(plain()[1])
    before.pop("missing")
    assert found == before
    assert any("'copy' has it too" in line for line in told)


@pytest.mark.parametrize("units", ["us", "nautical", "metric"])
def test_the_units_of_the_reader_do_not_matter(units: str) -> None:
    _, found = worked_out(trial_of(day(), {"ladder": LADDER, "units": units}))
    assert found.pop("units") == units
    assert found == {key: value for key, value in plain()[1].items() if key != "units"}


def test_each_set_of_units_has_a_ladder_of_its_own() -> None:
    """Worked out afresh: no row of one ladder is a row of another converted."""
    speeds = {}
    for units in ("us", "nautical", "metric"):
        results, _ = worked_out(trial_of(day(), {"units": units}))
        speeds[units] = {row.label for one in results.launches for row in one.ladder}
    assert {"10 mph", "20 mph", "30 mph"} <= speeds["us"]
    assert {"10 kn", "20 kn"} <= speeds["nautical"]
    assert {"20 km/h", "40 km/h"} <= speeds["metric"]


@given(st.floats(0.9, 1.15))
@FEW
def test_what_is_made_of_speed_scales_with_it(factor: float) -> None:
    speed = day()["speed"]
    scaled = {**day(), "speed": replace(speed, values=speed.values * factor)}
    del scaled["acceleration"]  # which belies a speed that is not her own
    alone = {key: channel for key, channel in day().items() if key != "acceleration"}
    first, _ = worked_out(trial_of(alone, {"ladder": LADDER}))
    second, _ = worked_out(trial_of(scaled, {"ladder": LADDER}))
    steps = {step.name: step for step in second.steps}
    both = [step for step in first.steps if step.ways == "both" and step.speed.value > 6]
    assert both
    for step in both:
        other = steps[step.name]
        assert other.speed.value == pytest.approx(step.speed.value * factor, rel=0.004)
        assert other.flow.value == pytest.approx(step.flow.value, rel=0.01)
        assert other.economy.per_volume_m.value == pytest.approx(
            step.economy.per_volume_m.value * factor, rel=0.012
        )
        assert other.economy.endurance_s.value == pytest.approx(
            step.economy.endurance_s.value, rel=0.01
        )
    for one, other_launch in zip(first.launches, second.launches, strict=True):
        assert other_launch.peak_speed_mps == pytest.approx(one.peak_speed_mps * factor, rel=0.01)


def test_the_document_is_what_its_schema_says() -> None:
    """Against the jsonschema library, and the schema against the language's own."""
    from jsonschema import Draft202012Validator

    from overlay.analysis.document import results_schema

    schema = results_schema()
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    validator.validate(json.loads(json.dumps(plain()[1], allow_nan=False)))
    wrong = {**plain()[1], "launches": [{"name": "launch 1"}]}
    assert not validator.is_valid(wrong)
    assert not validator.is_valid({**plain()[1], "schema": "results/0"})


def test_a_trial_without_any_channel_comes_to_nothing_and_says_so() -> None:
    sheet = TrialSheet.model_validate(SHEET)
    empty = trial_of({})
    assert isinstance(empty.material, Material)
    found = compute_results(empty)
    assert (found.launches, found.steps, found.day) == ((), (), ())
    assert any("no log has speed" in line for line in found.missing)
    assert sheet.units == "us"
    assert np.isnan(found.set_up.power_to_mass) or found.set_up.power_to_mass > 0
