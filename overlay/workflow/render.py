"""`trialreel render`: the clips of a sheet, each with its ledger; whole, or piece by piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from overlay.analysis.results import compute_results
from overlay.errors import RenderError
from overlay.ledger import join_ledgers
from overlay.render import Burned, join_pieces
from overlay.trial import Material, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.files import staged
from overlay.workflow.locate import find_sheet
from overlay.workflow.outputs import ledger_of, told_of
from overlay.workflow.progress import Progress, nobody
from overlay.workflow.results import in_units
from overlay.workflow.settled import Settled, clip_place, settled
from overlay.workflow.wanted import wanted
from overlay.workflow.wishes import Wish

AS_THE_SHEET = Wish()


@dataclass(frozen=True, slots=True, kw_only=True)
class RenderedClip:
    """One finished clip and its ledger."""

    name: str
    path: Path
    ledger_path: Path
    frames: int
    length_s: float
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RenderOutcome:
    """All clips that were made."""

    clips: tuple[RenderedClip, ...]


def render(
    sheet: Path, clip: str | None = None, *, wish: Wish = AS_THE_SHEET, progress: Progress = nobody
) -> RenderOutcome:
    """Render one clip of a sheet, or all of them, or a recording as a whole.

    Parameters
    ----------
    clip
        A clip of the sheet, or a recording of it.

    Raises
    ------
    SheetError
        Where the sheet has no such clip, or no clip at all.
    TieRefused
        Where the recording of a clip is not tied to the logs.
    AnalysisError
        Where the run that a clip shows was not found, or lies outside the footage.
    RenderError, OutputError
        Where the clip cannot be made.
    """
    return render_of(read_material(find_sheet(sheet)), clip, wish=wish, progress=progress)


def render_of(
    material: Material,
    clip: str | None = None,
    *,
    wish: Wish = AS_THE_SHEET,
    progress: Progress = nobody,
) -> RenderOutcome:
    """The same for what has been read already."""
    material, wish = _for_readers(material, wish)
    clips = wanted(material, clip, wish)
    for entry in clips:
        if entry.recording in material.unreadable:
            raise material.unreadable[entry.recording]
    trial = build_trial(material, ties_for(material))
    results = compute_results(trial)
    for entry in clips:
        clip_place(entry, material, wish)
    made = [_whole(settled(trial, results, entry, wish), progress) for entry in clips]
    return RenderOutcome(clips=tuple(made))


def render_piece(
    material: Material, clip: str, piece: range, *, wish: Wish, progress: Progress = nobody
) -> RenderedClip:
    """Render some frames of one clip: pictures without sound, and the ledger of these frames.

    Parameters
    ----------
    piece
        Numbers of frames in the clip.
    wish
        As the whole clip is wanted, and where the piece goes.
    """
    one = _settled_one(material, clip, wish)
    ledger_path = ledger_of(one.output)
    with staged(one.output, ledger_path) as (film_part, ledger_part):
        burned = one.burn(film_part, ledger_part, piece=piece, progress=progress)
    return _rendered(one, ledger_path, burned)


def join_clip(
    material: Material,
    clip: str,
    pieces: Sequence[Path],
    *,
    wish: Wish,
    progress: Progress = nobody,
) -> RenderedClip:
    """Make one clip of pieces that `render_piece` made, each with its ledger beside it.

    Raises
    ------
    RenderError
        Where they are not all the pieces of this clip.
    """
    one = _settled_one(material, clip, wish)
    ledger_path = ledger_of(one.output)
    with (
        staged(one.output, ledger_path) as (film_part, ledger_part),
        told_of(film_part, one.output),
    ):
        burned = join_pieces(
            one.footage,
            film_part,
            pieces,
            one.wanted,
            progress=lambda done, total: progress(f"join {clip}", done, total),
        )
        try:
            join_ledgers([ledger_of(piece) for piece in pieces], ledger_part)
        except (ValueError, OSError) as error:
            raise RenderError(
                str(error), path=one.output, advice="make the pieces once more"
            ) from error
    return _rendered(one, ledger_path, burned)


def _for_readers(material: Material, wish: Wish) -> tuple[Material, Wish]:
    """The trial in the units that are wished for; to ask for the sheet's own is to ask for none."""
    own = wish.units == material.sheet.units
    return in_units(material, wish.units), replace(wish, units=None) if own else wish


def _settled_one(material: Material, clip: str, wish: Wish) -> Settled:
    material, wish = _for_readers(material, wish)
    (entry,) = wanted(material, clip, wish)
    if entry.recording in material.unreadable:
        raise material.unreadable[entry.recording]
    trial = build_trial(material, ties_for(material))
    return settled(trial, compute_results(trial), entry, wish)


def _whole(one: Settled, progress: Progress) -> RenderedClip:
    ledger_path = ledger_of(one.output)
    with (
        staged(one.output, ledger_path) as (film_part, ledger_part),
        told_of(film_part, one.output),
    ):
        burned = one.burn(film_part, ledger_part, progress=progress)
    return _rendered(one, ledger_path, burned)


def _rendered(one: Settled, ledger_path: Path, burned: Burned) -> RenderedClip:
    return RenderedClip(
        name=one.clip.name,
        path=one.output,
        ledger_path=ledger_path,
        frames=burned.frames,
        length_s=burned.seconds,
        warnings=(*burned.warnings, *one.plan.remarks),
    )
