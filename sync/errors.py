"""The error tree of the project, each with one sentence on when it is raised.

::

    TrialReelError            anything that trialreel can explain to the person in front of it
    ├── SyncError             the `sync` package: logs, footage and the clocks between them
    │   ├── UnitError         a unit that does not exist, or is of another dimension
    │   ├── LogError          a log that cannot be used as it stands
    │   │   ├── LogFormatError    nobody knows the file's format, or it breaks its own rules
    │   │   └── EmptyLogError     the format is clear, but there is nothing in it to use
    │   ├── FootageError      footage that cannot be opened, or lacks what was asked of it
    │   └── TieError          clocks that cannot be tied
    │       └── TieRefused        the clues are too few, too weak or at odds: no tie is stated
    └── OverlayError          the `overlay` package; its branches stand in `overlay.errors`

Every error is one sentence with its facts beside it. It pickles, so that a worker process
can hand it to its parent whole.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any


class TrialReelError(Exception):
    """Anything that trialreel can explain: what is wrong, where, and what to do about it.

    Parameters
    ----------
    what
        What is wrong, as a clause without a full stop.
    path, line, key
        Where: the file, its line (counted from 1), the key or the column in it.
    allowed
        Values that would have been accepted, if there are few enough to list.
    advice
        What to do next, as a clause without a full stop.
    """

    def __init__(
        self,
        what: str,
        *,
        path: Path | str | None = None,
        line: int | None = None,
        key: str | None = None,
        allowed: tuple[str, ...] = (),
        advice: str = "",
    ) -> None:
        super().__init__(what)
        self.what = what
        self.path = None if path is None else Path(path)
        self.line = line
        self.key = key
        self.allowed = tuple(allowed)
        self.advice = advice

    def __str__(self) -> str:
        place = "" if self.path is None else str(self.path)
        if self.line is not None:
            place += f", line {self.line}" if place else f"line {self.line}"
        if self.key is not None:
            place += f", {self.key}" if place else self.key
        sentence = f"{place}: {self.what}" if place else self.what
        if self.allowed:
            sentence += f" (allowed: {', '.join(self.allowed)})"
        if self.advice:
            sentence += f"; {self.advice}"
        return sentence + "."

    def __reduce__(self) -> tuple[Any, ...]:
        return _rebuild, (type(self), self.what, self.facts())

    def facts(self) -> dict[str, Any]:
        """Everything beside the sentence, by name, as the constructor takes it."""
        return {
            "path": self.path,
            "line": self.line,
            "key": self.key,
            "allowed": self.allowed,
            "advice": self.advice,
        }


def _rebuild(kind: type[TrialReelError], what: str, facts: dict[str, Any]) -> TrialReelError:
    return kind(what, **facts)


class SyncError(TrialReelError):
    """Something about logs, footage or their clocks."""


class UnitError(SyncError, ValueError):
    """A unit that does not exist, or one of another dimension than is wanted."""


class LogError(SyncError, ValueError):
    """A log that cannot be used as it stands."""


class LogFormatError(LogError):
    """Nobody knows the log's format, two readers claim it, or it breaks its own rules."""


class EmptyLogError(LogError):
    """A log whose format is clear but which holds nothing that can be used."""


class FootageError(SyncError, ValueError):
    """Footage that cannot be opened, or lacks what was asked of it."""


class TieError(SyncError):
    """Clocks that cannot be tied to each other."""


class TieRefused(TieError):
    """The clues are too few, too weak or at odds, so that no tie is stated."""
