"""Letters are as high as asked, and numerals keep their columns."""

from __future__ import annotations

import pickle
import struct
from pathlib import Path

import font_source_sans_pro
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overlay.errors import FaceplateError
from overlay.figures import MINUS, NO_VALUE
from overlay.graphics import lettering
from overlay.graphics.lettering import DIGITS, Face, Lettering

FONTS = Path(font_source_sans_pro.font_directory)
WEIGHTS = ("SourceSansPro-Semibold.ttf", "SourceSansPro-Regular.ttf")


def tables(path):
    """The tables of an OpenType file (OpenType 1.9, "Organization of an OpenType font")."""
    data = path.read_bytes()
    (count,) = struct.unpack(">H", data[4:6])
    found = {}
    for index in range(count):
        tag, _, offset, length = struct.unpack(">4sIII", data[12 + 16 * index : 28 + 16 * index])
        found[tag.decode()] = data[offset : offset + length]
    return found


@pytest.mark.parametrize("name", WEIGHTS)
def test_the_font_itself_has_numerals_of_one_width(name):
    # Read from the font's own `hmtx` through `cmap` format 4 (OpenType 1.9), not through Pillow.
    font = tables(FONTS / name)
    assert "kern" not in font
    (metrics,) = struct.unpack(">H", font["hhea"][34:36])
    widths = [struct.unpack(">H", font["hmtx"][4 * i : 4 * i + 2])[0] for i in range(metrics)]
    glyphs = _format_4(font["cmap"])
    assert len({widths[min(glyphs(ord(digit)), metrics - 1)] for digit in DIGITS}) == 1


def _format_4(cmap):
    (count,) = struct.unpack(">H", cmap[2:4])
    for index in range(count):
        (offset,) = struct.unpack(">I", cmap[8 + 8 * index : 12 + 8 * index])
        if struct.unpack(">H", cmap[offset : offset + 2])[0] == 4:
            break
    sub = cmap[offset:]
    (twice,) = struct.unpack(">H", sub[6:8])
    ends, starts, deltas, ranges = (
        struct.unpack(f">{twice // 2}H", sub[at : at + twice])
        for at in (14, 16 + twice, 16 + 2 * twice, 16 + 3 * twice)
    )

    def glyph(code):
        segment = next(i for i, end in enumerate(ends) if end >= code)
        assert starts[segment] <= code
        if ranges[segment] == 0:
            return (code + deltas[segment]) % 65536
        at = 16 + 3 * twice + 2 * segment + ranges[segment] + 2 * (code - starts[segment])
        return (struct.unpack(">H", sub[at : at + 2])[0] + deltas[segment]) % 65536

    return glyph


@pytest.mark.parametrize("name", WEIGHTS)
@pytest.mark.parametrize("cap_px", [20, 31, 62, 92, 170])
def test_capitals_and_numerals_are_as_high_as_asked(name, cap_px):
    face = Face(FONTS / name, cap_px)
    for letter in "HE0123456789":
        assert face.glyph(letter).ink.alpha.shape[0] >= cap_px
    assert Face(FONTS / name, cap_px).cap_px < 1.1 * cap_px + 2
    assert len({face.glyph(digit).advance_px for digit in DIGITS}) == 1


@given(st.text(DIGITS + "." + MINUS, min_size=1, max_size=7))
@settings(max_examples=60, deadline=None)
def test_a_number_is_as_wide_as_its_columns(text):
    face = Face(FONTS / WEIGHTS[0], 30)
    columns = sum(face.glyph(letter).advance_px for letter in text)
    assert face.line(text).advance_px == columns


def test_every_sign_that_figures_write_is_in_the_font():
    face = Face(FONTS / WEIGHTS[0], 30)
    for letter in set(DIGITS + MINUS + NO_VALUE + ".°²³/%"):
        assert face.glyph(letter).ink.alpha.any()


def test_a_letter_that_the_font_lacks_is_an_error():
    face = Face(FONTS / WEIGHTS[1], 30)
    with pytest.raises(FaceplateError, match="no glyph for '速'") as caught:
        face.line("速")
    assert pickle.loads(pickle.dumps(caught.value)).path == FONTS / WEIGHTS[1]


def test_a_font_whose_numerals_differ_in_width_is_refused(monkeypatch):
    monkeypatch.setattr(lettering, "DIGITS", "0i")
    with pytest.raises(FaceplateError, match="would dance"):
        _ = Face(FONTS / WEIGHTS[0], 30).digit_px


def test_a_file_that_is_no_font_is_an_error(tmp_path):
    path = tmp_path / "letters.ttf"
    path.write_text("no font")
    with pytest.raises(FaceplateError, match="cannot be opened"):
        Face(path, 20)


def test_a_line_is_its_glyphs_side_by_side():
    face = Face(FONTS / WEIGHTS[0], 40)
    line = face.line("17", tracking_px=3)
    one, seven = face.glyph("1"), face.glyph("7")
    wanted = np.zeros_like(line.ink.alpha)
    for glyph, x in ((one, 0), (seven, one.advance_px + 3)):
        left, top, width, height = glyph.ink.moved(x, 0).box
        left, top = left - line.ink.left, top - line.ink.top
        view = wanted[top : top + height, left : left + width]
        np.maximum(view, glyph.ink.alpha, out=view)
    assert np.array_equal(line.ink.alpha, wanted)
    assert line.advance_px == one.advance_px + 3 + seven.advance_px


def test_faces_are_made_once():
    made = Lettering({"strong": FONTS / WEIGHTS[0], "plain": FONTS / WEIGHTS[1]})
    assert made.face("strong", 30) is made.face("strong", 30)
    assert made.face("strong", 30) is not made.face("plain", 30)
