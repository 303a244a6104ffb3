"""A plan: a faceplate compiled for one picture and one subject, ready to draw any instant."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from overlay.errors import FaceplateError
from overlay.figures import figure, figure_of
from overlay.graphics.faceplate import Faceplate, InstrumentSpec
from overlay.graphics.instruments import INSTRUMENTS, twin
from overlay.graphics.instruments.base import Part
from overlay.graphics.instruments.bench import Bench, Box
from overlay.graphics.layer import Planes
from overlay.graphics.layout import overlap, place, safe_area
from overlay.graphics.lettering import Lettering
from overlay.graphics.picture import Picture
from overlay.graphics.subject import Subject
from overlay.graphics.theme import Theme, load_theme
from overlay.ledger import Shown, Still

MOST_COVERED = 0.2
"""Share of the picture that instruments should cover at most (design: the look)."""


class Plan:
    """Draws a faceplate onto frames, in place.

    What is drawn at an instant follows from the instant alone; a plan keeps what it painted
    last only to save work, and so belongs to one thread at a time.

    Parameters
    ----------
    picture
        The picture that all frames have.
    boxes
        Left, top, width and height of each instrument, by name.
    left_out
        Why an instrument of the faceplate is not drawn, by name, as a clause.
    definitions
        What each instrument shows and how it follows from the log, by name, for the ledger.
    """

    def __init__(
        self,
        *,
        picture: Picture,
        subject: Subject,
        theme: Theme,
        parts: tuple[Part, ...],
        boxes: Mapping[str, Box],
        left_out: Mapping[str, str],
        definitions: Mapping[str, Mapping[str, object]],
    ) -> None:
        self.picture = picture
        self.theme = theme
        self.parts = parts
        self.boxes = MappingProxyType(dict(boxes))
        self.left_out = MappingProxyType(dict(left_out))
        self.definitions = MappingProxyType(dict(definitions))
        self.run = subject.run

    @property
    def texts(self) -> tuple[Still, ...]:
        """Every text that belongs to a plate and never changes."""
        return tuple(text for part in self.parts for text in part.texts)

    @property
    def covered(self) -> float:
        """Share of the picture under plates and flags once all of them are there."""
        under = np.zeros((self.picture.height_px, self.picture.width_px), np.bool_)
        for part in self.parts:
            left, top, width, height = part.box
            under[top : top + height, left : left + width] |= part.covers
        return float(under.mean())

    @property
    def remarks(self) -> tuple[str, ...]:
        """What the person who chose the faceplate should know, in sentences."""
        told = [f"{name} is left out: {why}." for name, why in self.left_out.items()]
        if self.covered > MOST_COVERED:
            told.append(
                f"The instruments cover {self.covered:.0%} of this picture; "
                f"{MOST_COVERED:.0%} is as much as leaves the boat to be seen."
            )
        return tuple(told)

    def draw(self, planes: Planes, t_utc_s: float) -> tuple[Shown, ...]:
        """Draw what is to be seen at an instant, in place, and say what was shown.

        Parameters
        ----------
        planes
            Y [shape=(height, width)], U and V [as the picture's chroma is], and where the picture
            has coverage, that [as Y]; uint8, or uint16 where it is deeper, and writable.
        t_utc_s
            The instant of the frame, on UTC.
        """
        self._check(planes)
        if not self.run.shown_from_utc_s <= t_utc_s < self.run.shown_to_utc_s:
            return ()
        shown: list[Shown] = []
        for part in self.parts:
            shown.extend(part.draw(planes, t_utc_s))
        return tuple(shown)

    def _check(self, planes: Planes) -> None:
        luma = (self.picture.height_px, self.picture.width_px)
        chroma = self.picture.chroma_shape
        codes = "uint8" if self.picture.depth == 8 else "uint16"
        for name, plane, shape in zip("YUVA", planes, (luma, chroma, chroma, luma), strict=False):
            if plane.shape != shape or plane.dtype != codes:
                raise ValueError(
                    f"the {name} plane is {plane.dtype} {plane.shape}, and the plan is for "
                    f"{codes} {shape}"
                )
            if not plane.flags.writeable:
                raise ValueError(f"the {name} plane cannot be written on; make the frame writable")


def compile_plan(
    faceplate: Faceplate, *, picture: Picture, subject: Subject, theme: Theme | None = None
) -> Plan:
    """Place the instruments of a faceplate on a picture and draw their still layers.

    Raises
    ------
    FaceplateError
        Where an instrument does not fit into the safe area, or two of them overlap.
    """
    theme = theme or load_theme(_theme_beside(faceplate))
    lettering = Lettering(theme.fonts)
    benches: dict[str, Bench] = {}
    left_out: dict[str, str] = {}
    for spec in faceplate.instruments:
        missing = spec.channel and not _logged(spec, subject)
        if missing and spec.if_missing == "leave_out":
            why = f"the trial has no channel {spec.channel}"
            left_out[spec.name] = subject.lacks.get(spec.channel, why)
            continue
        if picture.shape not in spec.shapes:
            left_out[spec.name] = f"the faceplate keeps it off {picture.shape} pictures"
            continue
        benches[spec.name] = _bench(spec, picture, subject, theme, lettering)
    kinds = {spec.name: INSTRUMENTS[spec.kind] for spec in faceplate.instruments}
    sizes: dict[str, tuple[int, int]] = {}
    for spec in faceplate.instruments:
        if spec.name in benches:
            bench = _widened(benches[spec.name], sizes.get(spec.as_wide_as))
            benches[spec.name] = bench
            sizes[spec.name] = kinds[spec.name].size(bench)
    boxes = place(picture, faceplate.instruments, sizes)
    _check_places(faceplate, picture, boxes)
    parts = [part for name, box in boxes.items() for part in kinds[name].parts(benches[name], box)]
    return Plan(
        picture=picture,
        subject=subject,
        theme=theme,
        parts=tuple(parts),
        boxes=boxes,
        left_out=left_out,
        definitions={
            spec.name: _definition(spec, benches[spec.name])
            for spec in faceplate.instruments
            if spec.name in benches
        },
    )


def _logged(spec: InstrumentSpec, subject: Subject) -> bool:
    """Whether the trial has the channel of an instrument, of a twin that of either engine."""
    if INSTRUMENTS[spec.kind].twin:
        name = spec.channel.partition(".")[0]
        return any(key.partition(".")[0] == name for key in subject.signals)
    return spec.channel in subject.signals


def _theme_beside(faceplate: Faceplate) -> str | Path:
    """The theme that a faceplate names: one that comes with the package, or a file whose
    path counts from the faceplate's own."""
    if faceplate.theme.endswith(".toml") and faceplate.path is not None:
        return faceplate.path.parent / faceplate.theme
    return faceplate.theme


def _bench(
    spec: InstrumentSpec,
    picture: Picture,
    subject: Subject,
    theme: Theme,
    lettering: Lettering,
) -> Bench:
    signal = subject.signals.get(spec.channel)
    how = None
    if spec.channel:
        how = (
            figure_of(signal.channel, subject.units)
            if signal
            else figure(spec.channel, subject.units)
        )
        how = replace(how, decimal_sign=subject.decimal_sign)
    return Bench(
        name=spec.name,
        options=spec.options,
        picture=picture,
        theme=theme,
        lettering=lettering,
        subject=subject,
        channel=spec.channel,
        signal=signal,
        figure=how,
        label=spec.label or (how.label if how else ""),
        least_width_px=picture.even(spec.width) if spec.width else 0,
        room_px=safe_area(picture).width,
    )


def _widened(bench: Bench, other: tuple[int, int] | None) -> Bench:
    """A bench whose instrument is at least as wide as another one."""
    if other is None or other[0] <= bench.least_width_px:
        return bench
    return replace(bench, least_width_px=other[0])


def _definition(spec: InstrumentSpec, bench: Bench) -> dict[str, object]:
    """What an instrument shows, and how it follows from the log; of a twin, of each side."""
    told: dict[str, object] = {"kind": spec.kind}
    if INSTRUMENTS[spec.kind].twin:
        return told | {side.item: _channel_told(side.bench) for side in twin.sides(bench)}
    return told | _channel_told(bench)


def _channel_told(bench: Bench) -> dict[str, object]:
    told: dict[str, object] = {}
    if bench.figure is not None:
        told |= {
            "channel": bench.channel,
            "unit": bench.figure.unit,
            "step": str(bench.figure.step),
            "quantity": bench.figure.quantity,
        }
    if bench.signal is not None:
        told |= {"grid_hz": bench.signal.grid_hz, "law": bench.signal.law.text}
    return told


def _check_places(faceplate: Faceplate, picture: Picture, boxes: Mapping[str, Box]) -> None:
    safe = safe_area(picture)
    lines = {spec.name: spec.line for spec in faceplate.instruments}
    size = f"{picture.width_px}x{picture.height_px}"
    done: list[str] = []
    for name, box in boxes.items():
        if not safe.holds(box):
            raise FaceplateError(
                f"{name!r} ({box[2]}x{box[3]} pixels) does not fit into the safe area of a "
                f"{size} picture",
                path=faceplate.path,
                line=lines[name],
                advice="anchor it elsewhere, make it narrower, or take an instrument out",
            )
        for other in done:
            if overlap(box, boxes[other]):
                raise FaceplateError(
                    f"{name!r} and {other!r} overlap on a {size} picture",
                    path=faceplate.path,
                    line=lines[name],
                    advice="give one of them another anchor, or put one above the other",
                )
        done.append(name)
