"""The neatline of steps and turns, the heading arc, the steadiness bracket, notes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from overlay.figures import NO_VALUE
from overlay.graphics.faceplate import Faceplate, InstrumentSpec
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.picture import Picture
from overlay.graphics.plan import compile_plan
from overlay.graphics.specimen import subjects
from overlay.graphics.specimen.subjects import T0
from overlay.graphics.subject import RunAxis, RunFace, RunTab, Subject

HD = Picture(width_px=1280, height_px=720)


def plan_of(kind, subject, channel="", **options):
    chosen = {key: spec.default for key, spec in INSTRUMENTS[kind].options.items()} | options
    spec = InstrumentSpec(name="it", kind=kind, channel=channel, options=chosen)
    return compile_plan(Faceplate(name="one", instruments=(spec,)), picture=HD, subject=subject)


def shown_at(plan, t_s, blank_frame):
    return {one.item: one.text for one in plan.draw(blank_frame(HD, 90), T0 + t_s)}


def test_passes_stand_side_by_side_and_the_turn_between_them_takes_no_room():
    axis = subjects.step().run.counted
    assert axis.length == 60.0
    assert axis.along(T0 + 15) == 15.0
    assert axis.along(T0 + 35) == axis.along(T0 + 45) == 30.0
    assert axis.along(T0 + 65) == 45.0
    assert axis.along(T0 + 500) == 60.0


def test_a_mean_both_ways_is_not_there_before_both_passes_are(blank_frame):
    plan = plan_of("neatline", subjects.step())
    assert shown_at(plan, 29.9, blank_frame) == {}
    assert shown_at(plan, 79.9, blank_frame) == {"pass 1": "28.5"}
    assert shown_at(plan, 80.0, blank_frame) == {
        "pass 1": "28.5", "both ways": "29.3",
    }  # fmt: skip


def test_a_tab_is_there_while_its_pass_is_run(blank_frame):
    plan = plan_of("neatline", subjects.step())
    first, second = (
        part for part in plan.parts if part.texts and "rpm, pass" in part.texts[0].text
    )
    for t_s, there in (
        (-3.0, (False, False)), (0.0, (True, False)), (29.9, (True, False)),
        (40.0, (False, False)), (50.0, (False, True)),
    ):  # fmt: skip
        looks = [part.look(T0 + t_s) is not None for part in (first, second)]
        assert tuple(looks) == there


def test_a_turn_fills_by_degrees():
    axis = subjects.turn().run.counted
    assert axis.sign == "°"
    half = float(np.interp(axis.length / 2, axis.value, axis.t_utc_s))
    assert axis.along(half) == pytest.approx(axis.length / 2)


def test_the_ring_says_the_degrees_of_the_axis(blank_frame):
    plan, axis = plan_of("heading_arc", subjects.turn()), subjects.turn().run.counted
    for t_s in (2.0, 7.25, 13.5, 20.0):
        told = int(shown_at(plan, t_s, blank_frame)["swept"])
        assert abs(told - axis.along(T0 + t_s)) <= 0.5
    # Within a quarter of a second the number stays.
    assert shown_at(plan, 7.26, blank_frame) == shown_at(plan, 7.49, blank_frame)


def test_the_ring_fills_to_the_side_that_she_turns_to(blank_frame):
    starboard = subjects.turn()
    port = Subject(
        signals=starboard.signals,
        units=starboard.units,
        run=RunFace(
            kind="turn", title="turn", start_utc_s=T0, stop_utc_s=T0 + 26,
            shown_from_utc_s=T0 - 5, shown_to_utc_s=T0 + 40, axis=starboard.run.axis, to_port=True,
        ),
    )  # fmt: skip
    halves = []
    for subject in (starboard, port):
        plan = plan_of("heading_arc", subject)
        planes = blank_frame(HD, 90)
        plan.draw(planes, T0 + 6.0)
        left, top, width, height = plan.boxes["it"]
        v = planes[2][top // 2 : (top + height) // 2, left // 2 : (left + width) // 2].astype(int)
        reddish = v > 150
        middle = v.shape[1] // 2
        halves.append(reddish[:, middle:].sum() - reddish[:, :middle].sum())
    assert halves[0] > 100
    assert halves[1] < -100


def test_no_turn_no_degrees(blank_frame):
    plan = plan_of("heading_arc", subjects.launch())
    assert shown_at(plan, 3.0, blank_frame) == {"swept": NO_VALUE}


def marked(kind, subject, t_s, blank_frame):
    """The magenta pixels of a bracket's mark: their middle across, and how many."""
    plan = plan_of(kind, subject, "engine_speed")
    planes = blank_frame(HD, 90)
    plan.draw(planes, T0 + t_s)
    left, top, width, height = plan.boxes["it"]
    v = planes[2][top // 2 : (top + height) // 2, left // 2 : (left + width) // 2].astype(int)
    there = np.flatnonzero((v > 145).any(axis=0))
    return (there.min() + there.max()) / 2 / v.shape[1], int((v > 145).sum())


def test_a_mark_inside_the_band_is_full_and_near_the_middle_outside_it_is_hollow(blank_frame):
    where, ink = marked("bracket", subjects.step(), 10.0, blank_frame)
    assert abs(where - 0.5) < 0.12
    outside, less = marked("bracket", subjects.step(), 36.0, blank_frame)
    assert outside < 0.2
    assert less < 0.8 * ink


def test_without_a_step_there_is_no_band(blank_frame):
    plan = plan_of("bracket", subjects.launch(), "engine_speed")
    planes = blank_frame(HD, 90)
    plan.draw(planes, T0 + 3.0)
    left, top, width, height = plan.boxes["it"]
    v = planes[2][top // 2 : (top + height) // 2, left // 2 : (left + width) // 2]
    assert not (v > 145).any()


def test_a_note_says_what_the_sheet_states_and_never_leaves_the_picture():
    plan = plan_of("note", subjects.launch(), lines=("boat", "engine", "propeller"))
    assert [text.text for text in plan.texts] == [
        subjects.FACTS[word] for word in ("boat", "engine", "propeller")
    ]
    long = {**subjects.FACTS, "boat": "A boat whose name goes on " * 8}
    made = subjects.launch()
    subject = Subject(signals=made.signals, units="us", run=made.run, facts=long)
    plan = plan_of("note", subject, lines=("boat",))
    (text,) = plan.texts
    assert text.text.endswith("…")
    assert text.text.removesuffix("…") in long["boat"]
    assert text.box_px[0] + text.box_px[2] <= 0.95 * HD.width_px
    empty = Subject(signals=made.signals, units="us", run=made.run)
    assert [text.text for text in plan_of("note", empty).texts] == [NO_VALUE]


def test_conditions_are_one_line():
    (text,) = plan_of("conditions", subjects.launch()).texts
    assert text.text == subjects.FACTS["conditions"]


@pytest.mark.parametrize(
    ("t", "value"), [((0.0,), (0.0,)), ((0.0, 1.0), (1.0, 0.0)), ((1.0, 0.0), (0.0, 1.0)),
                     ((0.0, 1.0), (2.0, 2.0)), ((0.0, 1.0), (0.0,))]
)  # fmt: skip
def test_an_axis_that_goes_back_or_nowhere_is_none(t, value):
    with pytest.raises(ValueError, match="axis"):
        RunAxis(sign="s", t_utc_s=t, value=value)


def test_tabs_out_of_order_are_refused():
    with pytest.raises(ValueError, match="tabs"):
        RunFace(
            kind="step", title="x", start_utc_s=0, stop_utc_s=1, shown_from_utc_s=0,
            shown_to_utc_s=1, tabs=(
                RunTab(t_utc_s=1, stop_utc_s=2, text="b"),
                RunTab(t_utc_s=0, stop_utc_s=1, text="a"),
            ),
        )  # fmt: skip


def test_marks_of_a_launch_keep_the_axis_to_seconds():
    axis = subjects.launch().run.counted
    assert (axis.sign, axis.length) == ("s", pytest.approx(9.9))
    assert math.isclose(axis.along(T0 + 3.0), 3.0)
