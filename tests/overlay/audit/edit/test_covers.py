"""Footage under plates that change, graded and encoded twice: placed, or not, by what is left."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from at_sea import HIGH, WIDE, Gray, Sea, World

from overlay.audit.edit import Cover, Shot, cover_of, find_shots
from overlay.audit.edit.covers import hidden_by
from overlay.audit.edit.framing import Framing, unframed
from overlay.ledger import Layout
from overlay.ledger.layout import Field, Pointer, Still

Encode = Callable[..., Path]
Change = Callable[[Gray], Gray]
FIRST, COUNT = 90, 75

BOXES = ((20, 180, 148, 44), (20, 228, 148, 56), (250, 196, 120, 90), (500, 196, 110, 92))
"""Left, top, width and height of plates; with what stands at the lower edge 0.21 of the picture."""


def field(number: int, box: tuple[int, int, int, int]) -> Field:
    left, top, wide, high = box
    return Field(
        instrument=f"i{number}", item="value", baseline_px=top + high - 9, font="f", size_px=20,
        colour="c", ground="g", right_px=left + wide - 6, plate_px=box,
    )  # fmt: skip


def layout(scale: float = 1.0) -> Layout:
    """Plates, a label on the picture, and a scale along the lower edge, at some size."""

    def by(*edges: int) -> tuple[int, ...]:
        return tuple(round(scale * edge) for edge in edges)

    return Layout(
        width_px=round(scale * WIDE),
        height_px=round(scale * HIGH),
        depth=8,
        opacity=0.9,
        inks={},
        fonts={},
        shown_utc_s=(0.0, 1.0),
        stills=(
            Still(
                instrument="time", baseline_px=320, font="f", size_px=12, colour="c", ground="g",
                text="from rest", left_px=24, tracking_px=0, box_px=by(24, 306, 70, 14),
            ),
        ),
        fields=tuple(field(n, by(*box)) for n, box in enumerate(BOXES)),  # type: ignore[arg-type]
        pointers=(
            Pointer(
                instrument="time", item="along", path="line", mark="ends",
                ends_px=tuple(by(*end) for end in ((20, 292), (610, 292))),  # type: ignore[arg-type]
                reach_px=(-4.0, 6.0), low=0.0, high=1.0, unit="s", quantity="time", colour="c",
            ),
        ),
    )  # fmt: skip


def under_plates(pictures: list[Gray]) -> list[Gray]:
    """What an editor makes of it: plates on which figures change, each at a time of its own, a bar
    that grows, and a flag that drops half-way."""
    return [under_plate(n, one, flag=n > len(pictures) // 2) for n, one in enumerate(pictures)]


def under_plate(n: int, picture: Gray, *, flag: bool) -> Gray:
    one = picture.copy()
    for number, (left, top, wide, high) in enumerate(BOXES):
        one[top : top + high, left : left + wide] = 40
        figures = f"{np.random.default_rng([number, (n + 2 * number) // 8]).integers(100, 999)}"
        cv2.putText(one, figures, (left + 30, top + high - 9), cv2.FONT_HERSHEY_DUPLEX, 1.0, 230, 2)
    one[286:300, 20:610] = 40
    one[288:298, 20 : 20 + 7 * n] = 225
    one[302:322, 20:98] = 40
    if flag:
        one[302:324, 260:330] = 110
    return one


def graded(picture: Gray) -> Gray:
    """Brighter in the shadows, flatter, the black lifted."""
    return np.clip(205 * (picture / 255.0) ** 0.75 + 22, 0, 255).astype(np.uint8)


def steeper(picture: Gray) -> Gray:
    return np.clip(1.35 * picture.astype(float) - 40, 0, 255).astype(np.uint8)


def as_it_is(picture: Gray) -> Gray:
    return picture


def zoomed(picture: Gray) -> Gray:
    return np.asarray(cv2.resize(picture[16:344, 29:611], (WIDE, HIGH)), np.uint8)


def boxed(picture: Gray) -> Gray:
    out = np.full((HIGH, WIDE), 16, np.uint8)
    out[36:324, 64:576] = cv2.resize(picture, (512, 288), interpolation=cv2.INTER_AREA)
    return out


def shots_of(film: Path, world: World, *covers: Cover) -> tuple[Shot, ...]:
    recordings = [one for one in world.sources() if not one.clip]
    return find_shots(film, recordings, covers=covers or (cover_of(layout()),))


@pytest.mark.parametrize("grade", [as_it_is, graded, steeper])
def test_footage_under_plates_is_placed(grade: Change, world: World, encoded_twice: Encode) -> None:
    pictures = [grade(one) for one in world.pictures("bow")[FIRST : FIRST + COUNT]]
    (shot,) = shots_of(encoded_twice(under_plates(pictures)), world)
    assert shot.source == "bow"
    assert np.abs(shot.source_frames - np.arange(FIRST, FIRST + COUNT)).max() <= 1
    assert shot.speed == 1.0
    assert shot.framing.scale_x == pytest.approx(1.0, abs=0.003)
    assert shot.framing.left_px == pytest.approx(0.0, abs=1.5)
    assert shot.framing.top_px == pytest.approx(0.0, abs=1.5)


@pytest.mark.parametrize("nested", [False, True])
def test_footage_made_larger_or_all_of_it_smaller(
    nested: bool, world: World, encoded_twice: Encode
) -> None:
    """Zoomed under plates that were not; and with its plates in a box of 0.8."""
    pictures = [graded(one) for one in world.pictures("bow")[FIRST : FIRST + COUNT]]
    film = (
        [boxed(one) for one in under_plates(pictures)]
        if nested
        else under_plates([zoomed(one) for one in pictures])
    )
    (shot,) = shots_of(encoded_twice(film), world)
    assert shot.source == "bow"
    assert np.abs(shot.source_frames - np.arange(FIRST, FIRST + COUNT)).max() <= 1
    assert shot.framing.scale_x == pytest.approx(0.8 if nested else 1.1, abs=0.006)


def test_a_film_of_a_lower_rate_and_smaller(world: World, encoded_twice: Encode) -> None:
    """25 frames a second of 30, and half the size of the layout."""
    ought = [FIRST + int(k / 25 * 30 + 1e-9) for k in range(70)]
    pictures = world.pictures("bow")
    film = under_plates([graded(pictures[n]) for n in ought])
    small = [cv2.resize(one, (480, 270), interpolation=cv2.INTER_AREA) for one in film]
    (shot,) = shots_of(encoded_twice(small, 25), world, cover_of(layout(2.0)))
    assert shot.source == "bow"
    assert np.abs(shot.source_frames - np.array(ought)).max() <= 1


@pytest.mark.parametrize("kind", ["40", "41", "1", "card"])
def test_what_is_from_elsewhere_is_not_placed_under_plates(
    kind: str, world: World, encoded_twice: Encode
) -> None:
    """Other days at sea, one with the same water seen from elsewhere on the boat (1), and a still
    card: plates of the trial's own make no footage of it."""
    if kind == "card":
        pictures = [np.full((HIGH, WIDE), 90, np.uint8)] * 60
    elif kind == "1":
        sea = Sea(1, deck=False)
        pictures = [np.flip(sea.picture(1.5 * n + 400), axis=1) for n in range(60)]
    else:
        sea = Sea(int(kind), deck=int(kind) % 2 == 0)
        pictures = [sea.picture(1.5 * n) for n in range(60)]
    found = shots_of(encoded_twice(under_plates([np.array(one) for one in pictures])), world)
    assert found
    assert {shot.kind for shot in found} <= {"elsewhere", "short", "alike"}
    assert all(shot.source is None for shot in found)


@pytest.mark.parametrize("name", ["bow", "launch"])
def test_covers_make_no_difference_to_what_was_not_covered(
    name: str, world: World, encoded_twice: Encode
) -> None:
    film = encoded_twice(world.pictures(name)[FIRST : FIRST + 60])
    (with_covers,) = find_shots(film, world.sources(), covers=[cover_of(layout())])
    (without,) = find_shots(film, world.sources())
    assert with_covers.source == name
    assert (with_covers.source_frames == without.source_frames).all()
    assert with_covers.framing == without.framing


def test_a_clip_of_the_same_moment_is_not_taken_for_footage_under_other_plates(
    world: World, encoded_twice: Encode
) -> None:
    pictures = [graded(one) for one in world.pictures("bow")[FIRST : FIRST + COUNT]]
    film = encoded_twice(under_plates(pictures))
    (shot,) = find_shots(film, world.sources(), covers=[cover_of(layout())])
    assert shot.source == "bow"
    assert np.abs(shot.source_frames - np.arange(FIRST, FIRST + COUNT)).max() <= 1


def test_a_cover_takes_in_all_that_is_drawn() -> None:
    """Each plate, the label and the scale lie in boxes of it, at any size, and little else does."""
    (boxes,) = hidden_by([cover_of(layout(2.0))], (0.0, 0.0, WIDE, HIGH))
    drawn = under_plates([np.zeros((HIGH, WIDE), np.uint8)] * 2)[1] > 0
    hidden = np.zeros_like(drawn)
    for left, top, right, bottom in boxes:
        hidden[max(0, int(top)) : int(bottom) + 1, max(0, int(left)) : int(right) + 1] = True
    assert not (drawn & ~hidden).any()
    assert hidden.mean() < 1.35 * drawn.mean()


def test_covers_that_hide_much_the_same_are_one() -> None:
    left = Cover(size_px=(100, 100), boxes_px=((0.0, 60.0, 40.0, 100.0),))
    more = Cover(size_px=(200, 200), boxes_px=((0.0, 120.0, 90.0, 200.0),))
    right = Cover(size_px=(100, 100), boxes_px=((60.0, 0.0, 100.0, 60.0),))
    card = Cover(size_px=(100, 100), boxes_px=((0.0, 0.0, 100.0, 80.0),))
    found = hidden_by([left, more, right, card], (0.0, 0.0, 50.0, 50.0))
    assert found == (((0.0, 30.0, 20.0, 50.0), (0.0, 30.0, 22.5, 50.0)), ((30.0, 0.0, 50.0, 30.0),))


def test_hidden_parts_are_not_seen() -> None:
    framing = Framing(
        scale_x=1.0, scale_y=1.0, left_px=0.0, top_px=0.0, box_px=(0, 0, WIDE, HIGH),
        hidden_px=((0.0, 180.0, 320.0, 360.0),),
    )  # fmt: skip
    small = np.zeros((1, 90, 160), np.uint8)
    _, seen = unframed(small, framing, (WIDE, HIGH), (WIDE, HIGH))
    assert seen.mean() == pytest.approx(0.75, abs=0.01)
    assert not seen[40:, :60].any()
    assert seen[:34].all()
