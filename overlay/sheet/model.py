"""The trial sheet as a model: every key, its type and what it means.

Almost all of it is optional. A blank costs the figures that need it, and never the run.
"""

from __future__ import annotations

import datetime as dt
import math
from pathlib import PurePosixPath
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from overlay.sheet.claims import Claim
from overlay.sheet.fields import (
    ChannelKey,
    Day,
    FileName,
    Instant,
    Name,
    Share,
    SpeedUnit,
    TimeZone,
    safe_name,
)
from overlay.sheet.quantities import (
    Angle,
    Delay,
    Duration,
    Fraction,
    Setting,
    Speed,
    Uncertainty,
)
from overlay.sheet.recording import Recording
from overlay.sheet.reels import Reel, check_reels
from overlay.sheet.tested import (
    Boat,
    Conditions,
    Engine,
    FuelCheck,
    Load,
    Part,
    Propeller,
    in_order,
)
from overlay.sheet.timed import Timed

SCHEMA = "trial/1"


class LogEntry(Part):
    """One log."""

    name: Name
    file: FileName
    format: str | None = Field(None, description="only where its content leaves it open")
    clock: Literal["utc", "gps", "own"] | None = Field(
        None,
        description="'own' for a log that counts on a clock of its own, 'gps' for one whose dates "
        "and times are in GPS time, 18 s ahead of UTC",
    )
    clock_start: Instant | None = Field(
        None, description="UTC at which the log's own clock stood at zero, if it is known"
    )
    columns: dict[str, str] = Field(
        default_factory=dict,
        description="channel for a column that its heading does not tell, such as "
        "'Geschw' = 'speed (kn)'",
    )


class Sensor(Part):
    """What is known of one channel of one log: above all by how much it lags."""

    log: Name
    channel: ChannelKey
    delay: Delay | None = Field(None, description="how much later than true a value is logged")
    delay_sd: Delay | None = Field(None, description="one standard deviation of that")
    aided: bool | None = Field(
        None,
        description="whether a sensor of attitude is aided by speed, so that acceleration "
        "is not taken for pitch",
    )
    error: Annotated[Angle, Field(gt=0)] | None = Field(
        None, description="bound of what a sensor of attitude errs by in a launch"
    )
    calibrated: Day | None = Field(None, description="the day on which it was last calibrated")


class TieMark(Part):
    """An instant that log and footage both know, written down by a person."""

    label: str
    utc: Instant
    sd: Uncertainty | None = None


class Run(Part):
    """A stretch of the day that a person names or corrects."""

    name: Name
    kind: Literal["launch", "span"] = "launch"
    start: Instant
    stop: Instant
    trim: Setting | None = Field(
        None, description="how far the drive was trimmed out, as its gauge has it: '40 %'"
    )
    tabs: Fraction | None = Field(
        None, description="how far the trim tabs were down, of all their way: '25 %'"
    )

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        in_order(self.start, self.stop)
        return self


class Clip(Part):
    """One clip to be rendered."""

    name: Name
    recording: Name
    run: Name | None = Field(
        None,
        description="'launch 1', '3500 rpm', '3500 rpm, pass 1', 'turn 1 to port', 'stop 1'; "
        "without it the first launch in the footage",
    )
    faceplate: str | None = Field(
        None, description="without it the one that suits the run: launch, step, turn and so on"
    )
    lead_in: Uncertainty = Field(3.0, description="how much film before the run")
    lead_out: Uncertainty = Field(5.0, description="how much film after the run")
    start: Duration | None = Field(
        None, description="where in the footage the clip begins, instead of at the run"
    )
    stop: Duration | None = Field(None, description="and where it ends")
    whole: bool = Field(default=False, description="the whole recording, not only the run")
    shape: Literal["wide", "upright", "square"] | None = Field(
        None, description="16:9, 9:16 or 1:1, cut out of the picture; without it as it was filmed"
    )
    look: Annotated[float, Field(strict=True, ge=0, le=1)] | None = Field(
        None,
        description="where across the picture that part lies: 0 at its left or top edge, 1 at the "
        "other; without it in the middle",
    )
    file: FileName | None = Field(None, description="where to, below the sheet's folder")


class Ladder(Part):
    """The speeds that a launch is timed to, in the unit that they are round numbers of."""

    unit: SpeedUnit
    speeds: Annotated[list[Annotated[float, Field(gt=0)]], Field(min_length=1, max_length=8)]

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if self.speeds != sorted(set(self.speeds)):
            message = f"the speeds of the ladder must rise: {self.speeds}"
            raise ValueError(message)
        return self


class DefinitionChoices(Part):
    """Which of several definitions a result follows; `trialreel results` prints them."""

    launch_start: Literal["throttle_or_engine", "first_movement"] = "throttle_or_engine"
    time_to_plane: Literal["two_thirds", "froude_2", "speed", "button"] = "two_thirds"
    plane_speed: Speed | None = Field(None, description="for time_to_plane = 'speed'")
    bow_limit: Annotated[Angle, Field(gt=0, lt=math.pi / 2)] | None = Field(
        None,
        description="bow angle above which the time in each launch is counted, such as '5 deg'",
    )


class TrialSheet(Part):
    """One trial: one boat, engine and propeller set-up on one day."""

    schema_: Literal["trial/1"] = Field(alias="schema")
    name: str = "trial"
    date: dt.date | None = Field(None, description="day of the trial, for logs that have none")
    time_zone: TimeZone | None = Field(
        None, description="of times that carry no zone; without it such times are refused"
    )
    units: Literal["us", "nautical", "metric"] = "nautical"
    decimal_sign: Literal[".", ","] = Field(
        ".", description="before the decimals of numbers on clips"
    )
    reserve: Share = Field(0.10, description="share of the usable tank that is kept back")
    fuel_flow_from: Literal["engine", "meter", "weighed"] = Field(
        "engine",
        description="where fuel flow comes from: the engine's own estimate, a flow meter in the "
        "line, or fuel that was weighed",
    )
    ladder: Ladder | None = None
    boat: Boat = Boat()
    engines: list[Engine] = Field(default_factory=list)
    propeller: Propeller = Propeller()
    load: Load = Load()
    conditions: Conditions = Conditions()
    fuel_check: FuelCheck | None = None
    logs: list[LogEntry] = Field(default_factory=list)
    sensors: list[Sensor] = Field(default_factory=list)
    recordings: list[Recording] = Field(default_factory=list)
    marks: list[TieMark] = Field(default_factory=list)
    runs: list[Run] = Field(default_factory=list)
    timed: list[Timed] = Field(default_factory=list)
    clips: list[Clip] = Field(default_factory=list)
    reels: list[Reel] = Field(default_factory=list)
    claims: list[Claim] = Field(
        default_factory=list, description="what the film says or prints, to be audited"
    )
    definitions: DefinitionChoices = DefinitionChoices()

    @model_validator(mode="after")
    def _names_agree(self) -> Self:
        for key, names in (
            ("logs", [entry.name for entry in self.logs]),
            ("recordings", [entry.name for entry in self.recordings]),
            ("runs", [entry.name for entry in self.runs]),
            ("timed", [entry.name for entry in self.timed]),
            ("clips", [entry.name for entry in self.clips]),
        ):
            twice = sorted({name for name in names if names.count(name) > 1})
            if twice:
                kind = "times" if key == "timed" else key
                message = f"two {kind} are called {twice[0]!r}"
                raise ValueError(message)
        known = [(sensor.log, sensor.channel) for sensor in self.sensors]
        twice_known = [pair for pair in known if known.count(pair) > 1]
        if twice_known:
            log, channel = twice_known[0]
            message = f"two sensors speak of {channel!r} in the log {log!r}"
            raise ValueError(message)
        self._outputs_differ()
        logs = {entry.name for entry in self.logs}
        recordings = {entry.name for entry in self.recordings}
        for sensor in self.sensors:
            _must_exist(f"the sensor for {sensor.channel}", "log", sensor.log, logs)
        for entry in self.timed:
            if entry.recording is not None:
                _must_exist(f"the time {entry.name!r}", "recording", entry.recording, recordings)
        for clip in self.clips:
            _must_exist(f"the clip {clip.name!r}", "recording", clip.recording, recordings)
        check_reels(self.reels, {clip.name: output_name(clip) for clip in self.clips})
        return self

    def _outputs_differ(self) -> None:
        places: dict[str, str] = {}
        for clip in self.clips:
            place = str(output_name(clip)).casefold()
            if place in places:
                message = (
                    f"the clips {places[place]!r} and {clip.name!r} would both become "
                    f"{output_name(clip)}; give one of them a file of its own"
                )
                raise ValueError(message)
            places[place] = clip.name

    def ladder_speeds(self) -> Ladder:
        """The ladder, or the usual one for the sheet's units: each set has its own."""
        return self.ladder or Ladder.model_validate(_USUAL_LADDER[self.units])


_USUAL_LADDER = {
    # Round numbers in the reader's own unit, never one ladder converted into another.
    "us": {"unit": "mph", "speeds": [10, 20, 30, 40]},
    "nautical": {"unit": "kn", "speeds": [10, 20, 30, 40]},
    "metric": {"unit": "km/h", "speeds": [20, 40, 60, 80]},
}


def _must_exist(who: str, what: str, name: str, names: set[str]) -> None:
    if name not in names:
        listed = ", ".join(sorted(names)) or "none"
        message = f"{who} names the {what} {name!r}, which the sheet does not list ({listed})"
        raise ValueError(message)


def output_name(clip: Clip) -> PurePosixPath:
    """Where a clip goes, below the sheet's folder."""
    return PurePosixPath(clip.file or f"clips/{safe_name(clip.name)}.mp4")
