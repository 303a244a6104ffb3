"""Ledgers of whole runs, drawn on grey pictures instead of footage: what a render would record."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from demo_media import make_demo
from overlay.analysis.document import document
from overlay.analysis.results import Results, compute_results
from overlay.audit.recompute.day import Day, read_day
from overlay.audit.recompute.run_shown import run_of
from overlay.audit.recompute.sheet import read_sheet
from overlay.audit.recompute.shows import shows_of
from overlay.audit.recompute.side import LogSide
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.picture import Picture
from overlay.graphics.plan import compile_plan
from overlay.ledger import Ledger, LedgerWriter, read_ledger
from overlay.trial import Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.clip_facts import facts_of, sources_shown
from overlay.workflow.clip_run import faceplate_for
from overlay.workflow.filmed import Filmed, run_called, runs_of
from overlay.workflow.results import in_units
from overlay.workflow.subject import subject_of
from sync.clock import Span

PICTURE = Picture(width_px=1280, height_px=720)
AROUND_S = 3.0


@dataclass(frozen=True)
class Made:
    """A trial on its logs alone, and what the product makes of it."""

    sheet_path: Path
    trial: Trial
    results: Results

    @cached_property
    def document(self) -> dict[str, Any]:
        return json.loads(json.dumps(document(self.results, self.trial)))

    @property
    def names(self) -> list[str]:
        return [run.name for run in runs_of(self.results)]

    @cached_property
    def day(self) -> Day:
        """All logs read a second time, by the ties that the product found; once for all runs."""
        facts = self.ledger(self.names[0], fps=1.0).facts
        return read_day(read_sheet(self.sheet_path), facts)

    def ledger(self, name: str, *, fps: float = 5.0, faceplate: str | None = None) -> Ledger:
        """The ledger of a clip of one run, a few seconds before and after it in it."""
        run = run_called(self.results, name)
        assert run is not None, f"{name} is none of {self.names}"
        path = self.sheet_path.parent / f"{name.replace(' ', '-')}.ledger.parquet"
        return drawn(self.trial, self.results, run, path, fps, faceplate)

    def side(self, ledger: Ledger, day: Day | None = None) -> LogSide:
        """The logs' side for a ledger, without reading the logs again; of a sheet that differs in
        words alone, with the `day` of another."""
        return LogSide(
            sheet=read_sheet(self.sheet_path).for_readers_of(ledger.facts.get("units")),
            facts=ledger.facts,
            shows=shows_of(ledger.rows),
            run=run_of(ledger.facts),
            day=day or self.day,
            steps=tuple(self.document["steps"]),
        )


def drawn(
    trial: Trial, results: Results, run: Filmed, path: Path, fps: float, faceplate: str | None
) -> Ledger:
    shown = Span(start_s=run.span.start_s - AROUND_S, stop_s=run.span.stop_s + AROUND_S)
    subject = subject_of(trial, run, shown)
    face = load_faceplate(faceplate or faceplate_for(subject))
    plan = compile_plan(face, picture=PICTURE, subject=subject)
    facts = facts_of(trial, results, run.name, subject, plan)
    facts["tie"] = {"offset_s": shown.start_s, "rate": 1.00001, "pivot_s": 0.0}
    with LedgerWriter(path, facts, sources_shown(trial, face, subject)) as ledger:
        for frame in range(int(shown.length_s * fps)):
            t_footage = frame / fps
            t_utc = shown.start_s + 1.00001 * t_footage
            ledger.record(frame, frame, t_footage, t_utc, plan.draw(grey(), t_utc))
    return read_ledger(path)


def grey() -> tuple[np.ndarray, ...]:
    luma = np.full((PICTURE.height_px, PICTURE.width_px), 90, np.uint8)
    return (luma, *(np.full(PICTURE.chroma_shape, 128, np.uint8) for _ in range(2)))


def made_of(sheet_path: Path, units: str | None = None) -> Made:
    material = in_units(read_material(sheet_path, with_footage=False), units)
    trial = build_trial(material, ties_for(material))
    return Made(sheet_path=sheet_path, trial=trial, results=compute_results(trial))


@pytest.fixture(scope="session")
def cache_folder(common_folder: Path) -> Iterator[Path]:
    """The cache that is common to all tests here, for what is made once."""
    folder = common_folder / "cache"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TRIALREEL_CACHE", str(folder))
        yield folder


@pytest.fixture(autouse=True)
def parsed_once(common_cache: None) -> None:
    """What the product parsed of the demo's logs is what all tests begin with. Those that spoil a
    reader take a fresh cache."""


@pytest.fixture(scope="session")
def demo(cache_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Made:
    """The demo's day without its films."""
    made = make_demo(tmp_path_factory.mktemp("demo"), part="day", footage=False)
    return made_of(made.sheet)


@pytest.fixture(scope="session")
def work(cache_folder: Path) -> Callable[..., Made]:
    """A trial of any sheet, for readers of any units."""
    return made_of
