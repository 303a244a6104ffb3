"""What every kind of card keeps to, in every form and on every picture."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from overlay.errors import FaceplateError
from overlay.graphics.cards import CARDS
from overlay.graphics.cards.base import LOWER_THIRD, CardBench, Drawn
from overlay.graphics.cards.paper import Card, CardText
from overlay.graphics.layout import overlap
from overlay.graphics.theme import contrast

Draw = Callable[..., Drawn]

SIZES = [(1920, 1080), (1080, 1920), (1080, 1080), (1280, 720)]
FORMS = [
    pytest.param((kind, size, lower), id=f"{kind}-{size[0]}x{size[1]}{'-lower' if lower else ''}")
    for kind in CARDS
    for size in SIZES
    for lower in (False, True)
    if CARDS[kind].lower_third or not lower
]


@dataclass(frozen=True, kw_only=True, eq=False)
class Form:
    """One kind on one picture, drawn."""

    size: tuple[int, int]
    lower: bool
    cards: tuple[Card, ...]


@pytest.fixture(scope="module", params=FORMS)
def form(request: pytest.FixtureRequest, draw_card: Draw) -> Form:
    """Every kind, picture and form, each drawn once for all that is asked of it."""
    kind, size, lower = request.param
    return Form(size=size, lower=lower, cards=draw_card(kind, size, lower=lower).cards)


HOSTILE = "<b>$x^{2$ \U0001f6a4 \u202eliaf\u202c Ångström " + "Wide-Name-Without-End-" * 9


def over(card: Card, code: int) -> NDArray[np.float64]:
    """The card laid over a picture of one grey, as an editing program lays straight alpha."""
    share = card.image[..., 3:] / 255
    mixed: NDArray[np.float64] = card.image[..., :3] * share + code * (1 - share)
    return mixed


def seen_contrast(picture: NDArray[np.float64], text: CardText) -> float:
    """Of the ground (what most of a text's box has) and what is furthest from it in the box."""
    left, top, width, height = text.box_px
    pixels = picture[top : top + height, left : left + width].reshape(-1, 3)
    far = pixels[np.argmax(np.abs(pixels - np.median(pixels, axis=0)).sum(axis=1))]
    edge = picture[top - 3, left : left + width]
    ground = np.median(edge, axis=0)
    if np.abs(far - ground).sum() < np.abs(np.median(pixels, axis=0) - ground).sum():
        far = np.median(pixels, axis=0)
    return contrast(tuple(far), tuple(ground))


def test_texts_stand_inside_the_safe_area_and_apart(form: Form) -> None:
    """5 % all round; upright 12 % above, 22 % below, 14 % at the right (design rule)."""
    width, height = form.size
    margins = (0.05, 0.12, 0.14, 0.22) if height > width else (0.05,) * 4
    low = margins[0] * width, margins[1] * height
    high = (1 - margins[2]) * width, (1 - margins[3]) * height
    for card in form.cards:
        assert card.texts
        for text in card.texts:
            left, top, wide, tall = text.box_px
            assert low[0] <= left and low[1] <= top, text  # noqa: PT018
            assert left + wide <= high[0] and top + tall <= high[1], text  # noqa: PT018
        for one, other in combinations(card.texts, 2):
            assert not overlap(one.box_px, other.box_px), (one, other)


def test_letters_are_as_high_as_a_phone_needs(form: Form) -> None:
    """A headline of 6 % of the short side, nothing below 2.8 %, measured on the pixels."""
    short = min(form.size)
    for card in form.cards:
        assert max(text.cap_px for text in card.texts) >= 0.06 * short
        for text in card.texts:
            assert text.cap_px >= 0.028 * short
            lines = text.text.split("\n")
            if len(lines) == 1 and any(letter.isdigit() for letter in text.text):
                assert text.box_px[3] >= 0.028 * short, text


def test_contrast_is_enough_over_black_and_over_white(form: Form) -> None:
    """4.5:1 and more between a text's pixels and the ground above it (WCAG 2.2, 1.4.3)."""
    for card in form.cards:
        for code in (0, 255) if form.lower else (0,):
            picture = over(card, code)
            for text in card.texts:
                if any(letter.isalnum() for letter in text.text):
                    assert seen_contrast(picture, text) >= 4.5, text


def test_a_frame_is_full_and_a_lower_third_is_not(
    form: Form, card_bench: Callable[..., CardBench]
) -> None:
    for card in form.cards:
        assert card.image.shape == (form.size[1], form.size[0], 4)
        assert not card.image.flags.writeable
        alpha = card.image[..., 3]
        if not form.lower:
            assert (alpha == 255).all()
            continue
        rows, columns = np.nonzero(alpha)
        assert rows.max() - rows.min() + 1 <= LOWER_THIRD * form.size[1] + 1
        safe = card_bench(form.size, lower=True).safe
        assert safe.left <= columns.min() and columns.max() < safe.right  # noqa: PT018
        assert rows.max() < safe.bottom
        plate = alpha[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
        assert plate.min() >= 0.9 * 255
        assert (card.image[alpha == 0] == 0).all()


@pytest.mark.parametrize("kind", CARDS)
def test_the_same_facts_give_the_same_card(kind: str, draw_card: Draw) -> None:
    first, _, second = draw_card(kind), draw_card("title"), draw_card(kind)
    assert first.remarks == second.remarks
    for one, other in zip(first.cards, second.cards, strict=True):
        assert np.array_equal(one.image, other.image)
        assert one.texts == other.texts


@pytest.mark.parametrize("kind", CARDS)
@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920), (240, 240), (960, 240)])
def test_any_name_keeps_to_its_place(
    kind: str, size: tuple[int, int], draw_card: Draw, card_bench: Callable[..., CardBench]
) -> None:
    safe = card_bench(size).safe
    for card in draw_card(kind, size, title=HOSTILE).cards:
        for text in card.texts:
            assert safe.holds(text.box_px), text


@pytest.mark.parametrize("size", [(1921, 1080), (200, 1000), (1920, 400), (9000, 4000)])
def test_a_picture_that_cannot_be_drawn_is_refused(
    size: tuple[int, int], card_bench: Callable[..., CardBench]
) -> None:
    with pytest.raises(FaceplateError, match=r"cannot be drawn|too long for its letters"):
        card_bench(size)


@pytest.mark.parametrize("kind", CARDS)
def test_a_table_name_is_its_kinds_name(kind: str) -> None:
    assert CARDS[kind].name == kind
    assert CARDS[kind].text
