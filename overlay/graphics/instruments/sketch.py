"""Drawing a plate: what stays on it, and the places of the numbers that change."""

from __future__ import annotations

from typing import Any

from overlay.analysis.signals import Sample
from overlay.graphics import shapes
from overlay.graphics.instruments.bench import FRAME_INSET, Bench, Box
from overlay.graphics.layer import Layer, Mask
from overlay.ledger import Field, Pointer, Shown, Still

Point = tuple[float, float]

COLOUR = "cream"
"""What numbers are written in."""


class Sketch:
    """The still layer of a part while it is being drawn, and the texts that stand on it."""

    def __init__(self, bench: Bench, box: Box) -> None:
        self.bench = bench
        self.box = box
        self.layer = Layer.of(bench.picture, box[2], box[3])
        self.texts: list[Still] = []
        self.fields: list[Field] = []
        self.pointers: list[Pointer] = []

    def fill(self, mask: Mask, colour: str, opacity: float = 1.0) -> None:
        """Lay a mask over the layer in a colour of the theme."""
        self.layer.cover(mask, self.bench.colour(colour), opacity)

    def plate(self) -> None:
        """An ink-blue plate with a hairline inside its edge, as a chart has."""
        _, _, width, height = self.box
        self.fill(shapes.rectangle(0, 0, width, height), "ink", self.bench.theme.opacity)
        self.frame(self.bench.px(FRAME_INSET))

    def frame(self, inset: int) -> None:
        """A hairline at some distance inside the edge."""
        line = self.bench.hairline_px
        _, _, width, height = self.box
        across, down = width - 2 * inset, height - 2 * inset - 2 * line
        for mask in (
            shapes.rectangle(inset, inset, across, line),
            shapes.rectangle(inset, height - inset - line, across, line),
            shapes.rectangle(inset, inset + line, line, down),
            shapes.rectangle(width - inset - line, inset + line, line, down),
        ):
            self.fill(mask, "engraving")

    def text(
        self,
        text: str,
        x: int,
        baseline: int,
        role: str,
        *,
        colour: str = "cream",
        ground: str = "ink",
        tracking_px: int = 0,
    ) -> int:
        """A text from a place on its baseline; returns where the next letter would stand."""
        face = self.bench.face(role)
        line = face.line(text, tracking_px)
        ink = line.at(x, baseline)
        if not ink.alpha.size:
            return x + line.advance_px
        self.fill(ink, colour)
        left, top, width, height = ink.box
        self.texts.append(
            Still(
                instrument=self.bench.name,
                text=text,
                left_px=self.box[0] + x,
                baseline_px=self.box[1] + baseline,
                tracking_px=tracking_px,
                box_px=(self.box[0] + left, self.box[1] + top, width, height),
                font=face.file_name,
                size_px=face.size_px,
                colour=colour,
                ground=ground,
            )
        )
        return x + line.advance_px

    def pointer(self, ends_px: tuple[Point, Point], **told: Any) -> None:
        """Say where a mark will stand on a scale; the ends count from the sketch's corner."""
        left, top = self.box[:2]
        moved = tuple((left + x, top + y) for x, y in ends_px)
        place = Pointer(instrument=self.bench.name, ends_px=(moved[0], moved[1]), **told)
        self.pointers.append(place)

    def label(self, text: str, x: int, baseline: int) -> int:
        """A label: capitals, a little apart."""
        return self.text(
            text.upper(), x, baseline, "label", colour="buff", tracking_px=self.bench.tracking_px
        )


class Numeral:
    """A place for a changing number, flush right, so that its columns stay where they are.

    Parameters
    ----------
    item
        What the ledger calls the number.
    ground
        What it stands on.
    left
        Where on the sketch it has room from: what stands before that is no digit.
    """

    def __init__(
        self,
        sketch: Sketch,
        role: str,
        right: int,
        baseline: int,
        *,
        item: str = "value",
        ground: str = "ink",
        left: int = 0,
    ) -> None:
        self._bench = sketch.bench
        self._box = sketch.box
        self._face = sketch.bench.face(role)
        self._right = right
        self._baseline = baseline
        self._item = item
        self._boxes: dict[str, Box] = {}
        assert self._face.digit_px  # refuses a font whose numerals would dance
        sketch.fields.append(
            Field(
                instrument=self._bench.name,
                item=item,
                right_px=self._box[0] + right,
                baseline_px=self._box[1] + baseline,
                plate_px=(self._box[0] + left, self._box[1], self._box[2] - left, self._box[3]),
                font=self._face.file_name,
                size_px=self._face.size_px,
                colour=COLOUR,
                ground=ground,
            )
        )

    def mask(self, text: str) -> Mask:
        """The ink of a text at this place."""
        line = self._face.line(text)
        return line.at(self._right - line.advance_px, self._baseline)

    def paint(self, layer: Layer, text: str) -> None:
        """Lay a text at this place over a layer."""
        layer.cover(self.mask(text), self._bench.colour(COLOUR))

    def shown(self, text: str, sample: Sample, unit: str) -> Shown:
        """The record of a number at this place."""
        if text not in self._boxes:
            left, top, width, height = self.mask(text).box
            self._boxes[text] = (self._box[0] + left, self._box[1] + top, width, height)
        return Shown(
            instrument=self._bench.name,
            item=self._item,
            text=text,
            value=sample.value,
            unit=unit,
            t_shown_s=sample.t_s,
            box_px=self._boxes[text],
            font=self._face.file_name,
            size_px=self._face.size_px,
        )
