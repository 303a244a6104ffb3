"""The launch faceplate on real sizes of picture: legible, in its place, and true."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import font_source_sans_pro
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from overlay.errors import FaceplateError
from overlay.figures import NO_VALUE, UNIT_SETS
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.layout import safe_area
from overlay.graphics.picture import Picture
from overlay.graphics.plan import compile_plan
from overlay.graphics.theme import contrast, load_theme

HD = Picture(width_px=1920, height_px=1080)
SMALL = Picture(width_px=1280, height_px=720)
SHAPES = [(1280, 720), (1920, 1080), (3840, 2160), (1080, 1920), (1080, 1080), (1279, 719)]
FONTS = Path(font_source_sans_pro.font_directory)


def picture_of(size):
    return Picture(width_px=size[0], height_px=size[1])


@pytest.fixture
def plan(launch_subject):
    return compile_plan(load_faceplate("launch"), picture=SMALL, subject=launch_subject())


@pytest.mark.parametrize("size", SHAPES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("units", UNIT_SETS)
def test_it_keeps_to_the_safe_area_and_covers_at_most_a_fifth(
    size, units, launch_subject, blank_frame, start_s
):
    picture = picture_of(size)
    made = compile_plan(load_faceplate("launch"), picture=picture, subject=launch_subject(units))
    planes = blank_frame(picture)
    before = planes[0].copy()
    made.draw(planes, start_s + 9)
    changed = planes[0] != before
    rows, columns = np.nonzero(changed)
    safe = safe_area(picture)
    assert safe.left <= columns.min()
    assert columns.max() < safe.right
    assert safe.top <= rows.min()
    assert rows.max() < safe.bottom
    # On noise about one covered pixel in 200 keeps its code by chance.
    assert changed.mean() <= 0.2
    assert made.covered <= 0.2
    assert changed.mean() == pytest.approx(made.covered, rel=0.03)


@pytest.mark.parametrize("size", SHAPES[:3], ids=lambda size: f"{size[0]}x{size[1]}")
def test_the_horizon_and_the_place_for_captions_stay_free(size, launch_subject):
    picture = picture_of(size)
    made = compile_plan(load_faceplate("launch"), picture=picture, subject=launch_subject())
    for name, (left, top, width, _) in made.boxes.items():
        assert top >= 0.45 * picture.height_px
        if name != "time":
            # The middle half of the width, above the neatline, is for captions.
            assert left + width <= 0.29 * picture.width_px or left >= 0.75 * picture.width_px
    assert made.boxes["time"][1] >= 0.79 * picture.height_px


@pytest.mark.parametrize("size", SHAPES[:5], ids=lambda size: f"{size[0]}x{size[1]}")
def test_letters_are_as_high_as_the_look_asks(size, launch_subject, blank_frame, start_s):
    picture = picture_of(size)
    made = compile_plan(load_faceplate("launch"), picture=picture, subject=launch_subject())
    shown = made.draw(blank_frame(picture), start_s + 9)
    heights = {text.instrument: text.box_px[3] / picture.short_px for text in shown}
    assert heights["speed"] >= 0.06
    for name in set(heights) - {"speed"}:
        assert heights[name] >= 0.04
    for text in made.texts:
        # Measured on a capital H of the same font and size, since "rpm" has no capital.
        font = ImageFont.truetype(str(FONTS / text.font), text.size_px)
        _, top, _, bottom = font.getmask("H").getbbox()
        assert (bottom - top) / picture.short_px >= 0.028


@pytest.mark.parametrize("luma", [16, 235], ids=["black", "white"])
def test_text_stands_out_from_its_plate_over_any_picture(
    luma, launch_subject, blank_frame, rgb_of, start_s
):
    """Measured on the finished picture: the paper around a text against its densest ink."""
    made = compile_plan(load_faceplate("launch"), picture=HD, subject=launch_subject())
    planes = blank_frame(HD, luma)
    shown = made.draw(planes, start_s + 9)
    image = rgb_of(planes)
    boxes = [text.box_px for text in shown] + [text.box_px for text in made.texts]
    assert len(boxes) >= 15
    for left, top, width, height in boxes:
        patch = image[top : top + height, left : left + width].reshape(-1, 3)
        order = patch.sum(axis=1).argsort()
        tenth = max(1, len(order) // 10)
        paper = np.median(patch[order[:tenth]], axis=0)
        ink = np.median(patch[order[-tenth:]], axis=0)
        # WCAG 2.2, success criterion 1.4.3: 4.5:1.
        assert contrast(tuple(ink), tuple(paper)) >= 4.5


def test_a_weaker_plate_would_be_seen_by_that_measurement(
    launch_subject, blank_frame, rgb_of, start_s
):
    faint = replace(load_theme(), opacity=0.35)
    made = compile_plan(load_faceplate("launch"), picture=HD, subject=launch_subject(), theme=faint)
    planes = blank_frame(HD, 235)
    (left, top, width, height) = made.draw(planes, start_s + 9)[-1].box_px
    patch = rgb_of(planes)[top : top + height, left : left + width].reshape(-1, 3)
    order = patch.sum(axis=1).argsort()
    tenth = len(order) // 10
    paper, ink = (np.median(patch[part], axis=0) for part in (order[:tenth], order[-tenth:]))
    assert contrast(tuple(ink), tuple(paper)) < 4.5


def written(text, font, size_px):
    """A text set by Pillow alone, one glyph a column, cut to its ink."""
    made = ImageFont.truetype(str(FONTS / font), size_px, layout_engine=ImageFont.Layout.BASIC)
    image = Image.new("L", (size_px * len(text) + 40, 3 * size_px))
    draw, x = ImageDraw.Draw(image), 20
    for letter in text:
        draw.text((x, 2 * size_px), letter, font=made, fill=255, anchor="ls")
        x += round(made.getlength(letter))
    return np.asarray(image.crop(image.getbbox()), dtype=np.float64)


def likeness(patch, model):
    """Correlation of two pictures, -1 where their sizes differ."""
    if patch.shape != model.shape:
        return -1.0
    return float(np.corrcoef(patch.ravel(), model.ravel())[0, 1])


@pytest.mark.parametrize("offset_s", [-2.0, 0.7, 2.24, 4.6, 7.9, 12.0])
def test_what_is_reported_is_what_stands_there(plan, offset_s, blank_frame, start_s):
    """Every number is read back from the picture: its own text fits its box, others do not."""
    planes = blank_frame(SMALL)
    shown = plan.draw(planes, start_s + offset_s)
    assert len(shown) == 3 + sum(offset_s >= t for t in (2.24, 4.47, 6.71))
    for text in shown:
        left, top, width, height = text.box_px
        patch = planes[0][top : top + height, left : left + width].astype(np.float64)
        own = likeness(patch, written(text.text, text.font, text.size_px))
        assert own > 0.97, text
        digits = text.text
        for index, digit in enumerate(digits):
            if digit.isdigit():
                other = digits[:index] + str((int(digit) + 3) % 10) + digits[index + 1 :]
                assert likeness(patch, written(other, text.font, text.size_px)) < own - 0.02


def test_the_numbers_are_those_of_the_channels(plan, blank_frame, start_s):
    shown = {text.instrument: text for text in plan.draw(blank_frame(SMALL), start_s + 5.1)}
    # 5.0 s on the grid of 4 a second; v = 2 t = 10 m/s = 22.4 mph (mph = 0.44704 m/s, NIST
    # SP 811 appendix B.8).
    assert shown["speed"].t_shown_s == pytest.approx(start_s + 5.0)
    assert shown["speed"].value == pytest.approx(10.0, abs=1e-6)
    assert shown["speed"].text == "22.4"
    assert shown["speed"].unit == "mph"
    # Engine speed 10 times a second: 70 + 25 (5.1 - 3) / 5 = 80.5 rev/s = 4830 rpm.
    assert shown["engine"].t_shown_s == pytest.approx(start_s + 5.1)
    assert shown["engine"].text == "4830"
    # 0.21 - 0.14 (5 - 2.4) / 3.6 = 0.1089 rad = 6.24 degrees.
    assert shown["bow"].text == "6"


def test_number_and_flag_agree_on_the_frame_that_passes_a_mark(plan, blank_frame, start_s):
    # 20 mph at 4.47 s: the frame after it shows the value of that very instant.
    shown = plan.draw(blank_frame(SMALL), start_s + 4.48)
    by_item = {(text.instrument, text.item): text for text in shown}
    assert by_item["time", "20 mph"].text == "4.5"
    assert by_item["time", "20 mph"].unit == "s"
    assert by_item["time", "20 mph"].value == pytest.approx(4.47)
    assert by_item["speed", "value"].t_shown_s == pytest.approx(start_s + 4.47)
    assert by_item["speed", "value"].text == "20.0"


def test_a_flag_comes_with_its_mark_and_stays(plan, blank_frame, start_s):
    def flags(offset_s):
        shown = plan.draw(blank_frame(SMALL, 90), start_s + offset_s)
        return [text.item for text in shown if text.instrument == "time"]

    assert flags(2.23) == []
    assert flags(2.24) == ["10 mph"]
    assert flags(6.70) == ["10 mph", "20 mph"]
    assert flags(13.9) == ["10 mph", "20 mph", "30 mph"]


def test_nothing_is_drawn_before_the_instruments_come_in_or_after_they_go(
    plan, blank_frame, start_s
):
    for offset_s, seen in ((-4.001, False), (-4.0, True), (13.99, True), (14.0, False)):
        planes = blank_frame(SMALL)
        before = planes[0].copy()
        assert bool(plan.draw(planes, start_s + offset_s)) == seen
        assert np.array_equal(planes[0], before) != seen


def test_the_neatline_is_filled_as_far_as_the_run_has_come(plan, blank_frame, start_s):
    left, top, width, _ = plan.boxes["time"]
    lengths = []
    for offset_s in (0.0, 2.0, 4.0, 8.0, 11.0):
        planes = blank_frame(SMALL, 16)
        plan.draw(planes, start_s + offset_s)
        band = planes[0][top : top + 24, left : left + width].astype(int)
        # Cream is about 220; the unfilled white parts are about 90.
        bright = (band > 190).sum(axis=0)
        whole = np.nonzero(bright >= 8)[0]
        lengths.append(int(whole.max()) if whole.size else 0)
    # Eight seconds of run, and a ninth so that the last flag has room behind its mark.
    second = (width - 12) / 9
    # Seconds 0, 2, 4, 6 are white: at 2 s white reaches 1 s, at 4 s 3 s, at 8 s 7 s.
    assert lengths[0] == 0
    for length, seconds in zip(lengths[1:4], (1, 3, 7), strict=True):
        assert length == pytest.approx(6 + second * seconds, abs=4)
    assert lengths[4] == lengths[3]


def _bright_pointer(plan, planes):
    """Angle of the pointer's ink about the middle of the dial, clockwise from straight up."""
    (dial,) = [part for part in plan.parts if part.bench.name == "engine"]
    x0, y0 = dial._centre
    at = dial._geometry
    left, top, width, height = dial.box
    y, x = np.mgrid[top : top + height, left : left + width]
    dx, dy = x + 0.5 - left - x0, y + 0.5 - top - y0
    radius = np.hypot(dx, dy)
    inner = at.rim_px - at.ring_px
    # The inner half of the track, where neither ticks nor hatching nor number are.
    ring = (radius > inner - 0.95 * at.track_px) & (radius < inner - 0.6 * at.track_px)
    ring &= np.abs(np.arctan2(dx, -dy)) < math.radians(110)
    patch = planes[0][top : top + height, left : left + width].astype(float)
    weight = np.where(ring & (patch > 120), patch, 0)
    return math.atan2((weight * dx).sum(), -(weight * dy).sum()), weight.sum()


@pytest.mark.parametrize("rpm", [700, 2400, 4000, 5500, 6400])
def test_the_pointer_stands_where_the_number_says(
    rpm, launch_subject, ramp_signal, blank_frame, start_s
):
    steady = ramp_signal("engine_speed", [(0, rpm / 60)])
    made = compile_plan(
        load_faceplate("launch"), picture=HD, subject=launch_subject(engine_speed=steady)
    )
    planes = blank_frame(HD, 90)
    shown = {text.instrument: text for text in made.draw(planes, start_s - 1)}
    assert shown["engine"].text == str(rpm)
    angle, ink = _bright_pointer(made, planes)
    assert ink > 0
    # The scale runs from 0 to 7000 rpm (the rated band ends at 6000) over 104° either way.
    assert math.degrees(angle) == pytest.approx((2 * rpm / 7000 - 1) * 104, abs=1.0)


def test_without_engine_speed_there_is_no_pointer(
    launch_subject, ramp_signal, blank_frame, start_s
):
    none = ramp_signal("engine_speed", [(0, np.nan)])
    made = compile_plan(
        load_faceplate("launch"), picture=HD, subject=launch_subject(engine_speed=none)
    )
    planes = blank_frame(HD, 90)
    shown = {text.instrument: text.text for text in made.draw(planes, start_s + 3)}
    assert shown["engine"] == NO_VALUE
    assert _bright_pointer(made, planes)[1] == 0


def test_the_hull_tilts_by_the_true_angle(launch_subject, ramp_signal, blank_frame, start_s):
    for degrees in (-3, 0, 6, 12):
        steady = ramp_signal("pitch", [(0, math.radians(degrees))], hz=50)
        made = compile_plan(
            load_faceplate("launch"), picture=HD, subject=launch_subject(pitch=steady)
        )
        planes = blank_frame(HD, 90)
        made.draw(planes, start_s - 1)
        left, top, width, height = made.boxes["bow"]
        patch = planes[0][top : top + height, left : left + width] > 150
        # The sheer line between a fifth and half of the hull is straight; fit it.
        columns = np.arange(60, 120)
        deck = [int(np.nonzero(patch[10:, column])[0].min()) for column in columns]
        slope = -np.polyfit(columns, deck, 1)[0]
        # The sheer itself rises by 0.03 of 0.70 of the length.
        own = math.degrees(math.atan(0.03 / 0.70))
        assert math.degrees(math.atan(slope)) == pytest.approx(degrees + own, abs=0.8)


def test_the_greatest_value_stays_marked_until_the_end(launch_subject, blank_frame, start_s):
    made = compile_plan(load_faceplate("launch"), picture=SMALL, subject=launch_subject())
    (bow,) = [part for part in made.parts if part.bench.name == "bow"]
    assert bow.look(start_s - 1).key[2] is None
    peak = bow.look(start_s + 2.1).key[2]
    assert peak == pytest.approx(0.21 * 2000, abs=2)
    assert bow.look(start_s + 7).key[2] == peak
    assert bow.look(start_s + 13).key[2] == peak


def test_the_pointer_is_never_beyond_the_greatest_value(plan, start_s):
    """Also after the run, when the boat still gains: the mark goes with the pointer."""
    (dial,) = [part for part in plan.parts if part.bench.name == "engine"]
    keys = [dial.look(start_s + index / 10).key for index in range(130)]
    assert all(pointer <= held for _, pointer, held in keys)
    assert all(a[2] <= b[2] for a, b in pairwise(keys))


def test_a_clip_without_a_run_has_an_axis_without_an_origin(
    launch_subject, face_of_run, blank_frame, start_s
):
    bare = replace(launch_subject(), run=replace(face_of_run(()), origin=""))
    made = compile_plan(load_faceplate("launch"), picture=SMALL, subject=bare)
    assert not [text for text in made.texts if text.instrument == "time"]
    assert made.boxes["time"][3] < 0.05 * SMALL.height_px
    shown = made.draw(blank_frame(SMALL), start_s + 3)
    assert {text.instrument for text in shown} == {"speed", "bow", "engine"}


def test_a_channel_that_the_trial_lacks_is_left_out_and_told(launch_subject, blank_frame, start_s):
    subject = launch_subject(pitch=None)
    made = compile_plan(load_faceplate("launch"), picture=SMALL, subject=subject)
    assert set(made.boxes) == {"time", "speed", "engine"}
    assert "trial has no channel pitch" in made.left_out["bow"]
    assert any("bow is left out" in remark for remark in made.remarks)
    shown = made.draw(blank_frame(SMALL), start_s + 3)
    assert {text.instrument for text in shown} == {"time", "speed", "engine"}


def test_marks_too_close_together_are_refused_with_advice(launch_subject, face_of_run):
    crowd = tuple((2.0 + 0.01 * i, f"{i} mph") for i in range(30))
    subject = replace(launch_subject(), run=face_of_run(crowd))
    with pytest.raises(FaceplateError, match=r"30 marks.*too close together.*fewer marks"):
        compile_plan(load_faceplate("launch"), picture=SMALL, subject=subject)


def test_a_ladder_of_close_marks_hangs_in_tiers_without_overlap(
    launch_subject, face_of_run, blank_frame, start_s
):
    close = ((1.0, "5 mph"), (1.3, "10 mph"), (1.6, "15 mph"), (1.9, "20 mph"), (7.9, "40 mph"))
    subject = replace(launch_subject(), run=face_of_run(close))
    made = compile_plan(load_faceplate("launch"), picture=SMALL, subject=subject)
    shown = [t for t in made.draw(blank_frame(SMALL), start_s + 9) if t.instrument == "time"]
    assert len(shown) == 5
    assert len({text.box_px[1] for text in shown}) > 1
    safe = safe_area(SMALL)
    for text in shown:
        assert safe.holds(text.box_px)


@pytest.mark.parametrize("size", [(320, 180), (640, 3000)])
def test_a_picture_without_room_is_refused_or_served_inside_its_safe_area(size, launch_subject):
    picture = picture_of(size)
    made = compile_plan(load_faceplate("launch"), picture=picture, subject=launch_subject())
    assert all(safe_area(picture).holds(box) for box in made.boxes.values())


def test_instruments_over_one_another_are_refused(tmp_path, launch_subject):
    from overlay.graphics import faceplate as module

    text = (Path(module.__file__).parent / "faceplates" / "launch.toml").read_text()
    path = tmp_path / "mine.toml"
    path.write_text(text.replace('above = "speed"\n', 'above = "time"\n'))
    with pytest.raises(FaceplateError, match="'bow' and 'speed' overlap on a 1280x720") as caught:
        compile_plan(load_faceplate(path), picture=SMALL, subject=launch_subject())
    assert caught.value.path == path
    path.write_text(text.replace('size = "lead"', 'size = "lead"\nshift = [0.9, 0.0]'))
    with pytest.raises(FaceplateError, match=r"'speed' .* does not fit into the safe area"):
        compile_plan(load_faceplate(path), picture=SMALL, subject=launch_subject())


def test_planes_of_another_picture_are_refused(plan, blank_frame, start_s):
    with pytest.raises(ValueError, match="the plan is for uint8"):
        plan.draw(blank_frame(HD), start_s)
    planes = blank_frame(SMALL)
    planes[1].setflags(write=False)
    with pytest.raises(ValueError, match="U plane cannot be written on"):
        plan.draw(planes, start_s)


def test_views_into_a_larger_buffer_are_drawn_on_in_place(plan, blank_frame, start_s):
    """Decoders pad their rows; a plane is then a view with a stride of its own."""
    planes = blank_frame(SMALL)
    padded = [np.zeros((p.shape[0], p.shape[1] + 32), np.uint8) for p in planes]
    views = tuple(pad[:, : p.shape[1]] for pad, p in zip(padded, planes, strict=True))
    for view, plane in zip(views, planes, strict=True):
        view[...] = plane
    plan.draw(planes, start_s + 3)
    plan.draw(views, start_s + 3)
    for view, plane, pad in zip(views, planes, padded, strict=True):
        assert np.array_equal(view, plane)
        assert not pad[:, plane.shape[1] :].any()


def test_the_matrix_of_the_picture_is_that_of_the_plates(launch_subject, blank_frame, start_s):
    """A magenta flag drawn for BT.601 has other codes than for BT.709: the plan uses its own."""
    flags = {}
    for matrix in ("bt709", "bt601"):
        picture = Picture(width_px=1280, height_px=720, matrix=matrix)
        made = compile_plan(load_faceplate("launch"), picture=picture, subject=launch_subject())
        planes = blank_frame(picture, 16)
        made.draw(planes, start_s + 9)
        flag = made.parts[2].box
        x, y = (flag[0] + flag[2] - 6) // 2, (flag[1] + flag[3] - 6) // 2
        flags[matrix] = int(planes[0][2 * y, 2 * x]), int(planes[2][y, x])
        codes = picture.yuv(load_theme().colours.magenta)
        mixed = 0.93 * codes.y + 0.07 * 16, 0.93 * codes.v + 0.07 * 128
        assert flags[matrix] == pytest.approx(mixed, abs=1.0)
    assert flags["bt709"] != flags["bt601"]


def test_the_definitions_say_what_is_shown_and_how(plan):
    speed = plan.definitions["speed"]
    assert speed["channel"] == "speed"
    assert speed["unit"] == "mph"
    assert speed["step"] == "0.1"
    assert speed["grid_hz"] == 4.0
    assert "parabola" in speed["law"]
    assert plan.definitions["time"] == {"kind": "neatline"}


def test_painting_is_counted_by_what_changes_not_by_frames(plan, blank_frame, start_s):
    """Speed changes four times a second, engine speed ten times: 30 frames ask for no more."""
    planes = blank_frame(SMALL, 90)
    for index in range(90):
        plan.draw(planes, start_s + 3.0 + index / 30)
    painted = {part.bench.name: part.repaints for part in plan.parts if part.bench.signal}
    # Three seconds hold one mark, whose instant takes the place of one of the grid.
    assert painted["speed"] <= 3 * 4 + 2
    assert painted["bow"] <= 3 * 4 + 2
    assert painted["engine"] <= 3 * 10 + 2
