"""What a reel is made from: its clips, rendered where they have to be, and its cards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import RenderError
from overlay.sheet.model import Clip
from overlay.sheet.reels import Reel, ReelPart
from overlay.trial import Material, build_trial
from overlay.workflow.align import ties_for
from overlay.workflow.outputs import output_path
from overlay.workflow.progress import Progress
from overlay.workflow.reel_fresh import Before, manner_of, stale_because
from overlay.workflow.reel_plan import Card, Piece, Size, Stretch, form_of, in_frames, stretch_of
from overlay.workflow.wanted import wanted
from overlay.workflow.wishes import Wish
from sync.media import Footage, frame_times, probe

if TYPE_CHECKING:
    from overlay.analysis.results import Results
    from overlay.trial import Trial

HDR_TRANSFERS = {16: "PQ", 18: "HLG"}
"""ITU-T H.273, table 3."""

BT2020 = 9
"""The same for matrix and primaries (H.273, tables 2 and 4)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """The pieces of a reel in their order, what its picture is like, and what was said."""

    pieces: tuple[Piece, ...]
    size: Size
    rate_hz: Fraction
    remarks: tuple[str, ...]


def pieces_of(
    entry: Reel,
    material: Material,
    before: Before,
    *,
    progress: Progress,
) -> Parts:
    """Everything that a reel shows, ready to be put in a row.

    Raises
    ------
    SheetError
        Where a part goes beyond its clip.
    RenderError
        Where a clip's picture cannot be shown in a reel.
    """
    names = list(dict.fromkeys(part.clip for part in entry.parts if part.clip is not None))
    remarks: list[str] = []
    films: dict[str, Footage] = {}
    for name in names:
        (clip,) = wanted(material, name, Wish())
        path = output_path(clip, material)
        why = stale_because(clip, path, material, before)
        if why is not None:
            remarks += _rendered(clip, path, why, material, progress)
        films[name] = probe(path)
        _must_be_ordinary(films[name])
    size, rate_hz = form_of(entry, films[names[0]] if names else None)
    for name, film in films.items():
        remarks += _said_of(name, film, size, rate_hz)
    maker = _Maker(entry, material, films, size, rate_hz, remarks)
    pieces = [
        piece for number, part in enumerate(entry.parts, 1) for piece in maker.of(part, number)
    ]
    return Parts(
        pieces=tuple(pieces), size=size, rate_hz=rate_hz, remarks=tuple(dict.fromkeys(remarks))
    )


def _rendered(
    clip: Clip, path: Path, why: str, material: Material, progress: Progress
) -> list[str]:
    """Render a clip, as it was rendered before if it was; what is said of that."""
    from overlay.workflow.render import render_of

    manner = manner_of(path)
    wish = Wish(recipe=manner.recipe, strip_location=manner.strip_location)
    (made,) = render_of(material, clip.name, wish=wish, progress=progress).clips
    told = [f"clip {clip.name}: {warning}" for warning in made.warnings]
    return [f"the clip {clip.name!r} was rendered: {why}", *told]


def _must_be_ordinary(film: Footage) -> None:
    """Refuse pictures that would come out wrong in 8 bits of BT.709."""
    from overlay.render.moviepy_film import SWSCALE_MATRICES

    colour = film.colour.settled(width=film.width, height=film.height)
    if colour.transfer in HDR_TRANSFERS or BT2020 in (colour.matrix, colour.primaries):
        kind = HDR_TRANSFERS.get(colour.transfer, "BT.2020")
        raise RenderError(
            f"the clip is in {kind}, and a reel is in BT.709 of ordinary range, which would show "
            "it washed out",
            path=film.path,
            advice="leave it out of the reel, or cut the reel in an editing program that grades it",
        )
    if colour.matrix not in SWSCALE_MATRICES:
        raise RenderError(
            f"the colour matrix {colour.matrix_name} cannot be shown in a reel",
            path=film.path,
            advice="convert the footage to BT.709 first",
        )
    if film.interlaced:
        raise RenderError(
            "the clip is interlaced (made of two fields), and a reel is made of whole pictures",
            path=film.path,
            advice="deinterlace the footage first",
        )


def _said_of(name: str, film: Footage, size: Size, rate_hz: Fraction) -> Iterator[str]:
    """What becomes of a clip in a reel of a size and a rate."""
    from overlay.render.upright import upright_of
    from overlay.workflow.reel_pieces import fitted, has_sound

    _, _, width, height = fitted(film, size)
    shown = upright_of(film).pair(film.width, film.height)
    if shown != (width, height):
        black = "" if (width, height) == size else f", with black to {size[0]}×{size[1]}"
        yield f"clip {name}: {shown[0]}×{shown[1]} is brought to {width}×{height}{black}"
    own = film.average_rate_hz
    if own is not None and abs(own / rate_hz - 1) > Fraction(1, 1000):
        way = "repeated" if own < rate_hz else "left out"
        yield (
            f"clip {name}: {float(own):.4g} frames a second on average are brought to "
            f"{float(rate_hz):.4g}; frames are {way}"
        )
    if film.bit_depth > 8:
        yield f"clip {name}: {film.bit_depth} bits are brought to 8"
    colour = film.colour.settled(width=film.width, height=film.height)
    if colour.matrix != 1:
        yield f"clip {name}: {colour.matrix_name} is brought to BT.709, primaries left as they are"
    if not film.sound:
        yield f"clip {name}: it has no sound"
    elif not has_sound(film):
        yield f"clip {name}: its sound cannot be decoded here, and it is silent"
    else:
        if len(film.sound) > 1:
            yield f"clip {name}: the first of its {len(film.sound)} sound tracks is heard"
        if film.sound[0].channels > 2:
            yield f"clip {name}: {film.sound[0].channels} channels of sound are mixed into one"


class _Maker:
    """Makes the pieces of each part; the trial is worked out once a card needs it."""

    def __init__(
        self,
        entry: Reel,
        material: Material,
        films: Mapping[str, Footage],
        size: Size,
        rate_hz: Fraction,
        remarks: list[str],
    ) -> None:
        self._entry, self._material, self._films = entry, material, films
        self._size, self._rate_hz, self._remarks = size, rate_hz, remarks
        self._worked_out: tuple[Results, Trial] | None = None

    def of(self, part: ReelPart, number: int) -> list[Piece]:
        """The pieces of one part: a clip's one, or as many as a card's table takes."""
        where = f"reels, {self._entry.name}, part {number} ({part.words})"
        if part.clip is not None:
            return [self._clip(part, where)]
        seconds = self._entry.card_length if part.length is None else part.length
        frames = max(1, in_frames(seconds, self._rate_hz))
        cards = self._cards(str(part.card))
        if len(cards) > 1:
            self._remarks.append(f"card {part.card}: {len(cards)} cards, {seconds:g} s each")
        return [self._piece(part, where, self._material.sheet_path, card, frames) for card in cards]

    def _clip(self, part: ReelPart, where: str) -> Piece:
        film = self._films[str(part.clip)]
        stretch, length_s = stretch_of(
            part, film, frame_times(film), path=self._material.sheet_path, where=where
        )
        frames = max(1, round(length_s * self._rate_hz))
        return self._piece(part, where, film.path, stretch, frames)

    def _piece(
        self, part: ReelPart, where: str, path: Path, source: Card | Stretch, frames: int
    ) -> Piece:
        entry, rate_hz = self._entry, self._rate_hz
        fade, overlap = (
            in_frames(all_s if own is None else own, rate_hz)
            for all_s, own in ((entry.fade, part.fade), (entry.overlap, part.overlap))
        )
        return Piece(
            kind="clip" if part.card is None else "card",
            name=str(part.clip or part.card),
            where=where,
            path=path,
            source=source,
            frames=frames,
            fade=fade,
            overlap=overlap,
        )

    def _cards(self, kind: str) -> list[Card]:
        from overlay.graphics.cards import CARDS
        from overlay.graphics.cards.base import CardBench
        from overlay.graphics.picture import Picture
        from overlay.graphics.theme import load_theme
        from overlay.workflow.card_facts import facts_of

        picture = Picture(width_px=self._size[0], height_px=self._size[1])
        results, trial = self._results()
        bench = CardBench(picture=picture, theme=load_theme())
        drawn = CARDS[kind].draw(facts_of(results, trial, kind), bench)
        self._remarks += [f"card {kind}: {remark}" for remark in drawn.remarks]
        return [Card(image=one.image[..., :3].copy()) for one in drawn.cards]

    def _results(self) -> tuple[Results, Trial]:
        from overlay.analysis.results import compute_results

        if self._worked_out is None:
            trial = build_trial(self._material, ties_for(self._material))
            self._worked_out = compute_results(trial), trial
        return self._worked_out
