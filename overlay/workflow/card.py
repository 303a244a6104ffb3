"""`trialreel card`: results as stills, full frame or over a picture, as PNG or as a clip."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from overlay.errors import FaceplateError, OutputError, SheetError
from overlay.graphics.cards import CARDS
from overlay.graphics.cards.base import CardBench, Drawn
from overlay.graphics.picture import Picture
from overlay.graphics.theme import load_theme
from overlay.trial import build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.files import staged
from overlay.workflow.locate import SHEET_NAME, find_sheet
from overlay.workflow.outputs import told_of
from overlay.workflow.sizes import size_of

if TYPE_CHECKING:
    from overlay.graphics.cards.facts import CardFacts
    from overlay.graphics.cards.paper import Card
    from overlay.render.still import StillClip
    from overlay.sheet import TrialSheet

Form = Literal["png", "clip"]

FOLDER = "clips"

ENDINGS = {"png": ".png", "clip": ".mp4"}

MARK = b"trialreel card"
"""Stands near the front of every card's file, so that none is written over another's work."""

_MARK_WITHIN = 1 << 16


@dataclass(frozen=True, slots=True, kw_only=True)
class CardOutcome:
    """The cards that were written, in their order, and what was said about them."""

    kind: str
    paths: tuple[Path, ...]
    width_px: int
    height_px: int
    remarks: tuple[str, ...]


def card(
    kind: str,
    sheets: Sequence[Path],
    *,
    size: str = "1920x1080",
    form: Form = "png",
    lower_third: bool = False,
    units: str | None = None,
    clip: StillClip | None = None,
) -> CardOutcome:
    """Draw one kind of card of a trial, or of several for a comparison.

    They go into the folder `clips` beside the (first) sheet.

    Raises
    ------
    FaceplateError
        For a kind, a size or a form that cannot be drawn.
    SheetError
        Where the sheets are too many or too few, or one cannot be used.
    AnalysisError
        Where the trial has nothing for such a card.
    OutputError
        Where it cannot be written, or something else lies in its place.
    """
    _must_be_drawable(kind, form, lower_third=lower_third)
    picture = picture_of_size(size)
    bench = CardBench(picture=picture, theme=load_theme(), lower_third=lower_third)
    paths = [find_sheet(sheet) for sheet in sheets]
    facts, said, sheet = _told(kind, paths, units)
    drawn = CARDS[kind].draw(facts, bench)
    stem = _stem(kind, bench, paths[0], None if units == sheet.units else units)
    places = _places(stem, len(drawn.cards), paths[0].parent, ENDINGS[form])
    _must_be_free(places, paths[0].parent, sheet)
    _write(drawn, places, form, clip)
    _clear(stem, places)
    return CardOutcome(
        kind=kind,
        paths=places,
        width_px=picture.width_px,
        height_px=picture.height_px,
        remarks=(*said, *drawn.remarks),
    )


def _must_be_drawable(kind: str, form: str, *, lower_third: bool) -> None:
    if kind not in CARDS:
        raise FaceplateError(f"there is no card {kind!r}", allowed=tuple(CARDS))
    if form not in ENDINGS:
        raise FaceplateError(f"a card cannot be written as {form!r}", allowed=tuple(ENDINGS))
    if lower_third and not CARDS[kind].lower_third:
        raise FaceplateError(
            f"a card of {kind} has no room for its letters in a lower third",
            allowed=tuple(name for name, one in CARDS.items() if one.lower_third),
            advice="draw it for the full frame",
        )
    if lower_third and form == "clip":
        raise FaceplateError(
            "a lower third lies over a picture, and a clip cannot be seen through",
            advice="write it as png, and lay that over the film in an editing program",
        )


def picture_of_size(size: str) -> Picture:
    """The picture that a size such as `1920x1080` means.

    Raises
    ------
    FaceplateError
        Where it means none.
    """
    width, height = size_of(size)
    return Picture(width_px=width, height_px=height)


def _told(
    kind: str, paths: Sequence[Path], units: str | None
) -> tuple[CardFacts, tuple[str, ...], TrialSheet]:
    """The facts of a kind, what is said of them, and the sheet that the card belongs to."""
    if kind == "comparison":
        from overlay.workflow.card_comparison import comparison_facts
        from overlay.workflow.compare import compare_sheets

        outcome = compare_sheets(paths, units)
        return *comparison_facts(outcome), outcome.trials[0].trial.sheet
    from overlay.analysis.results import compute_results
    from overlay.workflow.card_facts import facts_of
    from overlay.workflow.results import in_units

    if len(paths) != 1:
        raise SheetError(
            f"a card of {kind} shows one trial, and {len(paths)} are named",
            advice="name one sheet; `trialreel card comparison` takes several",
        )
    own = read_material(paths[0], with_footage=False)
    material = in_units(own, units)
    trial = build_trial(material, ties_for(material))
    return facts_of(compute_results(trial), trial, kind), (), own.sheet


def _stem(kind: str, bench: CardBench, sheet_path: Path, units: str | None) -> str:
    """A file's name: cards of another form, size, sheet or units do not replace each other."""
    picture = bench.picture
    parts = [
        "" if sheet_path.name == SHEET_NAME else sheet_path.stem,
        "card",
        kind,
        "lower" if bench.lower_third else "",
        units or "",
        f"{picture.width_px}x{picture.height_px}",
    ]
    return "-".join(part for part in parts if part)


def _places(stem: str, count: int, folder: Path, ending: str) -> tuple[Path, ...]:
    names = [stem] if count == 1 else [f"{stem}-{n}-of-{count}" for n in range(1, count + 1)]
    return tuple(folder / FOLDER / f"{name}{ending}" for name in names)


def _clear(stem: str, places: Sequence[Path]) -> None:
    """Remove what an earlier run made of the same card where it took another number of them."""
    parted = re.compile(re.escape(stem) + r"(-\d+-of-\d+)?")
    for old in sorted(places[0].parent.glob(f"*{places[0].suffix}")):
        if old not in places and parted.fullmatch(old.stem) and _is_card(old):
            old.unlink()


def _must_be_free(places: Sequence[Path], folder: Path, sheet: TrialSheet) -> None:
    """Refuse to leave the trial's folder, and to write over what is no card of this program."""
    inputs = [entry.file for entry in sheet.logs]
    for entry in sheet.recordings:
        inputs += [*entry.files, *entry.proxies]
    taken = {(folder / name).resolve() for name in inputs}
    for place in places:
        if not place.resolve().is_relative_to(folder.resolve()):
            raise OutputError(
                "this card would leave the trial's folder", path=place,
                advice=f"make `{FOLDER}` a folder below {folder}",
            )  # fmt: skip
        if place.resolve() in taken:
            raise SheetError("this card would overwrite an input of the trial", path=place)
        if place.is_file() and not _is_card(place):
            raise OutputError(
                "there is a file already, and it is no card of trialreel", path=place,
                advice="move it away",
            )  # fmt: skip


def _is_card(place: Path) -> bool:
    with place.open("rb") as file:
        return MARK in file.read(_MARK_WITHIN)


def _write(drawn: Drawn, places: tuple[Path, ...], form: Form, clip: StillClip | None) -> None:
    """Write all cards beside their places, and move them there together."""
    said = f"{MARK.decode()}; trialreel {version('trialreel')}"
    with staged(*places) as parts:
        for one, part, place in zip(drawn.cards, parts, places, strict=True):
            if form == "png":
                part.write_bytes(png_of(one, said))
                continue
            from overlay.render.still import StillClip, film_still

            with told_of(part, place):
                film_still(
                    one.image[..., :3], part, output=place, clip=clip or StillClip(),
                    tags={"comment": said},
                )  # fmt: skip


def png_of(one: Card, comment: str) -> bytes:
    """A card as PNG: with straight alpha where it can be seen through, else without."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    opaque = bool((one.image[..., 3] == 255).all())
    image = Image.fromarray(one.image[..., :3] if opaque else one.image)
    facts = PngInfo()
    facts.add_text("Comment", comment)
    out = io.BytesIO()
    image.save(out, "PNG", pnginfo=facts)
    return out.getvalue()
