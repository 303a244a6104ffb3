"""What stands beside a number, held against the faceplate and the channel that it shows.

Picture and ledger could both name a number wrongly. The faceplate's own label, or else the
channel's, is what ought to stand there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from overlay.audit.verdict import Disagreement
from overlay.figures import figure
from overlay.graphics.faceplate import load_faceplate
from overlay.workflow.clip_facts import units_told
from sync.errors import TrialReelError

if TYPE_CHECKING:
    from overlay.audit.comparing import Frames
    from overlay.trial import Material
    from overlay.workflow.auditing.rendered import Rendered


def wrong_labels(render: Rendered, frames: Frames, material: Material) -> tuple[Disagreement, ...]:
    """Instruments of a render whose label is not that of what they show."""
    told = str(render.facts.get("faceplate", ""))
    try:
        faceplate = load_faceplate(material.folder / told if told.endswith(".toml") else told)
    except TrialReelError:
        return ()  # the inputs say that it is gone
    units, found = units_told(render.facts, material), []
    for spec in faceplate.instruments:
        mine = {one.text for one in render.layout.stills if one.instrument == spec.name}
        if not spec.channel or not mine:
            continue
        wanted = (spec.label or figure(spec.channel, units).label).upper()
        if wanted not in mine:
            found.append(_wrong(spec.name, sorted(mine), wanted, frames))
    return tuple(found)


def _wrong(instrument: str, has: list[str], wanted: str, frames: Frames) -> Disagreement:
    return Disagreement(
        sort="label",
        instrument=instrument,
        item="label",
        frames=(int(frames.number[0]), int(frames.number[-1])),
        t_film_s=float(frames.t_film_s[0]),
        t_utc_s=float(frames.t_utc_s[0]),
        read=None,
        ledger=", ".join(has),
        logs=wanted,
        pairs=(("ledger", "logs"),),
        sentence=f"{instrument} is labelled {', '.join(has)}, and what it shows is {wanted}.",
    )
