"""What stands beside a reel: which part lies where in it, and what it was made from."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overlay.trial import Material
from overlay.workflow.hashes import sha256_of
from overlay.workflow.reel_fresh import sheet_hash
from overlay.workflow.reel_plan import Laid, Stretch

if TYPE_CHECKING:
    from overlay.workflow.reel import MadeReel

SCHEMA = "reel/1"


def document_in(path: Path) -> dict[str, Any] | None:
    """What an earlier run wrote beside its reel; None where there is nothing of the kind."""
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    ours = isinstance(document, dict) and document.get("schema") == SCHEMA
    return document if ours else None


def known_clips(path: Path) -> dict[str, str]:
    """By the hash of each clip's file in a reel that is there, the sheet that it was made for."""
    document = document_in(path) or {}
    made_for, parts = document.get("sheet_without_reels"), document.get("parts")
    if not isinstance(made_for, str) or not isinstance(parts, list):
        return {}
    hashes = [part.get("sha256") for part in parts if isinstance(part, dict)]
    return {one: made_for for one in hashes if isinstance(one, str)}


def rows_of(
    laid: Sequence[Laid], material: Material, rate_hz: Fraction
) -> Iterator[dict[str, Any]]:
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


def document_of(made: MadeReel, sheet: bytes, sha256: str) -> dict[str, Any]:
    """What stands beside a reel, made from a sheet of these bytes and with this hash itself."""
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
        "sheet_without_reels": sheet_hash(sheet),
        "parts": list(made.parts),
    }
