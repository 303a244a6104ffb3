"""What the sheet says of a recording."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from overlay.sheet.fields import ChannelKey, FileName, Instant, Name
from overlay.sheet.quantities import Delay, Duration, Earshot, Uncertainty
from overlay.sheet.tested import Part


class TypedTie(Part):
    """A frame of a recording and the time that a person read for it."""

    frame: Annotated[int, Field(ge=0)]
    utc: Instant
    sd: Uncertainty | None = None


class Dash(Part):
    """The boat's own display where it is in shot."""

    shows: ChannelKey = Field("speed", description="what it shows")
    lag: Delay = Field(description="how much later than true it shows that")


class Recording(Part):
    """What one camera shot without stopping, be it one file or several in a row."""

    name: Name
    files: Annotated[list[FileName], Field(min_length=1)]
    proxies: list[FileName] = Field(
        default_factory=list,
        description="low-resolution twins of the files, one for each and in the same order",
    )
    clap_distance: Earshot | None = Field(None, description="from the clap to the microphone")
    engine_distance: Earshot | None = Field(
        None, description="from the engine to the microphone, at the launch if it is not aboard"
    )
    clap_at: Duration | None = Field(
        None, description="where in the footage the clap is, to half a second"
    )
    clock_within: Uncertainty = Field(
        120.0, description="how far the camera's own clock may be out"
    )
    timecode: Literal["utc", "local", "together"] | None = Field(
        None,
        description="what its timecode is: the time of day in UTC or in the trial's zone, or set "
        "together with that of other recordings",
    )
    timecode_set: Instant | None = Field(None, description="when that timecode was set")
    timecode_within: Uncertainty | None = Field(
        None, description="how far the timecode's own clock may be out"
    )
    slow_motion: Annotated[float, Field(gt=1, le=100)] | None = Field(
        None, description="how many times slower than life the film plays"
    )
    dash: Dash | None = Field(None, description="the boat's own display, where it is in shot")
    ties: list[TypedTie] = Field(default_factory=list)

    @model_validator(mode="after")
    def _files_differ(self) -> Self:
        twice = sorted({name for name in self.files if self.files.count(name) > 1})
        if twice:
            message = f"the recording {self.name!r} lists the file {twice[0]!r} twice"
            raise ValueError(message)
        if self.proxies and len(self.proxies) != len(self.files):
            message = (
                f"the recording {self.name!r} has {len(self.files)} files and "
                f"{len(self.proxies)} proxies; each file must have one, or none"
            )
            raise ValueError(message)
        return self
