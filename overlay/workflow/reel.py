"""`trialreel reel`: cards and clips of a sheet as one film, with fades and with sound."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from overlay.errors import OutputError, SheetError
from overlay.sheet.model import output_name
from overlay.sheet.reels import Reel, reel_place
from overlay.trial import Material, read_material
from overlay.workflow.files import staged
from overlay.workflow.hashes import sha256_of
from overlay.workflow.locate import find_sheet
from overlay.workflow.outputs import told_of
from overlay.workflow.progress import Progress, nobody
from overlay.workflow.reel_document import document_in, document_of, known_clips, rows_of
from overlay.workflow.reel_fresh import Before
from overlay.workflow.reel_parts import pieces_of
from overlay.workflow.reel_plan import Laid, Size, Stretch, lay


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeReel:
    """One finished reel, and the document that says what lies where in it."""

    name: str
    path: Path
    parts_path: Path
    size: Size
    rate_hz: Fraction
    frames: int
    parts: tuple[dict[str, Any], ...]
    remarks: tuple[str, ...]

    @property
    def length_s(self) -> float:
        """How long it is."""
        return float(self.frames / self.rate_hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReelOutcome:
    """All reels that were made."""

    reels: tuple[MadeReel, ...]


def reel(
    sheet: Path,
    name: str | None = None,
    *,
    progress: Progress = nobody,
) -> ReelOutcome:
    """Make one reel of a sheet, or all of them, rendering clips that are missing or stale.

    Raises
    ------
    SheetError
        Where the sheet has no such reel, or a part does not fit.
    RenderError, OutputError
        Where the film cannot be made, or something else lies in its place.
    TieRefused, AnalysisError
        Where a clip or a card that is to be made cannot be.
    """
    path = find_sheet(sheet)
    text = _bytes_of(path)
    material = read_material(path)
    wanted = _wanted(material.sheet.reels, name, material.sheet_path)
    for entry in wanted:
        _must_be_free(entry, material)
    made = [_make(entry, material, text, progress) for entry in wanted]
    return ReelOutcome(reels=tuple(made))


def _bytes_of(path: Path) -> bytes:
    """The sheet before it is read: a change after this is one that the reel does not have."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise SheetError(f"this cannot be read ({error.strerror})", path=path) from error


def _wanted(reels: list[Reel], name: str | None, path: Path) -> list[Reel]:
    if not reels:
        raise SheetError(
            "the sheet lists no reels",
            path=path,
            advice="add [[reels]] with a name and parts = ['card title', 'clip NAME']",
        )
    found = [entry for entry in reels if name in (None, entry.name)]
    if not found:
        raise SheetError(
            f"there is no reel called {name!r}",
            path=path,
            key="reels",
            allowed=tuple(entry.name for entry in reels),
        )
    return found


def _places(entry: Reel, material: Material) -> tuple[Path, Path]:
    """Where the film goes, and the document of its parts."""
    film = material.folder / reel_place(entry)
    return film, film.with_name(f"{film.stem}.parts.json")


def _must_be_free(entry: Reel, material: Material) -> None:
    """Refuse to leave the trial's folder, and to write over what is no reel of this program."""
    film, parts = _places(entry, material)
    inputs = [log.path for log in material.logs.values()]
    for footage in material.footage.values():
        inputs += [*footage.paths, *(footage.proxy.paths if footage.proxy else ())]
    inputs += [material.folder / output_name(clip) for clip in material.sheet.clips]
    taken = {path.resolve() for path in (*inputs, material.sheet_path)}
    for place in (film, parts):
        if not place.resolve().is_relative_to(material.folder.resolve()):
            raise OutputError(
                "this reel would leave the trial's folder",
                path=place,
                advice=f"make `{film.parent.name}` a folder below {material.folder}",
            )
        if place.resolve() in taken:
            raise SheetError(
                f"the reel {entry.name!r} would overwrite an input of the trial",
                path=place,
                advice="give the reel another name",
            )
        if place.exists() and document_in(parts) is None:
            raise OutputError(
                "there is a file already, and it is no reel of trialreel, which would have its "
                "parts beside it",
                path=place,
                advice="move it away, or give the reel another name",
            )


def _make(entry: Reel, material: Material, sheet: bytes, progress: Progress) -> MadeReel:
    from sync.media.ffmpeg_log import caught

    film_path, parts_path = _places(entry, material)
    before = Before(sheet=sheet, known=known_clips(parts_path))
    parts = pieces_of(entry, material, before, progress=progress)
    laid = lay(parts.pieces, path=material.sheet_path, rate_hz=parts.rate_hz)
    frames = laid[-1].stop
    rows = tuple(rows_of(laid, material, parts.rate_hz))
    made = MadeReel(
        name=entry.name,
        path=film_path,
        parts_path=parts_path,
        size=parts.size,
        rate_hz=parts.rate_hz,
        frames=frames,
        parts=rows,
        remarks=parts.remarks,
    )
    with (
        caught() as messages,
        staged(film_path, parts_path) as (film_part, parts_part),
        told_of(film_part, film_path),
    ):
        _write_film(made, laid, film_part, progress)
        document = document_of(made, sheet, sha256_of(film_part))
        text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
        parts_part.write_text(f"{text}\n", encoding="utf-8")
    said = (*made.remarks, *messages.lines())
    return MadeReel(
        name=made.name, path=made.path, parts_path=made.parts_path, size=made.size,
        rate_hz=made.rate_hz, frames=frames, parts=rows, remarks=tuple(dict.fromkeys(said)),
    )  # fmt: skip


def _write_film(made: MadeReel, laid: Sequence[Laid], part: Path, progress: Progress) -> None:
    from overlay.render.moviepy_film import write_film
    from overlay.render.place import check_room
    from overlay.workflow.clip_facts import comment
    from overlay.workflow.reel_pieces import put_together

    clips = [one.piece.source.film for one in laid if isinstance(one.piece.source, Stretch)]
    check_room(part, sum(film.size_bytes for film in clips))
    film = put_together(laid, made.size, made.rate_hz)
    try:
        write_film(
            film,
            part,
            output=made.path,
            frames=made.frames,
            rate_hz=made.rate_hz,
            tags={"comment": comment()},
            progress=lambda done, total: progress(f"reel {made.name}", done, total),
        )
    finally:
        film.close()
