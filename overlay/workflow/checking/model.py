"""What `check` finds, as frozen values: the document `check/2`.

Times are UTC seconds where a log or recording is tied, and seconds of the log's own clock
where it is not. Values are SI.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from sync.clock import Span
from sync.health import Ailment
from sync.tie import Loop

SCHEMA = "check/2"

RunKind = Literal["launch", "step", "astern", "turn", "stop", "span"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelReport:
    """One channel: how often it speaks, how often and why it is silent, how late it is.

    `left_out` are values that the reader took for no value, by reason; `delay_origin` says
    whether the sheet states the delay, the clues have settled it, or nobody knows it.
    """

    key: str
    source: str
    means: str
    rate_hz: float
    samples: int
    without_value: int
    left_out: tuple[tuple[str, int], ...]
    holes: tuple[Span, ...]
    delay_s: float
    delay_sd_s: float
    delay_origin: Literal["stated", "estimated", "unstated"]
    ailments: tuple[Ailment, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogReport:
    """One log: its format, clock and span, its channels, and what was odd.

    `tied` tells whether spans are in UTC.
    """

    name: str
    path: Path
    format: str
    clock: str
    tied: bool
    span: Span | None
    channels: tuple[ChannelReport, ...]
    marks: tuple[str, ...]
    counts: tuple[tuple[str, int], ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingReport:
    """One recording; `shot` is when, in UTC, if it is tied.

    `claps` are the sounds that match marks of the logs, `remarks` what the search for clues
    had to say of it, such as why there are none.
    """

    name: str
    paths: tuple[Path, ...]
    width_px: int
    height_px: int
    rate_hz: float
    length_s: float
    codec: str
    sound: str
    created: str
    shot: Span | None
    claps: tuple[str, ...]
    remarks: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockReport:
    """One clock and how it lies to UTC.

    `zero_utc_s` is where its zero lies and `sd_s` one standard deviation of that; `gains_ppm`
    is how much faster than UTC it runs, NaN where the clues do not tell; `rests_on` and
    `set_aside` name kinds of clues. Where there is no tie `refused` says why, and what would
    settle it.
    """

    clock: str
    text: str
    zero_utc_s: float
    sd_s: float
    gains_ppm: float
    gains_sd_ppm: float
    rests_on: tuple[str, ...]
    set_aside: tuple[str, ...]
    typed: bool
    refused: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """How much of a run one recording has, in seconds of the run; `film_s` is where in the
    film the part begins. NaN where it has none."""

    recording: str
    part: Literal["whole", "part", "none"]
    from_s: float
    to_s: float
    film_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RunReport:
    """One run that was found or named, with means over it, who filmed it, and which clips of
    the sheet show it."""

    name: str
    kind: RunKind
    span: Span
    engine_speed_rps: float
    speed_mps: float
    course_rad: float
    coverage: tuple[Coverage, ...]
    clips: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Concern:
    """Something to see to: on the water, while boat and crew are there, or at the desk."""

    where: Literal["water", "desk"]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckOutcome:
    """What `check` found; `cannot` lists the figures that will be missing and why."""

    sheet_path: Path
    name: str
    time_zone: str
    units: str
    span: Span | None
    concerns: tuple[Concern, ...]
    runs: tuple[RunReport, ...]
    clocks: tuple[ClockReport, ...]
    loops: tuple[Loop, ...]
    recordings: tuple[RecordingReport, ...]
    logs: tuple[LogReport, ...]
    unreadable: tuple[str, ...]
    cannot: tuple[str, ...]
