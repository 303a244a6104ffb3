"""One trial of a comparison, and what one of its figures reads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from overlay.analysis.means import NONE, Mean

if TYPE_CHECKING:
    from overlay.analysis.air import Air
    from overlay.analysis.noise import StepNoise
    from overlay.analysis.results import Results
    from overlay.analysis.steps import Step
    from overlay.sheet import TrialSheet

Better = Literal["more", "less", "neither"]
"""Which way a figure is the better one; neither where that is for the reader to judge."""

NO_STEPS = "no steps were found"
NO_STEP_BOTH_WAYS = "no step both ways"


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A trial as it is compared: its sheet, and what was worked out of its logs.

    All sides of a comparison have been worked out with one ladder and one set of definitions.
    """

    sheet: TrialSheet
    results: Results
    noise: tuple[StepNoise, ...] = ()
    air: Air | None = None
    flow_factor: float = 1.0

    def both_ways(self) -> tuple[Step, ...]:
        """The steps that were run both ways, by rising engine speed."""
        return tuple(step for step in self.results.steps if step.ways == "both")

    def step(self, name: str) -> Step | None:
        """A step by its name."""
        return next((step for step in self.results.steps if step.name == name), None)

    def no_step(self) -> str:
        """Why a figure of steps both ways is not there."""
        return NO_STEP_BOTH_WAYS if self.results.steps else NO_STEPS


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a trial has of one figure.

    Parameters
    ----------
    mean
        The value and one standard deviation, in SI; none where it is lacking.
    at
        Where it was found: the name of a step.
    basis
        How it was had, where that may differ: figures of two bases are not held against each
        other.
    apart_sd
        What it may differ by for not having been taken where the first trial's was, or not with
        the same instrument.
    repeats
        What single launches had, by direction, where the mean is one of launches: how they scatter
        says what doing it again would bring, which the doubt of each does not.
    lacks
        Why there is no value.
    """

    mean: Mean = NONE
    at: str = ""
    basis: str = ""
    apart_sd: float = 0.0
    repeats: tuple[tuple[float, ...], ...] = ()
    lacks: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """One row of a comparison before anything is compared: a reading of each trial.

    `quantity` says what it measures, for the units: `speed`, `rotation`, `time`, `angle`,
    `economy` (distance on a volume) or `level`.
    """

    key: str
    section: str
    title: str
    quantity: str
    better: Better
    readings: tuple[Reading, ...]
