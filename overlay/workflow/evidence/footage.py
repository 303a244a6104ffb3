"""Looking for clues in one recording: what is written of it, heard in it, and seen in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.sheet.recording import Recording
from overlay.trial import Material
from overlay.workflow.evidence.heard import heard_clues, told
from overlay.workflow.evidence.seen import seen_clues
from overlay.workflow.evidence.written import written_clues
from sync.clue import Finding

if TYPE_CHECKING:
    from overlay.workflow.evidence.logs import Logged
    from sync.media import Footage


def footage_clues(
    material: Material, entry: Recording, footage: Footage, logged: Logged
) -> Finding:
    """Everything that one recording tells about its clock."""
    written = written_clues(material, entry, footage, logged.senses)
    heard = heard_clues(material, entry, footage, written, logged)
    seen = seen_clues(entry, footage, written, written.clues + heard.clues, logged)
    return written + told(heard, seen)
