"""What a film says twice: one quantity with two values, and figures that imply different fuel."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from overlay.audit.claims import Claim, judge
from overlay.audit.claims.clashes import clashes_among
from overlay.audit.claims.side import side_of


def kinds(claims, results, reserve=None):
    return [clash.kind for clash in clashes_among(claims, [side_of(results)], reserve)]


@pytest.mark.parametrize(
    ("one", "other", "agree"),
    [
        # 1 kn = 1.150 779 448 mph (check-values, section 1): 38.4 mph = 33.369 kn.
        ("38.4 mph", "33.4 kn", True),
        ("38.4 mph", "33.5 kn", False),
        ("38.4 mph", "38 mph", True),
        ("38.5 mph", "39 mph", True),
        ("38.4 mph", "39 mph", False),
        ("38.4 mph", "61.8 km/h", True),
        ("38.4 mph", "62.0 km/h", False),
    ],
)
def test_one_quantity_with_two_values(results, measured, one, other, agree):
    claims = measured(("top speed", one), ("top speed", other))
    assert kinds(claims, results) == ([] if agree else ["two values"])


def test_two_names_of_one_result_are_one_quantity(results, measured):
    name = results["set_up"]["top"]
    number = 1 + [step["name"] for step in results["steps"]].index(name)
    claims = measured(("top speed", "40.0 kn"), (f"speed at step {number}", "41.0 kn"))
    (clash,) = clashes_among(claims, [side_of(results)])
    assert clash.claims == (1, 2)
    assert "40.0 kn and 41.0 kn" in clash.sentence


def test_economy_and_fuel_per_distance_are_one_quantity(results, measured):
    """Its reciprocal, so that 0.50 nmi/L is 2.0 L/nmi and not 2.2."""
    pair = ("economy at step 2", "0.50 nmi/L")
    assert kinds(measured(pair, ("step 2: fuel per distance", "2.0 L/nmi")), results) == []
    assert kinds(measured(pair, ("economy at step 2", "2.2 L/nmi")), results) == ["two values"]


def test_a_quantity_that_the_results_lack_is_held_together_all_the_same(results, measured):
    claims = measured(("noise at step 2", "78 dB(A)"), ("Noise at  step 2", "80 dB(A)"))
    for found in judge(claims, results):
        assert (found.verdict, found.why) == ("not supported", "contradicts itself")
        assert "two values, 78 dB(A) and 80 dB(A)" in found.sentence


def test_what_the_results_support_stays_supported_in_a_contradiction(results, measured):
    claims = measured(("speed at step 2", "30.0 kn"), ("speed at step 2", "31 kn"))
    right, wrong = judge(claims, results)
    assert (right.verdict, wrong.verdict) == ("supported", "not supported")
    assert not right.sound


def test_what_is_of_a_wrong_dimension_is_no_second_value(results, measured):
    assert kinds(measured(("top speed", "30 kn"), ("top speed", "12 s")), results) == []


def test_figures_that_imply_the_same_fuel(results, measured):
    """300 L with 10 % kept back: at 30 kn and 60 L/h 135.0 nmi (check-values, section 4)."""
    claims = measured(
        ("range at step 2", "135 nmi"),
        ("fuel flow at step 2", "60.0 L/h"),
        ("speed at step 2", "30.0 kn"),
        ("range at step 3", "120 nmi"),
        ("economy at step 3", "0.444 nmi/L"),
        ("endurance at step 1", "13.5 h"),
        ("usable fuel", "300 L"),
        ("reserve", "10 %"),
    )
    assert kinds(claims, results) == []


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        # 100 US gal, 25 mph, 12.5 gph, 10 % kept back: 180.0 mi (check-values, section 4), which
        # is no boat with 300 L.
        (
            [("range at 25 mph", "180 mi"), ("speed at 25 mph", "25.0 mph"),
             ("fuel flow at 25 mph", "12.5 gph")],
            "imply 100 US gal",
        ),
        ([("range at step 2", "150 nmi")], "implies 88.1 US gal"),
        ([("endurance at step 2", "6 h")], "implies 106 US gal"),
        ([("usable fuel", "400 L")], "states 106 US gal"),
    ],
)  # fmt: skip
def test_figures_that_imply_other_fuel_than_the_results(results, measured, pairs, words):
    (clash,) = clashes_among(measured(*pairs), [side_of(results)], 0.1)
    assert clash.kind == "usable fuel"
    assert words in clash.sentence
    assert "worked out with 79.3 US gal" in clash.sentence


def test_two_speeds_that_imply_different_fuel(results, measured):
    for step in results["steps"]:
        for name in ("range_m", "endurance_s"):
            step["economy"][name] = {"value": None, "sd": None}
    claims = measured(("range at step 2", "135 nmi"), ("range at step 3", "150 nmi"))
    found = judge(claims, results, reserve=0.1)
    assert all(one.clashes for one in found)
    assert all(one.why == "contradicts itself" for one in found)
    assert "claim 1 (step 2) implies" in found[0].sentence


def test_without_a_reserve_the_fuel_is_told_as_what_range_is_worked_out_with(results, measured):
    (clash,) = clashes_among(measured(("range at step 2", "150 nmi")), [side_of(results)])
    assert clash.sentence.startswith("The fuel that range is worked out with has two values")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    usable_l=st.floats(50, 900),
    speeds_kn=st.lists(st.floats(8, 50), min_size=2, max_size=3, unique=True),
    flow_lph=st.floats(10, 200),
    reserve=st.floats(0, 0.4),
    wrong=st.sampled_from([1.0, 1.05, 0.9, 1.3]),
)
def test_ranges_rounded_from_one_tank_agree_and_from_two_do_not(
    results, usable_l, speeds_kn, flow_lph, reserve, wrong
):
    """Whatever the boat: figures worked out with one tank and rounded never clash; of two tanks
    that differ by more than the rounding they always do."""
    claims = []
    for index, speed_kn in enumerate(speeds_kn):
        tank = usable_l * (wrong if index == 0 else 1.0)
        run = f"cruise {index}"
        range_nmi = (1 - reserve) * tank * speed_kn / flow_lph
        for name, value in (
            ("range", f"{range_nmi:.4f} nmi"),
            ("speed", f"{speed_kn:.4f} kn"),
            ("fuel flow", f"{flow_lph:.4f} L/h"),
        ):
            claims.append(Claim(kind="measured", quantity=f"{run}: {name}", value=value))
    results["steps"] = []
    results["noise"] = []
    results["idling"] = []
    found = kinds(claims, results, reserve)
    assert len(found) == (0 if wrong == 1.0 else len(speeds_kn) - 1)
