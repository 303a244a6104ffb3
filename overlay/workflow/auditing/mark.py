"""The small tag in a clip's metadata that says whether somebody has held it against the logs."""

from __future__ import annotations

import mmap
from pathlib import Path

from overlay.errors import OutputError
from overlay.workflow.clip_facts import NOT_AUDITED

AUDITED = "audited, agrees"
"""Takes the place of `NOT_AUDITED`, letter for letter, so that nothing else in the file moves."""

IN_PLACE = (".mp4", ".mov")
"""Other containers keep checksums over their tags."""


def mark_audited(clip: Path) -> str:
    """Write into a clip that it was audited and agrees; returns what was done, in a sentence.

    Raises
    ------
    OutputError
        Where the clip cannot be written to.
    """
    assert len(AUDITED) == len(NOT_AUDITED)
    if clip.suffix.lower() not in IN_PLACE:
        return (
            f"{clip.name} keeps its tag {NOT_AUDITED!r}: only {' and '.join(IN_PLACE)} are marked."
        )
    try:
        with clip.open("r+b") as file, mmap.mmap(file.fileno(), 0) as content:
            place = _place(content)
            if place is None:
                return f"{clip.name} has no tag {NOT_AUDITED!r}, and is left as it is."
            content[place : place + len(AUDITED)] = AUDITED.encode()
            content.flush()
    except OSError as error:
        raise OutputError(
            f"the tag of this clip cannot be written ({error.strerror})",
            path=clip,
            advice="copy it to where you may write",
        ) from error
    return f"{clip.name} is marked {AUDITED!r}."


def _place(content: mmap.mmap) -> int | None:
    """Where the tag stands: behind the program's name, in the one place where that is."""
    wanted = f"; {NOT_AUDITED}".encode()
    first = content.find(wanted)
    if first < 0 or content.find(wanted, first + 1) >= 0:
        return None
    before = content[max(0, first - 40) : first]
    return first + 2 if b"trialreel " in before else None
