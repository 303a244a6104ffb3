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
    if clip.suffix.lower() not in IN_PLACE:
        return (
            f"{clip.name} keeps its tag {NOT_AUDITED!r}: only {' and '.join(IN_PLACE)} are marked."
        )
    if _exchange(clip, NOT_AUDITED, AUDITED):
        return f"{clip.name} is marked {AUDITED!r}."
    if _has(clip, AUDITED):
        return f"{clip.name} is marked {AUDITED!r} already."
    return f"{clip.name} has no tag {NOT_AUDITED!r}, and is left as it is."


def take_back(clip: Path) -> None:
    """Undo a mark, if it is there."""
    if clip.suffix.lower() in IN_PLACE:
        _exchange(clip, AUDITED, NOT_AUDITED)


def _exchange(clip: Path, old: str, new: str) -> bool:
    """Write one tag over the other, letter for letter; whether it was there."""
    assert len(old) == len(new)
    try:
        with clip.open("r+b") as file, mmap.mmap(file.fileno(), 0) as content:
            place = _place(content, old)
            if place is None:
                return False
            content[place : place + len(new)] = new.encode()
            content.flush()
    except OSError as error:
        raise OutputError(
            f"the tag of this clip cannot be written ({error.strerror})",
            path=clip,
            advice="copy it to where you may write",
        ) from error
    return True


def _has(clip: Path, tag: str) -> bool:
    with clip.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        return _place(content, tag) is not None


def _place(content: mmap.mmap, tag: str) -> int | None:
    """Where a tag stands: behind the program's name, in the one place where that is."""
    wanted = f"; {tag}".encode()
    first = content.find(wanted)
    if first < 0 or content.find(wanted, first + 1) >= 0:
        return None
    before = content[max(0, first - 40) : first]
    return first + 2 if b"trialreel " in before else None
