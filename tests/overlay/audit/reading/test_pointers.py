"""Where marks stand: on pictures drawn here, and off encoded clips of the real renderer."""

from __future__ import annotations

import math
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import Any

import cv2
import font_source_sans_pro
import numpy as np
import pytest
import read_film
from numpy.typing import NDArray

from overlay.audit.reading import Placement, Readings, read_clip, read_pictures
from overlay.ledger import Layout, Pointer
from sync.units import from_si

FONT = Path(font_source_sans_pro.font_directory) / "SourceSansPro-Regular.ttf"
INKS = {
    "ink": (45, 139, 118), "cream": (221, 118, 132), "shallow": (180, 143, 105),
    "magenta": (68, 140, 206), "magenta_text": (137, 147, 183), "engraving": (141, 138, 119),
}  # fmt: skip
WIDTH, HEIGHT = 400, 300
Planes = tuple[NDArray[np.uint8], ...]


def layout(pointer: Pointer) -> Layout:
    return Layout(
        width_px=WIDTH, height_px=HEIGHT, depth=8, opacity=1.0, inks=INKS,
        fonts={FONT.name: sha256(FONT.read_bytes()).hexdigest()}, shown_utc_s=(0.0, 1.0),
        stills=(), fields=(), pointers=(pointer,),
    )  # fmt: skip


def dial() -> Pointer:
    return Pointer(
        instrument="engine", item="value", path="arc", mark="middle", low=0.0, high=7000.0,
        ends_px=((200.0, 150.0), (200.0, 150.0)), reach_px=(60.0, 80.0), unit="rpm",
        quantity="rotation", colour="cream", angles_rad=(-1.8, 1.8),
    )  # fmt: skip


def bar(**changes: Any) -> Pointer:
    told: dict[str, Any] = {
        "instrument": "engine", "item": "value", "path": "line", "mark": "middle", "low": 0.0,
        "high": 100.0, "ends_px": ((50.0, 100.0), (350.0, 100.0)), "reach_px": (0.0, 16.0),
        "unit": "%", "quantity": "ratio", "colour": "cream",
    }  # fmt: skip
    return Pointer(**(told | changes))


def plate() -> NDArray[np.float32]:
    """A plate in Y, U and V at full size [shape=(rows, columns, 3)]."""
    return np.full((HEIGHT, WIDTH, 3), INKS["ink"], np.float32)


def planes_of(picture: NDArray[np.float32], noise: float = 2.0) -> Planes:
    """With the noise of an encoder, chroma halved."""
    rng = np.random.default_rng(1)
    noisy = picture + rng.normal(0, noise, picture.shape).astype(np.float32)
    small = cv2.resize(noisy, (WIDTH // 2, HEIGHT // 2), interpolation=cv2.INTER_AREA)
    parts = (noisy[:, :, 0], small[:, :, 1], small[:, :, 2])
    return tuple(np.clip(np.rint(part), 0, 255).astype(np.uint8) for part in parts)


def read(planes: Planes, pointer: Pointer, **options: Any) -> Any:
    found = read_pictures([(0, planes)], layout(pointer), time_base=Fraction(1), **options)
    return found.pointers.iloc[0]


def needle(picture: NDArray[np.float32], angle: float, colour: str = "cream") -> None:
    """A line of 7 pixels across the reach, drawn by OpenCV to 1/16 of a pixel."""
    ends = [
        (round(16 * (199.5 + r * math.sin(angle))), round(16 * (149.5 - r * math.cos(angle))))
        for r in (55, 85)
    ]
    cv2.line(picture, *ends, INKS[colour], 7, cv2.LINE_AA, 4)


@pytest.mark.parametrize("share", [0.0, 0.02, 0.31, 0.5, 0.77, 1.0])
def test_a_needle_is_found_within_a_share_of_its_sweep(share: float) -> None:
    picture = plate()
    needle(picture, -1.8 + 3.6 * share)
    row = read(planes_of(picture), dial())
    assert row["value"] == pytest.approx(7000 * share, abs=7000 * 0.006)
    assert row["legible"]
    assert 0 < row["sd"] < 7000 * 0.01


def test_other_lines_are_no_needle() -> None:
    picture = plate()
    needle(picture, -1.0, "magenta_text")
    needle(picture, 1.0, "shallow")
    needle(picture, 0.4)
    row = read(planes_of(picture), dial())
    assert row["value"] == pytest.approx(7000 * (0.4 + 1.8) / 3.6, abs=7000 * 0.006)


def test_a_bare_dial_has_no_value() -> None:
    row = read(planes_of(plate()), dial())
    assert math.isnan(row["value"])
    assert row["legible"]


def test_two_needles_are_not_told() -> None:
    picture = plate()
    needle(picture, -1.0)
    needle(picture, 1.0)
    row = read(planes_of(picture), dial())
    assert math.isnan(row["value"])
    assert not row["legible"]


def test_what_lies_over_a_dial_is_not_told() -> None:
    picture = plate()
    needle(picture, 0.4)
    picture[40:200, 100:300] = (120, 90, 90)  # green, of which the theme has nothing
    row = read(planes_of(picture), dial())
    assert math.isnan(row["value"])
    assert not row["legible"]


@pytest.mark.parametrize("share", [0.05, 0.4, 0.93])
def test_the_end_of_a_bar_is_its_line_and_not_its_filling(share: float) -> None:
    picture = plate()
    x = 50 + 300 * share
    picture[100:116, 50 : round(x)] = INKS["shallow"]
    picture[100:116, 300:302] = INKS["magenta_text"]
    picture[100:116, round(x) - 2 : round(x) + 2] = INKS["cream"]
    row = read(planes_of(picture), bar())
    assert row["value"] == pytest.approx(100 * (round(x) - 50) / 300, abs=0.5)


@pytest.mark.parametrize(("mark", "edge"), [("ends", 170), ("begins", 90)])
def test_where_a_colour_begins_and_where_it_ends(mark: str, edge: int) -> None:
    picture = plate()
    picture[98:120, 90:170] = INKS["magenta_text"]
    row = read(planes_of(picture), bar(mark=mark, colour="magenta_text"))
    assert row["value"] == pytest.approx((edge - 50) / 3, abs=0.3)


@pytest.mark.parametrize("edge", [54, 170, 349])
def test_footage_beyond_a_scale_is_no_part_of_it(edge: int) -> None:
    """It may have the mark's very colour, at the low end and at the high."""
    picture = plate()
    picture[90:130, 40:47] = picture[90:130, 352:360] = INKS["magenta_text"]
    picture[98:120, max(50, edge - 10) : edge] = INKS["magenta_text"]
    row = read(planes_of(picture), bar(mark="ends", colour="magenta_text"))
    assert row["value"] == pytest.approx((edge - 50) / 3, abs=0.5)


def test_the_right_hand_side_is_that_of_who_goes_along() -> None:
    """From the bottom up, the right-hand side is the larger column."""
    picture = plate()
    picture[148:152, 200:216] = INKS["cream"]
    upwards = bar(ends_px=((200.0, 250.0), (200.0, 50.0)), reach_px=(2.0, 14.0))
    assert read(planes_of(picture), upwards)["value"] == pytest.approx(50, abs=0.5)
    downwards = bar(ends_px=((200.0, 50.0), (200.0, 250.0)), reach_px=(2.0, 14.0))
    assert math.isnan(read(planes_of(picture), downwards)["value"])


@pytest.mark.parametrize("scale", [0.6, 1.5])
def test_a_needle_is_found_on_a_film_of_another_size(scale: float) -> None:
    picture = plate()
    needle(picture, 0.7)
    planes = tuple(
        cv2.resize(plane, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        for plane in planes_of(picture)
    )
    row = read(planes, dial(), place=Placement(scale_x=scale, scale_y=scale))
    assert row["value"] == pytest.approx(7000 * 2.5 / 3.6, abs=7000 * 0.008)


def _errors(found: Readings, made: read_film.Made) -> dict[str, list[float]]:
    errors: dict[str, list[float]] = {}
    for row in found.pointers.itertuples():
        pointer = made.layout.pointers[row.index]
        for one in made.shown[row.frame]:
            key = f"{one.instrument} {one.item}"
            if key == f"{pointer.instrument} {pointer.item}" and math.isfinite(one.value):
                wanted = from_si(one.value, pointer.unit, pointer.quantity)
                wanted = min(max(wanted, pointer.low), pointer.high)
                errors.setdefault(key, []).append(
                    (row.value - wanted) / (pointer.high - pointer.low)
                )
    return errors


@pytest.mark.parametrize(
    ("faceplate", "wanted"),
    [
        ("launch", {"bow value", "engine value"}),
        ("twin", {"engines port", "engines starboard"}),
        ("step", {"engine value"}),
    ],
)
def test_no_pointer_of_a_clip_is_off_by_2_percent(
    tmp_path: Path, faceplate: str, wanted: set[str]
) -> None:
    made = read_film.make(
        tmp_path / "clip.mp4", faceplate, "720p", crf=23, frames=16,
        ground=read_film.spray(read_film.SIZES["720p"]),
    )  # fmt: skip
    errors = _errors(read_clip(made.path, made.layout, clock=made.clock), made)
    assert set(errors) == wanted
    for rows in errors.values():
        assert np.nanmax(np.abs(rows)) < 0.02
        assert np.mean(np.isnan(rows)) < 0.15
