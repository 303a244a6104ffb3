"""Where everything of a neatline stands: its parts, its flags, and what the flags say."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from overlay.errors import FaceplateError
from overlay.graphics.instruments.bench import Bench
from overlay.graphics.instruments.flags import Place, hang
from overlay.graphics.subject import RunMark
from sync.clock import TIME_TOLERANCE_S

BAND = 0.016
"""Height of the black and white parts, as a share of the short side."""

EDGE = 0.008
"""Between the edge of the plate and the band."""

NARROWEST_PART = 0.02
"""A part is a second, or as many seconds as this width asks for."""

A_PART = {"s": (1, 2, 5, 10, 20, 30, 60, 120, 300, 600), "°": (10, 15, 30, 45, 90, 360)}
"""Whole seconds or degrees that a part may stand for; the smallest that is wide enough is taken."""

MOST_ROOM = 1.25
"""By how much the axis may grow to make room for the last flag."""

FLAG_PAD = 0.012
"""Between the edge of a flag and its text; these four are shares of the short side."""

FLAG_ROW_GAP = 0.015
FLAG_GAP = 0.008
UNIT_GAP = 0.007


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The axis in pixels: where zero is, how long a second or degree is, where it ends."""

    zero_px: int
    one_px: float
    part: int
    parts: int

    def x(self, along: float) -> float:
        """Where it stands that the run has come so far."""
        return self.zero_px + along * self.one_px

    @property
    def end_px(self) -> int:
        """Where the axis ends."""
        return round(self.x(self.parts * self.part))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloth:
    """What a flag says, or a tab, which has no mark; where it hangs, from when on, how wide it is.

    `from_utc_s` is None for what stands there before the run begins, `to_utc_s` for what stays.
    """

    label: str
    number: str
    unit: str
    along: float
    width_px: int
    mark: RunMark | None = None
    from_utc_s: float | None = None
    to_utc_s: float | None = None


class Geometry:
    """Where everything of a neatline stands within its width."""

    def __init__(self, bench: Bench, width_px: int) -> None:
        self.edge_px = bench.px(EDGE)
        self.band_px = bench.px(BAND)
        self.strip_px = 2 * self.edge_px + self.band_px
        self.strip_px += self.strip_px % 2
        self.axis = _axis(bench, self.edge_px, width_px - self.edge_px)
        pad = bench.px(FLAG_PAD)
        label_px, second_px = bench.face("label").cap_px, bench.face("second").cap_px
        self.flag_px = 2 * pad + label_px + bench.px(FLAG_ROW_GAP) + second_px
        self.flag_px += self.flag_px % 2
        self.start_px = 2 * pad + label_px
        self.start_px += self.start_px % 2
        self.tabs = _tabs(bench)
        self.tabs_px = self.start_px if self.tabs else 0
        self.cloths, self.places = self._hang(bench, width_px)

    def _hang(self, bench: Bench, width_px: int) -> tuple[list[Cloth], tuple[Place, ...]]:
        """The flags with their places: what the time is counted from as well, where that asks for
        no further tier."""
        run = bench.subject.run
        marks = [_marked(bench, mark) for mark in run.marks] if bench.options["marks"] else []
        plain, whole = self._places(bench, marks, width_px), None
        if plain is None:
            raise FaceplateError(
                f"the {len(marks)} marks of this run stand too close together for their flags",
                key=bench.name,
                advice="film fewer marks of the ladder, or one pass, or make the neatline wider",
            )
        start = _cloth(bench, run.origin, "", "", 0.0)
        if run.origin and not any(cloth.along <= 0 for cloth in marks):
            whole = self._places(bench, [start, *marks], width_px)
        if whole is None or _tiers(whole) > max(1, _tiers(plain)):
            return marks, plain
        return [start, *marks], whole

    def _places(self, bench: Bench, cloths: list[Cloth], width_px: int) -> tuple[Place, ...] | None:
        poles = [self.pole(cloth) for cloth in cloths]
        widths = [cloth.width_px for cloth in cloths]
        return hang(poles, widths, 0, width_px, bench.even(FLAG_GAP))

    def pole(self, cloth: Cloth) -> int:
        """Where a flag hangs; the one at the start hangs from the corner of the strip."""
        corner = cloth.mark is None and cloth.along <= 0
        return 0 if corner else round(self.axis.x(cloth.along))

    @property
    def height_px(self) -> int:
        """Height of the strip with its tabs and all tiers of flags."""
        return self.strip_px + self.tabs_px + _tiers(self.places) * self.flag_px

    def tab_left(self, cloth: Cloth, width_px: int) -> int:
        """Where a tab begins: at its instant, or as far left as it has to."""
        at = 0 if cloth.along <= 0 else round(self.axis.x(cloth.along))
        left = max(0, min(at, width_px - cloth.width_px))
        return left - left % 2


def _tiers(places: tuple[Place, ...]) -> int:
    return 1 + max((place.tier for place in places), default=-1)


def _marked(bench: Bench, mark: RunMark) -> Cloth:
    number, _, unit = mark.text.rpartition(" ")
    along = bench.subject.run.counted.along(mark.t_utc_s)
    cloth = _cloth(bench, mark.label, number or unit, unit if number else "", along)
    return replace(cloth, mark=mark, from_utc_s=mark.t_utc_s)


def _tabs(bench: Bench) -> list[Cloth]:
    run = bench.subject.run
    return [
        replace(
            _cloth(bench, tab.text, "", "", run.counted.along(tab.t_utc_s)),
            from_utc_s=tab.t_utc_s,
            to_utc_s=tab.stop_utc_s,
        )
        for tab in run.tabs
    ]


def _cloth(bench: Bench, label: str, number: str, unit: str, along: float) -> Cloth:
    figure = bench.face("second").line(number).advance_px + bench.px(UNIT_GAP)
    figure += bench.face("unit").line(unit).advance_px
    width = max(figure, bench.face("unit").line(label).advance_px) + 2 * bench.px(FLAG_PAD)
    return Cloth(label=label, number=number, unit=unit, along=along, width_px=width + width % 2)


def _axis(bench: Bench, left: int, right: int) -> Axis:
    run = bench.subject.run
    span, sign = run.counted.length, run.counted.sign
    if run.marks and bench.options["marks"]:
        # Room for the last flag behind its mark, where the others hang as well.
        room = (right - left) / max(right - left - _marked(bench, run.marks[-1]).width_px, 1)
        span *= min(room, MOST_ROOM)
    narrowest = NARROWEST_PART * bench.picture.short_px
    for part in A_PART[sign]:
        parts = max(1, math.ceil(span / part - TIME_TOLERANCE_S))
        if (right - left) / parts >= narrowest:
            break
    return Axis(zero_px=left, one_px=(right - left) / (parts * part), part=part, parts=parts)
