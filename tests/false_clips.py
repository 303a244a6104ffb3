"""Clips that do not show what their ledgers or their logs have, made by the real render.

A crew's logs are read and analysed as ever, a faceplate is compiled, and the line that burns every
clip burns this one: only the plan that it is handed has two faces, one for the picture and one for
the ledger, and a third is asked what would be true. So what is false on which frame is known, and
what an audit says of the clip can be held against it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Any
from unittest.mock import patch

from overlay.analysis.results import Results, compute_results
from overlay.audit.recompute import side
from overlay.audit.recompute.day import Day, read_day
from overlay.audit.recompute.sheet import read_sheet
from overlay.audit.verdict import PAIRS, Pair, Piece, TieCheck, Verdict
from overlay.graphics.faceplate import Faceplate
from overlay.graphics.layer import Planes
from overlay.graphics.plan import Plan, compile_plan
from overlay.graphics.subject import Subject
from overlay.ledger import LedgerWriter, Shown
from overlay.render import Recipe, burn, surface_of
from overlay.trial import Material, Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.auditing.job import Job
from overlay.workflow.auditing.piece import Watched, piece_of
from overlay.workflow.auditing.rendered import Rendered, frames_as_rendered, open_render
from overlay.workflow.clip_facts import facts_of, sources_shown
from overlay.workflow.filmed import in_film, run_called
from overlay.workflow.hashes import sha256_of
from overlay.workflow.results import in_units
from overlay.workflow.subject import subject_of
from sync.clock import ClockMap, Span
from sync.media import Footage, frame_times, probe

Place = tuple[str, str]
"""Instrument and item."""

Texts = dict[Place, str]

ROOM_S = 0.5
"""For so long before a clip and after it the instruments would be seen as well."""

UNCHECKED = TieCheck(outcome="none available", sentence="")


@dataclass(frozen=True, kw_only=True, eq=False)
class Crew:
    """A trial on its logs, and what the product makes of it."""

    sheet_path: Path
    material: Material
    trial: Trial
    results: Results
    _read: dict[str, Day] = field(default_factory=dict)

    def second_day(self, facts: Any) -> Day:
        """The logs as the audit reads them; once, for they stay as they are."""
        if "day" not in self._read:
            self._read["day"] = read_day(read_sheet(self.sheet_path), facts)
        return self._read["day"]

    @cached_property
    def hashes(self) -> dict[str, str]:
        """Of sheet and logs."""
        logs = {f"log:{name}": sha256_of(log.path) for name, log in self.material.logs.items()}
        return {"sheet": sha256_of(self.sheet_path), **logs}


def crew_of(sheet_path: Path, units: str | None = None) -> Crew:
    """The crew of a sheet, for viewers of its own units or of others."""
    material = in_units(read_material(sheet_path, with_footage=False), units)
    trial = build_trial(material, ties_for(material))
    return Crew(
        sheet_path=sheet_path, material=material, trial=trial, results=compute_results(trial)
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Take:
    """A stretch of film that is laid over a stretch of a trial's day."""

    crew: Crew
    run: str
    faceplate: Faceplate
    footage: Footage
    start_utc_s: float
    length_s: float
    from_s: float = 0.0
    crf: int = 23

    @property
    def shown(self) -> Span:
        return Span(start_s=self.start_utc_s, stop_s=self.start_utc_s + self.length_s)

    @property
    def clock(self) -> ClockMap:
        return ClockMap(
            from_clock="footage:made", to_clock="utc", offset_s=self.start_utc_s - self.from_s
        )

    @property
    def recipe(self) -> Recipe:
        encoder = "x264" if self.footage.bit_depth == 8 else "x265"
        preset = "veryfast" if encoder == "x264" else "ultrafast"
        return Recipe(encoder=encoder, preset=preset, crf=self.crf, threads=2)

    @cached_property
    def subject(self) -> Subject:
        """What is true of it."""
        run = run_called(self.crew.results, self.run)
        assert run is not None, f"the trial has no {self.run}"
        # A clock that is off must not take the instruments out of the picture at an end of it.
        wide = Span(start_s=self.shown.start_s - ROOM_S, stop_s=self.shown.stop_s + ROOM_S)
        return subject_of(self.crew.trial, in_film(run, wide), wide)

    def plan(self, subject: Subject | None = None, faceplate: Faceplate | None = None) -> Plan:
        """A plan for its pictures: the true one, or one of a false subject or faceplate."""
        return compile_plan(
            faceplate or self.faceplate,
            picture=surface_of(self.footage, self.recipe).picture,
            subject=subject or self.subject,
        )


def told(plan: Plan, t_utc_s: float) -> tuple[Shown, ...]:
    """What a plan shows at an instant, without drawing it."""
    if not plan.run.shown_from_utc_s <= t_utc_s < plan.run.shown_to_utc_s:
        return ()
    looks = (part.look(t_utc_s) for part in plan.parts)
    return tuple(shown for look in looks if look is not None for shown in look.shown)


def texts(shown: Iterable[Shown]) -> Texts:
    return {(one.instrument, one.item): one.text for one in shown}


@dataclass(kw_only=True)
class TwoFaced:
    """Draws one plan, says of each frame what another shows, and notes what a third would have.

    `picture_late_s` and `ledger_late_s` are how much later than it is either takes it to be.
    """

    picture: Plan
    ledger: Plan
    true: Plan
    subject: Subject
    faceplate: Faceplate
    picture_late_s: float = 0.0
    ledger_late_s: float = 0.0
    sides: list[tuple[Texts, Texts, Texts]] = field(default_factory=list)

    def draw(self, planes: Planes, t_utc_s: float) -> tuple[Shown, ...]:
        seen = self.picture.draw(planes, t_utc_s + self.picture_late_s)
        kept = told(self.ledger, t_utc_s + self.ledger_late_s)
        self.sides.append((texts(seen), texts(kept), texts(told(self.true, t_utc_s))))
        return kept


def faces(take: Take, picture: Plan | None = None, ledger: Plan | None = None) -> TwoFaced:
    """A plan with two faces; without one of them that face is true."""
    true = take.plan()
    return TwoFaced(
        picture=picture or take.plan(),
        ledger=ledger or true,
        true=true,
        subject=take.subject,
        faceplate=take.faceplate,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Clip:
    """A clip with its ledger, and what picture, ledger and truth have on each of its frames."""

    path: Path
    ledger_path: Path
    sides: list[tuple[Texts, Texts, Texts]]


def film(take: Take, drawn: TwoFaced, path: Path, inputs: dict[str, str] | None = None) -> Clip:
    """Burn it, as `trialreel render` does; the ledger's facts are those of its own face."""
    crew, ledger_path = take.crew, path.with_suffix(".ledger.parquet")
    facts = facts_of(crew.trial, crew.results, path.stem, drawn.subject, drawn.ledger) | {
        "tie": {"offset_s": take.clock.offset_s, "rate": 1.0, "sd_s": 0.01, "pivot_s": 0.0,
                "rate_sd": 0.0},
        "recipe": asdict(take.recipe),
        "faceplate": drawn.faceplate.name,
    }  # fmt: skip
    sources = sources_shown(crew.trial, drawn.faceplate, drawn.subject)
    with LedgerWriter(ledger_path, facts, sources) as ledger:
        burned = burn(
            take.footage, path, plan=drawn, clock_map=take.clock,
            span=Span(start_s=take.from_s, stop_s=take.from_s + take.length_s),
            recipe=take.recipe, record=ledger.record, keep_print=ledger.keep_print,
        )  # fmt: skip
        ledger.add_facts({"inputs": inputs or crew.hashes, "time_base": str(burned.time_base)})
    return Clip(path=path, ledger_path=ledger_path, sides=drawn.sides)


def audited(
    clip: Clip, crew: Crew, *, sheet: Path | None = None, material: Material | None = None
) -> Piece:
    """What `trialreel audit` says of a clip, every frame of it, without its check of the tie.

    With a `sheet` it is held against that, whose logs are read afresh.
    """
    if sheet is not None:
        material = read_material(sheet, with_footage=False)
    job = Job(material=material or crew.material, ties=crew.trial.ties)
    if sheet is not None:
        render = open_render(clip.ledger_path, sheet)
    else:
        render = _opened(clip.ledger_path, crew)
    footage = probe(clip.path)
    times = frame_times(footage)
    base = float(Fraction(render.facts["time_base"]))
    frames, wrong = frames_as_rendered(times.seconds(), render, base)
    watched = Watched(
        name=clip.path.name,
        found=job.read(footage, render.layout, frames, clip.path.name),
        frames=frames,
        span_s=(times.span.start_s, times.span.stop_s),
        more=wrong,
    )
    piece = piece_of(watched, render, job, UNCHECKED)
    # These films belong to no recording, so that their ledgers can have no hash of footage.
    unheld = tuple(one for one in piece.unheld if one.what != "the footage")
    return replace(piece, unheld=unheld)


def _opened(ledger_path: Path, crew: Crew) -> Rendered:
    """As `open_render`, with logs that were read before, which takes most of its time."""
    with patch.object(side, "read_day", lambda _, facts: crew.second_day(facts)):
        return open_render(ledger_path, crew.sheet_path)


def verdict_of(piece: Piece, crew: Crew) -> Verdict:
    return Verdict(
        film=piece.ledger_path, sheet=crew.sheet_path, trial="", software="", made_utc="",
        readers=("glyphs",), pieces=(piece,),
    )  # fmt: skip


Frames = dict[Pair, dict[Place, set[int]]]
"""By pair, what disagrees on which frames."""


def false_on(clip: Clip) -> Frames:
    """Where the three differ in what they show."""
    at = {"picture": 0, "ledger": 1, "logs": 2}
    found: Frames = {pair: defaultdict(set) for pair in PAIRS}
    for number, sides in enumerate(clip.sides):
        for pair in PAIRS:
            one, other = (sides[at[side]] for side in pair)
            for place in one.keys() | other.keys():
                if one.get(place, "") != other.get(place, ""):
                    found[pair][place].add(number)
    return found


def said_of(piece: Piece, sort: str = "number") -> Frames:
    """Where the audit says that numbers differ which stand on the picture."""
    found: Frames = {pair: defaultdict(set) for pair in PAIRS}
    for one in piece.disagreements:
        if one.sort == sort and one.box_px is not None:
            for pair in one.pairs:
                first, last = one.frames
                found[pair][one.instrument, one.item] |= set(range(first, last + 1))
    return found


def without_empty(frames: Frames) -> Frames:
    return {pair: dict(places) for pair, places in frames.items() if places}


def on_faceplate(face: Faceplate, **labels: str) -> Faceplate:
    """A faceplate on which some instruments, by name, bear other labels."""
    return replace(
        face,
        instruments=tuple(
            replace(spec, label=labels.get(spec.name, spec.label)) for spec in face.instruments
        ),
    )
