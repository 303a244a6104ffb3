"""Which clips a command asks for, and where each lies on its recording."""

from __future__ import annotations

from typing import Any

from overlay.errors import SheetError
from overlay.sheet.fields import safe_name
from overlay.sheet.model import Clip
from overlay.trial import Material
from overlay.workflow.instants import footage_instant
from overlay.workflow.wishes import Wish
from sync.clock import ClockMap
from sync.media import Footage, FrameTimes


def wanted(material: Material, name: str | None, wish: Wish) -> list[Clip]:
    """The clips of a sheet that are asked for, with what the wish says of them in place.

    Raises
    ------
    SheetError
        Where the sheet has no such clip or recording, or no clip at all.
    """
    return [_wished(clip, wish) for clip in _named(material, name)]


def _named(material: Material, name: str | None) -> list[Clip]:
    clips = material.sheet.clips
    if name is None:
        if not clips:
            raise SheetError(
                "the sheet lists no clips",
                path=material.sheet_path,
                advice="add one under [[clips]], or name a recording to render all of it",
            )
        return clips
    for entry in clips:
        if entry.name == name:
            return [entry]
    recordings = [entry.name for entry in material.sheet.recordings]
    if name in recordings:
        return [Clip(name=name, recording=name, whole=True)]
    raise SheetError(
        f"there is no clip or recording called {name!r}",
        path=material.sheet_path,
        key="clips",
        allowed=tuple(dict.fromkeys([*(entry.name for entry in clips), *recordings])),
    )


def _wished(clip: Clip, wish: Wish) -> Clip:
    changed: dict[str, Any] = {}
    if wish.handles_s is not None:
        changed |= {"lead_in": wish.handles_s, "lead_out": wish.handles_s}
    if wish.start is not None or wish.stop is not None:
        ends = f"{wish.start or 'start'}-{wish.stop or 'end'}"
        changed |= {"name": f"{clip.name}-{safe_name(ends.replace(' ', ''))}", "file": None}
    if clip.file is None and wish.encoder == "prores":
        changed |= {"file": f"clips/{safe_name(changed.get('name', clip.name))}.mov"}
    return clip.model_copy(update=changed)


def placed_by(
    wish: Wish,
    clip: Clip,
    footage: Footage,
    times: FrameTimes,
    to_utc: ClockMap,
    time_zone: str | None,
) -> Clip:
    """A clip with the instants in place that the wish names on its recording."""
    ends = {
        end: footage_instant(text, footage, times, to_utc, time_zone)
        for end, text in (("start", wish.start), ("stop", wish.stop))
        if text is not None
    }
    return clip.model_copy(update=ends)
