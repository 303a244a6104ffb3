"""The look of the graphics: colours, opacity, fonts and sizes, from one TOML file.

A theme is held to what makes text legible on any picture: contrast of 4.5:1 against its
plate over black and over white, an opacity of 0.9 or more under text, and least sizes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from overlay.errors import FaceplateError
from overlay.graphics.light import Rgb
from overlay.graphics.spec_file import Key, SpecFile, find

SCHEMA = "theme/1"

LEAST_CONTRAST = 4.5
"""Contrast of text to its plate (WCAG 2.2, success criterion 1.4.3, level AA)."""

LEAST_OPACITY = 0.9

_HEX = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Colours:
    """The colours of a theme; what each is for stands in `themes/chart.toml`."""

    ink: Rgb
    engraving: Rgb
    cream: Rgb
    magenta: Rgb
    magenta_text: Rgb
    buff: Rgb
    shallow: Rgb


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """A look.

    Parameters
    ----------
    lead, second, label
        Heights of capitals and numerals in shares of the picture's short side.
    tracking
        What is added between the letters of a label, likewise.
    """

    name: str
    colours: Colours
    opacity: float
    strong: Path
    plain: Path
    lead: float
    second: float
    label: float
    tracking: float

    @property
    def fonts(self) -> Mapping[str, Path]:
        """The font files by weight."""
        return {"strong": self.strong, "plain": self.plain}


_TOP: Mapping[str, Key] = {
    "schema": Key(kind=str),
    "name": Key(kind=str, needed=True, text="what the theme is called"),
    "text": Key(kind=str, default=""),
    "colours": Key(kind=dict),
    "plate": Key(kind=dict),
    "type": Key(kind=dict),
}

_PLATE: Mapping[str, Key] = {
    "opacity": Key(kind=float, default=0.93, low=LEAST_OPACITY, high=1.0),
}

_TYPE: Mapping[str, Key] = {
    "strong": Key(kind=str, default="SourceSansPro-Semibold.ttf"),
    "plain": Key(kind=str, default="SourceSansPro-Regular.ttf"),
    "lead": Key(kind=float, default=0.073, low=0.06, high=0.15),
    "second": Key(kind=float, default=0.042, low=0.04, high=0.1),
    "label": Key(kind=float, default=0.0285, low=0.028, high=0.05),
    "tracking": Key(kind=float, default=0.0035, low=0.0, high=0.02),
}


def load_theme(name_or_path: str | Path = "chart") -> Theme:
    """A theme by the name it comes with, or from a file.

    Raises
    ------
    FaceplateError
        Where the file is missing or says something that cannot be drawn legibly.
    """
    file = SpecFile.read(find(name_or_path, "themes", "theme"), SCHEMA)
    tables = {name: file.data.get(name, {}) for name in ("colours", "plate", "type")}
    for name, table in tables.items():
        if not isinstance(table, dict):
            raise file.error(f"{table!r} is not a table", name, advice=f"write [{name}]")
    top = {key: value for key, value in file.data.items() if key not in tables}
    file.values(top, {key: spec for key, spec in _TOP.items() if spec.kind is not dict})
    colours = _colours(file, tables["colours"])
    plate = file.values(tables["plate"], _PLATE, table="plate")
    lettering = file.values(tables["type"], _TYPE, table="type")
    fonts = {part: _font_file(file, part, lettering.pop(part)) for part in ("strong", "plain")}
    theme = Theme(
        name=file.data["name"],
        colours=colours,
        opacity=plate["opacity"],
        strong=fonts["strong"],
        plain=fonts["plain"],
        **lettering,
    )
    _check_contrast(file, theme)
    return theme


def _colours(file: SpecFile, table: Mapping[str, Any]) -> Colours:
    names = [field.name for field in fields(Colours)]
    keys = {name: Key(kind=str, needed=True, text="a colour of the theme") for name in names}
    values = file.values(table, keys, table="colours")
    for name, value in values.items():
        if not _HEX.fullmatch(value):
            raise file.error(
                f"{value!r} is not a colour", name, table="colours", advice='write "#10243E"'
            )
    return Colours(**{name: _rgb(value) for name, value in values.items()})


def _rgb(text: str) -> Rgb:
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def _font_file(file: SpecFile, part: str, name: str) -> Path:
    """A font out of the package of fonts, or beside the theme."""
    import font_source_sans_pro

    packaged = Path(font_source_sans_pro.font_directory) / name
    for path in (packaged, file.path.parent / name):
        if path.is_file():
            return path
    raise file.error(
        f"there is no font file {name!r}",
        part,
        table="type",
        advice="name a file of Source Sans Pro, or put a font beside the theme",
    )


def luminance(rgb: tuple[float, float, float]) -> float:
    """Relative luminance of a colour given as 8-bit codes.

    Source: WCAG 2.2, definition of relative luminance (threshold 0.04045).
    """
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (code / 255 for code in rgb)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    """Contrast ratio of two colours, from 1 to 21.

    Source: WCAG 2.2, definition of contrast ratio.
    """
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _check_contrast(file: SpecFile, theme: Theme) -> None:
    colours = theme.colours
    pairs = (("cream", "ink"), ("buff", "ink"), ("magenta_text", "ink"), ("cream", "magenta"))
    for text, ground in pairs:
        for below in (0, 255):
            plate = tuple(
                theme.opacity * code + (1 - theme.opacity) * below
                for code in getattr(colours, ground)
            )
            ratio = contrast(getattr(colours, text), (plate[0], plate[1], plate[2]))
            if ratio < LEAST_CONTRAST:
                picture = "white" if below else "black"
                raise FaceplateError(
                    f"{text} on {ground} over a {picture} picture has a contrast of "
                    f"{ratio:.2f}:1, and text needs {LEAST_CONTRAST}:1",
                    path=file.path,
                    line=file.line_of(text, "colours"),
                    key=text,
                    advice=f"make {text} and {ground} differ more",
                )
