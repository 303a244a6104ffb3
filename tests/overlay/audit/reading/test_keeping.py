"""A picture that is not read, since it hardly differs, reads as it would have; a digit is seen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import font_source_sans_pro
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from overlay.audit.reading.drawing import NUMBER_LETTERS
from overlay.audit.reading.judge import LEAST_CONFIDENCE
from overlay.audit.reading.keeping import Keeper, kept
from overlay.audit.reading.letters import Alphabet
from overlay.audit.reading.products import Floats
from overlay.audit.reading.rows import Row
from overlay.audit.reading.texts import Text, read_row

FONT = Path(font_source_sans_pro.font_directory) / "SourceSansPro-Semibold.ttf"
SIZE_PX, WIDTH, CONTRAST = 48, 320, 180.0
ALPHABET = Alphabet(FONT, SIZE_PX, NUMBER_LETTERS)
ROW = Row(alphabet=ALPHABET, start=WIDTH, leftward=True, clear_px=10)
Codes = NDArray[np.uint8]


def piece(text: str, seed: int = 0, noise: float = 3.0) -> Codes:
    """A number on a plate, as this test sets it, with some noise of an encoder."""
    font = ImageFont.truetype(str(FONT), SIZE_PX, layout_engine=ImageFont.Layout.BASIC)
    image = Image.new("L", (WIDTH, ALPHABET.rows))
    left = WIDTH - sum(round(font.getlength(letter)) for letter in text)
    for letter in text:
        at = (left, ALPHABET.above_px)
        ImageDraw.Draw(image).text(at, letter, font=font, fill=255, anchor="ls")
        left += round(font.getlength(letter))
    rng = np.random.default_rng(seed)
    codes = 42 + CONTRAST * np.asarray(image) / 255 + rng.normal(0, noise, (ALPHABET.rows, WIDTH))
    return np.clip(np.rint(codes), 0, 255).astype(np.uint8)


def read(codes: Floats) -> list[Text]:
    return read_row(codes / np.float32(CONTRAST), ROW)


def counting(counts: list[int]) -> Callable[[Floats], list[Text]]:
    def count_and_read(codes: Floats) -> list[Text]:
        counts.append(len(codes))
        return read(codes)

    return count_and_read


def one_changed(text: str, place: int, digit: str) -> str:
    return text[:place] + digit + text[place + 1 :]


@pytest.mark.parametrize("digit", "0123456789")
@pytest.mark.parametrize("other", "0123456789")
def test_a_digit_in_a_single_picture_is_seen(digit: str, other: str) -> None:
    """Every digit for every other, in one of forty pictures, where all texts were kept before."""
    keeper = Keeper(CONTRAST, read)
    said = f"1{digit}.4"
    keeper.read(np.stack([piece(said, seed=1)] * 4))  # so that it knows what room is usual
    pictures = [piece(said, seed=1)] * 40
    pictures[17] = piece(f"1{other}.4", seed=2)
    texts = [one.text for one in keeper.read(np.stack(pictures))]
    assert texts == [said] * 17 + [f"1{other}.4"] + [said] * 22


@settings(max_examples=40, deadline=None)
@given(
    text=st.text(st.sampled_from("0123456789"), min_size=1, max_size=5),
    other=st.sampled_from(NUMBER_LETTERS),
    place=st.integers(0, 4),
    noise=st.sampled_from([0.5, 2.0, 5.0]),
)
def test_the_room_of_a_text_holds_no_other_text(
    text: str, other: str, place: int, noise: float
) -> None:
    """One sign for another, one more and one less: each differs by more than is kept."""
    codes = piece(text, seed=3, noise=noise).astype(np.float32)
    (found,) = read(codes[None].copy())
    assert found.text == text
    place %= len(text)
    others = {one_changed(text, place, other), other + text, text[1:], text[:place] + "." + text}
    for said in others - {text}:
        apart = (piece(said, seed=3, noise=noise).astype(np.float32) - codes) / CONTRAST
        assert float(np.sum(apart**2)) > found.room


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 1000),
    grain=st.sampled_from([1, 4, 12]),
    share=st.floats(0.05, 1.0),
    text=st.sampled_from(["0", "8.6", "−3", "1234", "38.6", "––"]),
)
def test_what_is_kept_would_have_read_the_same(
    seed: int, grain: int, share: float, text: str
) -> None:
    """Whatever lies over the picture, as long as it is within its room: also what leads from one
    digit to another, which is the worst there is."""
    codes = piece(text, seed=seed).astype(np.float32)
    (found,) = read(codes[None].copy())
    rng = np.random.default_rng(seed)
    if seed % 2:
        towards = piece(one_changed(text, len(text) - 1, str(seed % 10)), seed=seed)
        change = towards.astype(np.float32) - codes
    else:
        small = rng.normal(0, 1, (-(-codes.shape[0] // grain), -(-codes.shape[1] // grain)))
        change = np.kron(small, np.ones((grain, grain)))[: codes.shape[0], : codes.shape[1]]
    size = float(np.linalg.norm(change / CONTRAST))
    if size == 0:
        return
    square = share * found.room
    moved = codes + change * (square**0.5 / size)
    (there,) = read(moved[None].astype(np.float32))
    assert there.text == found.text
    assert there.confidence >= kept(found, square).confidence - 0.02
    assert kept(found, square).confidence >= LEAST_CONFIDENCE - 1e-6


def test_pictures_that_are_the_same_are_read_once() -> None:
    counts: list[int] = []
    keeper = Keeper(CONTRAST, counting(counts))
    keeper.read(np.stack([piece("38.6")] * 3))
    texts = keeper.read(np.stack([piece("38.6")] * 60 + [piece("38.7")] * 60))
    assert counts[1:] == [2]
    assert [one.text for one in texts] == ["38.6"] * 60 + ["38.7"] * 60


def test_a_slow_change_does_not_slip_by() -> None:
    """Each picture hardly differs from the one before it, and the last is another number."""
    keeper = Keeper(CONTRAST, read)
    first, last = piece("36.8").astype(float), piece("38.8").astype(float)
    steps = [np.rint(first + (last - first) * n / 199).astype(np.uint8) for n in range(200)]
    keeper.read(np.stack(steps[:2]))
    texts = keeper.read(np.stack(steps))
    alone = [read(codes[None].astype(np.float32))[0] for codes in steps]
    assert texts[-1].text == "38.8"
    for one, other in zip(texts, alone, strict=True):
        assert one.text == other.text or not one.legible or not other.legible
    assert not texts[100].legible


def test_what_could_not_be_read_is_kept_for_the_very_same_picture_only() -> None:
    counts: list[int] = []
    keeper = Keeper(CONTRAST, counting(counts))
    covered = [piece("38.6", seed=n) for n in (1, 2, 3, 3, 3)]
    for codes in covered:
        codes[10:30, -50:-20] = 150
    texts = keeper.read(np.stack(covered))
    assert sum(counts) == 3
    assert not any(one.legible for one in texts)
