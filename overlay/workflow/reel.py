"""`trialreel reel`: cards and clips of a sheet as one film, with fades and with sound."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
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
from overlay.workflow.reel_fresh import sheet_hash
from overlay.workflow.reel_parts import pieces_of
from overlay.workflow.reel_plan import Laid, Size, Stretch, lay

SCHEMA = "reel/1"


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
    material = read_material(find_sheet(sheet))
    wanted = _wanted(material.sheet.reels, name, material.sheet_path)
    for entry in wanted:
        _must_be_free(entry, material)
    made = [_make(entry, material, progress) for entry in wanted]
    return ReelOutcome(reels=tuple(made))


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
        if place.exists() and _document(parts) is None:
            raise OutputError(
                "there is a file already, and it is no reel of trialreel, which would have its "
                "parts beside it",
                path=place,
                advice="move it away, or give the reel another name",
            )


def _document(path: Path) -> dict[str, Any] | None:
    """What an earlier run wrote beside its reel; None where there is nothing of the kind."""
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    ours = isinstance(document, dict) and document.get("schema") == SCHEMA
    return document if ours else None


def _known(path: Path) -> dict[str, str]:
    """By the hash of each clip's file in a reel that is there, the sheet that it was made for."""
    document = _document(path) or {}
    made_for = str(document.get("sheet_without_reels", ""))
    parts = document.get("parts", ())
    return {part.get("sha256", ""): made_for for part in parts if isinstance(part, dict)}


def _make(entry: Reel, material: Material, progress: Progress) -> MadeReel:
    from sync.media.ffmpeg_log import caught

    film_path, parts_path = _places(entry, material)
    parts = pieces_of(entry, material, _known(parts_path), progress=progress)
    laid = lay(parts.pieces, path=material.sheet_path, rate_hz=parts.rate_hz)
    frames = laid[-1].stop
    rows = tuple(_rows(laid, material, parts.rate_hz))
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
        document = _told(made, material, sha256_of(film_part))
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


def _rows(laid: Sequence[Laid], material: Material, rate_hz: Fraction) -> Iterator[dict[str, Any]]:
    """What lies where, for whoever audits the reel."""
    for one in laid:
        piece, source = one.piece, one.piece.source
        row: dict[str, Any] = {
            "kind": piece.kind,
            "name": piece.name,
            "start_s": float(one.start / rate_hz),
            "stop_s": float(one.stop / rate_hz),
            "start_frame": one.start,
            "frames": piece.frames,
            "file": _below(piece.path, material.folder),
            "sha256": sha256_of(piece.path),
        }
        for key, change in (("coming", one.coming), ("going", one.going)):
            how = "overlap" if change.over else "fade"
            row[key] = {"how": how, "seconds": float(change.frames / rate_hz)}
        if isinstance(source, Stretch):
            row["file_start_s"] = float(source.start_s)
        yield row


def _below(path: Path, folder: Path) -> str:
    return path.resolve().relative_to(folder.resolve()).as_posix()


def _told(made: MadeReel, material: Material, sha256: str) -> dict[str, Any]:
    from overlay.workflow.clip_facts import NOT_AUDITED, made_by

    return {
        "schema": SCHEMA,
        "name": made.name,
        "film": made.path.name,
        "sha256": sha256,
        "software": made_by(),
        "audit": NOT_AUDITED,
        "width_px": made.size[0],
        "height_px": made.size[1],
        "rate": str(made.rate_hz),
        "frames": made.frames,
        "length_s": made.length_s,
        "sheet_without_reels": sheet_hash(material.sheet_path.read_bytes()),
        "parts": list(made.parts),
    }
