"""The layout in a ledger says where everything stands that can be read on the picture."""

from __future__ import annotations

import json
import math
from importlib import resources

import numpy as np
import pytest

from overlay.graphics.faceplate import Faceplate, InstrumentSpec, load_faceplate
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.picture import Picture
from overlay.graphics.plan import compile_plan
from overlay.graphics.readable import layout_of
from overlay.graphics.specimen import subjects
from overlay.ledger import Layout
from sync.units import from_si

NAMES = sorted(
    file.name.removesuffix(".toml")
    for file in (resources.files("overlay.graphics") / "faceplates").iterdir()
)
MADE = {"step": subjects.step, "top_speed": subjects.step, "turn": subjects.turn}
SIZES = [(1280, 720), (1920, 1080), (1080, 1920)]
WITH_POINTERS = {
    "dial": "engine_speed",
    "bar": "speed",
    "twin_dial": "engine_speed",
    "twin_bar": "engine_speed",
    "inclinometer": "pitch",
    "bracket": "engine_speed",
    "strip": "speed",
    "heading_arc": "",
    "neatline": "",
}


def made(faceplate, subject, size=(1920, 1080)):
    picture = Picture(width_px=size[0], height_px=size[1])
    return compile_plan(faceplate, picture=picture, subject=subject)


def alone(kind):
    chosen = {key: spec.default for key, spec in INSTRUMENTS[kind].options.items()}
    spec = InstrumentSpec(name="it", kind=kind, channel=WITH_POINTERS[kind], options=chosen)
    return Faceplate(name="one", instruments=(spec,))


def drawn(plan, t_utc_s):
    picture = plan.picture
    grey = np.full((picture.height_px, picture.width_px), 90, np.uint8)
    planes = (grey, *(np.full(picture.chroma_shape, 128, np.uint8) for _ in range(2)))
    return planes, plan.draw(planes, t_utc_s)


def seen(place, t_utc_s):
    since = -math.inf if place.from_utc_s is None else place.from_utc_s
    return since <= t_utc_s < (math.inf if place.to_utc_s is None else place.to_utc_s)


@pytest.mark.parametrize("name", NAMES)
def test_a_layout_survives_the_ledger(name):
    layout = layout_of(made(load_faceplate(name), MADE.get(name, subjects.launch)("us")))
    back = Layout.from_facts(json.loads(json.dumps(layout.as_facts())))
    assert back.as_facts() == layout.as_facts()
    assert back.fields == layout.fields
    assert back.stills == layout.stills
    assert back.pointers == layout.pointers


@pytest.mark.parametrize("missing", ["fields", "inks", "width_px"])
def test_a_layout_that_is_not_whole_is_refused(missing):
    facts = layout_of(made(load_faceplate("launch"), subjects.launch("us"))).as_facts()
    del facts[missing]
    with pytest.raises(ValueError, match=f"not whole.*{missing}"):
        Layout.from_facts(facts)


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("name", NAMES)
def test_every_number_stands_flush_right_in_its_field(name, size):
    plan = made(load_faceplate(name), MADE.get(name, subjects.launch)("metric"), size)
    layout = layout_of(plan)
    fields = {(field.instrument, field.item): field for field in layout.fields}
    assert len(fields) == len(layout.fields)
    start, stop = plan.run.start_utc_s, plan.run.stop_utc_s
    for t_utc_s in np.linspace(start - 1, stop, 9):
        shown = drawn(plan, float(t_utc_s))[1]
        assert shown
        for row in shown:
            field = fields[row.instrument, row.item]
            assert seen(field, t_utc_s)
            left, top, width, height = row.box_px
            x, y, wide, high = field.plate_px
            assert x <= left <= left + width <= field.right_px <= x + wide
            assert y <= top <= top + height <= y + high
            assert (field.font, field.size_px) == (row.font, row.size_px)
            # The side bearing of a numeral is a small part of its size.
            assert field.right_px - (left + width) < 0.2 * field.size_px
            assert abs(field.baseline_px - (top + height)) <= 0.2 * field.size_px or "–" in row.text


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("kind", WITH_POINTERS)
def test_the_mark_stands_where_the_layout_has_its_value(kind, size):
    subject = {"bracket": subjects.step, "heading_arc": subjects.turn}.get(kind, subjects.launch)
    plan = made(alone(kind), subject("us"), size)
    layout = layout_of(plan)
    items = {"neatline": {"along"}, "heading_arc": {"swept"}}
    twins = {"port", "starboard"} if kind.startswith("twin") else {"value"}
    assert {place.item for place in layout.pointers} == items.get(kind, twins)
    held = 0
    for t_utc_s in np.linspace(plan.run.start_utc_s + 1, plan.run.stop_utc_s - 1, 7):
        planes, shown = drawn(plan, float(t_utc_s))
        values = {row.item: from_si(row.value, row.unit, None) for row in shown}
        values["along"] = plan.run.counted.along(float(t_utc_s))
        for place in layout.pointers:
            if not seen(place, t_utc_s) or not math.isfinite(values[place.item]):
                continue
            share = (values[place.item] - place.low) / (place.high - place.low)
            if not 0.01 < share < 0.99:
                continue
            held += 1
            colour = layout.inks[place.colour][0]
            step = {"middle": 0.0, "begins": 2.5, "ends": -1.5}[place.mark]
            assert abs(luma(planes[0], place, share, step) - colour) < 45
            if place.mark != "middle":
                assert abs(luma(planes[0], place, share, -step) - colour) > 60
            else:
                away = 0.1 if share < 0.5 else -0.1
                assert abs(luma(planes[0], place, share + away, 0.0) - colour) > 25
    assert held >= 3


def luma(plane, place, share, step_px):
    """What stands at a share of the path, some pixels further, within its reach."""
    middle = place.reach_px[0] + 0.3 * (place.reach_px[1] - place.reach_px[0])
    (x0, y0), (x1, y1) = place.ends_px
    if place.path == "arc":
        first, last = place.angles_rad
        angle = first + share * (last - first) + math.copysign(1.0, last - first) * step_px / middle
        x, y = x0 + middle * math.sin(angle), y0 - middle * math.cos(angle)
    else:
        length = math.hypot(x1 - x0, y1 - y0)
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        along = share * length + step_px
        x, y = x0 + along * ux - middle * uy, y0 + along * uy + middle * ux
    return float(plane[math.floor(y), math.floor(x)])
