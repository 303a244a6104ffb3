"""Reels: films put together from cards and clips, as the sheet asks for them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from fractions import Fraction as Ratio
from pathlib import PurePosixPath
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, PlainValidator, model_validator
from pydantic.json_schema import WithJsonSchema

from overlay.sheet.fields import Name, safe_name
from overlay.sheet.quantities import Uncertainty
from overlay.sheet.tested import Part

CardName = Literal["title", "conditions", "steps", "launches", "curves", "course"]
"""The cards of one trial; a test holds them against those that can be drawn."""

KINDS = ("card", "clip")

MOST_PARTS = 100

LEAST_PX, MOST_PX = 240, 8192
"""Sides of a reel's picture, as cards are drawn (`overlay.graphics.cards.base`)."""

LEAST_HZ, MOST_HZ = 10, 120

Stay = Annotated[Uncertainty, Field(gt=0, le=600)]
Change = Annotated[Uncertainty, Field(le=60)]

_SIZE = re.compile(r"(\d{2,5})\s*[x×]\s*(\d{2,5})")

_RATE = re.compile(r"-?\d{1,7}(\.\d{1,20}| */ *\d{1,7})?")
"""No powers of ten: a `Fraction` of '1e2000000' is a number of two million digits."""

_SHOWN_LETTERS = 40


def _size(text: str) -> str:
    found = _SIZE.fullmatch(text.strip().lower())
    if found is None:
        message = f"{text!r} is not a size of a picture; write width and height: '1920x1080'"
        raise ValueError(message)
    sides = int(found[1]), int(found[2])
    if any(side % 2 or not LEAST_PX <= side <= MOST_PX for side in sides):
        message = f"{text!r}: both sides must be even numbers from {LEAST_PX} to {MOST_PX}"
        raise ValueError(message)
    return f"{sides[0]}x{sides[1]}"


def _rate(value: object) -> Ratio:
    """Frames a second: `25`, `29.97`, which is short for 30000/1001, or `'30000/1001'`."""
    shown = repr(value)
    if len(shown) > _SHOWN_LETTERS:
        shown = f"{shown[:_SHOWN_LETTERS]}…"
    message = f"{shown} is not a number of frames a second, such as 25 or '30000/1001'"
    if isinstance(value, bool) or not isinstance(value, int | float | str | Ratio):
        raise ValueError(message)  # noqa: TRY004 - pydantic takes a ValueError only
    text = str(value).strip()
    if _RATE.fullmatch(text) is None:
        raise ValueError(message)
    try:
        rate = Ratio(text.replace(" ", ""))
    except (ValueError, ZeroDivisionError):
        raise ValueError(message) from None
    if not LEAST_HZ <= rate <= MOST_HZ:
        message = f"{value} frames a second are not from {LEAST_HZ} to {MOST_HZ}"
        raise ValueError(message)
    short = Ratio(round(rate * 1001 / 1000) * 1000, 1001)
    if rate.denominator != 1 and abs(rate - short) < Ratio(1, 200):
        return short
    return rate.limit_denominator(1001)


Size = Annotated[str, AfterValidator(_size)]
Rate = Annotated[
    Ratio,
    PlainValidator(_rate),
    WithJsonSchema({"type": ["number", "string"], "description": "frames a second"}),
]


class ReelPart(Part):
    """One part of a reel: a card of results, or a clip of the sheet or a stretch of it."""

    card: CardName | None = Field(None, description="a card, as `trialreel card` lists them")
    clip: Name | None = Field(None, description="a clip of the sheet")
    length: Stay | None = Field(None, description="how long a card is shown")
    start: Uncertainty | None = Field(None, description="where in the clip the part begins")
    stop: Uncertainty | None = Field(None, description="and where it ends")
    fade: Change | None = Field(None, description="from black and to black again")
    overlap: Change | None = Field(
        None,
        description="how long it and the part before are shown over each other, one going as the "
        "other comes, instead of through black",
    )

    @model_validator(mode="after")
    def _of_one_kind(self) -> Self:
        if (self.card is None) == (self.clip is None):
            message = "a part of a reel is either a card or a clip: 'card title', 'clip launch'"
            raise ValueError(message)
        if self.card is None and self.length is not None:
            message = f"length is for cards; name start and stop of the clip {self.clip!r}"
            raise ValueError(message)
        if self.clip is None and (self.start, self.stop) != (None, None):
            message = f"start and stop are for clips; name the length of the card {self.card!r}"
            raise ValueError(message)
        if self.stop is not None and self.stop <= (self.start or 0.0):
            message = f"the part of the clip {self.clip!r} ends before it starts"
            raise ValueError(message)
        return self

    @property
    def words(self) -> str:
        """The part as its short form has it: 'card title'."""
        return f"card {self.card}" if self.card is not None else f"clip {self.clip}"


def _short(value: object) -> object:
    """The short form of a part as the long one: 'card title' is { card = 'title' }."""
    if not isinstance(value, str):
        return value
    kind, _, name = value.strip().partition(" ")
    if kind not in KINDS or not name.strip():
        near = difflib.get_close_matches(kind, KINDS, n=1)
        hint = f"did you mean '{near[0]} {name}'" if near and name else "write 'card title' or"
        message = f"{value!r} is no part of a reel; {hint}"
        raise ValueError(message if near and name else f"{message} 'clip launch'")
    return {kind: name.strip()}


AnyPart = Annotated[
    ReelPart,
    BeforeValidator(_short, json_schema_input_type=ReelPart | str),
]


class Reel(Part):
    """One film made of cards and clips, with fades between them."""

    name: Name
    parts: list[AnyPart] = Field(
        description="'card title', 'clip launch', or with more to say "
        "{ clip = 'launch', start = '2 s', stop = '9 s', overlap = '1 s' }"
    )
    fade: Change = Field(0.5, description="of each part that says nothing else, from and to black")
    overlap: Change = Field(0.0, description="of each part that says nothing else, see there")
    card_length: Stay = Field(5.0, description="how long each card is shown")
    size: Size | None = Field(None, description="without it that of the first clip")
    rate: Rate | None = Field(
        None, description="frames a second; without it about that of the first clip"
    )

    @model_validator(mode="after")
    def _begins(self) -> Self:
        if not 1 <= len(self.parts) <= MOST_PARTS:
            message = f"a reel has from 1 to {MOST_PARTS} parts, and {self.name!r} "
            raise ValueError(message + f"has {len(self.parts) or 'none'}")
        if self.parts[0].overlap:
            message = f"the first part of the reel {self.name!r} has none before it to overlap"
            raise ValueError(message)
        return self


def reel_place(reel: Reel) -> PurePosixPath:
    """Where a reel goes, below the sheet's folder."""
    return PurePosixPath(f"clips/reel-{safe_name(reel.name)}.mp4")


def check_reels(reels: Sequence[Reel], clips: Mapping[str, Any]) -> None:
    """See that reels name clips that there are, and take no other's place.

    Parameters
    ----------
    clips
        The place of each clip of the sheet, by its name.

    Raises
    ------
    ValueError
        With the nearest name that there is.
    """
    taken = {str(place).casefold(): f"the clip {name!r}" for name, place in clips.items()}
    names = [reel.name for reel in reels]
    for reel in reels:
        if names.count(reel.name) > 1:
            message = f"two reels are called {reel.name!r}"
            raise ValueError(message)
        for part in reel.parts:
            if part.clip is not None and part.clip not in clips:
                message = f"the reel {reel.name!r} names the clip {part.clip!r}, which the sheet "
                raise ValueError(message + f"does not list{_hint(part.clip, list(clips))}")
        place = str(reel_place(reel)).casefold()
        if place in taken:
            message = f"the reel {reel.name!r} and {taken[place]} would both become {place}"
            raise ValueError(f"{message}; give one of them another name")
        taken[place] = f"the reel {reel.name!r}"


def _hint(name: str, known: list[str]) -> str:
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    return f"; did you mean {near[0]!r}" if near else f" ({', '.join(sorted(known)) or 'none'})"
