"""What was to be made of a series, as its folder keeps it."""

from __future__ import annotations

import json
from dataclasses import dataclass

from overlay.errors import SheetError
from overlay.series.folder import SeriesFolder
from overlay.series.job import Job, job_from
from overlay.series.kept_value import kept_value
from overlay.series.plan import Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """The plan of the last run: its jobs, and what could not be planned."""

    name: str
    jobs: tuple[Job, ...]
    refused: tuple[Refused, ...]


def kept_plan(folder: SeriesFolder) -> KeptPlan:
    """The plan that lies in a series' folder.

    Raises
    ------
    SheetError
        Where there is none, or it is damaged, or of another version.
    """
    try:
        plan = json.loads(folder.plan.read_bytes())
        return KeptPlan(
            name=str(plan["name"]),
            jobs=tuple(job_from(row) for row in plan["jobs"]),
            refused=tuple(kept_value(Refused, row) for row in plan["refused"]),
        )
    except FileNotFoundError as error:
        raise SheetError(
            "no series was begun here",
            path=folder.path,
            advice="`trialreel series run` begins one",
        ) from error
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise SheetError(
            "this plan is damaged, or another version of trialreel wrote it",
            path=folder.plan,
            advice="`trialreel series run` writes it anew, and keeps the clips that are whole",
        ) from error
