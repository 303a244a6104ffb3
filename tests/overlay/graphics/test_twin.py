"""Twin instruments: two engines on one plate, each in its place and under its letter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from overlay.analysis.signals import signal_of
from overlay.figures import NO_VALUE
from overlay.graphics.instruments import bar, twin, twin_dial
from overlay.graphics.instruments.bench import FRAME_INSET
from overlay.graphics.instruments.scale import scale_for
from overlay.graphics.picture import Picture
from overlay.graphics.theme import load_theme

HD = Picture(width_px=1920, height_px=1080)
KINDS = ("twin_dial", "twin_bar")
COLOURS = load_theme().colours
both = pytest.mark.parametrize("kind", KINDS)


@pytest.fixture
def engines(launch_subject, ramp_signal):
    """A trial whose engines turn as told, None for one that is not logged, on either side."""

    def made(first, second, channel="engine_speed", sides=(0, 1), bands=True):
        signals = {}
        for instance, points in enumerate((first, second)):
            if points is None:
                continue
            signal = ramp_signal(channel, points)
            told = replace(signal.channel, instance=instance)
            signals[told.key] = signal_of(told, {})
        subject = replace(launch_subject(), signals=signals, sides=sides)
        return subject if bands else replace(subject, bands={})

    return made


@pytest.fixture
def drawn(plan_of, blank_frame, rgb_of, start_s):
    """The finished picture at an instant, its plan, and the numbers by what the ledger calls
    them."""

    def draw(kind, subject, channel="engine_speed", offset_s=-1.0, **options):
        plan = plan_of(kind, channel, subject=subject, picture=HD, **options)
        planes = blank_frame(HD, 90)
        shown = {text.item: text for text in plan.draw(planes, start_s + offset_s)}
        return rgb_of(planes), plan, shown

    return draw


def letters(plan):
    return {text.text: text.box_px for text in plan.texts if text.text in ("P", "S")}


@both
def test_each_side_shows_its_own_engine(kind, engines, drawn):
    _, _, shown = drawn(kind, engines([(0, 50)], [(0, 60)]))
    assert list(shown) == ["port", "starboard"]
    assert {item: text.text for item, text in shown.items()} == {
        "port": "3000",
        "starboard": "3600",
    }
    assert [shown[item].value for item in shown] == pytest.approx([50.0, 60.0])
    assert {text.instrument for text in shown.values()} == {"it"}


@both
def test_the_sides_are_those_that_the_subject_tells(kind, engines, drawn):
    _, _, shown = drawn(kind, engines([(0, 50)], [(0, 60)], sides=(1, 0)))
    assert (shown["port"].text, shown["starboard"].text) == ("3600", "3000")


@both
def test_place_and_letter_tell_them_apart(kind, engines, drawn):
    """Port stands at the left or above; each number is nearer to its own letter."""
    _, plan, shown = drawn(kind, engines([(0, 50)], [(0, 60)]))
    middle = {
        name: np.array([box[0] + box[2] / 2, box[1] + box[3] / 2])
        for name, box in (
            *letters(plan).items(),
            *((item, text.box_px) for item, text in shown.items()),
        )
    }
    across, down = middle["starboard"] - middle["port"]
    if kind == "twin_dial":
        assert across > 0.1 * HD.short_px
        assert abs(down) < 2
    else:
        assert down > 0.04 * HD.short_px
        assert abs(across) < 10
    for item, letter in twin.LETTERS:
        other = "S" if letter == "P" else "P"
        own = np.linalg.norm(middle[item] - middle[letter])
        assert own < np.linalg.norm(middle[item] - middle[other])
    boxes = letters(plan)
    assert min(boxes["P"][3], boxes["S"][3]) >= 0.028 * HD.short_px


@both
@pytest.mark.parametrize("missing", ["port", "starboard"])
def test_each_side_has_its_own_empty_state(missing, kind, engines, drawn):
    rows = ([(0, 50)], None) if missing == "starboard" else (None, [(0, 50)])
    image, plan, shown = drawn(kind, engines(*rows))
    there = "port" if missing == "starboard" else "starboard"
    assert shown[missing].text == NO_VALUE
    assert np.isnan(shown[missing].value)
    assert shown[there].text == "3000"
    full, _, _ = drawn(kind, engines([(0, 50)], [(0, 50)]))
    for item, part in zip(("port", "starboard"), plan.parts[1:], strict=True):
        left, top, width, height = part.box
        here = np.s_[top : top + height, left : left + width]
        assert np.array_equal(image[here], full[here]) == (item == there)


@both
def test_a_hole_in_one_engines_log_is_a_hole_on_its_side_alone(
    kind, engines, drawn, ramp_signal, start_s
):
    subject = engines([(0, 50)], [(0, 60)])
    broken = replace(ramp_signal("engine_speed", [(0, 60)], hole=(1, 4)).channel, instance=1)
    signals = {**subject.signals, broken.key: signal_of(broken, {})}
    _, _, shown = drawn(kind, replace(subject, signals=signals), offset_s=2.5)
    assert (shown["port"].text, shown["starboard"].text) == ("3000", NO_VALUE)


@both
def test_only_the_side_that_changes_is_painted_again(kind, engines, plan_of, blank_frame, start_s):
    subject = engines([(0, 50)], [(0, 20), (8, 90)])
    plan = plan_of(kind, "engine_speed", subject=subject, picture=HD)
    planes = blank_frame(HD, 90)
    for index in range(45):
        plan.draw(planes, start_s + 1.01 + index / 30)
    head, port, starboard = plan.parts
    assert head.repaints == port.repaints == 1
    # One and a half seconds of engine speed, ten times a second.
    assert starboard.repaints == pytest.approx(15, abs=1)


def test_equal_engines_have_equal_dials(engines, drawn):
    """But for letters and hatching, which runs on, the halves are one picture."""
    image, plan, _ = drawn("twin_dial", engines([(0, 50)], [(0, 50)], bands=False))
    _, port, starboard = plan.parts
    radius = port._geometry.rim_px
    patches = []
    for part in (port, starboard):
        x, y = (round(part.box[i] + part._centre[i]) for i in (0, 1))
        patches.append(image[y - radius - 2 : y + 18, x - radius - 2 : x + radius + 2])
    assert np.array_equal(*patches)
    assert port.look(0).key == starboard.look(0).key
    left, right = port.box, starboard.box
    whole = plan.boxes["it"]
    gap = twin_dial.BETWEEN * HD.short_px / 2
    assert left[2] - port._centre[0] - radius == pytest.approx(gap, abs=2)
    assert starboard._centre[0] - radius == pytest.approx(gap, abs=2)
    outer = left[0] + port._centre[0] - whole[0]
    assert whole[0] + whole[2] - right[0] - starboard._centre[0] == pytest.approx(outer, abs=2)


def test_a_side_of_a_twin_dial_is_a_dial(engines, drawn, plan_of, start_s):
    """Pointer and greatest value stand as on a dial that shows this engine alone."""
    subject = engines([(0, 20), (4, 90), (8, 40)], [(0, 30), (4, 60), (8, 50)])
    _, plan, _ = drawn("twin_dial", subject)
    for part, channel in zip(plan.parts[1:], ("engine_speed", "engine_speed.1"), strict=True):
        single = plan_of("dial", channel, subject=subject, picture=HD)
        for offset_s in (-1.0, 2.2, 6.0):
            assert part.look(start_s + offset_s).key == single.parts[0].look(start_s + offset_s).key


def test_bars_of_a_twin_end_at_the_same_place_for_the_same_value(engines, drawn):
    image, plan, _ = drawn("twin_bar", engines([(0, 50)], [(0, 50)]))
    ends = []
    for part in plan.parts[1:]:
        row = part.box[1] + part._top + HD.px(bar.TRACK) - 3
        blue = np.abs(image[row] - np.array(COLOURS.shallow)).max(axis=-1) < 40
        columns = np.nonzero(blue)[0]
        ends.append((columns[0], columns[-1]))
    assert ends[0] == ends[1]
    assert ends[0][1] - ends[0][0] > 100


@both
def test_without_a_band_one_scale_holds_both_engines(kind, engines, drawn):
    """Neither bar nor pointer may stand at the end because the other engine made the scale."""
    for first, second in ((20, 80), (80, 20)):
        subject = engines([(0, first)], [(0, second)], bands=False)
        _, plan, _ = drawn(kind, subject)
        scales = [
            part._scale if kind == "twin_dial" else part._bar.scale for part in plan.parts[1:]
        ]
        assert scales[0] == scales[1]
        assert scales[0].low == 0
        assert scales[0].high >= 80 * 60
        alone = scale_for(plan.parts[1 if first > second else 2].bench)
        assert scales[0] == alone


@both
def test_both_have_the_digits_of_the_coarser_log(kind, engines, drawn, start_s):
    to_and_fro = [(t, 40 if t % 2 else 60) for t in range(-6, 17)]
    subject = engines([(0, 50.3)], to_and_fro)
    log = subject.signals["engine_speed.1"].channel
    # Logged in steps of 100 rpm, which supports no tens.
    coarse = replace(log, values=np.round(log.values * 0.6) / 0.6)
    signals = {**subject.signals, coarse.key: signal_of(coarse, {})}
    _, _, shown = drawn(kind, replace(subject, signals=signals), offset_s=3.0)
    assert shown["port"].text == "3000"
    assert shown["starboard"].text.endswith("00")
    _, _, fine = drawn(kind, subject, offset_s=3.0)
    assert fine["port"].text == "3020"


@both
def test_the_parts_make_one_plate_without_a_seam(kind, engines, drawn):
    image, plan, _ = drawn(kind, engines([(0, 50)], [(0, 50)]))
    left, top, width, height = plan.boxes["it"]
    plate = image[top : top + height, left : left + width]
    line = HD.px(FRAME_INSET)
    for row in (line, height - 1 - line):
        along = plate[row, line : width - line]
        assert np.ptp(along, axis=0).max() <= 8
    for column in (line, width - 1 - line):
        along = plate[line : height - line, column]
        assert np.ptp(along, axis=0).max() <= 8
    # Every pixel is covered once, and none twice.
    count = np.zeros((HD.height_px, HD.width_px), int)
    for part in plan.parts:
        x, y, across, down = part.box
        count[y : y + down, x : x + across] += 1
    assert (count[top : top + height, left : left + width] == 1).all()
    assert count.sum() == width * height
