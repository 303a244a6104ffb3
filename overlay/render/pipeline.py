"""The line that burns a plan onto footage: decode, blend, encode, each in its own thread.

The caller's thread blends, so that a plan need not be thread-safe and Ctrl-C arrives where it
can be answered. No picture is ever converted to RGB.
"""

from __future__ import annotations

import logging
import re
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from overlay.graphics.layer import Planes
from overlay.render.clip_plan import Chapter, ClipPlan, Wanted, clip_begun
from overlay.render.cropping import Crop
from overlay.render.decode import Losses, decode, stamp
from overlay.render.encode import encode_clip
from overlay.render.fitness import conversion_warnings
from overlay.render.recipe import Recipe
from overlay.render.stages import Belt, Stage, StoppedError, join_all
from sync.clock import ClockMap, Span
from sync.media import ColourTags, Decoded, Footage
from sync.media.ffmpeg_log import Messages, caught
from sync.media.planes import Plane, planes_of

if TYPE_CHECKING:
    from av import VideoFrame

    from overlay.ledger import Shown

_log = logging.getLogger(__name__)

Record = Callable[[int, int, float, float, "tuple[Shown, ...]"], None]
KeepPrint = Callable[[int, float, float, Plane, int], None]
Progress = Callable[[int, int], None]


class Drawable(Protocol):
    """What can be burned: it draws itself for an instant of log time."""

    def draw(self, planes: Planes, t_utc_s: float) -> tuple[Shown, ...]:
        """Draw on the planes Y, U and V in place, and say what was shown.

        Parameters
        ----------
        planes
            Y [shape=(height, width)], U and V, as `surface_of` says: upright views of the picture
            itself, at its true width. Of a transparent render a fourth, of coverage.
        t_utc_s
            The frame's instant, UTC.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Burned:
    """A finished clip.

    Parameters
    ----------
    frames, seconds
        Its length.
    time_base
        Seconds in one tick of the time stamps that `record` was given.
    colour
        The tags on the clip.
    replaced_frames
        How many frames could not be decoded, so that the one before stands in for them.
    suspect_frames
        How many frames were decoded from such a lost one, up to the next key frame.
    """

    output: Path
    frames: int
    seconds: float
    time_base: Fraction
    colour: ColourTags
    replaced_frames: int = 0
    suspect_frames: int = 0
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Watch:
    """Who is told of each frame."""

    record: Record | None
    keep_print: KeepPrint | None
    progress: Progress | None

    def drawn(self, pts: int, t_footage_s: float, t_utc_s: float, luma: Plane, depth: int) -> None:
        """Tell of a picture that the encoder does not have yet."""
        if self.keep_print is not None:
            self.keep_print(pts, t_footage_s, t_utc_s, luma, depth)

    def done(
        self,
        number: int,
        numbers: range,
        pts: int,
        t_footage_s: float,
        t_utc_s: float,
        shown: tuple[Shown, ...],
    ) -> None:
        """Tell of a frame, one of some, that is on its way."""
        if self.record is not None:
            self.record(number, pts, t_footage_s, t_utc_s, shown)
        if self.progress is not None:
            self.progress(number + 1 - numbers.start, len(numbers))


@dataclass(slots=True)
class _Line:
    """What the stages share: belts, the stop signal, and what is heard of trouble."""

    messages: Messages
    losses: Losses = field(default_factory=Losses)
    stop: threading.Event = field(default_factory=threading.Event)
    decoded: Belt[Decoded] = field(init=False)
    drawn: Belt[VideoFrame] = field(init=False)

    def __post_init__(self) -> None:
        self.decoded = Belt(self.stop)
        self.drawn = Belt(self.stop)


def burn(
    footage: Footage,
    output: Path,
    *,
    plan: Drawable,
    clock_map: ClockMap,
    span: Span | None = None,
    recipe: Recipe | None = None,
    record: Record | None = None,
    keep_print: KeepPrint | None = None,
    progress: Progress | None = None,
    tags: Mapping[str, str] | None = None,
    chapters: tuple[Chapter, ...] = (),
    crop: Crop | None = None,
    piece: range | None = None,
) -> Burned:
    """Burn a plan onto footage, or onto a stretch of it.

    Every time stamp is kept: in a whole recording as it is, in a span counted from its first
    frame. The sound is copied as it is. The clip appears at its place when it is whole.

    Parameters
    ----------
    clock_map
        From the footage clock to UTC.
    span
        The stretch wanted, on the footage clock; it is cut on the frame.
    record
        Called for each frame with its number in the clip, its time stamp in the clip in ticks
        of `Burned.time_base`, its instant on the footage clock and in UTC, and what was shown.
    keep_print
        Called for each frame with its time stamp, its two instants, its upright luma as it was
        drawn, which must not be kept, and the bits of a code.
    progress
        Called with the number of frames done, and of all.
    tags
        For the container's metadata.
    chapters
        On the footage clock, in order.
    crop
        The part of the picture that the clip shows; None for the whole.
    piece
        Where only some frames of the clip are wanted, their numbers in it: pictures without sound,
        each with the number and the time stamp that it has in the clip, for `join_pieces`.

    Raises
    ------
    RenderError
        Where the footage is of a kind that cannot be rendered, or the span holds no frame.
    OutputError
        Where the clip cannot be written, or must not be; nothing is left behind.
    FootageError
        Where not a frame can be decoded.
    """
    wanted = Wanted(span=span, recipe=recipe or Recipe(), tags=tags, chapters=chapters, crop=crop)
    with (
        caught() as messages,
        clip_begun(footage, Path(output), wanted, piece=piece) as clip,
    ):
        line = _Line(messages)
        watch = _Watch(record=record, keep_print=keep_print, progress=progress)
        sound_warnings = _run(line, clip, plan, clock_map, watch)
    return burned(clip, line.losses, (*sound_warnings, *of_clip(messages.lines(), clip)))


def burned(clip: ClipPlan, losses: Losses, warnings: tuple[str, ...]) -> Burned:
    """What is told of a finished clip; each warning once."""
    footage, first, last = clip.footage, clip.made[0], clip.made[-1]
    told = (
        *(footage.warnings if footage.parts else ()),
        *conversion_warnings(footage, clip.surface, clip.recipe.by),
        *losses.warnings(),
        *clip.warnings,
        *warnings,
    )
    stop_pts = clip.stamp_pts(last) + clip.duration_pts(last)
    return Burned(
        output=clip.output,
        frames=len(clip.made),
        seconds=float((stop_pts - clip.stamp_pts(first)) * clip.time_base),
        time_base=clip.time_base,
        colour=clip.surface.colour,
        replaced_frames=losses.replaced,
        suspect_frames=losses.suspect,
        warnings=tuple(dict.fromkeys(told)),
    )


_TIMECODE_PACKET = re.compile(r": Packet duration: (\d+) / dts: \1 in stream \d+ is out of range")


def of_clip(lines: tuple[str, ...], clip: ClipPlan) -> tuple[str, ...]:
    """Messages about a clip without those on the timecode's only packet.

    FFmpeg's muxer stamps it with the time of day in ticks of the movie's clock, which may be more
    than it takes, says so twice, and then writes the track as it should be.
    """
    if clip.timecode is None or not any(_TIMECODE_PACKET.search(line) for line in lines):
        return lines
    return tuple(
        line
        for line in lines
        if not _TIMECODE_PACKET.search(line) and not line.endswith("pts has no value")
    )


def _run(
    line: _Line, clip: ClipPlan, plan: Drawable, clock_map: ClockMap, watch: _Watch
) -> list[str]:
    """Start the stages, blend between them, and wait for the clip; returns sound warnings."""
    warnings: list[str] = []
    upright, times, numbers = clip.surface.upright, clip.times, clip.numbers
    decoder = Stage("decode", lambda: decode(clip, line.decoded), line.stop)
    encoder = Stage("encode", lambda: warnings.extend(encode_clip(clip, line.drawn)), line.stop)
    stages = (decoder, encoder)
    for stage in stages:
        stage.start()
    try:
        for number, decoded in enumerate(line.decoded, start=numbers.start):
            line.losses.note(decoded, times)
            line.messages.settle()
            picture = decoded.picture
            t_footage_s = times.time_s(decoded.index)
            t_utc_s = float(clock_map.carry(t_footage_s))
            y, u, v = (upright.view(plane) for plane in planes_of(picture))
            shown = plan.draw((y, u, v), t_utc_s)
            pts = stamp(picture, decoded.index, clip)
            watch.drawn(pts, t_footage_s, t_utc_s, y, clip.surface.picture.depth)
            line.drawn.put(picture)
            if number == numbers.start:
                _log.info("the first frame is with the encoder")
            watch.done(number, numbers, pts, t_footage_s, t_utc_s, shown)
        line.drawn.end()
    except StoppedError:
        pass  # a stage has failed; what it says is raised below
    except BaseException:
        line.stop.set()
        raise
    finally:
        join_all(stages, line.stop)
    for stage in stages:
        if stage.failure is not None:
            raise stage.failure
    return warnings
