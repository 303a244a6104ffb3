"""What is to be made: from a series and its sheets to jobs, before anything runs.

Nothing is written but what the cache folder keeps, and trials that are fetched. A sheet or a
recording that cannot be used becomes a line of the plan, and the others are planned all the same.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from fnmatch import fnmatchcase
from itertools import pairwise
from pathlib import Path
from typing import Any

from overlay.errors import SheetError
from overlay.series.asked import sheets_of, trial_name
from overlay.series.document import Series, Shape, Units
from overlay.series.inputs import digest, tidy_hashes
from overlay.series.job import Cut, Job, Settings, Variant
from overlay.series.machine import cores_here, memory_here_bytes
from overlay.series.speeds import known_speeds
from overlay.sheet import TrialSheet, load_sheet
from overlay.sheet.model import Clip
from sync.errors import TrialReelError

SCHEMA = "series-plan/1"
MEMORY_SHARE = 0.8
EXACT_UP_TO = 1000
"""Jobs for each core."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """What was asked for and cannot be planned, with the reason in one sentence."""

    sheet: str
    trial: str
    sentence: str
    clip: str = ""
    variant: Variant = field(default_factory=Variant)

    @property
    def name(self) -> str:
        """What people are told that is not being made."""
        told = f"{self.trial}: {self.clip}" if self.clip else self.trial
        return told if self.variant == Variant() else f"{told}, {self.variant.name}"

    @property
    def key(self) -> str:
        """By what it is known: not by its inputs, which could not be read."""
        return digest({"sheet": self.sheet, "clip": self.clip, "variant": asdict(self.variant)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The jobs of a series.

    Parameters
    ----------
    ties
        Work that comes first: the ties of trials that have none. What their clips take is then
        only guessed, and their keys are not yet those that they will have.
    measured
        How many jobs of before the estimates rest on.
    """

    name: str
    folder: Path
    jobs: tuple[Job, ...]
    ties: tuple[Job, ...]
    refused: tuple[Refused, ...]
    cores: int
    memory_bytes: int
    measured: int

    @property
    def seconds(self) -> float:
        """How long all of it is estimated to take, with as many jobs at once as there are cores."""
        return sum(
            elapsed_s([one.seconds for job in jobs for one in (job, *job.pieces)], self.cores)
            for jobs in (self.ties, self.jobs)
        )

    def as_document(self) -> dict[str, Any]:
        """The plan as JSON has it."""
        return {
            "schema": SCHEMA,
            "name": self.name,
            "cores": self.cores,
            "memory_bytes": self.memory_bytes,
            "estimated_s": round(self.seconds, 1),
            "estimates_rest_on_jobs": self.measured,
            "jobs": [job.as_document() for job in self.jobs],
            "ties": [job.as_document() for job in self.ties],
            "refused": [{**asdict(one), "key": one.key} for one in self.refused],
        }


def elapsed_s(seconds: Sequence[float], cores: int) -> float:
    """How long jobs take that are begun longest first, each as soon as a core is free.

    Of very many, the sum shared by the cores: the last to end makes no difference that shows.
    """
    if len(seconds) > EXACT_UP_TO * cores:
        return sum(seconds) / cores
    free = [0.0] * cores
    for one in sorted(seconds, reverse=True):
        heapq.heappush(free, heapq.heappop(free) + one)
    return max(free)


def plan_of(series: Series) -> Plan:
    """Plan a series.

    Raises
    ------
    SheetError
        Where there is no sheet, or a pattern of clips finds none in any of them.
    OutputError
        Where trials are to be fetched, and the folder of the series does not take them.
    """
    from overlay.series.trial_plan import TrialPlanner

    document = series.document
    jobs: list[Job] = []
    ties: list[Job] = []
    refused: list[Refused] = []
    speeds = known_speeds()
    planner = TrialPlanner(series=series, settings=_settings(series), speeds=speeds)
    for sheet_path, sheet in _sheets(series, refused):
        clips = _clips_of(sheet, document.clips)
        if not clips:
            continue
        made = planner.plan(sheet_path, clips, variants(series))
        jobs += made.jobs
        ties += made.ties
        refused += made.refused
    tidy_hashes()
    limits = document.limits
    return Plan(
        name=document.name,
        folder=series.folder,
        jobs=tuple(jobs),
        ties=tuple(ties),
        refused=tuple(refused),
        cores=limits.cores or cores_here(),
        memory_bytes=limits.memory or int(MEMORY_SHARE * memory_here_bytes()),
        measured=speeds.measured,
    )


def _settings(series: Series) -> Settings:
    document, faceplate = series.document, series.document.faceplate
    if faceplate is not None and faceplate.endswith(".toml"):
        faceplate = str(series.base / faceplate)
    return Settings(
        encoder=document.encoder,
        quality=document.quality,
        handles_s=document.handles,
        strip_location=document.strip_location,
        faceplate=faceplate,
        audit=document.audit,
    )


def variants(series: Series) -> tuple[Variant, ...]:
    """Every combination of the matrix, each once."""
    matrix = series.document.matrix
    shapes: Sequence[Shape | None] = matrix.shapes or [None]
    in_units: Sequence[Units | None] = matrix.units or [None]
    return tuple(
        dict.fromkeys(Variant(shape=shape, units=units) for shape in shapes for units in in_units)
    )


def _sheets(series: Series, refused: list[Refused]) -> Iterator[tuple[Path, TrialSheet]]:
    """The sheets that can be read; those that cannot are added to what is refused."""
    found: list[tuple[Path, TrialSheet]] = []
    for path, unfetched in sheets_of(series).items():
        name = trial_name(path)
        try:
            if unfetched is not None:
                raise unfetched
            sheet = load_sheet(path)
        except TrialReelError as error:
            refused.append(Refused(sheet=str(path), trial=name, sentence=str(error)))
            continue
        if not sheet.clips:
            sentence = f"{path}: the sheet lists no clips; add one under [[clips]]."
            refused.append(Refused(sheet=str(path), trial=name, sentence=sentence))
            continue
        found.append((path, sheet))
    known = tuple(dict.fromkeys(clip.name for _, sheet in found for clip in sheet.clips))
    for pattern in series.document.clips:
        if found and not any(fnmatchcase(name, pattern) for name in known):
            raise SheetError(
                f"no sheet has a clip called {pattern!r}",
                path=series.base,
                key="clips",
                allowed=known[:20],
            )
    yield from found


def _clips_of(sheet: TrialSheet, patterns: Sequence[str]) -> list[Clip]:
    return [clip for clip in sheet.clips if any(fnmatchcase(clip.name, one) for one in patterns)]


def cuts(frames: int, frames_a_piece: int) -> tuple[Cut, ...]:
    """Where a long clip is cut into pieces of about one length; nowhere where it is short enough.

    Parameters
    ----------
    frames
        Of the whole clip.
    frames_a_piece
        The most that a piece has.
    """
    if frames <= frames_a_piece:
        return ()
    count = -(-frames // frames_a_piece)
    ends = [frames * number // count for number in range(count + 1)]
    return tuple(pairwise(ends))
