"""A clip that is settled: all that its pictures, its file and its ledger follow from."""

from __future__ import annotations

import logging
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overlay.graphics.faceplate import Faceplate, load_faceplate
from overlay.graphics.plan import Plan, compile_plan
from overlay.ledger import LedgerWriter
from overlay.render import Burned, Wanted, burn, surface_of
from overlay.render.cropping import crop_of
from overlay.render.tags import clip_tags
from overlay.workflow.chapters import chapters_of
from overlay.workflow.clip_facts import (
    comment,
    faceplate_told,
    facts_of,
    sources_shown,
    tie_facts,
)
from overlay.workflow.clip_run import faceplate_for, must_meet, run_of
from overlay.workflow.filmed import cut_of
from overlay.workflow.hashes import hashing, input_hashes, sha256_of
from overlay.workflow.outputs import faceplate_name, output_path
from overlay.workflow.progress import Progress, nobody
from overlay.workflow.subject import subject_of
from overlay.workflow.wanted import placed_by
from sync.clock import ClockMap, Span
from sync.media import Footage, frame_times, on_proxy

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.graphics.subject import Subject
    from overlay.sheet.model import Clip
    from overlay.trial import Material, Trial
    from overlay.workflow.wishes import Wish

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """A clip before its first picture.

    Parameters
    ----------
    footage
        Its recording, or the twin of it that is rendered on.
    to_utc
        From the footage's clock.
    output
        Where the finished clip goes.
    facts
        What its ledger holds of it, but for what takes time to find.
    wanted
        Its stretch, its encoding, its tags and chapters.
    """

    trial: Trial
    clip: Clip
    footage: Footage
    to_utc: ClockMap
    faceplate: Faceplate
    subject: Subject
    plan: Plan
    output: Path
    facts: Mapping[str, Any]
    wanted: Wanted

    def burn(
        self, film: Path, ledger: Path, *, piece: range | None = None, progress: Progress = nobody
    ) -> Burned:
        """Make the clip and its ledger at these places, or a piece of it and a piece's ledger.

        Raises
        ------
        RenderError, OutputError
            Where it cannot be made.
        """
        _log.info("render %s to %s", self.clip.name, self.output)
        wanted, shown = self.wanted, sources_shown(self.trial, self.faceplate, self.subject)
        with (
            LedgerWriter(ledger, self.facts, shown) as kept,
            hashing(self._inputs) as hashes,
        ):
            burned = burn(
                self.footage,
                film,
                plan=self.plan,
                clock_map=self.to_utc,
                span=wanted.span,
                recipe=wanted.recipe,
                record=kept.record,
                keep_print=kept.keep_print,
                progress=lambda done, total: progress(f"render {self.clip.name}", done, total),
                tags=wanted.tags,
                chapters=wanted.chapters,
                crop=wanted.crop,
                piece=piece,
            )
            kept.add_facts({"inputs": hashes.result(), "time_base": str(burned.time_base)})
        return burned

    def _inputs(self) -> dict[str, str]:
        """Hashes of all that the clip is made from."""
        path = self.faceplate.path
        own = {"faceplate": sha256_of(path)} if path else {}
        return {**input_hashes(self.trial.material, self.clip.recording), **own}


def settled(trial: Trial, results: Results, clip: Clip, wish: Wish) -> Settled:
    """Settle a clip.

    Raises
    ------
    SheetError
        Where the sheet names a run that was not found.
    AnalysisError
        Where the run that a clip shows lies outside the footage, or no log meets the footage.
    RenderError
        Where the footage is of a kind that cannot be rendered.
    """
    material, footage = trial.material, trial.material.footage[clip.recording]
    if wish.proxy:
        footage = on_proxy(footage)
    recipe, crop = wish.recipe_for(footage), crop_of(footage, clip.shape, clip.look)
    to_utc, times = trial.footage_to_utc(clip.recording), frame_times(footage)
    must_meet(trial, clip, to_utc, times.span)
    clip = placed_by(wish, clip, footage, times, to_utc, trial.sheet.time_zone)
    run = run_of(trial, results, clip, to_utc, times.span)
    cut = cut_of(clip, run, to_utc, times.span)
    seen = cut or times.span
    shown = Span(start_s=to_utc.carry(seen.start_s), stop_s=to_utc.carry(seen.stop_s))
    subject = subject_of(trial, run, shown)
    faceplate = load_faceplate(faceplate_name(clip, material.folder, faceplate_for(subject)))
    picture = surface_of(footage, recipe, crop).picture
    plan = compile_plan(faceplate, picture=picture, subject=subject)
    facts = facts_of(trial, results, clip.name, subject, plan) | {
        "tie": tie_facts(trial.ties.by_clock[f"footage:{clip.recording}"]),
        "recipe": asdict(recipe),
        "codec": recipe.codec,
        "strip_location": wish.strip_location,
        "recording": clip.recording,
        "shape": clip.shape,
        "crop_px": None if crop is None else crop.upright_box(footage),
        "faceplate": faceplate_told(faceplate, material.folder),
        **_sheet_from(wish, material),
    }
    return Settled(
        trial=trial,
        clip=clip,
        footage=footage,
        to_utc=to_utc,
        faceplate=faceplate,
        subject=subject,
        plan=plan,
        output=clip_place(clip, material, wish),
        facts=facts,
        wanted=Wanted(
            span=cut,
            recipe=recipe,
            tags=clip_tags(footage, comment(), strip_location=wish.strip_location),
            chapters=chapters_of(subject.run, results, to_utc, seen),
            crop=crop,
        ),
    )


def clip_place(clip: Clip, material: Material, wish: Wish) -> Path:
    """Where a clip goes.

    Raises
    ------
    OutputError
        Where it would overwrite something that it must not.
    """
    if wish.place is not None:
        return wish.place
    output = output_path(clip, material)
    return output.with_stem(f"{output.stem}-proxy") if wish.proxy else output


def _sheet_from(wish: Wish, material: Material) -> dict[str, str]:
    """Where the sheet lies from a clip that is put elsewhere, for whoever audits it."""
    if wish.place is None:
        return {}
    return {"sheet": os.path.relpath(material.sheet_path, wish.place.parent)}
