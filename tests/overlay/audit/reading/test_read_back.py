"""Reading what was drawn: with letters of these tests' own drawing, and off encoded clips.

The films are made here: the specimen's runs, drawn by the real renderer over noise like spray
(tests/read_film.py), encoded by x264 through PyAV.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import Any

import cv2
import font_source_sans_pro
import numpy as np
import pytest
import read_film
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from overlay.audit.reading import Placement, Readings, read_clip, read_pictures
from overlay.audit.reading.drawing import NUMBER_LETTERS, TEXT_LETTERS
from overlay.errors import RenderError
from overlay.ledger import Field, Layout, Still

FOLDER = Path(font_source_sans_pro.font_directory)
REGULAR, SEMIBOLD = FOLDER / "SourceSansPro-Regular.ttf", FOLDER / "SourceSansPro-Semibold.ttf"
FONTS = {path.name: sha256(path.read_bytes()).hexdigest() for path in (REGULAR, SEMIBOLD)}
PLATE, CREAM = 40, 221
"""Codes of luma of the theme's ink and cream in BT.709 of limited range, worked out by hand."""

INKS = {"ink": (PLATE, 140, 118), "cream": (CREAM, 118, 132)}
WIDTH, HEIGHT = 640, 160
Luma = NDArray[np.uint8]


def layout(*, stills: tuple[Still, ...] = (), fields: tuple[Field, ...] = ()) -> Layout:
    return Layout(
        width_px=WIDTH, height_px=HEIGHT, depth=8, opacity=0.93, inks=INKS, fonts=FONTS,
        shown_utc_s=(0.0, 1.0), stills=stills, fields=fields, pointers=(),
    )  # fmt: skip


def field(size_px: int = 60, right_px: int = 400) -> Field:
    return Field(
        instrument="speed", item="value", right_px=right_px, baseline_px=100, font=SEMIBOLD.name,
        plate_px=(20, 20, 600, 120), size_px=size_px, colour="cream", ground="ink",
    )  # fmt: skip


def still(text: str, size_px: int = 30, tracking_px: int = 3) -> Still:
    ink = drawn(text, REGULAR, size_px, 40, 90, tracking_px)
    columns, rows = np.flatnonzero(ink.any(axis=0)), np.flatnonzero(ink.any(axis=1))
    box = (columns[0], rows[0], columns[-1] + 1 - columns[0], rows[-1] + 1 - rows[0])
    return Still(
        instrument="speed", text=text, left_px=40, tracking_px=tracking_px, baseline_px=90,
        box_px=tuple(int(edge) for edge in box), font=REGULAR.name, size_px=size_px,
        colour="cream", ground="ink",
    )  # fmt: skip


def drawn(text: str, path: Path, size_px: int, left: int, baseline: int, tracking: int = 0) -> Luma:
    """Coverage of a text set by rounded advances, 0 to 255."""
    font = ImageFont.truetype(str(path), size_px, layout_engine=ImageFont.Layout.BASIC)
    out = np.zeros((HEIGHT, WIDTH), np.uint8)
    for letter in text:
        image = Image.new("L", (WIDTH, HEIGHT))
        ImageDraw.Draw(image).text((left, baseline), letter, font=font, fill=255, anchor="ls")
        out = np.maximum(out, np.asarray(image))
        left += round(font.getlength(letter)) + tracking
    return out


def advance(text: str, path: Path, size_px: int) -> int:
    font = ImageFont.truetype(str(path), size_px, layout_engine=ImageFont.Layout.BASIC)
    return sum(round(font.getlength(letter)) for letter in text)


def shown(ink: Luma, *, seed: int = 0, noise: float = 4.0, through: bool = True) -> Luma:
    """Ink on a plate over footage, with some noise of an encoder."""
    rng = np.random.default_rng(seed)
    small = rng.uniform(16, 235, (HEIGHT // 20 + 1, WIDTH // 20 + 1)).astype(np.float32)
    footage = cv2.resize(small, (WIDTH, HEIGHT)) if through else np.full((HEIGHT, WIDTH), 128.0)
    plate = 0.93 * PLATE + 0.07 * footage
    share = ink / 255.0
    luma = plate * (1 - share) + CREAM * share + rng.normal(0, noise, ink.shape)
    return np.clip(np.rint(luma), 0, 255).astype(np.uint8)


def read(luma: Luma, wanted: Layout, **options: Any) -> Readings:
    chroma = np.full((-(-luma.shape[0] // 2), -(-luma.shape[1] // 2)), 128, np.uint8)
    pictures = [(0, (luma, chroma, chroma))]
    return read_pictures(pictures, wanted, time_base=Fraction(1, 30), **options)


def number_on(text: str, size_px: int = 60, right: int = 400) -> Luma:
    return drawn(text, SEMIBOLD, size_px, right - advance(text, SEMIBOLD, size_px), 100)


@settings(max_examples=60, deadline=None)
@given(
    text=st.text(st.sampled_from(NUMBER_LETTERS), min_size=1, max_size=7),
    size_px=st.sampled_from([30, 44, 60, 78]),
    right=st.integers(330, 600),
    seed=st.integers(0, 9),
)
def test_any_number_reads_back(text: str, size_px: int, right: int, seed: int) -> None:
    luma = shown(number_on(text, size_px, right), seed=seed)
    row = read(luma, layout(fields=(field(size_px, right),))).texts.iloc[0]
    assert row["text"] == text
    assert row["legible"]


# A blank at an end has no ink, and two in a row are not set by anything here.
WORDS = st.lists(
    st.text(st.sampled_from(TEXT_LETTERS.replace(" ", "")), min_size=1, max_size=7),
    min_size=1,
    max_size=3,
).map(" ".join)


@settings(max_examples=60, deadline=None)
@given(text=WORDS, size_px=st.sampled_from([30, 46]), tracking=st.sampled_from([0, 3]))
def test_any_still_reads_back_or_is_unread(text: str, size_px: int, tracking: int) -> None:
    one = still(text[:14].strip(), size_px, tracking)
    luma = shown(drawn(one.text, REGULAR, size_px, 40, 90, tracking))
    row = read(luma, layout(stills=(one,))).texts.iloc[0]
    assert row["text"] == one.text or not row["legible"]


@pytest.mark.parametrize(
    "text", ["ENGINE", "mph", "km/h", "kn", "US gal/h", "P", "S", "O0O0", "Il1", "P1 S5", "°", "s"]
)
def test_labels_and_units_read_back(text: str) -> None:
    luma = shown(drawn(text, REGULAR, 30, 40, 90, 3), noise=6.0)
    row = read(luma, layout(stills=(still(text),))).texts.iloc[0]
    assert (row["text"], row["legible"]) == (text, True)


EDGES = [(4, 1, 90), (6, 1, 221), (6, 2, 150), (9, 1, 150), (9, 2, 221), (14, 1, 221)]


@pytest.mark.parametrize("scale", [1.0, 0.8])
@pytest.mark.parametrize(("apart", "wide", "code"), EDGES)
@pytest.mark.parametrize("text", ["kn", "mph", "s", "P", "30 kn"])
def test_the_edge_of_a_plate_is_no_letter(
    text: str, apart: int, wide: int, code: int, scale: float
) -> None:
    """A hairline behind a text, from the top to the bottom of its plate, and water beyond."""
    one = still(text, 17, 0)
    edge = one.box_px[0] + one.box_px[2] + apart
    luma = shown(drawn(text, REGULAR, 17, 40, 90), noise=2.0)
    luma[:, edge + wide :] = shown(np.zeros_like(luma), noise=40, seed=5)[:, edge + wide :]
    luma[:, edge : edge + wide] = code
    film = cv2.resize(luma, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    place = Placement(scale_x=scale, scale_y=scale)
    row = read(film, layout(stills=(one,)), place=place).texts.iloc[0]
    assert row["text"] == text or not row["legible"]


def test_nothing_outside_of_its_plate_belongs_to_a_still() -> None:
    """Letters of somebody else's beside the plate of the instrument, within reach of a text."""
    one, number = still("kn", 30, 0), field(30, 70)
    edge = one.box_px[0] + one.box_px[2] + 4
    plate = replace(number, plate_px=(20, 20, edge - 20, 120))
    luma = shown(drawn("kn", REGULAR, 30, 40, 90))
    luma = np.maximum(luma, shown(drawn("h", REGULAR, 30, edge, 90)))
    beside = read(luma, layout(stills=(one,), fields=(plate,))).texts
    assert beside[beside["kind"] == "still"]["text"].tolist() == ["kn"]
    on_it = read(luma, layout(stills=(one,))).texts.iloc[0]
    assert on_it["text"] != "kn" or not on_it["legible"]  # on one plate it would be another text


def test_text_that_is_too_small_is_unread() -> None:
    luma = shown(drawn("km/h", REGULAR, 30, 40, 90))
    for scale, legible in ((0.5, True), (0.4, False)):
        film = cv2.resize(luma, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        place = Placement(scale_x=scale, scale_y=scale)
        row = read(film, layout(stills=(still("km/h", tracking_px=0),)), place=place).texts.iloc[0]
        assert row["legible"] == legible


def test_what_the_ledger_says_is_not_looked_at() -> None:
    """The layout has a label, and the film shows another one in its place."""
    luma = shown(drawn("km/h", REGULAR, 30, 40, 90, 3))
    row = read(luma, layout(stills=(still("mph"),))).texts.iloc[0]
    assert (row["text"], row["legible"]) == ("km/h", True)


def test_an_empty_field_reads_as_nothing() -> None:
    row = read(shown(number_on("")), layout(fields=(field(),))).texts.iloc[0]
    assert (row["text"], row["legible"]) == ("", True)


def over(luma: Luma, what: str) -> Luma:
    """Something laid over the field."""
    out = luma.copy()
    if what == "black":
        out[:] = 16
    elif what == "white":
        out[:] = 235
    elif what == "water":
        out[:] = shown(np.zeros_like(luma), noise=60, seed=3)
    elif what == "hand":
        cv2.ellipse(out, (350, 80), (70, 38), 20, 0, 360, 150, -1)
    elif what == "logo":
        cv2.circle(out, (372, 80), 24, 235, -1)
        cv2.circle(out, (372, 80), 12, 90, -1)
    elif what == "bar":
        out[60:110, 345:367] = 200
    return out


@pytest.mark.parametrize("what", ["black", "white", "water", "hand", "logo", "bar"])
@pytest.mark.parametrize("text", ["", "8", "38.6", "––"])
def test_what_lies_over_a_field_is_never_a_digit(what: str, text: str) -> None:
    luma = over(shown(number_on(text)), what)
    row = read(luma, layout(fields=(field(),))).texts.iloc[0]
    assert not row["legible"], row["text"]


@pytest.mark.parametrize("share", np.linspace(0.1, 0.9, 5))
def test_a_number_half_way_to_another_is_not_read_as_a_third(share: float) -> None:
    """As when an editing program dissolves between two frames."""
    first, second = shown(number_on("36.8")), shown(number_on("38.6"))
    luma = np.rint((1 - share) * first + share * second).astype(np.uint8)
    row = read(luma, layout(fields=(field(),))).texts.iloc[0]
    assert row["text"] in ("36.8", "38.6") or not row["legible"]
    if share == 0.5:
        assert not row["legible"]


@pytest.mark.parametrize(("gain", "lift"), [(0.75, 10), (1.15, -12), (0.55, 30), (1.0, 25)])
def test_a_film_that_was_graded_is_read(gain: float, lift: float) -> None:
    luma = shown(number_on("41.7"))
    graded = np.clip(np.rint(gain * luma.astype(float) + lift), 0, 255).astype(np.uint8)
    row = read(graded, layout(fields=(field(),))).texts.iloc[0]
    assert (row["text"], row["legible"]) == ("41.7", True)


@pytest.mark.parametrize("scale", [0.5, 2 / 3, 0.8, 1.25, 2.0])
@pytest.mark.parametrize("method", [cv2.INTER_AREA, cv2.INTER_CUBIC, cv2.INTER_LINEAR])
def test_a_film_of_another_size_is_read(scale: float, method: int) -> None:
    """Scaled as editing programs do, and laid at a place between pixels."""
    luma = shown(number_on("1234.5", 78), noise=3)
    luma = np.maximum(luma, 0)
    size = (round(WIDTH * scale), round(HEIGHT * scale))
    small = cv2.resize(luma, size, interpolation=method)
    film = np.full((size[1] + 60, size[0] + 80), 30, np.uint8)
    film[20 : 20 + size[1], 33 : 33 + size[0]] = small
    place = Placement(scale_x=size[0] / WIDTH, scale_y=size[1] / HEIGHT, left_px=33.0, top_px=20.0)
    row = read(film, layout(fields=(field(78),)), place=place).texts.iloc[0]
    assert (row["text"], row["legible"]) == ("1234.5", True)


def test_a_field_outside_of_the_picture_is_unread() -> None:
    luma = shown(number_on("41.7"))[:, :300]
    row = read(luma, layout(fields=(field(),))).texts.iloc[0]
    assert not row["legible"]


def test_ten_bits_are_read() -> None:
    luma = shown(number_on("41.7")).astype(np.uint16) * 4
    chroma = np.full((HEIGHT // 2, WIDTH // 2), 512, np.uint16)
    found = read_pictures(
        [(0, (luma, chroma, chroma))], layout(fields=(field(),)), time_base=Fraction(1), depth=10
    )
    assert found.texts["text"].tolist() == ["41.7"]


def wrong_and_unread(found: Readings, made: read_film.Made) -> tuple[int, int, int]:
    """Texts that were read wrong, texts that were not read, and all that should have been."""
    wanted = {
        (frame, one.instrument, one.item): one.text
        for frame, shown in enumerate(made.shown)
        for one in shown
    }
    wrong = unread = 0
    for row in found.texts.itertuples():
        is_still = row.kind == "still"
        key = (row.frame, row.instrument, row.item)
        text = made.layout.stills[row.index].text if is_still else wanted[key]
        wrong += row.legible and row.text != text
        unread += not row.legible
    fields = found.texts[found.texts["kind"] == "field"]
    assert len(fields) == len(wanted)
    return wrong, unread, len(found.texts)


@pytest.mark.parametrize(
    ("faceplate", "size", "crf"),
    [("launch", "720p", 28), ("turn", "720p", 18), ("twin", "1080p", 23)],
)
def test_clips_read_back(tmp_path: Path, faceplate: str, size: str, crf: int) -> None:
    made = read_film.make(
        tmp_path / "clip.mp4", faceplate, size, crf=crf, frames=16,
        ground=read_film.spray(read_film.SIZES[size]),
    )  # fmt: skip
    found = read_clip(made.path, made.layout, clock=made.clock)
    wrong, unread, texts = wrong_and_unread(found, made)
    assert texts > 100
    assert (wrong, unread) == (0, 0)
    assert found.frames == 16


def test_every_so_many_seconds_reads_those_frames(tmp_path: Path) -> None:
    made = read_film.make(
        tmp_path / "clip.mp4", "quiet", "720p", crf=23, frames=40,
        ground=read_film.spray(read_film.SIZES["720p"]),
    )  # fmt: skip
    every = read_clip(made.path, made.layout, clock=made.clock)
    few = read_clip(made.path, made.layout, clock=made.clock, every_s=0.5)
    assert few.frames == 3
    merged = few.texts.merge(every.texts, on=["frame", "kind", "index"])
    assert len(merged) == len(few.texts)
    assert (merged["text_x"] == merged["text_y"]).all()


def test_bad_requests_are_one_sentence(tmp_path: Path) -> None:
    luma = shown(number_on("1"))
    with pytest.raises(RenderError, match="no reader 'eyes'"):
        read(luma, layout(fields=(field(),)), reader="eyes")
    made = read_film.make(
        tmp_path / "clip.mp4", "quiet", "720p", crf=30, frames=2,
        ground=read_film.spray(read_film.SIZES["720p"]),
    )  # fmt: skip
    with pytest.raises(RenderError, match="cannot be read every -1 s"):
        read_clip(made.path, made.layout, every_s=-1)
