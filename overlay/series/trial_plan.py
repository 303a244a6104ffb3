"""The jobs of one trial: what goes into each of its clips, hashed, and what it is estimated at."""

from __future__ import annotations

import os
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.analysis.results import compute_results
from overlay.series.asked import trial_name
from overlay.series.document import Series, timeout_s
from overlay.series.inputs import clip_inputs, clip_stamps, digest, kept_sha256, log_hashes
from overlay.series.job import Cut, Guess, Job, Settings, Variant
from overlay.series.plan import Refused, cuts
from overlay.series.shapes import pixels_of
from overlay.series.speeds import TIE_SHARE, TIE_START_S, Speeds
from overlay.series.wish import clip_in, in_variant, wish_of
from overlay.sheet.model import Clip
from overlay.trial import Material, Trial, build_trial, read_material
from overlay.workflow.align import kept_ties
from overlay.workflow.clip_run import must_meet, run_of
from overlay.workflow.filmed import cut_of
from sync.clock import Span
from sync.errors import TrialReelError
from sync.media import frame_times

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from sync.media import Footage
    from sync.tie import Ties

UNTIED_RUN_S = 30.0
"""How long a run is taken to be that nothing is known of yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialJobs:
    """The jobs of a trial, and what of it cannot be planned."""

    jobs: tuple[Job, ...] = ()
    ties: tuple[Job, ...] = ()
    refused: tuple[Refused, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Read:
    """A trial's material in one set of units, and what it comes to where it is tied."""

    material: Material
    ties: Ties | None
    trial: Trial | None
    results: Results | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPlanner:
    """Plans trials, one after the other."""

    series: Series
    settings: Settings
    speeds: Speeds

    def plan(self, sheet: Path, clips: list[Clip], variants: tuple[Variant, ...]) -> TrialJobs:
        """The jobs of a trial's clips, each in each variant."""
        try:
            material = read_material(sheet)
            ties = kept_ties(material)
        except TrialReelError as error:
            return TrialJobs(refused=tuple(
                Refused(sheet=str(sheet), trial=trial_name(sheet), clip=clip.name, variant=variant,
                        sentence=str(error))
                for clip in clips for variant in variants
            ))  # fmt: skip
        jobs: list[Job] = []
        refused: list[Refused] = []
        read: dict[str | None, _Read] = {}
        for clip in clips:
            for variant in variants:
                try:
                    if variant.units not in read:
                        read[variant.units] = _read_in(material, ties, variant)
                    jobs.append(self._job(read[variant.units], clip, variant))
                except TrialReelError as error:
                    refused.append(
                        Refused(sheet=str(sheet), trial=trial_name(sheet), clip=clip.name,
                                variant=variant, sentence=str(error))
                    )  # fmt: skip
        first = (self._tie(material),) if ties is None and jobs else ()
        return TrialJobs(jobs=tuple(jobs), ties=first, refused=tuple(refused))

    def _job(self, read: _Read, clip: Clip, variant: Variant) -> Job:
        material = read.material
        if clip.recording in material.unreadable:
            raise material.unreadable[clip.recording]
        footage = material.footage[clip.recording]
        entry = clip_in(clip, self.settings)
        wish = wish_of(entry, self.settings, variant)
        recipe = wish.recipe_for(footage)
        seen = self._seen(read, entry, footage)
        parts = self._cuts(read, entry, seen, footage)
        inputs = clip_inputs(material, read.ties, entry)
        facts = {
            **inputs,
            "from": os.path.relpath(material.sheet_path, self.series.folder / "clips"),
            "clip": entry.model_dump(mode="json"),
            "variant": asdict(variant),
            "settings": asdict(replace(self.settings, audit=False, faceplate=None)),
            "recipe": asdict(recipe),
            "cuts": parts,
        }
        pixels = pixels_of(footage, variant.shape or entry.shape)
        guess = self.speeds.guess(
            asdict(recipe),
            frames=round(seen.length_s * (footage.average_rate_hz or 30.0)),
            pixels=pixels,
            audit=self.settings.audit,
        )
        return Job(
            key=digest(facts),
            sheet=str(material.sheet_path),
            trial=trial_name(material.sheet_path),
            title=material.sheet.name,
            clip=clip.name,
            recording=clip.recording,
            variant=variant,
            settings=self.settings,
            inputs=inputs,
            stamps=clip_stamps(material, entry),
            recipe=asdict(recipe),
            ending=_ending(footage, recipe.by.containers),
            cuts=parts,
            pixels=pixels,
            guess=guess,
            timeout_s=timeout_s(self.series.document.limits, guess.seconds),
        )

    def _seen(self, read: _Read, clip: Clip, footage: Footage) -> Span:
        """What the clip will show, by what is known of the run; roughly without a tie."""
        first_s = float((footage.start_pts or 0) * footage.time_base)
        whole = Span(start_s=first_s, stop_s=first_s + (footage.duration_s or 0.0))
        if read.trial is not None:
            return self._cut(read, clip, whole) or whole
        handles = clip.lead_in + clip.lead_out
        if self.settings.handles_s is not None and clip.run is not None:
            handles = 2 * self.settings.handles_s
        rough = whole.length_s if clip.run is None else UNTIED_RUN_S + handles
        return Span(start_s=first_s, stop_s=first_s + min(whole.length_s, rough))

    def _cut(self, read: _Read, clip: Clip, whole: Span) -> Span | None:
        """The stretch of a tied recording that the clip shows; None for the whole of it."""
        assert read.trial is not None
        assert read.results is not None
        handles_s = self.settings.handles_s
        if handles_s is not None and clip.run is not None:
            clip = clip.model_copy(update=dict.fromkeys(("lead_in", "lead_out"), handles_s))
        to_utc = read.trial.footage_to_utc(clip.recording)
        must_meet(read.trial, clip, to_utc, whole)
        run = run_of(read.trial, read.results, clip, to_utc, whole)
        return cut_of(clip, run, to_utc, whole)

    def _cuts(self, read: _Read, clip: Clip, seen: Span, footage: Footage) -> tuple[Cut, ...]:
        """Where the clip is cut into pieces; its frames are counted where it is long enough."""
        piece_s = self.series.document.limits.piece
        if read.trial is None or seen.length_s <= piece_s:
            return ()
        times = frame_times(footage)
        cut = self._cut(read, clip, times.span)
        frames = len(times) if cut is None else len(times.within(cut))
        return cuts(frames, max(1, round(piece_s * (footage.average_rate_hz or 30.0))))

    def _tie(self, material: Material) -> Job:
        """The work of tying a trial, which comes before its clips."""
        sheet = material.sheet_path
        film_s = sum(film.duration_s or 0.0 for film in material.footage.values())
        seconds = TIE_START_S + TIE_SHARE * film_s
        return Job(
            key=digest({"tie": str(sheet), "sheet": kept_sha256(sheet), **log_hashes(material)}),
            kind="tie",
            sheet=str(sheet),
            trial=trial_name(sheet),
            title=material.sheet.name,
            settings=self.settings,
            guess=Guess(seconds=round(seconds, 1), memory_bytes=TIE_BYTES),
            timeout_s=timeout_s(self.series.document.limits, seconds),
        )


TIE_BYTES = 700_000_000
"""The most that the demo day took to be tied."""


def _read_in(material: Material, ties: Ties | None, variant: Variant) -> _Read:
    own = in_variant(material, variant)
    if ties is None:
        return _Read(material=own, ties=None, trial=None, results=None)
    trial = build_trial(own, ties)
    return _Read(material=own, ties=ties, trial=trial, results=compute_results(trial))


def _ending(footage: Footage, containers: tuple[str, ...]) -> str:
    """.mov where .mp4 does not hold what goes into it: plain sound, or the encoder's pictures."""
    plain = any(track.codec.startswith("pcm_") for track in footage.sound)
    return ".mov" if plain or ".mp4" not in containers else ".mp4"
