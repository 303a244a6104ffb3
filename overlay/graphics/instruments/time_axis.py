"""Where everything of a neatline stands: its seconds, its flags, and what the flags say."""

from __future__ import annotations

import math
from dataclasses import dataclass

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

SECONDS_A_PART = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600)
"""Whole seconds that a part may stand for; the smallest that is wide enough is taken."""

MOST_ROOM = 1.25
"""By how much the axis may grow to make room for the last flag."""

FLAG_PAD = 0.012
"""Between the edge of a flag and its text; these four are shares of the short side."""

FLAG_ROW_GAP = 0.015
FLAG_GAP = 0.008
UNIT_GAP = 0.007


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The time axis in pixels: where zero is, how long a second is, where it ends."""

    zero_px: int
    second_px: float
    part_s: int
    parts: int

    def x(self, elapsed_s: float) -> float:
        """Where a time since the start stands."""
        return self.zero_px + elapsed_s * self.second_px

    @property
    def end_px(self) -> int:
        """Where the axis ends."""
        return round(self.x(self.parts * self.part_s))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloth:
    """What a flag says, when it is there, and how wide it is."""

    label: str
    number: str
    unit: str
    elapsed_s: float
    width_px: int
    mark: RunMark | None


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
        self.cloths, self.places = self._hang(bench, width_px)

    def _hang(self, bench: Bench, width_px: int) -> tuple[list[Cloth], tuple[Place, ...]]:
        """The flags and their places: one at the start as well, where that asks for no further
        tier."""
        run = bench.subject.run
        marks = [_marked(bench, mark) for mark in run.marks] if bench.options["marks"] else []
        start = _cloth(bench, run.origin, "", "", 0.0)
        plain, whole = self._places(bench, marks, width_px), None
        if plain is None:
            raise FaceplateError(
                f"the {len(marks)} marks of this run stand too close together for their flags",
                key=bench.name,
                advice="film fewer marks of the ladder, or make the neatline wider",
            )
        if run.origin and not any(mark.elapsed_s <= 0 for mark in marks):
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
        return round(self.axis.x(cloth.elapsed_s)) if cloth.mark else 0

    @property
    def height_px(self) -> int:
        """Height of the strip with all tiers of flags."""
        return self.strip_px + _tiers(self.places) * self.flag_px


def _tiers(places: tuple[Place, ...]) -> int:
    return 1 + max((place.tier for place in places), default=-1)


def _marked(bench: Bench, mark: RunMark) -> Cloth:
    number, _, unit = mark.text.rpartition(" ")
    elapsed_s = mark.t_utc_s - bench.subject.run.start_utc_s
    return _cloth(bench, mark.label, number or unit, unit if number else "", elapsed_s, mark)


def _cloth(
    bench: Bench, label: str, number: str, unit: str, elapsed_s: float, mark: RunMark | None = None
) -> Cloth:
    time = bench.face("second").line(number).advance_px + bench.px(UNIT_GAP)
    time += bench.face("unit").line(unit).advance_px
    width = max(time, bench.face("unit").line(label).advance_px) + 2 * bench.px(FLAG_PAD)
    return Cloth(
        label=label,
        number=number,
        unit=unit,
        elapsed_s=elapsed_s,
        width_px=width + width % 2,
        mark=mark,
    )


def _axis(bench: Bench, left: int, right: int) -> Axis:
    run = bench.subject.run
    last = max([run.stop_utc_s, *(mark.t_utc_s for mark in run.marks)])
    span_s = last - run.start_utc_s
    if run.marks and bench.options["marks"]:
        # Room for the last flag behind its mark, where the others hang as well.
        room = (right - left) / max(right - left - _marked(bench, run.marks[-1]).width_px, 1)
        span_s *= min(room, MOST_ROOM)
    narrowest = NARROWEST_PART * bench.picture.short_px
    for part_s in SECONDS_A_PART:
        parts = max(1, math.ceil(span_s / part_s - TIME_TOLERANCE_S))
        if (right - left) / parts >= narrowest:
            break
    return Axis(
        zero_px=left, second_px=(right - left) / (parts * part_s), part_s=part_s, parts=parts
    )
