"""What an audit works with, and how it looks at pictures."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from overlay.audit.comparing import eager
from overlay.audit.comparing.readers import two_readers
from overlay.audit.reading import Placement, Readings, read_clip
from overlay.workflow.progress import Progress, nobody

if TYPE_CHECKING:
    from overlay.audit.comparing import Frames
    from overlay.ledger import Layout
    from overlay.trial import Material
    from sync.media import Footage
    from sync.tie import Ties

Reader = Literal["glyphs", "tesseract", "both"]

SECOND_EVERY_S = 1.0
"""The second reader of two is slow, and looks at so few frames."""

AS_RENDERED = Placement()


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditWish:
    """What is asked of an audit.

    Parameters
    ----------
    every_s
        Look at a frame every so many seconds; at all without it.
    reader
        Which reader looks; of `both` the second is held against the first.
    claims
        A file of claims.
    """

    every_s: float | None = None
    reader: Reader = "glyphs"
    claims: Path | None = None


AS_USUAL = AuditWish()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Job:
    """A trial that a film is held against, and how. `said` are sentences on two readers."""

    material: Material
    ties: Ties
    wish: AuditWish = AS_USUAL
    progress: Progress = nobody
    said: list[str] = field(default_factory=list)

    @property
    def readers(self) -> tuple[str, ...]:
        """Who looked, and how far they agree."""
        names = ("glyphs", "tesseract") if self.wish.reader == "both" else (self.wish.reader,)
        return (*names, *self.said)

    def read(
        self,
        film: Footage,
        layout: Layout,
        frames: Frames,
        name: str,
        *,
        place: Placement = AS_RENDERED,
    ) -> Readings:
        """What stands on the frames of a piece.

        Raises
        ------
        RenderError
            Where a font is not what it was, or a reader is not installed.
        FootageError
            Where the film cannot be decoded.
        """
        only = range(int(frames.number[0]), int(frames.number[-1]) + 1)

        def look(reader: str, every_s: float | None) -> Readings:
            return read_clip(
                film,
                eager(layout),
                every_s=every_s,
                frames=only,
                place=place,
                reader=reader,
                clock=frames.utc_of,
                folders=(self.material.folder,),
                progress=lambda done, total: self.progress(f"read {name}", done, total),
            )

        if self.wish.reader != "both":
            return look(self.wish.reader, self.wish.every_s)
        found = look("glyphs", self.wish.every_s)
        second = look("tesseract", max(SECOND_EVERY_S, self.wish.every_s or 0.0))
        self.said.append(f"{name}: {two_readers(found, second)}")
        return found

    def labels_read(
        self, film: Footage, layout: Layout, frames: Frames, place: Placement
    ) -> tuple[float, float]:
        """Which share of a render's labels is read on frames as they are written, and how surely at
        the median; whichever reader was asked for, for this says only what it is that is there."""
        quick = Job(material=self.material, ties=self.ties)
        found = quick.read(film, layout, frames, "", place=place)
        stills = found.texts[found.texts["kind"] == "still"]
        if stills.empty:
            return 0.0, 0.0
        wanted = [layout.stills[index].text for index in stills["index"]]
        right = stills["text"].to_numpy(object) == np.array(wanted, object)
        return float(right.mean()), float(stills["confidence"].median())
