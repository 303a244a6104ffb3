"""Where a render puts what can be read, for whoever reads a finished picture.

Positions count from the left and upper edge of the upright picture in pixels; instants are UTC.
What is written here says where to look and with which letters, never what ought to be found:
that is in the rows of the ledger, and in the logs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from types import MappingProxyType
from typing import Any, Literal, Self

Box = tuple[int, int, int, int]
"""Left, top, width and height."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettered:
    """How a text is set: glyph by glyph, each at the sum of the rounded advances before it.

    Parameters
    ----------
    baseline_px
        The row that letters stand on.
    font, size_px
        The font's file, as `Layout.fonts` has it, and its size.
    colour, ground
        Names of the colours of text and plate, as `Layout.inks` has them.
    from_utc_s, to_utc_s
        Half-open: when it is to be seen; None for as long as the instruments are.
    """

    instrument: str
    baseline_px: int
    font: str
    size_px: int
    colour: str
    ground: str
    from_utc_s: float | None = None
    to_utc_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Still(Lettered):
    """A text that never changes while it is to be seen: a label, a unit, a numeral of a scale.

    Parameters
    ----------
    left_px
        Where its first letter has its origin.
    tracking_px
        What is added to the advance of every letter but the last.
    box_px
        Its ink.
    """

    text: str
    left_px: int
    tracking_px: int
    box_px: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class Field(Lettered):
    """A place for a number that changes, flush right.

    Parameters
    ----------
    item
        Which number of the instrument stands there, as in the rows.
    right_px
        Where the letter after the last would have its origin.
    plate_px
        The part of the picture that is drawn as one with it; no digit stands outside of it.
    """

    item: str
    right_px: int
    plate_px: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class Pointer:
    """A mark that stands on a scale: a needle, the end of a bar, the hull of an inclinometer.

    Parameters
    ----------
    item
        The row whose value it shows; `along` for how far the run has come, which has none.
    path
        `arc`: angles about `ends_px[0]`, clockwise from straight up, looked at between two
        radii `reach_px`. `line`: from `ends_px[0]` to `ends_px[1]`, looked at from `reach_px[0]`
        to `reach_px[1]` to its right-hand side as seen when going along it.
    mark
        What stands at the value: the `middle` of something in the colour, or where the colour
        `ends` or `begins` on the way from the low to the high end.
    ends_px
        Centre of an arc (twice), or the ends of a line.
    angles_rad
        Where an arc begins and ends.
    low, high
        What its ends stand for, in `unit`; a value beyond stands at the end.
    colour
        Of the mark, as `Layout.inks` has it.
    """

    instrument: str
    item: str
    path: Literal["arc", "line"]
    mark: Literal["middle", "ends", "begins"]
    ends_px: tuple[Point, Point]
    reach_px: Point
    low: float
    high: float
    unit: str
    quantity: str
    colour: str
    angles_rad: Point = (0.0, 0.0)
    from_utc_s: float | None = None
    to_utc_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """Everything that can be read on the frames of a render, and where.

    Parameters
    ----------
    width_px, height_px, depth
        Of the upright picture, and the bits of its codes.
    inks
        Codes of Y, U and V of each colour by name; `opacity` of it lies over the footage where
        it is the ground of a plate.
    fonts
        SHA-256 of each font's file, by its name.
    shown_utc_s
        Half-open: when the instruments are to be seen.
    """

    width_px: int
    height_px: int
    depth: int
    opacity: float
    inks: Mapping[str, tuple[int, int, int]]
    fonts: Mapping[str, str]
    shown_utc_s: tuple[float, float]
    stills: tuple[Still, ...]
    fields: tuple[Field, ...]
    pointers: tuple[Pointer, ...]

    def as_facts(self) -> dict[str, Any]:
        """As the ledger's facts hold it."""
        plain = {name: getattr(self, name) for name in ("width_px", "height_px", "depth")}
        return plain | {
            "opacity": self.opacity,
            "inks": {name: list(codes) for name, codes in self.inks.items()},
            "fonts": dict(self.fonts),
            "shown_utc_s": list(self.shown_utc_s),
            "stills": [asdict(still) for still in self.stills],
            "fields": [asdict(field) for field in self.fields],
            "pointers": [asdict(pointer) for pointer in self.pointers],
        }

    @classmethod
    def from_facts(cls, facts: Mapping[str, Any]) -> Self:
        """From the ledger's facts.

        Raises
        ------
        ValueError
            Where something is missing or of another sort.
        """
        try:
            return cls(
                width_px=int(facts["width_px"]),
                height_px=int(facts["height_px"]),
                depth=int(facts["depth"]),
                opacity=float(facts["opacity"]),
                inks=MappingProxyType({name: _three(row) for name, row in facts["inks"].items()}),
                fonts=MappingProxyType(dict(facts["fonts"])),
                shown_utc_s=_two(facts["shown_utc_s"]),
                stills=tuple(Still(**_tuples(row)) for row in facts["stills"]),
                fields=tuple(Field(**_tuples(row)) for row in facts["fields"]),
                pointers=tuple(Pointer(**_tuples(row)) for row in facts["pointers"]),
            )
        except (KeyError, TypeError, AttributeError, IndexError) as error:
            raise ValueError(f"the layout in this ledger is not whole ({error})") from error


def _two(row: Any) -> tuple[float, float]:
    return float(row[0]), float(row[1])


def _three(row: Any) -> tuple[int, int, int]:
    return int(row[0]), int(row[1]), int(row[2])


def _tuples(row: Mapping[str, Any]) -> dict[str, Any]:
    """JSON has lists only."""
    return {key: _frozen(value) for key, value in row.items()}


def _frozen(value: Any) -> Any:
    return tuple(_frozen(one) for one in value) if isinstance(value, list) else value
