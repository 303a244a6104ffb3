"""A bar: a number over a chart's scale bar, filled from zero up to the value.

The rated band is hatched in magenta, and a fine magenta line stays at the greatest value
since the run began. Where the scale spans zero, the bar fills either way from it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Any

from overlay.graphics import shapes
from overlay.graphics.instruments.base import Kind, Part
from overlay.graphics.instruments.bench import Bench, Box, Size
from overlay.graphics.instruments.gauge import Gauge
from overlay.graphics.instruments.scale import scale_for
from overlay.graphics.instruments.scale_bar import ScaleBar, hatch_band
from overlay.graphics.instruments.sketch import Numeral, Sketch
from overlay.graphics.layer import Layer
from overlay.graphics.spec_file import Key

LENGTH = 0.40
"""Length of the scale bar; these are shares of the short side."""

TRACK = 0.034
"""Height of the track over the scale bar, where the bar fills and the band is hatched."""

FILL = 0.56
"""How much of the track the bar fills, from the scale bar upwards: the hatching of the rated
band and the greatest value are seen above it."""

ROW_GAP = 0.014
LABEL_GAP = 0.024
UNIT_GAP = 0.010

LINE = 0.005
"""Width of the lines at the value and at the greatest value."""

HELD_OVER = 0.006
"""How far the line at the greatest value stands out over the track, to be told from hatching."""

STEPS_A_PX = 4
"""How finely the bar moves: to a quarter of a pixel."""

CHANNELS = (
    "engine_speed",
    "speed",
    "water_speed",
    "fuel_flow",
    "throttle",
    "turn_rate",
    "trim",
)


class Bar(Gauge):
    """A bar that fills its track from zero to the value."""

    def __init__(self, sketch: Sketch, numeral: Numeral, bar: ScaleBar, top: int) -> None:
        super().__init__(sketch, numeral)
        self._bar = bar
        self._top = top

    def step(self, shown: float) -> int:
        """See `Gauge.step`."""
        return round(self._bar.x(shown) * STEPS_A_PX)

    def paint(self, layer: Layer, key: Any) -> None:
        """See `Part.paint`."""
        text, value, held = key
        bench, line = self.bench, self.bench.px(LINE)
        track_px = bench.px(TRACK)
        fill_top, fill_px = _filled(bench, self._top)
        if value is not None:
            x, zero = value / STEPS_A_PX, self._bar.x(0.0)
            fill = shapes.rectangle(min(x, zero), fill_top, abs(x - zero), fill_px)
            layer.cover(fill, bench.colour("shallow"))
        if held is not None:
            left = held / STEPS_A_PX - line / 2
            over = bench.px(HELD_OVER)
            mask = shapes.rectangle(left, self._top - over, line, track_px + over)
            layer.cover(mask, bench.colour("magenta_text"))
        if value is not None:
            head = shapes.rectangle(x - line / 2, fill_top, line, fill_px)
            layer.cover(head, bench.colour("cream"))
        self._numeral.paint(layer, text)


def _filled(bench: Bench, top: int) -> tuple[int, int]:
    """The uppermost row that is filled in a track, and how many there are."""
    track_px = bench.px(TRACK)
    fill_px = round(FILL * track_px)
    return top + track_px - fill_px, fill_px


def engrave_track(sketch: Sketch, bar: ScaleBar, top: int, item: str = "value") -> None:
    """A track with its rated band, and where the end of the filling is to be seen on it."""
    bench, height = sketch.bench, sketch.bench.px(TRACK)
    mask = shapes.rectangle(bar.left_px, top, bar.right_px - bar.left_px, height)
    sketch.fill(mask, "engraving", 0.22)
    hatch_band(sketch, bar, top, height)
    fill_top, fill_px = _filled(bench, top)
    sketch.pointer(
        ((bar.left_px, fill_top), (bar.right_px, fill_top)),
        item=item,
        path="line",
        mark="middle",
        reach_px=(0.0, float(fill_px)),
        low=bar.scale.low,
        high=bar.scale.high,
        unit=bench.how.unit,
        quantity=bench.how.quantity,
        colour="cream",
    )


def _bar(bench: Bench, width: int) -> ScaleBar:
    return ScaleBar(
        scale=scale_for(bench), left_px=bench.padding_px, right_px=width - bench.padding_px
    )


def size(bench: Bench) -> Size:
    """Room for label, number and unit in a row over track, scale bar and numerals."""
    number = bench.face("second").line(bench.how.widest()).advance_px + bench.px(UNIT_GAP)
    row = bench.label_width(bench.label) + bench.px(LABEL_GAP) + number
    row += bench.face("unit").line(bench.how.unit).advance_px
    width = max(bench.px(LENGTH), row) + 2 * bench.padding_px
    width = max(width, bench.least_width_px)
    height = bench.face("second").cap_px + bench.px(ROW_GAP) + bench.px(TRACK)
    height += _bar(bench, width).height_px(bench) + 2 * bench.padding_px
    return width + width % 2, height + height % 2


def parts(bench: Bench, box: Box) -> tuple[Part, ...]:
    """The plate with its scale bar, and bar and number on it."""
    sketch, bar = Sketch(bench, box), _bar(bench, box[2])
    sketch.plate()
    baseline = bench.padding_px + bench.face("second").cap_px
    sketch.label(bench.label, bench.padding_px, baseline)
    edge = box[2] - bench.padding_px - bench.face("unit").line(bench.how.unit).advance_px
    sketch.text(bench.how.unit, edge, baseline, "unit")
    numeral = Numeral(sketch, "second", edge - bench.px(UNIT_GAP), baseline)
    top = baseline + bench.px(ROW_GAP)
    engrave_track(sketch, bar, top)
    bar.engrave(sketch, top + bench.px(TRACK))
    return (Bar(sketch, numeral, bar, top),)


KIND = Kind(
    name="bar",
    text="one channel as a bar on a chart's scale bar, with its number, its rated band hatched",
    channels=CHANNELS,
    size=size,
    parts=parts,
    options=MappingProxyType(
        {
            "scale": Key(
                kind=list, rising=True, text="the ends of the scale, in the unit that is shown"
            ),
            "held": Key(kind=bool, default=True, text="whether the greatest value stays marked"),
        }
    ),
)
