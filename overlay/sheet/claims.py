"""One claim of a film as its author lists it, and the file that lists them."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from overlay.sheet.fields import Name, Words
from overlay.sheet.said import read_said
from overlay.sheet.tested import Part

SCHEMA: Literal["claims/1"] = "claims/1"

Kind = Literal["measured", "maker's data", "comparison", "opinion"]
Relation = Literal["more", "less", "same"]


def _value(text: str) -> str:
    read_said(text)
    return text.strip()


Value = Annotated[str, AfterValidator(_value)]

_OF_KIND: dict[str, tuple[str, ...]] = {
    "measured": ("quantity", "value", "rounded_to"),
    "maker's data": ("quantity", "value", "rounded_to", "source", "credit"),
    "comparison": ("quantity", "than", "than_trial", "relation"),
    "opinion": (),
}
_ALWAYS = ("kind", "text", "at", "trial")


class Claim(Part):
    """One thing that a film says or prints."""

    kind: Kind
    text: Words | None = Field(None, description="as it is spoken or printed")
    at: Words | None = Field(None, description="where in film or script, in your own words")
    trial: Name | None = Field(
        None, description="name of the trial that it is about, where a film shows several"
    )
    quantity: Words | None = Field(
        None,
        description="the result that it states, such as 'top speed', 'launch 1: time to 30 mph' "
        "or 'fuel flow at step 3'",
    )
    value: Value | None = Field(
        None, description="number and unit with the digits that the film has, such as '4.3 s'"
    )
    rounded_to: Value | None = Field(
        None, description="what a round number is rounded to, such as '100 rpm'"
    )
    source: Words | None = Field(None, description="where the maker states it")
    credit: Words | None = Field(
        None, description="how the film says that the figure is the maker's"
    )
    than: Words | None = Field(
        None, description="the result on the other side, if it is not of the same name"
    )
    than_trial: Name | None = Field(None, description="the trial that the other side is of")
    relation: Relation | None = Field(
        None, description="whether the first is more than the other, less, or the same"
    )

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Self:
        given = [name for name in type(self).model_fields if getattr(self, name) is not None]
        odd = [name for name in given if name not in (*_ALWAYS, *_OF_KIND[self.kind])]
        if odd:
            message = f"a claim of the kind {self.kind!r} has no {odd[0]!r}"
            raise ValueError(message)
        if self.kind == "measured" and not (self.quantity and self.value):
            message = "a measured claim needs a quantity and a value, for example '4.3 s'"
            raise ValueError(message)
        if not self.text and not self.quantity:
            message = "a claim needs its text" + (
                "" if self.kind == "opinion" else ", or the quantity that it is about"
            )
            raise ValueError(message)
        if self.value and not self.quantity:
            message = "a claim with a value needs the quantity that it is of"
            raise ValueError(message)
        self._rounding_fits()
        return self

    def _rounding_fits(self) -> None:
        """Whether the rounding is of the value's unit, and the value a multiple of it."""
        if self.rounded_to is None:
            return
        if self.value is None:
            message = "rounded_to says how a value is rounded, and there is no value"
            raise ValueError(message)
        said, step = read_said(self.value), read_said(self.rounded_to)
        if step.unit != said.unit or step.number <= 0:
            message = (
                f"rounded_to must be in the unit of the value, as in '10 {said.unit}', "
                f"and not {self.rounded_to!r}"
            )
            raise ValueError(message)
        if said.number % step.number:
            message = f"{self.value!r} is not rounded to {self.rounded_to!r}"
            raise ValueError(message)


class ClaimsFile(Part):
    """A list of the claims of one film."""

    schema_: Literal["claims/1"] = Field(alias="schema")
    film: Words | None = Field(None, description="the film whose claims these are")
    claims: list[Claim] = Field(min_length=1)
