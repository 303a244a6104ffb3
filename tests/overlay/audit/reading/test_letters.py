"""The letters that are matched: drawn from the very file, told apart, and refused where changed."""

from __future__ import annotations

import shutil
from hashlib import sha256
from pathlib import Path

import font_source_sans_pro
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from overlay.audit.reading.drawing import NUMBER_LETTERS, TEXT_LETTERS, same_picture
from overlay.audit.reading.fonts import Fonts
from overlay.audit.reading.letters import Alphabet
from overlay.errors import RenderError

FOLDER = Path(font_source_sans_pro.font_directory)
REGULAR, SEMIBOLD = FOLDER / "SourceSansPro-Regular.ttf", FOLDER / "SourceSansPro-Semibold.ttf"


def test_a_cell_is_what_the_font_draws() -> None:
    alphabet = Alphabet(SEMIBOLD, 44, NUMBER_LETTERS)
    font = ImageFont.truetype(str(SEMIBOLD), 44, layout_engine=ImageFont.Layout.BASIC)
    image = Image.new("L", (200, 200))
    ImageDraw.Draw(image).text((60, 100), "8", font=font, fill=255, anchor="ls")
    group, place = alphabet.places["8"]
    advance = alphabet.groups[group].advance_px
    rows = slice(100 - alphabet.above_px, 100 + alphabet.below_px)
    assert np.allclose(
        alphabet.groups[group].cells[place] * 255, np.asarray(image)[rows, 60 : 60 + advance]
    )
    assert advance == round(font.getlength("8"))


@pytest.mark.parametrize("path", [REGULAR, SEMIBOLD])
@pytest.mark.parametrize("size_px", [20, 30, 46, 70, 118])
def test_no_two_letters_are_one_picture_from_20_pixels_on(path: Path, size_px: int) -> None:
    alike = same_picture(path, size_px)
    assert [letter for letter, first in alike.items() if letter != first] == []
    assert set("0OIl1S5°²") <= set(alike)


def test_letters_that_are_one_picture_are_told() -> None:
    alike = same_picture(REGULAR, 16, TEXT_LETTERS + "\u00a0")
    assert alike["\u00a0"] == " "  # a blank is a blank


def test_letters_the_font_has_not_are_left_out() -> None:
    assert "\u4e00" not in Alphabet(REGULAR, 30, "A\u4e00").places
    assert "A" in Alphabet(REGULAR, 30, "A\u4e00").places


def test_a_letter_brought_back_from_a_smaller_film_is_blurred_and_keeps_its_ink() -> None:
    sharp, soft = Alphabet(SEMIBOLD, 60, "8"), Alphabet(SEMIBOLD, 60, "8", scale=(0.5, 0.5))
    one, other = sharp.groups[0].cells[0], soft.groups[0].cells[0]
    assert np.abs(np.diff(one, axis=1)).max() > 1.2 * np.abs(np.diff(other, axis=1)).max()
    assert other.sum() == pytest.approx(one.sum(), rel=0.02)


def test_the_font_is_found_by_its_hash_in_the_callers_folder_first(tmp_path: Path) -> None:
    copy = tmp_path / REGULAR.name
    shutil.copy(REGULAR, copy)
    digest = sha256(REGULAR.read_bytes()).hexdigest()
    assert Fonts({REGULAR.name: digest}, [tmp_path]).path(REGULAR.name) == copy
    copy.write_bytes(b"another font")
    assert Fonts({REGULAR.name: digest}, [tmp_path]).path(REGULAR.name) == REGULAR


def test_a_font_that_has_changed_is_refused() -> None:
    with pytest.raises(RenderError, match="not the one that the clip was rendered with") as told:
        Fonts({REGULAR.name: "0" * 64}).path(REGULAR.name)
    assert told.value.path == REGULAR


@pytest.mark.parametrize("name", ["Nothing.ttf", "../../etc/passwd"])
def test_a_font_that_is_nowhere_or_a_path_is_refused(name: str) -> None:
    with pytest.raises(RenderError, match="font"):
        Fonts({name: "0" * 64}).path(name)
