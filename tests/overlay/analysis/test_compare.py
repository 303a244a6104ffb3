"""Trials side by side: what is marked, what is not, and when nobody is called better."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from sailed import DELAYS, logged, sailed, write_trial

from overlay.analysis.air import air
from overlay.analysis.both_ways import both_ways
from overlay.analysis.compare import Comparison, Difference, compare, difference, document
from overlay.analysis.comparing.limits import LIMITS
from overlay.analysis.comparing.meeting import at_speed, partner
from overlay.analysis.comparing.side import Reading, Side
from overlay.analysis.economy import economy
from overlay.analysis.ladder import rungs
from overlay.analysis.launches import find_launches
from overlay.analysis.means import NONE, Mean
from overlay.analysis.noise import StepNoise
from overlay.analysis.results import compute_results
from overlay.analysis.steps import Step
from overlay.documents import without_nan
from overlay.trial import build_trial, read_material
from overlay.workflow.align import ties_for
from sync.units import to_si

STATED: dict[str, dict[str, Any]] = {
    "conditions": {
        "wind": "6 kn", "air_temperature": "15 degC", "pressure": "1013.25 hPa",
        "humidity": "50 %",
    },
    "boat": {"bottom": "clean"},
    "load": {"ethanol": "5 %"},
}  # fmt: skip
GIVEN = st.floats(-50, 50)
DOUBT = st.floats(0, 5)


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Side:
    """A simulated day's results, with all that must be alike stated."""
    more = DELAYS + (
        '[conditions]\nwind = "6 kn"\nair_temperature = "15 degC"\npressure = "1013.25 hPa"\n'
        'humidity = "50 %"\n[boat]\nbottom = "clean"\n'
    )
    folder = tmp_path_factory.mktemp("base") / "trial"
    path = write_trial(folder, logged(sailed()), more)
    path.write_text(path.read_text().replace("[load]\n", '[load]\nethanol = "5 %"\n'))
    material = read_material(path, with_footage=False)
    trial = build_trial(material, ties_for(material))
    results = compute_results(trial)
    assert len(results.steps) >= 3
    assert results.both_ways.times
    side = Side(sheet=trial.sheet, results=results, air=air(trial.sheet.conditions))
    return repeated(side, (-0.04, 0.0, 0.04))


def repeated(side: Side, later_s: tuple[float, ...]) -> Side:
    """The same trial with each launch sailed so many times, later at every mark by so much."""
    launches = tuple(
        replace(
            one,
            name=f"{one.name} again {number}",
            ladder=tuple(replace(row, time_s=row.time_s + later) for row in one.ladder),
        )
        for one in side.results.launches
        for number, later in enumerate(later_s)
    )
    attitudes = tuple(
        replace(one, launch=f"{one.launch} again {number}")
        for one in side.results.attitudes
        for number in range(len(later_s))
    )
    return replace(
        side,
        results=replace(
            side.results, launches=launches, attitudes=attitudes, both_ways=both_ways(launches)
        ),
    )


def with_steps(side: Side, change: Callable[[Step], Step]) -> Side:
    steps = tuple(change(step) for step in side.results.steps)
    return replace(side, results=replace(side.results, steps=steps))


def scaled(mean: Mean, factor: float) -> Mean:
    return Mean(value=mean.value * factor, sd=mean.sd)


def faster(side: Side, factor: float) -> Side:
    """The same trial with all two-way speeds greater, at the same flow."""

    def change(step: Step) -> Step:
        speed = scaled(step.speed, factor)
        return replace(step, speed=speed, economy=economy(speed, step.flow))

    return with_steps(side, change)


def quicker(side: Side, factor: float) -> Side:
    """The same trial with all launch times greater or less."""
    both = side.results.both_ways
    times = tuple(replace(one, time_s=scaled(one.time_s, factor)) for one in both.times)
    return replace(side, results=replace(side.results, both_ways=replace(both, times=times)))


def launch_reading(*ways: tuple[float, ...]) -> Reading:
    """A mean both ways of launches that are each measured to a hundredth of a second."""
    value = float(np.mean([np.mean(way) for way in ways]))
    return Reading(mean=Mean(value=value, sd=0.01), repeats=ways)


def restated(side: Side, part: str, **new: Any) -> Side:
    """The same trial with something else in its sheet, its air and mass as that makes them."""
    fields = {key: value for key, value in {**STATED[part], **new}.items() if value is not None}
    read = type(getattr(side.sheet, part)).model_validate(fields)
    sheet = side.sheet.model_copy(update={part: read})
    return replace(side, sheet=sheet, air=air(sheet.conditions))


def heavier(side: Side, kilograms: float | None, lacks: tuple[str, ...] = ()) -> Side:
    made = side.results.set_up
    assert made.mass is not None
    mass = None
    if kilograms is not None:
        mass = replace(made.mass, value_kg=kilograms, not_stated=lacks)
    return replace(side, results=replace(side.results, set_up=replace(made, mass=mass)))


def row(comparison: Comparison, key: str) -> tuple[tuple[Reading, ...], Difference]:
    found = next(one for one in comparison.rows if one.figures.key == key)
    return found.figures.readings, found.differences[1]


def test_a_trial_does_not_differ_from_itself(base: Side) -> None:
    found = compare([base, base, base])
    assert found.hindrances(1) == ()
    assert found.common(1) > 15
    for one in found.rows:
        for off in one.differences[1:]:
            assert off.says in ("within uncertainty", "")
            assert not off.exceeds
            if off.says:
                assert off.value.value == 0.0
            else:
                assert one.figures.readings[1].lacks


def test_every_figure_has_a_name_of_its_own_and_a_value_or_a_reason(base: Side) -> None:
    rows = compare([base, base]).rows
    keys = [one.figures.key for one in rows]
    assert len(keys) == len(set(keys))
    for one in rows:
        for reading in one.figures.readings:
            assert reading.mean.known != bool(reading.lacks), one.figures.key


def test_a_faster_boat_is_marked_so_at_top_and_at_every_step(base: Side) -> None:
    """Five in a hundred is many times what two-way means leave open (some hundredths of a knot)."""
    found = compare([base, faster(base, 1.05)])
    top = base.step(base.results.set_up.top)
    assert top is not None
    (first, other), off = row(found, "top_speed")
    assert (first.at, other.at) == (top.name, top.name)
    assert off.value.value == pytest.approx(0.05 * top.speed.value)
    assert off.value.sd == pytest.approx(math.hypot(top.speed.sd, top.speed.sd))
    assert (off.says, off.verdict) == ("higher", "better")
    steps = [one for one in found.rows if one.figures.key.startswith("speed_at_")]
    assert len(steps) == len(base.both_ways())
    assert all(one.differences[1].verdict == "better" for one in steps)
    assert row(found, "best_planing_economy")[1].verdict == "better"
    # Which planing steps were run is the crew's choice, and which way is better with it.
    assert row(found, "lowest_planing")[1].says == "higher"
    assert row(found, "lowest_planing")[1].verdict == "none"
    assert row(found, "full_throttle_rpm")[1].says == "within uncertainty"


def test_the_slower_to_launch_is_the_worse(base: Side) -> None:
    found = compare([base, quicker(base, 1.2)])
    _, off = row(found, "launch_to_20_mph")
    assert (off.says, off.verdict) == ("higher", "worse")
    _, back = row(compare([quicker(base, 1.2), base]), "launch_to_20_mph")
    assert (back.says, back.verdict) == ("lower", "better")


def test_launches_that_nobody_repeated_are_not_judged() -> None:
    """One launch each way in both trials: a second slower, and still nobody knows how the next
    one would have gone."""
    off = difference(launch_reading((6.0,), (6.2,)), launch_reading((7.0,), (7.2,)), "less",
                     judged=True)  # fmt: skip
    assert off.value.value == pytest.approx(1.0)
    assert (off.says, off.verdict) == ("too few repeats", "none")


def test_launches_are_held_against_each_other_by_how_they_scatter() -> None:
    """Three there and three back in each, 0.1 s apart: s = 0.1, ν = 8, t = 2.306 (tables), and
    2.306 / 1.96 · 0.1 · ½ √(4 / 3) = 0.0679 s (calculated)."""
    first = launch_reading((5.9, 6.0, 6.1), (6.1, 6.2, 6.3))
    for later, says in ((0.12, "within uncertainty"), (0.15, "higher")):
        other = launch_reading(*(tuple(x + later for x in way) for way in first.repeats))
        off = difference(first, other, "less", judged=True)
        assert off.value.sd == pytest.approx(0.0679, abs=1e-4)
        assert off.says == says


def test_waves_make_launches_differ_by_more_than_each_is_measured_to() -> None:
    """One simulated boat, one load, one current: nothing but the waves is another.

    By what each time is measured to, days are told apart that are the same; by how launches of one
    direction scatter they are not.
    """
    rows: list[tuple[float, float, Mean]] = []
    for swell in (20, 21, 22, 23):
        found = find_launches(logged(sailed(swell)), rungs("mph", [30]), "throttle_or_engine")
        there, back = found
        (both,) = both_ways(found).times
        rows.append((there.ladder[0].time_s, back.ladder[0].time_s, both.time_s))
    measured = [Reading(mean=mean) for _, _, mean in rows]
    pairs = [
        difference(a, b, "less", judged=True) for a in measured for b in measured if a is not b
    ]
    assert sum(off.exceeds for off in pairs) >= 4
    first, other = (
        launch_reading(tuple(there for there, _, _ in day), tuple(back for _, back, _ in day))
        for day in (rows[:2], rows[2:])
    )
    assert difference(first, other, "less", judged=True).says == "within uncertainty"


def test_scattering_launches_are_marked_by_chance_in_one_of_twenty() -> None:
    """The same boat twice, launches measured to 0.01 s that repeat to 0.08 s."""
    rng = np.random.default_rng(8)
    for counts in ((2, 1), (3, 3)):
        marked = sum(
            difference(
                *(
                    launch_reading(*(tuple(rng.normal(6.0, 0.08, n)) for n in counts))
                    for _ in range(2)
                ),
                "less",
                judged=True,
            ).exceeds
            for _ in range(1500)
        )
        assert 0.03 <= marked / 1500 <= 0.07


@given(factor=st.floats(0.9, 1.1), time=st.floats(0.9, 1.1))
def test_which_trial_comes_first_only_turns_the_signs(
    base: Side, factor: float, time: float
) -> None:
    other = quicker(faster(base, factor), time)
    there, back = compare([base, other]), compare([other, base])
    turned = {"higher": "lower", "lower": "higher", "better": "worse", "worse": "better"}
    mirror = {one.figures.key: one.differences[1] for one in back.rows}
    for one in there.rows:
        off, gone = one.differences[1], mirror[one.figures.key]
        assert turned.get(off.says, off.says) == gone.says
        assert turned.get(off.verdict, off.verdict) == gone.verdict
        if off.value.known:
            assert off.value.value == pytest.approx(-gone.value.value, abs=1e-12)
            assert off.value.sd == pytest.approx(gone.value.sd)


@given(value=GIVEN, sd=DOUBT, other_sd=DOUBT, share=st.floats(-1, 1), apart=DOUBT)
def test_what_uncertainty_explains_is_never_marked(
    value: float, sd: float, other_sd: float, share: float, apart: float
) -> None:
    most = 1.96 * math.hypot(sd, other_sd, apart)
    assume(most == 0 or most > 1e-5)  # below that the sum of two floats is too coarse
    first = Reading(mean=Mean(value=value, sd=sd))
    other = Reading(mean=Mean(value=value + 0.999999 * share * most, sd=other_sd), apart_sd=apart)
    off = difference(first, other, "more", judged=True)
    assert (off.says, off.verdict) == ("within uncertainty", "none")


@given(value=GIVEN, sd=DOUBT, other_sd=DOUBT, over=st.floats(1.001, 100), down=st.booleans())
def test_what_exceeds_uncertainty_is_always_marked(
    value: float, sd: float, other_sd: float, over: float, down: bool
) -> None:
    most = 1.96 * math.hypot(sd, other_sd) + 1e-6
    shift = -over * most if down else over * most
    first = Reading(mean=Mean(value=value, sd=sd))
    other = Reading(mean=Mean(value=value + shift, sd=other_sd))
    for better in ("more", "less"):
        off = difference(first, other, better, judged=True)
        assert off.says == ("lower" if down else "higher")
        assert off.verdict == ("better" if down == (better == "less") else "worse")
        assert difference(first, other, better, judged=False).verdict == "none"
    assert difference(first, other, "neither", judged=True).verdict == "none"


def test_one_in_twenty_is_marked_by_chance_and_no_more() -> None:
    """95 % of a normal distribution lies within 1.96 deviations (tables; here 1.959964)."""
    rng = np.random.default_rng(3)
    marked = sum(
        difference(
            Reading(mean=Mean(value=a, sd=1.0)), Reading(mean=Mean(value=b, sd=2.0)), "more",
            judged=True,
        ).exceeds
        for a, b in zip(rng.normal(0, 1, 5000), rng.normal(0, 2, 5000), strict=True)
    )  # fmt: skip
    assert 0.043 <= marked / 5000 <= 0.057


def test_a_doubt_that_nobody_knows_leaves_a_difference_unmarked() -> None:
    off = difference(
        Reading(mean=Mean(value=1.0, sd=math.nan)), Reading(mean=Mean(value=9.0, sd=0.1)), "more",
        judged=True,
    )  # fmt: skip
    assert (off.says, off.exceeds) == ("uncertainty not known", False)


BREACHES: list[tuple[str, Callable[[Side], Side], Callable[[Side], Side]]] = [
    ("mass", lambda s: heavier(s, 1180 * 1.03), lambda s: heavier(s, 1180 * 1.02)),
    ("mass", lambda s: heavier(s, None), lambda s: s),
    ("mass", lambda s: heavier(s, 1180, ("gear",)), lambda s: heavier(s, 1180)),
    ("fuel", lambda s: restated(s, "load", ethanol="10 %"), lambda s: s),
    ("fuel", lambda s: restated(s, "load", ethanol=None), lambda s: s),
    ("fuel", lambda s: restated(s, "load", ethanol=None, fuel_kind="diesel"), lambda s: s),
    (
        "wind",
        lambda s: restated(s, "conditions", wind="12 kn"),
        lambda s: restated(s, "conditions", wind="11 kn"),
    ),
    ("wind", lambda s: restated(s, "conditions", wind=None), lambda s: s),
    (
        "air",
        lambda s: restated(s, "conditions", air_temperature="22 degC"),
        lambda s: restated(s, "conditions", air_temperature="19 degC"),
    ),
    ("air", lambda s: restated(s, "conditions", pressure=None), lambda s: s),
    ("bottom", lambda s: restated(s, "boat", bottom="foul"), lambda s: s),
    ("bottom", lambda s: restated(s, "boat", bottom=None), lambda s: s),
]


@pytest.mark.parametrize(("key", "breach", "still"), BREACHES)
@pytest.mark.parametrize("swapped", [False, True])
def test_beyond_a_limit_nobody_is_called_better(
    base: Side,
    key: str,
    breach: Callable[[Side], Side],
    still: Callable[[Side], Side],
    swapped: bool,
) -> None:
    quick = faster(base, 1.05)
    pair = [base, breach(quick)]
    found = compare(pair[::-1] if swapped else pair)
    assert [one.limit.key for one in found.hindrances(1)] == [key]
    assert all(off.verdict == "none" for one in found.rows for off in one.differences)
    assert row(found, "top_speed")[1].exceeds
    alike = compare([base, still(quick)])
    assert alike.hindrances(1) == ()
    assert row(alike, "top_speed")[1].verdict == "better"


def test_every_limit_has_been_breached_and_says_where_it_comes_from() -> None:
    assert {key for key, _, _ in BREACHES} == {limit.key for limit in LIMITS}
    for limit in LIMITS:
        assert len(limit.text) > 10
        assert limit.source in ("own choice", "common practice, no published source")


def test_one_trial_too_far_off_does_not_hold_up_the_others(base: Side) -> None:
    found = compare([base, heavier(base, 1500.0), faster(base, 1.05)])
    assert [one.limit.key for one in found.hindrances(1)] == ["mass"]
    assert found.hindrances(2) == ()
    top = next(one for one in found.rows if one.figures.key == "top_speed")
    assert top.differences[2].verdict == "better"


def test_what_neither_sheet_states_of_fuel_and_bottom_counts_as_alike(base: Side) -> None:
    silent = restated(restated(base, "boat", bottom=None), "load", ethanol=None)
    assert compare([silent, silent]).hindrances(1) == ()


def test_flow_from_two_sources_is_not_held_against_each_other(base: Side) -> None:
    metered = replace(base, sheet=base.sheet.model_copy(update={"fuel_flow_from": "meter"}))
    found = compare([base, faster(metered, 1.05)])
    (first, other), off = row(found, "best_planing_economy")
    assert (first.basis, other.basis) == ("engine-reported flow", "metered flow")
    assert (off.says, off.verdict) == ("not alike", "none")
    assert off.value.known
    assert row(found, "top_speed")[1].verdict == "better"


def test_launches_timed_from_two_events_are_not_held_against_each_other(base: Side) -> None:
    launches = tuple(
        replace(one, start=replace(one.start, event="speed")) for one in base.results.launches
    )
    moved = replace(base, results=replace(base.results, launches=launches))
    (first, other), off = row(compare([base, moved]), "launch_to_20_mph")
    assert (first.basis, other.basis) == ("from throttle", "from speed")
    assert off.says == "not alike"


def test_what_a_trial_lacks_is_said(base: Side) -> None:
    bare = replace(
        base,
        results=replace(
            base.results,
            steps=(),
            launches=(),
            attitudes=(),
            both_ways=replace(base.results.both_ways, times=(), left_out=()),
            set_up=replace(
                base.results.set_up, full_throttle=None, steps=(), top="", best="", best_planing=""
            ),
        ),
    )
    found = compare([base, bare])
    assert found.common(1) == 0
    assert row(found, "top_speed")[0][1].lacks == "no steps were found"
    assert row(found, "best_economy")[0][1].lacks == "no steps were found"
    assert row(found, "launch_to_20_mph")[0][1].lacks == "no launch was found"
    assert row(found, "time_to_plane")[0][1].lacks == "no launch was found"
    assert row(found, "full_throttle_rpm")[0][1].lacks == "no step was held with the throttle open"
    assert row(found, "noise")[0][0].lacks == "no sound level meter logged"


def test_single_steps_are_not_compared(base: Side) -> None:
    single = with_steps(base, lambda step: replace(step, ways="single", two_way=None))
    made = replace(single.results.set_up, top="", best="", best_planing="")
    single = replace(single, results=replace(single.results, set_up=made))
    found = compare([base, single])
    for key in ("top_speed", "best_economy", "lowest_planing", "economy_at_20_mph"):
        assert row(found, key)[0][1].lacks == "no step both ways"
    assert not [one for one in found.rows if one.figures.key.startswith("speed_at_")]


def test_one_way_launches_have_no_time_to_compare(base: Side) -> None:
    headline = replace(base.results.both_ways, times=())
    one_way = replace(base, results=replace(base.results, both_ways=headline))
    found = compare([base, one_way])
    for key in ("launch_to_20_mph", "time_to_plane", "bow_rise"):
        assert row(found, key)[0][1].lacks == "launches one way only"


def test_a_figure_of_launches_is_no_surer_than_its_sensor(base: Side) -> None:
    """An attitude that is out by a quarter of a degree is so in every launch."""
    (reading, _), _ = row(compare([base, base]), "bow_rise")
    own = [one.bow_rise for one in base.results.attitudes if one.bow_rise.known]
    assert len(own) > 1
    assert reading.mean.sd >= max(one.sd for one in own)
    assert reading.mean.value == pytest.approx(np.mean([one.value for one in own]))


def a_step(rpm: float, mph: float, lph: float, sd_mph: float = 0.05) -> Step:
    speed = Mean(value=to_si(mph, "mph", "speed"), sd=to_si(sd_mph, "mph", "speed"))
    flow = Mean(value=to_si(lph, "L/h", "volume_flow"), sd=1e-9)
    return Step(
        name=f"{rpm:.0f} rpm", passes=(), ways="both", engine_speed=Mean(value=rpm / 60, sd=0.02),
        speed=speed, flow=flow, pitch=NONE, two_way=None, economy=economy(speed, flow),
    )  # fmt: skip


def test_steps_meet_within_a_hundred_rpm_and_each_only_once() -> None:
    mine = [a_step(3000, 25, 20), a_step(3110, 26, 21)]
    theirs = [a_step(3070, 26, 21)]
    assert partner(mine[0], mine, theirs) is None
    assert partner(mine[1], mine, theirs) is theirs[0]
    assert partner(a_step(2000, 9, 8), mine, [a_step(2110, 9, 8)]) is None
    assert partner(mine[0], mine, []) is None


@given(off=st.floats(-95, 95))
def test_a_few_rpm_more_do_not_make_a_boat_faster(base: Side, off: float) -> None:
    """One boat on one curve, its steps run at an engine speed that differs by less than a step's:
    v = 40 mph · (n / 4000 rpm)^1.5, which is steeper than any straight line from nought."""

    def steps(shift: float) -> tuple[Step, ...]:
        return tuple(
            a_step(rpm + shift, 40 * ((rpm + shift) / 4000) ** 1.5, 10 + rpm / 200)
            for rpm in (3000, 3500, 4000, 4500, 5000)
        )

    first, other = (
        replace(base, results=replace(base.results, steps=steps(shift))) for shift in (0.0, off)
    )
    rows = [one for one in compare([first, other]).rows if one.figures.key.startswith("speed_at_")]
    assert len(rows) == 5
    assert not [one.figures.key for one in rows if one.differences[1].exceeds]


def test_between_steps_a_figure_follows_monotonely_and_never_outside_them() -> None:
    steps = [a_step(3000, 20, 15), a_step(3500, 26, 18), a_step(4000, 33, 24)]

    def speed(mph: float) -> Reading:
        return at_speed(steps, to_si(mph, "mph", "speed"), lambda step: step.engine_speed)

    assert speed(26).mean.value * 60 == pytest.approx(3500)
    found = [speed(mph).mean.value * 60 for mph in np.linspace(20, 33, 40)]
    assert np.all(np.diff(found) > 0)
    assert found[0] == pytest.approx(3000)
    assert found[-1] == pytest.approx(4000)
    for mph in (19.9, 33.1):
        assert speed(mph).lacks == "no steps on both sides of it"
        assert not speed(mph).mean.known


def test_between_steps_the_doubt_is_no_less_than_at_them() -> None:
    """At a step: its own 0.02 · 60 rpm, and 0.05 mph at 500 rpm to 6 mph (calculated)."""
    steps = [a_step(3000, 20, 15), a_step(3500, 26, 18)]
    found = at_speed(steps, to_si(20, "mph", "speed"), lambda step: step.engine_speed)
    assert found.mean.sd * 60 == pytest.approx(math.hypot(1.2, 0.05 * 500 / 6), rel=1e-6)


def test_nobody_invents_what_a_boat_does_at_her_hump() -> None:
    steps = [a_step(3000, 12.4, 15), a_step(3500, 29.6, 18)]
    found = at_speed(steps, to_si(20, "mph", "speed"), lambda step: step.engine_speed)
    assert (found.at, found.lacks) == ("3000 to 3500 rpm", "these steps are too far apart")


def test_noise_is_compared_where_a_meter_logged_and_less_is_better(base: Side) -> None:
    def noisy(level: float) -> Side:
        made = tuple(
            StepNoise(name=step.name, passes=(), level=Mean(value=level, sd=0.3), spread_db=1.0)
            for step in base.both_ways()
        )
        return replace(base, noise=made)

    found = compare([noisy(84.0), noisy(81.0), base, noisy(85.5)])
    rows = [one for one in found.rows if one.figures.quantity == "level"]
    assert len(rows) == len(base.both_ways())
    for one in rows:
        assert one.differences[1].value.value == pytest.approx(-3.0)
        # Each meter may be out by 0.7 dB on its own: √(2 · 0.3² + 2 · 0.7²) = 1.077 (calculated).
        assert one.differences[1].value.sd == pytest.approx(1.077, abs=1e-3)
        assert (one.differences[1].says, one.differences[1].verdict) == ("lower", "better")
        assert one.figures.readings[2].lacks == "no sound level meter logged"
        assert one.differences[3].says == "within uncertainty"


def test_the_document_is_versioned_and_says_all_there_is(base: Side) -> None:
    found = compare([base, heavier(faster(base, 1.05), 1500.0)])
    plain = json.loads(
        json.dumps(without_nan(document(found, [{"name": "a"}, {"name": "b"}])), allow_nan=False)
    )
    assert plain["schema"] == "compare/1"
    assert [one["judged"] for one in plain["trials"]] == [True, False]
    assert len(plain["figures"]) == len(found.rows)
    assert [one["key"] for one in plain["limits"]] == [limit.key for limit in LIMITS]
    top = next(one for one in plain["figures"] if one["key"] == "top_speed")
    assert top["differences"][0] is None
    assert top["differences"][1]["exceeds"] is True
    assert top["differences"][1]["verdict"] == "none"
