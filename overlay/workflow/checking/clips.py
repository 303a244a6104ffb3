"""Clips of the sheet that cannot be made, and why."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches

from overlay.analysis.results import Results
from overlay.errors import FaceplateError
from overlay.graphics.faceplate import load_faceplate
from overlay.trial import Trial
from overlay.workflow.checking.runs import Films, shot
from overlay.workflow.checking.words import names
from overlay.workflow.filmed import in_film, runs_of
from overlay.workflow.outputs import faceplate_name


def cannot_be_made(trial: Trial, results: Results, films: Films) -> Iterator[str]:
    """A clause for each: no such faceplate, no such run, a run that was not filmed."""
    runs = {run.name: run for run in runs_of(results)}
    for clip in trial.sheet.clips:
        if clip.faceplate is not None:
            try:
                load_faceplate(faceplate_name(clip, trial.material.folder, ""))
            except FaceplateError as error:
                yield f"the clip {clip.name!r}: {str(error).rstrip('.')}"
        if clip.recording not in films or clip.run is None:
            continue
        if clip.run not in runs:
            launches = [run.name for run in runs.values() if run.kind == "launch"]
            found = get_close_matches(clip.run, runs, n=4, cutoff=0.4) or launches
            there = f"; there are {names(found)}" if found else ""
            yield f"the clip {clip.name!r} wants {clip.run!r}, which was not found{there}"
            continue
        if in_film(runs[clip.run], shot(films[clip.recording])) is None:
            yield (
                f"the clip {clip.name!r} wants {clip.run!r}, and the recording "
                f"{clip.recording!r} has nothing of it"
            )
