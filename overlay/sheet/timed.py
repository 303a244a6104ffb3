"""What the crew wants timed by name: a movement of the drive, or a count of frames on film."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from overlay.sheet.fields import ChannelKey, Name
from overlay.sheet.quantities import Setting
from overlay.sheet.tested import Part


def _trim(key: str) -> str:
    if key.partition(".")[0] != "trim":
        message = f"{key!r} cannot be timed between two marks; 'trim', or 'trim.1', can"
        raise ValueError(message)
    return key


Frame = Annotated[int, Field(ge=0)]


class Timed(Part):
    """One time by name: on the channel of trim from one mark to another, or on film."""

    name: Name
    channel: Annotated[ChannelKey, AfterValidator(_trim)] | None = Field(
        None, description="'trim', or 'trim.1' for the second engine's"
    )
    from_: Setting | None = Field(
        None, alias="from", description="where the movement begins, as the gauge has it: '0 %'"
    )
    to: Setting | None = Field(None, description="and where it ends: '100 %'; both ways are timed")
    recording: Name | None = Field(None, description="on film instead: which recording")
    from_frame: Frame | None = Field(
        None, description="the first frame that shows the movement, counted from 0"
    )
    to_frame: Frame | None = Field(None, description="the first frame that shows its end")

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        logged = (self.channel, self.from_, self.to)
        filmed = (self.recording, self.from_frame, self.to_frame)
        whole = [all(value is not None for value in part) for part in (logged, filmed)]
        empty = [all(value is None for value in part) for part in (logged, filmed)]
        if not any(whole) or empty != whole[::-1]:
            message = (
                f"{self.name!r} needs channel, from and to, or else recording, from_frame and "
                "to_frame"
            )
            raise ValueError(message)
        if whole[0] and abs(self.marks[1] - self.marks[0]) < LEAST_WAY:
            message = f"the marks of {self.name!r} must lie {LEAST_WAY:.0%} and more apart"
            raise ValueError(message)
        if whole[1] and self.frames[0] >= self.frames[1]:
            message = f"to_frame of {self.name!r} must come after from_frame"
            raise ValueError(message)
        return self

    @property
    def marks(self) -> tuple[float, float]:
        """Where the movement begins and ends, as shares; for a time on the channel."""
        assert self.from_ is not None
        assert self.to is not None
        return self.from_, self.to

    @property
    def frames(self) -> tuple[int, int]:
        """The two frames; for a time on film."""
        assert self.from_frame is not None
        assert self.to_frame is not None
        return self.from_frame, self.to_frame


LEAST_WAY = 0.05
"""Marks nearer to each other than this are no movement that could be timed (own choice)."""
