"""How far a run of a series is: what the live view shows, and a second terminal reads."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from overlay.series.kept_value import kept_value

SCHEMA = "series-state/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class AtWork:
    """A job that is being done.

    Parameters
    ----------
    stage
        `render`, `audit` or `tie`; `start` before it told of anything.
    done, of
        Frames, within the stage; 0 of 0 where it did not tell.
    seconds, left_s
        Since it began, and until it is estimated to end.
    """

    key: str
    name: str
    stage: str = "start"
    done: int = 0
    of: int = 0
    seconds: float = 0.0
    left_s: float = 0.0
    memory_bytes: int = 0
    pid: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """A job that did not come to a good end."""

    name: str
    outcome: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """A run of a series at one instant.

    Parameters
    ----------
    host, pid, started_ticks
        Whose run it is: a number means a process on its own machine alone.
    phase
        `ties` while clocks are tied, which comes first, then `clips`.
    planned
        Jobs of this phase, with those that cannot be planned.
    up_to_date
        Of them, those that were there already, or that another run made.
    elsewhere
        Those that another run is at work on.
    left_s
        Until all is done, as estimated.
    """

    name: str
    phase: str
    host: str
    pid: int
    started_ticks: int
    seconds: float
    updated_utc: str
    planned: int
    up_to_date: int
    done: int
    waiting: int
    elsewhere: int
    left_s: float
    at_work: tuple[AtWork, ...] = ()
    troubles: tuple[Ended, ...] = ()

    @property
    def finished(self) -> int:
        """How many jobs need no more work, for better or worse."""
        return self.up_to_date + self.done + len(self.failed)

    @property
    def failed(self) -> tuple[Ended, ...]:
        """The jobs that are not done; a clip that disagrees with the logs is."""
        return tuple(one for one in self.troubles if one.outcome != "disagrees")

    def as_document(self) -> dict[str, Any]:
        """The state as JSON has it."""
        return {"schema": SCHEMA, **asdict(self)}


def state_from(document: Any) -> State:
    """A state from its document.

    Raises
    ------
    ValueError
        Where the document is none.
    """
    return kept_value(State, document, SCHEMA)
