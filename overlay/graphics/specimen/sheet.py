"""One picture of all instruments and faceplates."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from overlay.figures import figure
from overlay.graphics.faceplate import Faceplate, InstrumentSpec, load_faceplate
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.layer import Planes
from overlay.graphics.lettering import Lettering
from overlay.graphics.picture import Picture
from overlay.graphics.plan import Plan, compile_plan
from overlay.graphics.specimen import subjects
from overlay.graphics.subject import Subject
from overlay.graphics.theme import load_theme
from sync.units import to_si

Pixels = NDArray[np.uint8]

HD = Picture(width_px=1280, height_px=720)
SHAPES = (HD, Picture(width_px=720, height_px=1280), Picture(width_px=720, height_px=720))
WIDTH_PX, GAP_PX = 2080, 40
WATER, PAPER, INK = (143, 170, 186), (250, 246, 234), (16, 36, 62)
HEAD_CAP_PX, TEXT_CAP_PX = 26, 15
HIGH_PX = {"wide": 440, "upright": 560, "square": 440}
"""How high a faceplate is shown, by the shape of its picture."""

STATES = ("as it goes", "greatest held", "beyond its scale", "no value")
FACEPLATES: Mapping[str, float] = MappingProxyType(
    {"launch": 11.0, "twin": 11.0, "step": 81.0, "top_speed": 81.0, "turn": 25.5, "quiet": 7.0}
)
"""Every faceplate that comes with the project, and the second of its run that is shown."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cell:
    """A picture with the words under it."""

    pixels: Pixels
    text: str


def specimen() -> Pixels:
    """All of it [shape=(height, width, 3), R'G'B' codes]."""
    rows = [_heading("Instruments")]
    for kind in INSTRUMENTS:
        rows.append(_heading(f"{kind}: {INSTRUMENTS[kind].text}", TEXT_CAP_PX))
        rows.append(_row(list(_states(kind))))
    rows.append(_heading("Faceplates"))
    for name, at_s in FACEPLATES.items():
        faceplate = load_faceplate(name)
        rows.append(_heading(f"{name}: {faceplate.text}", TEXT_CAP_PX))
        shapes = (_shape(name, faceplate, picture, at_s) for picture in SHAPES)
        rows.append(_row(list(shapes)))
    return np.concatenate(rows, axis=0)


def _states(kind: str) -> Iterator[Cell]:
    """One instrument in all its states; of what shows the run there is the middle and the end."""
    name, subject = _channel(kind), _subject(kind)
    if not name:
        run = subject.run
        for share, text in ((0.55, "under way"), (1.05, "done")):
            at = run.start_utc_s + share * (run.stop_utc_s - run.start_utc_s)
            yield Cell(pixels=_alone(kind, name, subject, at), text=text)
        return
    for state in STATES:
        at = subjects.T0 + {"as it goes": 3.1}.get(state, 9.5)
        yield Cell(pixels=_alone(kind, name, _in_state(subject, name, state), at), text=state)


def _channel(kind: str) -> str:
    """The channel that an instrument is shown with."""
    allowed = INSTRUMENTS[kind].channels
    wanted = ("engine_speed", "pitch", "speed", "fuel_flow")
    return next((name for name in wanted if name in allowed), allowed[0] if allowed else "")


def _subject(kind: str) -> Subject:
    made = {"bracket": subjects.step, "heading_arc": subjects.turn}
    return made.get(kind, subjects.launch)()


def _in_state(subject: Subject, name: str, state: str) -> Subject:
    """The subject with a channel as a state has it."""
    signals = dict(subject.signals)
    for key in [key for key in signals if key.partition(".")[0] == name]:
        channel = signals[key].channel
        since = channel.t_s - subjects.T0
        how = figure(name, subject.units)
        values = channel.values.copy()
        if state == "greatest held":
            values *= np.where(since > 7.0, 0.55, 1.0)
        elif state == "beyond its scale":
            values[since > 8.0] = to_si(how.greatest, how.unit, how.quantity)
        elif state == "no value":
            values[:] = math.nan
        signals[key] = replace(signals[key], channel=replace(channel, values=values))
    return replace(subject, signals=signals)


def _alone(kind: str, channel: str, subject: Subject, t_utc_s: float) -> Pixels:
    """One instrument on water, cut out with some room about it."""
    options = {key: key_spec.default for key, key_spec in INSTRUMENTS[kind].options.items()}
    wide = 0.56 if not channel and kind == "neatline" else 0.0
    spec = InstrumentSpec(
        name="it", kind=kind, channel=channel, if_missing="show_empty", options=options, width=wide
    )
    plan = compile_plan(Faceplate(name="one", instruments=(spec,)), picture=HD, subject=subject)
    pixels = _drawn(plan, t_utc_s)
    left, top, width, height = plan.boxes["it"]
    room = 14
    return pixels[top - room : top + height + room, left - room : left + width + room]


def _shape(name: str, faceplate: Faceplate, picture: Picture, at_s: float) -> Cell:
    made = {"step": subjects.step, "top_speed": lambda: subjects.step(kind="top speed"),
            "turn": subjects.turn}  # fmt: skip
    plan = compile_plan(faceplate, picture=picture, subject=made.get(name, subjects.launch)())
    pixels = _drawn(plan, subjects.T0 + at_s)
    share = HIGH_PX[picture.shape] / picture.height_px
    return Cell(pixels=_resized(pixels, share), text=picture.shape)


def _resized(pixels: Pixels, share: float) -> Pixels:
    import cv2

    size = (round(pixels.shape[1] * share), round(pixels.shape[0] * share))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _drawn(plan: Plan, t_utc_s: float) -> Pixels:
    """A plan on calm water, in red, green and blue."""
    picture = plan.picture
    ground = picture.yuv(WATER)
    planes: Planes = (
        np.full((picture.height_px, picture.width_px), ground.y, np.uint8),
        np.full(picture.chroma_shape, ground.u, np.uint8),
        np.full(picture.chroma_shape, ground.v, np.uint8),
    )
    plan.draw(planes, t_utc_s)
    return picture.rgb(planes)


def _row(cells: list[Cell]) -> Pixels:
    """Cells beside each other, in as many rows as they need, each over its words."""
    lines: list[list[Cell]] = [[]]
    used = GAP_PX
    for cell in cells:
        width = cell.pixels.shape[1] + GAP_PX
        if lines[-1] and used + width > WIDTH_PX:
            lines.append([])
            used = GAP_PX
        lines[-1].append(cell)
        used += width
    return np.concatenate([_line(line) for line in lines], axis=0)


def _line(cells: list[Cell]) -> Pixels:
    high = max(cell.pixels.shape[0] for cell in cells)
    out = _paper(high + TEXT_CAP_PX + 34)
    left = GAP_PX
    for cell in cells:
        height, width, _ = cell.pixels.shape
        out[high - height : high, left : left + width] = cell.pixels
        _write(out, cell.text, left, high + TEXT_CAP_PX + 10, TEXT_CAP_PX, "plain")
        left += width + GAP_PX
    return out


def _heading(text: str, cap_px: int = HEAD_CAP_PX) -> Pixels:
    out = _paper(2 * cap_px + 14)
    weight = "strong" if cap_px == HEAD_CAP_PX else "plain"
    _write(out, text, GAP_PX, cap_px + cap_px // 2 + 6, cap_px, weight)
    return out


def _paper(height_px: int) -> Pixels:
    return np.full((height_px, WIDTH_PX, 3), PAPER, np.uint8)


def _write(out: Pixels, text: str, x: int, baseline: int, cap_px: int, weight: str) -> None:
    """A line of text in ink."""
    ink = _LETTERING.face(weight, cap_px).line(text).at(x, baseline)
    left, top, width, height = ink.box
    window = out[top : top + height, left : left + width]
    share = ink.alpha[: window.shape[0], : window.shape[1], None] / 255.0
    window[:] = np.rint(window * (1 - share) + np.array(INK) * share).astype(np.uint8)


_LETTERING = Lettering(load_theme("chart").fonts)
