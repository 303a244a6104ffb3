"""What the shots of a film may have been cut from: clips, recordings, transparent renders."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.audit.edit import Cover, Source, clip_source, cover_of, recording_source
from overlay.exchange.renders import TransparentRender, find_renders
from overlay.ledger import LEDGER_END, Layout
from sync.errors import TrialReelError

if TYPE_CHECKING:
    from overlay.workflow.auditing.job import Job
    from sync.media import Footage

CLIP, RECORDING = "clip ", "recording "
"""What the name of a source begins with: a clip and its recording may be called alike."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sources:
    """All that there is of a trial.

    Parameters
    ----------
    all
        Clips and recordings.
    ledgers
        Of the clips, by the names of their sources.
    alone
        Transparent renders, which may lie over a recording, with their ledgers.
    covers
        What these hide of it.
    passed_over
        What cannot be used and why, in sentences.
    """

    all: tuple[Source, ...]
    ledgers: Mapping[str, Path]
    alone: tuple[tuple[TransparentRender, Path], ...]
    covers: tuple[Cover, ...]
    passed_over: tuple[str, ...]

    def named(self, name: str) -> Source:
        """The source of a name that there is."""
        return next(one for one in self.all if one.name == name)

    def film_of(self, name: str) -> Footage | None:
        """What can be decoded of a source."""
        return next((one.film for one in self.all if one.name == name), None)


def sources_of(film: Footage, job: Job) -> Sources:
    """Everything of a trial that a film may show, that film itself left out."""
    folder = job.material.folder
    ledgers = [
        path for place in (folder, folder / "clips") for path in place.glob(f"*{LEDGER_END}")
    ]
    found = find_renders(ledgers)
    passed_over = list(found.passed_over)
    places: dict[str, Path] = {}
    every: list[Source] = []
    for one in found.clips:
        if one.path.resolve() == film.path.resolve():
            continue
        name = f"{CLIP}{one.stem}"
        ledger_path = one.path.with_name(f"{one.stem}{LEDGER_END}")
        try:
            every.append(clip_source(name, one.path, ledger_path))
            places[name] = ledger_path
        except (TrialReelError, ValueError) as error:
            passed_over.append(str(error))
    for name, footage in job.material.footage.items():

        def told(done: float, total: float, name: str = name) -> None:
            job.progress(f"look through {name}", round(done), round(total))

        try:
            every.append(recording_source(f"{RECORDING}{name}", footage, told))
        except TrialReelError as error:
            passed_over.append(str(error))
    alone, covers = [], []
    for render in found.transparent:
        try:
            covers.append(cover_of(Layout.from_facts(render.ledger.facts["layout"])))
            alone.append((render, render.path.with_name(f"{render.stem}{LEDGER_END}")))
        except (KeyError, ValueError):
            passed_over.append(
                f"{render.path.name} is passed over: its ledger does not say where its numbers"
                " stand; render it again."
            )
    return Sources(
        all=tuple(every),
        ledgers=places,
        alone=tuple(alone),
        covers=tuple(covers),
        passed_over=tuple(passed_over),
    )
