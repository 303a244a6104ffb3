"""What an audit comes to: what was read, what disagrees, what nobody could say, and the verdict."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from overlay.audit.claims.judged import Judged
from overlay.audit.recompute.results.held import ResultHeld

Side = Literal["picture", "ledger", "logs"]
"""What is held against each other."""

Pair = tuple[Side, Side]
PAIRS: tuple[Pair, ...] = (("picture", "ledger"), ("ledger", "logs"), ("picture", "logs"))

State = Literal["agrees", "disagrees", "unread", "unheld", "unseen"]
"""Of one thing at one time: `unread` where the picture could not be read, `unheld` where it could
but there was nothing to hold it against, `unseen` where it is not to be seen."""

Outcome = Literal["agrees", "disagrees", "cannot say"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One thing that a render was made from, and what has become of it.

    `name` is as in the ledger: `sheet`, `log:gps`, `footage:bow`, `faceplate`, `tie`.
    """

    name: str
    then: str
    now: str | None
    path: Path | None = None

    @property
    def state(self) -> Literal["same", "changed", "missing"]:
        """Whether it is still what it was."""
        if self.now is None:
            return "missing"
        return "same" if self.now == self.then else "changed"

    @property
    def false(self) -> bool:
        """Whether its change alone makes the film untrue. A sheet is edited for many reasons, and
        what of it bears on the film is compared; a faceplate is in the ledger's layout."""
        return self.state == "changed" and self.name not in ("sheet", "faceplate")


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """A row of a log as it stands in its file."""

    log: str
    line: int
    text: str
    t_utc_s: float
    nearest: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """A stretch of consecutive frames on which one thing disagrees in one way.

    Parameters
    ----------
    sort
        `number` and `label` are texts, `pointer` a mark on a scale, `time` a time stamp, `picture`
        what lies under all of them, `result` a figure of a run.
    frames
        The first and the last, of the film.
    t_film_s, t_utc_s
        When the first of them stands in the film, and on UTC (NaN where that is not known).
    read, ledger, logs
        What stands on the first of them, what the ledger has, and what the logs support; None
        where that side could not say.
    pairs
        Which of them disagree.
    box_px
        Where it stands on the film's picture; None for what stands nowhere.
    rows
        The log's own rows around it.
    sentence
        All of it in words.
    """

    sort: Literal["number", "label", "pointer", "time", "picture", "result"]
    instrument: str
    item: str
    frames: tuple[int, int]
    t_film_s: float
    t_utc_s: float
    read: str | None
    ledger: str | None
    logs: str | None
    pairs: tuple[Pair, ...]
    sentence: str
    box_px: tuple[int, int, int, int] | None = None
    rows: tuple[LogRow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """How one thing fares over the film: half-open stretches of it, in order, in seconds.

    `looks` is on how many frames it was looked at, and `hidden` on how many of them it could not be
    read.
    """

    instrument: str
    item: str
    stretches: tuple[tuple[float, float, State], ...]
    looks: int = 0
    hidden: int = 0

    @property
    def out_of_sight(self) -> bool:
        """Whether too much of it could not be read, however little of the whole that is."""
        return self.hidden > MOST_HIDDEN * self.looks


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """How much was looked at.

    `characters` were to be seen on the pictures looked at; `unread` of them could not be told.
    `values` are texts and marks, `held` those of them that were held against the logs.
    """

    frames: int = 0
    frames_read: int = 0
    characters: int = 0
    unread: int = 0
    values: int = 0
    held: int = 0

    def __add__(self, other: Counts) -> Counts:
        return Counts(
            frames=self.frames + other.frames,
            frames_read=self.frames_read + other.frames_read,
            characters=self.characters + other.characters,
            unread=self.unread + other.unread,
            values=self.values + other.values,
            held=self.held + other.held,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TieCheck:
    """Whether a clue that the tie does not rest on says the same, on the finished film.

    `off_s` is how much later than the film has it the clue puts an instant, `sd_s` one standard
    deviation of that; both None where there was no such clue.
    """

    outcome: Literal["agrees", "disagrees", "none available"]
    sentence: str
    clue: str = ""
    off_s: float | None = None
    sd_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unheld:
    """What was not held against anything, and why, as a clause."""

    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A stretch of the film that shows one render: the whole of a clip, a shot of an edited film.

    Parameters
    ----------
    frames
        The first frame of the film and the one after the last.
    clip, recording, ledger_path
        Which render it shows, of which recording, and that render's ledger.
    notes
        What was taken on trust, in sentences.
    """

    name: str
    clip: str
    recording: str
    ledger_path: Path
    frames: tuple[int, int]
    span_s: tuple[float, float]
    counts: Counts
    strips: tuple[Strip, ...]
    disagreements: tuple[Disagreement, ...]
    unheld: tuple[Unheld, ...]
    inputs: tuple[Input, ...]
    tie_check: TieCheck
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotLine:
    """One shot of an edited film, and what it is, in a sentence; `source` is empty where it comes
    from elsewhere, and where nobody can say: it is `alike` to several moments, or too `short`."""

    number: int
    frames: tuple[int, int]
    span_s: tuple[float, float]
    source: str
    sentence: str
    kind: Literal["placed", "elsewhere", "alike", "short"] = "placed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """All of it.

    Parameters
    ----------
    film, sheet
        What was audited, and against which trial.
    readers
        Which readers looked at the pictures, and a sentence on how far they agree where there
        were two.
    results
        The day's figures, each with what a second implementation of its definition has.
    warnings
        What else the reviewer should know.
    """

    film: Path
    sheet: Path
    trial: str
    software: str
    made_utc: str
    readers: tuple[str, ...]
    pieces: tuple[Piece, ...]
    shots: tuple[ShotLine, ...] = ()
    claims: tuple[Judged, ...] = ()
    results: tuple[ResultHeld, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def counts(self) -> Counts:
        """How much was looked at in all."""
        return sum((piece.counts for piece in self.pieces), Counts())

    @property
    def wrong_results(self) -> tuple[ResultHeld, ...]:
        """Figures of the day that a second implementation does not bear out."""
        return tuple(one for one in self.results if not one.agrees and not one.why)

    @property
    def outcome(self) -> Outcome:
        """Whether all agrees. What could not be read never counts as agreement."""
        untrue = any(claim.verdict == "not supported" or claim.clashes for claim in self.claims)
        if any(_false(piece) for piece in self.pieces) or untrue or self.wrong_results:
            return "disagrees"
        counts = self.counts
        little = not counts.held or counts.unread > MOST_UNREAD * counts.characters
        unsure = (
            little,
            any(piece.unheld for piece in self.pieces),
            bool(self.out_of_sight),
            bool(self.gone),
            any(shot.kind in ("alike", "short") for shot in self.shots),
            any(one.verdict == "cannot say" for one in self.claims),
        )
        return "cannot say" if any(unsure) else "agrees"

    @property
    def out_of_sight(self) -> tuple[str, ...]:
        """What could not be read for a good part of the time that it was to be seen."""
        strips = [one for piece in self.pieces for one in piece.strips if one.out_of_sight]
        return tuple(
            dict.fromkeys(
                one.instrument if one.item == "value" else f"{one.instrument}, {one.item}"
                for one in strips
            )
        )

    @property
    def gone(self) -> tuple[str, ...]:
        """Logs and footage that are not there any more, so that nobody can tell what they were."""
        return tuple(
            dict.fromkeys(
                one.name
                for piece in self.pieces
                for one in piece.inputs
                if one.state == "missing" and one.name.startswith(("log:", "footage:"))
            )
        )


MOST_UNREAD = 0.02
"""Share of the characters that may be unread in a film that is signed for: four times what the
reader leaves on hard compression."""


MOST_HIDDEN = 0.25
"""Share of the looks at one thing that may be in vain: a fade or a wave may hide it for a while."""


def _false(piece: Piece) -> bool:
    changed = any(one.false for one in piece.inputs)
    return bool(piece.disagreements) or changed or piece.tie_check.outcome == "disagrees"
