"""Claims held against a results document as the project writes it."""

import json
import math

import pytest

from overlay.audit.claims import Claim, judge
from overlay.audit.claims.side import side_of
from overlay.errors import AnalysisError

THIRTY = "launch 1: time to 30 mph"


def test_every_figure_of_a_real_document_is_found_by_its_own_name(day_document):
    side = side_of(day_document)
    assert len(side.figures) > 60
    names = [figure.name for figure in side.figures]
    assert len(set(names)) == len(names)
    for figure in side.figures:
        assert side.named(figure.name).figure is figure


def test_the_figures_are_those_of_the_document(day_document):
    side = side_of(day_document)
    top = next(s for s in day_document["steps"] if s["name"] == day_document["set_up"]["top"])
    assert side.named("top speed").figure.value == top["speed"]["value"]
    rise = day_document["attitudes"][1]["bow_rise"]
    found = side.named("bow rise in launch 2").figure
    assert (found.value, found.sd) == (rise["value"], rise["sd"])


@pytest.mark.parametrize(
    "words",
    [THIRTY, "Launch 1: 0 to 30 mph", "launch 1: 0-30 mph", "time to 30 mph in launch 1",
     "launch 1: 0 mph to 30 mph", "launch 1: from 0 to 30 mph"],
)  # fmt: skip
def test_a_quantity_goes_by_many_words(told, words):
    assert told(quantity=words, value="4.3 s").figure == THIRTY


@pytest.mark.parametrize(
    ("value", "verdict", "why", "words"),
    [
        ("4.3 s", "supported", "agrees", "4.26 ± 0.05 s"),
        ("4.2 s", "not supported", "rounding", "in the boat's favour"),
        ("4.26 s", "not supported", "too many digits", "supports 4.3 s and no further digit"),
        ("3.9 s", "not supported", "differs", "in the boat's favour"),
        ("5 s", "supported", "rounding", "against the boat"),
        ("12 mph", "not supported", "wrong dimension", "12 mph is a speed"),
    ],
)
def test_a_measured_claim(told, value, verdict, why, words):
    found = told(quantity=THIRTY, value=value, text="from rest to thirty")
    assert (found.verdict, found.why) == (verdict, why)
    assert words in found.sentence
    assert found.sentence.startswith("“from rest to thirty”")


def test_it_says_how_many_digits_and_where_in_the_logs(told, results):
    found = told(quantity=THIRTY, value="4.3 s")
    assert (found.supported_text, found.digits) == ("4.3 s", 2)
    (place,) = found.places
    launch = results["launches"][0]
    assert (place.run, place.channel, place.log) == ("launch 1", "speed", "gps")
    assert place.start_utc_s == launch["start"]["t_s"]
    assert "speed in gps" in found.sentence
    assert "the mean both ways is" in found.sentence


def test_lines_are_told_where_somebody_knows_them(results):
    claim = Claim(kind="measured", quantity=THIRTY, value="4.3 s")
    asked = []

    def lines_of(*question):
        asked.append(question)
        return 12, 99

    (found,) = judge([claim], results, lines_of=lines_of)
    assert "lines 12 to 99" in found.sentence
    (place,) = found.places
    assert asked == [("gps", "speed", place.start_utc_s, place.stop_utc_s)]


def test_a_quantity_that_does_not_exist_names_the_nearest(told):
    found = told(quantity="launch 1: time to 35 mph", value="5.0 s")
    assert (found.verdict, found.why) == ("cannot say", "no such quantity")
    assert "“launch 1: time to 30 mph”" in found.sentence


def test_the_nearest_step_is_told_by_its_engine_speed(told, results):
    """By its number, not by its letters, of which 5300 has more in common with 3500."""
    for step, name in zip(results["steps"], ("1000 rpm", "3490 rpm", "5300 rpm"), strict=False):
        step["name"] = name
    found = told(quantity="fuel flow at 3500 rpm", value="60 L/h")
    assert "the nearest are “step 2: fuel flow” (3490 rpm)" in found.sentence


@pytest.mark.parametrize(
    ("quantity", "value"), [("mass", "150 hp"), ("fuel flow", "12 mph"), ("noise at step 1", "3 m")]
)
def test_a_wrong_dimension_is_told_also_where_there_is_no_such_result(told, quantity, value):
    found = told(quantity=quantity, value=value)
    assert (found.verdict, found.why) == ("not supported", "wrong dimension")


def test_a_figure_without_value_cannot_be_said(told, results):
    results["steps"][1]["economy"]["range_m"] = {"value": None, "sd": None}
    found = told(quantity="range at step 2", value="135 nmi")
    assert (found.verdict, found.why) == ("cannot say", "no value")


def test_a_figure_without_uncertainty_is_never_called_supported(told, results):
    peak = results["launches"][0]["peak_speed_mps"]
    found = told(quantity="launch 1: peak speed", value=f"{peak:.1f} m/s")
    assert (found.verdict, found.why) == ("cannot say", "no uncertainty")
    assert found.digits is None
    wrong = told(quantity="launch 1: peak speed", value=f"{peak + 3:.1f} m/s")
    assert wrong.verdict == "not supported"


def test_a_peak_is_no_top_speed(told, results):
    results["launches"][0]["peak_speed_mps"] += 2.0
    peak_kn = results["launches"][0]["peak_speed_mps"] / 1852 * 3600
    found = told(quantity="top speed", value=f"{peak_kn:.1f} kn")
    assert found.verdict == "not supported"
    assert "a peak is no top speed" in found.sentence


def test_economy_may_be_said_either_way_up(told):
    """30 kn on 60 L/h is 0.5 nmi/L or 2 L/nmi (check-values, section 4)."""
    assert told(quantity="economy at step 2", value="0.50 nmi/L").verdict == "supported"
    assert told(quantity="economy at step 2", value="2.0 L/nmi").verdict == "supported"
    flattered = told(quantity="economy at step 2", value="1.9 L/nmi")
    assert flattered.rounded == "in the boat's favour"
    assert told(quantity="economy at step 2", value="0.4 nmi/L").rounded == "against the boat"


def test_range_with_reserve(told):
    """300 L, 30 kn, 60 L/h and 10 % kept back: 135.0 nmi (check-values, section 4)."""
    assert told(quantity="range at step 2", value="135 nmi").verdict == "supported"
    assert told(quantity="step 2: range", value="136 nmi").rounded == "in the boat's favour"
    assert told(quantity="range at step 2", value="150 nmi").why == "differs"


def test_a_step_in_one_direction_says_so(told, results):
    results["steps"][1]["ways"] = "single"
    found = told(quantity="step 2: speed", value="30.0 kn")
    assert found.verdict == "supported"
    assert "current and wind" in found.sentence


def test_what_the_sheet_weighed_is_told_as_such(told):
    found = told(quantity="mass", value="1180 kg")
    assert found.verdict == "supported"
    assert told(quantity="mass", value="1100 kg").verdict == "not supported"


@pytest.mark.parametrize(
    ("facts", "verdict", "why"),
    [
        ({"text": "The maker states 150 hp", "source": "plate"}, "supported", "credited"),
        ({"text": "150 hp", "source": "plate", "credit": "caption"}, "supported", "credited"),
        ({"text": "150 hp", "source": "plate"}, "cannot say", "not credited"),
        ({"text": "The maker states 150 hp"}, "not supported", "no source"),
        ({"text": "We measured 150 hp", "source": "plate"}, "not supported",
         "passed off as measured"),
        ({"text": "In our tests she made 52 mph", "source": "a leaflet"}, "not supported",
         "passed off as measured"),
        ({"quantity": "power", "value": "150 kg", "source": "plate"}, "not supported",
         "wrong dimension"),
    ],
)  # fmt: skip
def test_makers_data(told, facts, verdict, why):
    found = told("maker's data", **facts)
    assert (found.verdict, found.why) == (verdict, why)


def test_makers_data_stand_beside_what_was_measured(told):
    found = told("maker's data", text="The maker claims 31 knots", quantity="speed at step 2",
                 value="31 kn", source="leaflet")  # fmt: skip
    assert "This trial measured 30.00 ± 0.02 kn" in found.sentence


def _other(results, faster_mps):
    made = json.loads(json.dumps(results))
    made["trial"] = "Other boat"
    for step in made["steps"]:
        step["speed"]["value"] -= faster_mps
    return made


@pytest.mark.parametrize(
    ("faster_mps", "relation", "verdict", "why"),
    [
        (1.0, "more", "supported", "agrees"),
        (1.0, "less", "not supported", "differs"),
        (0.01, "more", "not supported", "too close"),
        (0.01, "same", "supported", "agrees"),
        (1.0, "same", "not supported", "differs"),
        (1.0, None, "cannot say", "no relation"),
    ],
)
def test_a_comparison_between_trials(results, faster_mps, relation, verdict, why):
    claim = Claim(kind="comparison", text="faster", quantity="speed at step 2",
                  than_trial="Other boat", relation=relation)  # fmt: skip
    (alone,) = judge([claim], results)
    assert (alone.verdict, alone.why) == ("cannot say", "no such trial")
    (found,) = judge([claim], results, others=[_other(results, faster_mps)])
    assert (found.verdict, found.why) == (verdict, why)
    assert "both sides are at hand" in found.sentence.casefold()


def test_a_comparison_within_a_trial_needs_its_other_side(told):
    alone = told("comparison", quantity=THIRTY, relation="less")
    assert (alone.verdict, alone.why) == ("cannot say", "one side only")
    found = told("comparison", quantity=THIRTY, than="launch 2: time to 30 mph", relation="less")
    assert found.figure == f"{THIRTY} against launch 2: time to 30 mph"
    odd = told("comparison", quantity=THIRTY, than="top speed", relation="less")
    assert odd.why == "wrong dimension"


def test_an_opinion_is_listed(told):
    found = told("opinion", text="a joy to drive")
    assert (found.verdict, found.sound) == ("listed", True)


def test_a_claim_about_another_trial_is_held_against_that_one(results):
    claims = [
        Claim(kind="measured", quantity="speed at step 2", value="28.1 kn", trial="other BOAT"),
        Claim(kind="measured", quantity="speed at step 2", value="30.0 kn"),
        Claim(kind="measured", quantity="speed at step 2", value="30.0 kn", trial="a third"),
    ]
    there, here, third = judge(claims, results, others=[_other(results, 1.0)])
    assert [one.verdict for one in (there, here, third)] == ["supported", "supported", "cannot say"]
    assert "“Reciprocal day” and “Other boat”" in third.sentence
    assert not any(one.clashes for one in (there, here, third))


def test_all_of_it_becomes_json(told):
    for facts in (
        {"quantity": THIRTY, "value": "4.3 s"},
        {"quantity": "none such", "value": "1 s"},
    ):
        made = told(**facts).as_json()
        assert json.loads(json.dumps(made, allow_nan=False)) == made
        assert made["claim"]["quantity"] == facts["quantity"]


@pytest.mark.parametrize(
    "document", [{}, {"schema": "results/2"}, {"schema": "results/1"}, [], None]
)
def test_what_is_no_results_document_is_told(document):
    claim = Claim(kind="opinion", text="fine")
    with pytest.raises(AnalysisError, match="results"):
        judge([claim], document)


def test_verdicts_are_finite_or_nothing(told):
    found = told(quantity=THIRTY, value="4.3 s")
    assert math.isfinite(found.result_si)
    assert found.result_si == pytest.approx(4.26)
