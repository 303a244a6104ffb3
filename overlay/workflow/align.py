"""`trialreel align`: clues from sound, stamps, marks and typed times, and the ties they make.

What looks for clues takes a fifth of a command's start, and most commands find the ties made: it is
imported where it is needed.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import SheetError
from overlay.trial import Material, footage_clock, read_material
from overlay.workflow.files import write_json
from overlay.workflow.hashes import input_stamps
from overlay.workflow.locate import find_sheet, ties_path
from sync.clock import UTC, utc_text
from sync.clue import Clue
from sync.tie import Ties, solve
from sync.ties_file import document, from_document

if TYPE_CHECKING:
    from overlay.sheet import TrialSheet
    from overlay.workflow.evidence.senses import Senses

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignOutcome:
    """All clues, the ties that follow, and the sidecar that keeps them.

    `wanted` names the clocks that were asked about; where one of them has no tie, the
    question has no answer. `pictures` show, for each recording that is tied, what is heard in it
    with what its tie would have there.
    """

    wanted: tuple[str, ...]
    clues: tuple[Clue, ...]
    remarks: Mapping[str, tuple[str, ...]]
    ties: Ties
    path: Path
    pictures: tuple[Path, ...] = ()

    @property
    def refused(self) -> tuple[str, ...]:
        """The clocks that were asked about and have no tie."""
        return tuple(clock for clock in self.wanted if clock in self.ties.refused)


def align(sheet: Path, recording: str | None = None) -> AlignOutcome:
    """Look for clues, solve for all ties, write them beside the sheet and draw them.

    Raises
    ------
    SheetError
        Where the sheet does not list the recording.
    """
    return align_and_draw(read_material(find_sheet(sheet)), recording)


def align_and_draw(material: Material, recording: str | None = None) -> AlignOutcome:
    """The same for what has been read already."""
    from overlay.workflow.evidence.senses import Senses
    from overlay.workflow.tie_pictures import tie_pictures

    senses = Senses()
    outcome = align_material(material, recording, senses)
    return replace(outcome, pictures=tie_pictures(material, outcome.ties, senses))


def align_material(
    material: Material, recording: str | None = None, senses: Senses | None = None
) -> AlignOutcome:
    """Clues and ties, written beside the sheet, without the pictures."""
    from overlay.workflow.evidence.search import search

    if recording is None:
        names = tuple(entry.name for entry in material.sheet.recordings)
    else:
        names = (recording_of(material.sheet, recording, material.sheet_path),)
    found = search(material, senses)
    ties = found.ties
    for clock, tie in ties.by_clock.items():
        _log.info("%s: zero at %s ± %.4f s", clock, utc_text(tie.map.offset_s, 4), tie.sd_s)
    path = ties_path(material.sheet_path)
    write_json(path, {**document(ties), "inputs": input_stamps(material)})
    logs = tuple(log.clock for log in material.logs.values() if log.clock != UTC)
    wanted = (*(footage_clock(name) for name in names), *(() if recording else logs))
    return AlignOutcome(
        wanted=wanted,
        clues=found.clues,
        remarks={clock: finding.remarks for clock, finding in found.findings.items()},
        ties=ties,
        path=path,
    )


def ties_for(material: Material) -> Ties:
    """The ties of a trial: from the sidecar where nothing has changed since, else found anew.

    Where the material holds no footage, the ties are those of the logs alone.
    """
    kept = kept_ties(material)
    if kept is not None:
        return kept
    if material.footage:
        return align_material(material).ties
    from overlay.workflow.evidence.search import find_clues

    clues = [clue for finding in find_clues(material).values() for clue in finding.clues]
    return solve([log.clock for log in material.logs.values()], clues, {})


def kept_ties(material: Material) -> Ties | None:
    """The ties in the sidecar, where nothing has changed since they were found."""
    path = ties_path(material.sheet_path)
    try:
        given = json.loads(path.read_text(encoding="utf-8"))
        kept = dict(given["inputs"])
        now = input_stamps(material)
        if all(kept.get(name) == stamp for name, stamp in now.items()):
            return from_document(given)
    except (OSError, ValueError, KeyError, TypeError):
        pass  # no sidecar, or none that can be used: it is made again
    return None


def recording_of(sheet: TrialSheet, name: str, path: Path) -> str:
    """The recording that a name means, be it a recording's, a clip's or a file's."""
    for clip in sheet.clips:
        if clip.name == name and clip.recording != name:
            return clip.recording
    for entry in sheet.recordings:
        if name == entry.name or name in entry.files or name in [Path(f).name for f in entry.files]:
            return entry.name
    raise SheetError(
        f"there is no recording or clip called {name!r}",
        path=path,
        allowed=tuple(entry.name for entry in sheet.recordings),
    )
