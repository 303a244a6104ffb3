"""The font files that a clip was lettered with, found by what its ledger says of them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from overlay.errors import RenderError


class Fonts:
    """Font files by the name and hash that a layout has of them.

    Parameters
    ----------
    hashes
        SHA-256 by name, as `Layout.fonts`.
    folders
        Where to look, before the package of fonts that comes with trialreel.
    """

    def __init__(self, hashes: Mapping[str, str], folders: Sequence[Path] = ()) -> None:
        self._hashes = dict(hashes)
        self._folders = tuple(folders)
        self._found: dict[str, Path] = {}

    def path(self, name: str) -> Path:
        """A font's file, which is what it was when the clip was rendered.

        Raises
        ------
        RenderError
            Where there is none of that name, or only one that has changed.
        """
        if name not in self._found:
            self._found[name] = self._look(name)
        return self._found[name]

    def _look(self, name: str) -> Path:
        import font_source_sans_pro

        if name != Path(name).name:
            raise RenderError(
                f"the ledger names a font {name!r}, which is a path and not a name",
                advice="audit the ledger that the render wrote",
            )
        folders = (*self._folders, Path(font_source_sans_pro.font_directory))
        there = [folder / name for folder in folders if (folder / name).is_file()]
        wanted = self._hashes.get(name, "")
        for path in there:
            if hashlib.sha256(path.read_bytes()).hexdigest() == wanted:
                return path
        if there:
            raise RenderError(
                "this font is not the one that the clip was rendered with",
                path=there[0],
                advice="put the font file of the render into the folder of the faceplate",
            )
        raise RenderError(
            f"the font {name!r} that the clip was rendered with is not here",
            advice="put its file into the folder of the faceplate",
        )
