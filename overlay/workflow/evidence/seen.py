"""What is seen in a recording: a lamp that flashes, and how the picture turns with the boat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.sheet.recording import Recording
from overlay.trial import footage_clock
from overlay.workflow.evidence.heard import elsewhere
from overlay.workflow.evidence.looking import look_at
from overlay.workflow.evidence.places import on_utc, windows_on
from overlay.workflow.evidence.ways import aboard
from sync.clock import UTC
from sync.clue import Clue, Finding
from sync.clues import Watch, lamp_clues, picture_motion_clues, visible
from sync.errors import FootageError
from sync.media import frame_times

if TYPE_CHECKING:
    from overlay.workflow.evidence.logs import Logged
    from sync.clues import Watched
    from sync.media import Footage


def seen_clues(
    entry: Recording, footage: Footage, written: Finding, others: tuple[Clue, ...], logged: Logged
) -> Finding:
    """What the picture says of the recording's clock.

    Nothing is looked for in slow motion, nor the boat's turning from where the camera was not
    aboard.

    Parameters
    ----------
    written
        What stamps, timecode and typed ties say.
    others
        Those and all other clues to the recording's clock, which may lead to a lamp.
    """
    lamps = visible(logged.marks)
    turning = logged.turning if aboard(entry) and not elsewhere(written) else ()
    if entry.slow_motion is not None or not (lamps or turning):
        return Finding()
    carried = tuple(on for clue in others for on in on_utc(clue, logged.ties))
    near = tuple(clue for clue in carried if not clue.hint) or carried
    first = turning[0] if turning else ()
    look = look_at(
        frame_times(footage).span,
        lamps,
        windows_on(near, UTC, logged.ties),
        first,
        windows_on(near, first[0].clock, logged.ties) if first else (),
    )
    if not look.spans:
        return Finding()
    try:
        seen = logged.senses.seen(footage, look)
    except FootageError as error:
        return Finding(remarks=(f"{entry.name} {error.what}, so nothing can be seen",))
    finding = Finding()
    for channels in turning:
        finding += picture_motion_clues(
            clock=footage_clock(entry.name),
            turning=seen.turning,
            channels=channels,
            windows=windows_on(written.clues, channels[0].clock, logged.ties),
        )
    carried += tuple(on for clue in finding.clues for on in on_utc(clue, logged.ties))
    return finding + _lamp(entry, footage, seen, carried, logged)


def _lamp(
    entry: Recording, footage: Footage, seen: Watched, clues: tuple[Clue, ...], logged: Logged
) -> Finding:
    watch = Watch(clock=footage_clock(entry.name), span=frame_times(footage).span)
    hints = [clue for clue in clues if clue.hint]
    leads = [clue for clue in clues if not clue.hint]
    return lamp_clues(watch, seen.flashes, visible(logged.marks), hints, leads)
