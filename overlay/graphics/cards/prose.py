"""Texts of any length on a card: what the font cannot draw, what is too long, what must wrap."""

from __future__ import annotations

from overlay.errors import FaceplateError
from overlay.graphics.lettering import Face, Line

UNKNOWN = "?"
"""Stands for a letter that the font does not have; crews write what they like into names."""

ELLIPSIS = "…"

TIED = "\u00a0"
"""A space at which no line ends: between a number and its unit."""


class Script:
    """A face that takes any text."""

    def __init__(self, face: Face) -> None:
        self.face = face
        self._known: dict[str, bool] = {}

    def drawable(self, text: str) -> str:
        """A text as the font can draw it."""
        plain = text.replace(TIED, " ")
        return "".join(letter if self._has(letter) else UNKNOWN for letter in plain)

    def _has(self, letter: str) -> bool:
        if letter not in self._known:
            try:
                self.face.glyph(letter)
            except FaceplateError:
                self._known[letter] = False
            else:
                self._known[letter] = True
        return self._known[letter]

    def line(self, text: str, tracking_px: int = 0) -> Line:
        """A line of text."""
        return self.face.line(self.drawable(text), tracking_px)

    def width(self, text: str, tracking_px: int = 0) -> int:
        """How far a line goes."""
        return self.line(text, tracking_px).advance_px

    def cut(self, text: str, width_px: int) -> str:
        """A text that goes no further than a width, its end left out if it must be."""
        if self.width(text) <= width_px:
            return text
        kept = len(text)
        while kept and self.width(f"{text[:kept].rstrip()}{ELLIPSIS}") > width_px:
            kept -= 1
        return f"{text[:kept].rstrip()}{ELLIPSIS}"

    def wrapped(self, text: str, width_px: int, most: int | None = None) -> list[str]:
        """A text in lines no wider than a width; the last of `most` lines is cut short."""
        lines = [""]
        for word in text.split(" "):
            longer = f"{lines[-1]} {word}".strip()
            if self.width(longer) <= width_px:
                lines[-1] = longer
                continue
            if lines[-1]:
                lines.append("")
            lines[-1] = word
            while self.width(lines[-1]) > width_px and len(lines[-1]) > 1:
                kept = len(lines[-1]) - 1
                while kept > 1 and self.width(lines[-1][:kept]) > width_px:
                    kept -= 1
                lines[-1:] = [lines[-1][:kept], lines[-1][kept:]]
        if most is not None and len(lines) > most:
            return [*lines[: most - 1], self.cut(" ".join(lines[most - 1 :]), width_px)]
        return lines
