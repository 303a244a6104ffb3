"""The chapters of a clip: where its run begins, each mark of it, and where other runs begin."""

from __future__ import annotations

from overlay.analysis.results import Results
from overlay.graphics.subject import RunFace
from overlay.render import Chapter
from overlay.workflow.filmed import runs_of
from sync.clock import ClockMap, Span

NEAREST_S = 0.5
"""Chapters nearer than this to the one before are not worth a jump."""

BEFORE = "before the run"


def chapters_of(
    face: RunFace, results: Results, to_utc: ClockMap, seen: Span
) -> tuple[Chapter, ...]:
    """Chapters on the footage clock; none where no run begins in what is seen.

    Parameters
    ----------
    face
        The run that the clip shows.
    seen
        What of the footage is in the clip.
    """
    to_film = to_utc.inverse()
    begins = [(face.start_utc_s, face.title)] if face.title else []
    begins += [(run.span.start_s, run.name) for run in runs_of(results) if _own(run.name)]
    marks = [(mark.t_utc_s, f"{mark.label}: {mark.text}") for mark in face.marks]
    found: list[Chapter] = []
    for t_utc_s, title in sorted([*dict.fromkeys(begins), *marks], key=lambda entry: entry[0]):
        at_s = to_film.carry(t_utc_s)
        if seen.start_s <= at_s < seen.stop_s and all(title != one.title for one in found):
            found.append(Chapter(t_footage_s=at_s, title=title))
    if not found:
        return ()
    if found[0].t_footage_s - seen.start_s >= NEAREST_S:
        found.insert(0, Chapter(t_footage_s=seen.start_s, title=BEFORE))
    kept = found[:1]
    for chapter in found[1:]:
        if chapter.t_footage_s - kept[-1].t_footage_s >= NEAREST_S:
            kept.append(chapter)
    return tuple(kept)


def _own(name: str) -> bool:
    """Whether a run is one by itself: the passes of a step are, the whole of it is not."""
    return ", pass" in name or name.startswith(("launch", "turn", "stop"))
