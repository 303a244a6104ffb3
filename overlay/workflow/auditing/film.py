"""A film that comes back from the editor: its shots, and what stands on those of renders."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from overlay.audit.edit import find_shots
from overlay.audit.verdict import Piece, ShotLine, TieCheck
from overlay.errors import AuditError
from overlay.workflow.auditing.independent import check_tie
from overlay.workflow.auditing.laid_over import Laid, laid_over
from overlay.workflow.auditing.piece import Watched, piece_of
from overlay.workflow.auditing.rendered import Rendered, open_render
from overlay.workflow.auditing.sources import CLIP, RECORDING, Sources, sources_of
from overlay.workflow.auditing.which_clip import frames_of, place_of, told_apart
from sync.media import frame_times

if TYPE_CHECKING:
    from overlay.audit.edit import Shot
    from overlay.workflow.auditing.job import Job
    from sync.media import Footage


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """What an edited film comes to."""

    pieces: tuple[Piece, ...]
    shots: tuple[ShotLine, ...] = ()
    warnings: tuple[str, ...] = ()


def audit_cut(film: Footage, job: Job) -> Cut:
    """Find what each shot of a film is, and hold those that show a render against its ledger.

    Raises
    ------
    AuditError
        Where the trial has neither clip nor footage that shots could come from.
    FootageError
        Where the film cannot be decoded.
    """
    sources = sources_of(film, job)
    if not sources.all:
        raise AuditError(
            "this trial has neither a clip nor footage that a film could be cut from",
            path=job.material.sheet_path,
            advice="put them back, or render the clips again",
        )
    shots = find_shots(
        film.path,
        sources.all,
        lambda stage, done, total: job.progress(stage, round(done), round(total)),
        covers=sources.covers,
    )
    cutting = _Cutting(film=film, job=job, sources=sources)
    shots = tuple(told_apart(shot, film, sources, job, cutting.opened) for shot in shots)
    pieces = [cutting.pieces(shot, number) for number, shot in enumerate(shots, 1)]
    return Cut(
        pieces=tuple(piece for of_shot in pieces for piece in of_shot),
        shots=tuple(
            _line(number, shot, of_shot)
            for number, (shot, of_shot) in enumerate(zip(shots, pieces, strict=True), 1)
        ),
        warnings=sources.passed_over,
    )


@dataclass(slots=True, kw_only=True)
class _Cutting:
    """A film that is being taken apart: each render is opened, and each tie checked, once."""

    film: Footage
    job: Job
    sources: Sources
    renders: dict[str, Rendered] = field(default_factory=dict)
    checks: dict[str, TieCheck] = field(default_factory=dict)

    def pieces(self, shot: Shot, number: int) -> tuple[Piece, ...]:
        """What is to be said of a shot; nothing where it carries nothing of ours."""
        name = shot.source or ""
        if name.startswith(RECORDING):
            return self._laid_over(shot, number, name.removeprefix(RECORDING))
        if not name.startswith(CLIP):
            return ()
        render = self.opened(name)
        watched = self._watched(shot, number, render)
        return (piece_of(watched, render, self.job, self._tie_of(name, render)),)

    def opened(self, name: str) -> Rendered:
        """A clip among the sources, as its ledger has it."""
        if name not in self.renders:
            ledger_path = self.sources.ledgers[name]
            self.renders[name] = open_render(ledger_path, self.job.material.sheet_path)
        return self.renders[name]

    def _watched(self, shot: Shot, number: int, render: Rendered) -> Watched:
        """What is read on a shot of a clip."""
        frames, place = frames_of(shot, self.film, render), place_of(shot)
        name = f"shot {number}"
        return Watched(
            name=name,
            found=self.job.read(self.film, render.layout, frames, name, place=place),
            frames=frames,
            span_s=(shot.start_s, shot.stop_s),
            place=place,
        )

    def _laid_over(self, shot: Shot, number: int, recording: str) -> tuple[Piece, ...]:
        """A shot of bare footage over which an editor may have laid transparent renders."""
        return tuple(
            piece_of(laid.watched, laid.render, self.job, self._tie_under(laid, recording))
            for laid in laid_over(self.film, shot, number, recording, self.sources, self.job)
        )

    def _tie_under(self, laid: Laid, recording: str) -> TieCheck:
        """The tie is checked on the recording that a render lies over."""
        film = self.sources.film_of(f"{RECORDING}{recording}")
        if film is None:
            return _gone("recording")
        return check_tie(
            self.job.material,
            self.job.ties,
            recording,
            film,
            t_film_s=laid.t_footage_s,
            t_utc_s=laid.t_utc_s,
            where="its recording",
        )

    def _tie_of(self, name: str, render: Rendered) -> TieCheck:
        """The tie is checked on the clip itself: nobody knows what the editor did to the sound."""
        if name not in self.checks:
            film = self.sources.film_of(name)
            middle = render.pts.size // 2
            self.checks[name] = (
                _gone("clip")
                if film is None
                else check_tie(
                    self.job.material,
                    self.job.ties,
                    str(render.facts.get("recording", "")),
                    film,
                    t_film_s=frame_times(film).time_s(middle),
                    t_utc_s=float(render.t_utc_s[middle]),
                    where="the clip that it was cut from",
                )
            )
        return self.checks[name]


def _gone(what: str) -> TieCheck:
    return TieCheck(
        outcome="none available",
        sentence=f"Independent check: none available; the {what} is not there any more.",
    )


def _line(number: int, shot: Shot, pieces: tuple[Piece, ...]) -> ShotLine:
    source = shot.source or ""
    sentence = f"Shot {number} is {shot.why}."
    if shot.source_frames is not None:
        first, last = int(shot.source_frames[0]), int(shot.source_frames[-1])
        known = not shot.speed or abs(shot.speed - 1) < 1e-3
        speed = "" if known else f" at {shot.speed:.3g} times its speed"
        sentence = (
            f"Shot {number} is {source}, frames {first} to {last}{speed}{_carries(shot, pieces)}."
        )
    return ShotLine(
        number=number,
        frames=(shot.frames.start, shot.frames.stop),
        span_s=(shot.start_s, shot.stop_s),
        source=source,
        sentence=sentence,
        kind=shot.kind,
    )


def _carries(shot: Shot, pieces: tuple[Piece, ...]) -> str:
    """Which instruments stand on a shot, where that is not plain from its source."""
    if not pieces:
        return "; it carries no instrument of ours"
    if not (shot.source or "").startswith(RECORDING):
        return ""
    laid = []
    for piece in pieces:
        whole = piece.frames == (shot.frames.start, shot.frames.stop)
        on = "" if whole else f" on the film's frames {piece.frames[0]} to {piece.frames[1] - 1}"
        laid.append(f"{piece.clip}{on}")
    return f", with the instruments of {' and of '.join(laid)} laid over it"
