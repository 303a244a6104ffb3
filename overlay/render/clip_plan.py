"""What a clip will be, settled before its first picture: its frames, its clock, its place.

Where the 0 of a clip's clock lies on the footage clock is settled here too, exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from overlay.errors import RenderError, WishError
from overlay.render.cropping import Crop
from overlay.render.fitness import Surface, surface_of
from overlay.render.place import placed
from overlay.render.recipe import CONTAINERS, Recipe, clip_time_base
from overlay.render.tags import timecode_from
from sync.clock import Span
from sync.media import Footage, FrameTimes, frame_times


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """A chapter of a clip: where it begins on the footage clock, and what it is called."""

    t_footage_s: float
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A clip that is asked for.

    Parameters
    ----------
    span
        The stretch of the footage clock that it shows; it is cut on the frame. None for the whole.
    tags
        For the container's metadata.
    chapters
        On the footage clock, in order.
    crop
        The part of the picture that it shows; None for the whole.
    """

    span: Span | None = None
    recipe: Recipe = field(default_factory=Recipe)
    tags: Mapping[str, str] | None = None
    chapters: tuple[Chapter, ...] = ()
    crop: Crop | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClipPlan:
    """What has to be known about a clip before its first picture.

    Parameters
    ----------
    part
        Where it is written until it is whole.
    times, frames
        The footage's frames, and those of them that the clip has.
    time_base
        Seconds in one tick of the clip's time stamps.
    origin_s
        The instant of the footage clock that is 0 in the clip.
    cut
        The stretch that was cut out of the footage, or None for the whole of it.
    ends_s
        Where its pictures begin and end on the footage clock.
    piece
        Where not the clip is made but a piece of it: the numbers of the piece's frames in the
        clip. A piece has pictures alone, with the time stamps that they have in the clip.
    """

    footage: Footage
    output: Path
    part: Path
    recipe: Recipe
    surface: Surface
    times: FrameTimes
    frames: range
    time_base: Fraction
    origin_s: Fraction
    cut: tuple[Fraction, Fraction] | None
    ends_s: tuple[Fraction, Fraction]
    tags: Mapping[str, str]
    timecode: str | None = None
    chapters: tuple[Chapter, ...] = ()
    piece: range | None = None
    warnings: tuple[str, ...] = ()

    @property
    def numbers(self) -> range:
        """The numbers, in the clip, of the frames that are to be made."""
        return range(len(self.frames)) if self.piece is None else self.piece

    @property
    def made(self) -> range:
        """The same frames by their numbers in the footage."""
        return self.frames[self.numbers.start : self.numbers.stop]

    def stamp_pts(self, index: int) -> int:
        """The time stamp in the clip of a frame of the footage, in ticks of `time_base`."""
        ticks = self.times.time_base / self.time_base
        shifted = int(self.times.pts[index]) * ticks - self.origin_s / self.time_base
        assert shifted.denominator == 1
        return int(shifted)

    def duration_pts(self, index: int) -> int:
        """How long a frame of the footage stands, in the same ticks."""
        return int(self.times.duration_pts(index) * self.times.time_base / self.time_base)


@contextmanager
def clip_begun(
    footage: Footage, output: Path, wanted: Wanted, *, piece: range | None = None
) -> Iterator[ClipPlan]:
    """Settle what a clip will be and lend it a place to be written to.

    Leaving in peace moves the clip to its own place; leaving by an error removes it.

    Raises
    ------
    RenderError
        Where the footage is of a kind that cannot be rendered, the span holds no frame, or the
        piece is not in it.
    WishError
        Where the encoder's pictures do not go into such a file.
    OutputError
        Where the clip cannot be written, or must not be.
    """
    recipe = wanted.recipe
    _refuse_container(output, recipe)
    surface = surface_of(footage, recipe, wanted.crop)
    times = frame_times(footage)
    frames = range(len(times)) if wanted.span is None else times.within(wanted.span)
    if not frames:
        raise _empty_span(footage, times, wanted.span)
    if piece is not None and not 0 <= piece.start < piece.stop <= len(frames):
        raise RenderError(
            f"there is no piece from frame {piece.start} to {piece.stop}: the clip has"
            f" {len(frames)} frames",
            path=footage.path,
            advice="plan the series once more",
        )
    ends = ends_s(times, frames)
    timecode, untimed = timecode_from(footage, frames[0])
    count = len(frames) if piece is None else len(piece)
    need_bytes = max(
        footage.size_bytes * count // len(times),
        recipe.least_bytes(surface.width_px * surface.height_px * count),
    )
    with placed(output, sources=footage.paths, need_bytes=need_bytes) as part:
        yield ClipPlan(
            footage=footage,
            output=output,
            part=part,
            recipe=recipe,
            surface=surface,
            times=times,
            frames=frames,
            time_base=clip_time_base(times.time_base),
            origin_s=_origin_s(footage, times, frames, whole=wanted.span is None),
            cut=None if wanted.span is None else ends,
            ends_s=ends,
            tags=wanted.tags if wanted.tags and piece is None else {},
            timecode=timecode if piece is None else None,
            chapters=wanted.chapters if piece is None else (),
            piece=piece,
            warnings=(*times.warnings, *(() if untimed is None else (untimed,))),
        )


def _refuse_container(output: Path, recipe: Recipe) -> None:
    ending = output.suffix.lower()
    if ending in CONTAINERS and ending not in recipe.by.containers:
        raise WishError(
            f"{recipe.encoder} is not written as {ending}",
            path=output,
            allowed=recipe.by.containers,
            advice=f"give the clip the ending {recipe.by.containers[0]}",
        )


def _empty_span(footage: Footage, times: FrameTimes, span: Span | None) -> RenderError:
    wanted = "" if span is None else f" between {span.start_s:.3f} s and {span.stop_s:.3f} s"
    return RenderError(
        f"there is no frame{wanted}: the footage runs from {times.span.start_s:.3f} s"
        f" to {times.span.stop_s:.3f} s",
        path=footage.path,
        advice="name a stretch inside the footage",
    )


def ends_s(times: FrameTimes, frames: range) -> tuple[Fraction, Fraction]:
    """Where a stretch of frames begins and ends on the footage clock, exactly."""
    last = frames[-1]
    start = int(times.pts[frames[0]])
    stop = int(times.pts[last]) + times.duration_pts(last)
    return start * times.time_base, stop * times.time_base


def _origin_s(footage: Footage, times: FrameTimes, frames: range, *, whole: bool) -> Fraction:
    """The instant of the footage clock that is 0 in the clip.

    A whole recording keeps its clock, and with it a late picture or an early sound; but the
    clock of a transport stream starts anywhere, and is set to 0 at the first frame.
    """
    if whole and footage.container != "mpegts":
        return Fraction(0)
    return ends_s(times, frames)[0]
