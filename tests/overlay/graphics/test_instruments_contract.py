"""What every instrument promises, whatever its kind, its channel and the picture."""

from __future__ import annotations

import importlib
import itertools
import re
from dataclasses import replace

import numpy as np
import pytest

from overlay.figures import NO_VALUE, UNIT_SETS, figure
from overlay.graphics.faceplate import Faceplate, InstrumentSpec
from overlay.graphics.instruments import INSTRUMENTS, base
from overlay.graphics.instruments.bench import FRAME_INSET
from overlay.graphics.instruments.twin import CHANNELS as TWIN_CHANNELS
from overlay.graphics.layout import overlap, safe_area
from overlay.graphics.picture import Picture
from overlay.graphics.plan import compile_plan
from overlay.graphics.subject import Subject
from sync.channel_kinds import CHANNELS
from sync.units import to_si

SIZES = [(1280, 720), (1920, 1080), (3840, 2160)]
SMALL = Picture(width_px=1280, height_px=720)
KINDS = list(INSTRUMENTS)
SHOWING = [(kind, name) for kind in KINDS for name in INSTRUMENTS[kind].channels]
TWINS = ("twin_dial", "twin_bar")
OFFSETS_S = (-3.0, 0.0, 2.24, 3.3, 6.0, 9.5)


def faceplate(kind, channel="", **options):
    chosen = {key: spec.default for key, spec in INSTRUMENTS[kind].options.items()} | options
    spec = InstrumentSpec(
        name="it", kind=kind, channel=channel, if_missing="show_empty", options=chosen
    )
    return Faceplate(name="one", instruments=(spec,))


def numbers(kind):
    """How many numbers an instrument shows."""
    return 2 if kind in TWINS else 1


def some_channel(kind):
    return next(iter(INSTRUMENTS[kind].channels), "")


def subject_with(face_of_run, signal=None, units="us"):
    """A trial with one channel; where engines have it, both have the same."""
    signals = {signal.key: signal} if signal else {}
    if signal and signal.key in TWIN_CHANNELS:
        other = replace(signal, channel=replace(signal.channel, instance=1))
        signals[other.key] = other
    return Subject(
        signals=signals,
        units=units,
        run=face_of_run(),
        bands={"engine_speed": (80.0, 100.0)},
    )


@pytest.fixture
def states(ramp_signal, face_of_run):
    """Subjects in which a channel has ordinary values, none at all, a hole, and does not exist."""

    def made(channel):
        if not channel:
            return {"run": subject_with(face_of_run)}
        low, high = sorted((0.0, to_si(figure(channel, "us").greatest / 2, *_unit(channel))))
        values = ramp_signal(channel, [(-4, low), (8, high), (12, high)])
        hole = ramp_signal(channel, [(-4, low), (8, high), (12, high)], hole=(2, 8))
        none = ramp_signal(channel, [(0, np.nan)])
        return {
            "values": subject_with(face_of_run, values),
            "hole": subject_with(face_of_run, hole),
            "none": subject_with(face_of_run, none),
            "missing": subject_with(face_of_run),
        }

    return made


def _unit(channel, units="us"):
    how = figure(channel, units)
    return how.unit, how.quantity


def test_there_are_instruments_and_each_says_what_it_shows():
    assert len(INSTRUMENTS) >= 4
    for name, kind in INSTRUMENTS.items():
        assert kind.name == name
        assert kind.text
        assert set(kind.channels) <= set(CHANNELS)
        assert not {"latitude", "longitude"} & set(kind.channels)


def test_the_recipe_is_kept_true():
    recipe = base.__doc__
    steps = [int(number) for number in re.findall(r"^(\d+)\. ", recipe, re.MULTILINE)]
    assert steps == list(range(1, len(steps) + 1))
    for word in re.findall(r"`([a-z_]+)\(", recipe):
        assert any(hasattr(owner, word) for owner in (base.Part, base.Kind)) or word in (
            "size",
            "parts",
        )
    for word in ("Sketch", "Part", "KIND", "INSTRUMENTS", "NO_VALUE"):
        assert f"`{word}`" in recipe
    (example,) = re.findall(r"`(\w+)\.py` is the shortest example", recipe)
    assert importlib.import_module(f"overlay.graphics.instruments.{example}").KIND.name == example


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[1]}p")
@pytest.mark.parametrize("kind", KINDS)
def test_it_draws_in_every_state_within_its_box_and_nowhere_else(kind, size, states, blank_frame):
    picture = Picture(width_px=size[0], height_px=size[1])
    channel = some_channel(kind)
    for name, subject in states(channel).items():
        plan = compile_plan(faceplate(kind, channel), picture=picture, subject=subject)
        left, top, width, height = plan.boxes["it"]
        assert safe_area(picture).holds(plan.boxes["it"])
        for offset_s in OFFSETS_S if size[1] == 720 else (3.3,):
            planes = blank_frame(picture)
            before = [plane.copy() for plane in planes]
            plan.draw(planes, subject.run.start_utc_s + offset_s)
            for plane, old, half in zip(planes, before, (1, 2, 2), strict=True):
                inside = np.zeros(plane.shape, bool)
                inside[
                    top // half : (top + height) // half, left // half : (left + width) // half
                ] = 1
                assert np.array_equal(plane[~inside], old[~inside]), name
                assert not np.array_equal(plane[inside], old[inside]), name


@pytest.mark.parametrize("kind", KINDS)
def test_the_picture_follows_from_the_instant_alone(kind, states, blank_frame, start_s):
    channel = some_channel(kind)
    for subject in states(channel).values():
        used = compile_plan(faceplate(kind, channel), picture=SMALL, subject=subject)
        order = np.random.default_rng(4).permutation(np.repeat(OFFSETS_S, 2))
        for offset_s in order:
            fresh = compile_plan(faceplate(kind, channel), picture=SMALL, subject=subject)
            one, other = blank_frame(SMALL, 90), blank_frame(SMALL, 90)
            shown = used.draw(one, start_s + offset_s)
            assert repr(shown) == repr(fresh.draw(other, start_s + offset_s))
            assert all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))


@pytest.mark.parametrize("kind", [kind for kind in KINDS if INSTRUMENTS[kind].channels])
def test_without_a_value_it_says_so_and_never_shows_the_last_one(
    kind, states, blank_frame, start_s
):
    channel = some_channel(kind)
    plans = {
        name: compile_plan(faceplate(kind, channel), picture=SMALL, subject=subject)
        for name, subject in states(channel).items()
    }
    plans["values"].draw(blank_frame(SMALL, 90), start_s + 1.0)
    pictures = {}
    for name in ("none", "missing"):
        pictures[name] = blank_frame(SMALL, 90)
        shown = plans[name].draw(pictures[name], start_s + 5.0)
        assert [text.text for text in shown] == [NO_VALUE] * numbers(kind)
        assert all(np.isnan(text.value) for text in shown)
    hole = plans["hole"]
    before = hole.draw(blank_frame(SMALL, 90), start_s - 3.5)
    assert len(before) == numbers(kind)
    assert all(text.text != NO_VALUE for text in before)
    within = hole.draw(blank_frame(SMALL, 90), start_s + 5.0)
    assert [text.text for text in within] == [NO_VALUE] * numbers(kind)
    for a, b in zip(pictures["none"], pictures["missing"], strict=True):
        assert np.array_equal(a, b)


@pytest.mark.parametrize(
    ("units", "sign"), [*((units, ".") for units in UNIT_SETS), ("nautical", ",")]
)
@pytest.mark.parametrize(("kind", "channel"), SHOWING)
def test_the_longest_text_stays_on_its_plate_and_off_its_labels(
    kind, channel, units, sign, ramp_signal, face_of_run, blank_frame, start_s
):
    how = replace(figure(channel, units), decimal_sign=sign)
    for options in _choices(kind):
        for value in (how.greatest, 0.0, float("nan")):
            signal = ramp_signal(channel, [(0, to_si(value, *_unit(channel, units)))])
            subject = subject_with(face_of_run, signal, units)
            subject = replace(subject, decimal_sign=sign)
            plan = compile_plan(faceplate(kind, channel, **options), picture=SMALL, subject=subject)
            shown = plan.draw(blank_frame(SMALL, 90), start_s + 5.0)
            assert len(shown) == numbers(kind)
            if value == how.greatest and not CHANNELS[channel].turns:
                assert all(text.text == how.widest() for text in shown)
            other = "," if sign == "." else "."
            numerals = (text.text for text in (*shown, *plan.texts) if text.text[-1].isdigit())
            assert not any(other in text for text in numerals)
            inset = SMALL.px(FRAME_INSET)
            left, top, width, height = plan.boxes["it"]
            plate = (left + inset, top + inset, width - 2 * inset, height - 2 * inset)
            boxes = [text.box_px for text in (*shown, *plan.texts)]
            for box in boxes:
                assert plate[0] <= box[0]
                assert box[0] + box[2] <= plate[0] + plate[2]
                assert plate[1] <= box[1]
                assert box[1] + box[3] <= plate[1] + plate[3]
            for one, other in itertools.combinations(boxes, 2):
                assert not overlap(one, other)


def _choices(kind):
    """Every combination of the words that an instrument's keys may have."""
    words = {k: spec.allowed for k, spec in INSTRUMENTS[kind].options.items() if spec.allowed}
    return [dict(zip(words, chosen, strict=True)) for chosen in itertools.product(*words.values())]


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_repainted_only_when_what_it_shows_changes(kind, states, blank_frame, start_s):
    channel = some_channel(kind)
    subject = next(iter(states(channel).values()))
    plan = compile_plan(faceplate(kind, channel), picture=SMALL, subject=subject)
    frames = blank_frame(SMALL, 90)
    for _ in range(20):
        plan.draw(frames, start_s + 3.01)
    once = [part.repaints for part in plan.parts]
    assert max(once) == 1
    if not channel:
        return
    for index in range(60):
        plan.draw(frames, start_s + 4.01 + index / 30)
    hz = subject.signals[channel].grid_hz
    assert max(part.repaints for part in plan.parts) <= 1 + 2 * hz + 1


@pytest.mark.parametrize("kind", [kind for kind in KINDS if INSTRUMENTS[kind].channels])
def test_a_box_holds_the_ink_of_its_number_and_nothing_less(
    kind, ramp_signal, face_of_run, blank_frame, start_s
):
    """Two values that differ in one digit differ on the picture within the boxes shown, or by
    the pointer, which is not in a box; the union of the changed pixels reaches each box."""
    channel = some_channel(kind)
    how = figure(channel, "us")
    pictures, boxes = [], []
    for value in (0.0, 8.0):
        signal = ramp_signal(channel, [(0, to_si(value, *_unit(channel)))])
        subject = subject_with(face_of_run, signal)
        plan = compile_plan(faceplate(kind, channel), picture=SMALL, subject=subject)
        planes = blank_frame(SMALL, 90)
        for shown in plan.draw(planes, start_s + 5.0):
            assert shown.text == how.text(to_si(value, *_unit(channel)))
            pictures.append(planes[0].astype(int))
            boxes.append(shown.box_px)
    assert len(boxes) == 2 * numbers(kind)
    for planes, (left, top, width, height) in zip(pictures, boxes, strict=True):
        ink = planes[top : top + height, left : left + width] > 120
        # The box is tight: ink touches all of its edges (cream on ink blue, well above 120).
        rim = planes[top - 1 : top + height + 1, left - 1 : left + width + 1]
        assert ink.any(axis=1).sum() >= height - 2
        assert rim[0].max() < 120
        assert rim[-1].max() < 120
        assert rim[:, 0].max() < 120
        assert rim[:, -1].max() < 120


@pytest.mark.parametrize("kind", [kind for kind in KINDS if INSTRUMENTS[kind].channels])
def test_what_is_kept_from_the_last_frame_is_what_would_be_worked_out(
    kind, states, blank_frame, start_s
):
    """Across the start, a mark and a hole, frame by frame and back again."""
    channel = some_channel(kind)
    for subject in states(channel).values():
        plan = compile_plan(faceplate(kind, channel), picture=SMALL, subject=subject)
        frames = [start_s - 0.4 + n / 60 for n in range(40)]
        frames += [start_s + 1.9 + n / 60 for n in range(60)]
        planes = blank_frame(SMALL, 90)
        for t_s in (*frames, *frames[::-3]):
            shown = plan.draw(planes, t_s)
            looks = [(part, part.look(t_s)) for part in plan.parts]
            there = [(part, look) for part, look in looks if look is not None]
            assert repr(shown) == repr(tuple(one for _, look in there for one in look.shown))
            assert all(part._key == look.key for part, look in there)
