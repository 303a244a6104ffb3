"""A job: one clip of one trial in one shape and one set of units, a piece of a long clip, or the
ties of one trial.

It is frozen, pickles, and goes through JSON unchanged, so that any process on any machine that
sees the same files can do it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal

from overlay.ledger import LEDGER_END
from overlay.series.kept_value import kept_value

SCHEMA = "series-job/2"
Cut = tuple[int, int]

SHORT = 12
"""Letters of a key in the names of files; two of a million clips share them once in 500 series."""

JOIN_START_S, JOIN_BYTES_A_S = 2.0, 100e6
"""What joining the pieces of a clip takes (measured on the demo)."""

Kind = Literal["clip", "piece", "tie"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """In which shape and units a clip is made; None for what the sheet has."""

    shape: Literal["wide", "upright", "square"] | None = None
    units: Literal["us", "nautical", "metric"] | None = None

    @property
    def name(self) -> str:
        """As a part of names of files."""
        return "-".join(part for part in (self.shape, self.units) if part) or "as-filmed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """What a job is estimated to take.

    Parameters
    ----------
    frames
        0 where no footage says.
    seconds
        On the clock, while as many jobs run as there are cores.
    audit_s
        Of these, those that the audit takes.
    size_bytes
        Of its clip.
    memory_bytes
        At its peak.
    """

    frames: int = 0
    seconds: float = 0.0
    audit_s: float = 0.0
    size_bytes: int = 0
    memory_bytes: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How all clips of a series are wanted."""

    encoder: str | None = None
    quality: Literal["draft", "upload", "master"] = "upload"
    handles_s: float | None = None
    strip_location: bool = False
    faceplate: str | None = None
    audit: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A piece of work for one process.

    Parameters
    ----------
    key
        SHA-256 over all that goes into it, in hexadecimal; its outputs are named by it.
    sheet
        The trial sheet, as an absolute path.
    trial, title
        The trial in names of files, and as its sheet has it.
    clip, recording
        Empty where the ties of the whole trial are the work.
    inputs
        Hashes of all that it is made from, by name, as they were when it was planned.
    stamps
        Sizes and times of change of its logs and footage, by the same names, by which another
        machine knows them again.
    recipe
        The encoder's settings, number of threads included.
    ending
        Of the clip's file.
    cuts
        Of a long clip, the pieces that it is joined from: first frame and the one after the last.
    piece, whole
        Of a piece, its frames, and the key of the clip that it is for.
    pixels
        Of one frame.
    """

    key: str
    kind: Kind = "clip"
    sheet: str
    trial: str
    title: str
    clip: str = ""
    recording: str = ""
    variant: Variant = Variant()
    settings: Settings = Settings()
    inputs: Mapping[str, str] = field(default_factory=dict)
    stamps: Mapping[str, str] = field(default_factory=dict)
    recipe: Mapping[str, Any] | None = None
    ending: str = ".mp4"
    cuts: tuple[Cut, ...] = ()
    piece: Cut | None = None
    whole: str = ""
    pixels: int = 0
    guess: Guess = Guess()
    timeout_s: float = 3600.0

    @property
    def name(self) -> str:
        """What people are told that is being worked on."""
        if self.kind == "tie":
            return f"{self.trial}: tie the clocks"
        told = f"{self.trial}: {self.clip}"
        told = told if self.variant == Variant() else f"{told}, {self.variant.name}"
        return told if self.piece is None else f"{told}, frames {self.piece[0]} to {self.piece[1]}"

    @property
    def pieces(self) -> tuple[Job, ...]:
        """The jobs that come before this one, each with a key of its own."""
        return tuple(self._piece(cut) for cut in self.cuts)

    def _piece(self, cut: Cut) -> Job:
        share = (cut[1] - cut[0]) / self.cuts[-1][1]
        guess = replace(
            self.guess,
            frames=cut[1] - cut[0],
            seconds=round((self.guess.seconds - self.guess.audit_s) * share, 2),
            audit_s=0.0,
            size_bytes=int(self.guess.size_bytes * share),
        )
        key = hashlib.sha256(f"{self.key} {cut[0]} {cut[1]}".encode()).hexdigest()
        return replace(self, kind="piece", key=key, cuts=(), piece=cut, whole=self.key, guess=guess)

    @property
    def joined(self) -> Job:
        """Of a piece, the clip that it is for, as far as its files are named by it."""
        return replace(self, kind="clip", key=self.whole, piece=None, whole="")

    @property
    def seconds(self) -> float:
        """What it is estimated to take itself, the pieces that come before it not counted."""
        if not self.cuts:
            return self.guess.seconds
        return self.guess.audit_s + JOIN_START_S + self.guess.size_bytes / JOIN_BYTES_A_S

    @property
    def stem(self) -> str:
        """The name of its files without their endings."""
        from overlay.sheet.fields import safe_name

        clip = safe_name(self.clip)[:60] if self.clip else self.kind
        cut = "" if self.piece is None else f"--{self.piece[0]}-{self.piece[1]}"
        return f"{self.trial}--{clip}--{self.variant.name}{cut}--{self.key[:SHORT]}"

    @property
    def output_names(self) -> tuple[str, ...]:
        """The files that are there when it is done: the clip and its ledger."""
        if self.kind == "tie":
            return ()
        return (f"{self.stem}{self.ending}", f"{self.stem}{LEDGER_END}")

    def as_document(self) -> dict[str, Any]:
        """The job as JSON has it."""
        return {"schema": SCHEMA, **asdict(self)}


def job_from(document: Any) -> Job:
    """A job from its document.

    Raises
    ------
    ValueError
        Where the document is none.
    """
    return kept_value(Job, document, SCHEMA)
