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

from overlay.errors import RenderError, WishError
from overlay.graphics.layer import Planes
from overlay.render.decode import Losses, decode, ends_s, origin_s, stamp
from overlay.render.encode import Chapter, ClipPlan, encode_clip
from overlay.render.fitness import conversion_warnings, surface_of
from overlay.render.place import placed
from overlay.render.recipe import CONTAINERS, Recipe, clip_time_base
from overlay.render.stages import Belt, Stage, StoppedError, join_all
from overlay.render.tags import timecode_from
from sync.clock import ClockMap, Span
from sync.media import ColourTags, Decoded, Footage, FrameTimes, frame_times
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
        frame: tuple[int, int],
        pts: int,
        t_footage_s: float,
        t_utc_s: float,
        shown: tuple[Shown, ...],
    ) -> None:
        """Tell of a frame, one of so many, that is on its way."""
        number, total = frame
        if self.record is not None:
            self.record(number, pts, t_footage_s, t_utc_s, shown)
        if self.progress is not None:
            self.progress(number + 1, total)


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

    Raises
    ------
    RenderError
        Where the footage is of a kind that cannot be rendered, or the span holds no frame.
    OutputError
        Where the clip cannot be written, or must not be; nothing is left behind.
    FootageError
        Where not a frame can be decoded.
    """
    output = Path(output)
    recipe = recipe or Recipe()
    _refuse_container(output, recipe)
    surface = surface_of(footage, recipe)
    times = frame_times(footage)
    frames = range(len(times)) if span is None else times.within(span)
    if not frames:
        raise _empty_span(footage, times, span)
    start_s, stop_s = ends_s(times, frames)
    timecode, untimed = timecode_from(footage, frames[0])
    need_bytes = max(
        footage.size_bytes * len(frames) // len(times),
        recipe.least_bytes(surface.width_px * surface.height_px * len(frames)),
    )
    with (
        caught() as messages,
        placed(output, sources=footage.paths, need_bytes=need_bytes) as part,
    ):
        clip = ClipPlan(
            footage=footage,
            output=output,
            part=part,
            recipe=recipe,
            surface=surface,
            time_base=clip_time_base(times.time_base),
            origin_s=origin_s(footage, times, frames, whole=span is None),
            cut=None if span is None else (start_s, stop_s),
            ends_s=(start_s, stop_s),
            tags=tags or {},
            timecode=timecode,
            chapters=chapters,
        )
        line = _Line(messages)
        watch = _Watch(record=record, keep_print=keep_print, progress=progress)
        sound_warnings = _run(line, clip, times, frames, plan, clock_map, watch)
    return Burned(
        output=output,
        frames=len(frames),
        seconds=float(stop_s - start_s),
        time_base=clip.time_base,
        colour=surface.colour,
        replaced_frames=line.losses.replaced,
        suspect_frames=line.losses.suspect,
        warnings=_warnings(line, clip, (*times.warnings, *sound_warnings, *_given(untimed))),
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


def _given(text: str | None) -> tuple[str, ...]:
    return () if text is None else (text,)


def _warnings(line: _Line, clip: ClipPlan, others: tuple[str, ...]) -> tuple[str, ...]:
    """What is to be said of a clip, each thing once."""
    footage = clip.footage
    told = (
        *(footage.warnings if footage.parts else ()),
        *conversion_warnings(footage, clip.surface, clip.recipe.by),
        *line.losses.warnings(),
        *others,
        *_of_clip(line.messages.lines(), timed=clip.timecode is not None),
    )
    return tuple(dict.fromkeys(told))


_TIMECODE_PACKET = re.compile(r": Packet duration: (\d+) / dts: \1 in stream \d+ is out of range")


def _of_clip(lines: tuple[str, ...], *, timed: bool) -> tuple[str, ...]:
    """Messages without those on the timecode's only packet.

    FFmpeg's muxer stamps it with the time of day in ticks of the movie's clock, which may be more
    than it takes, says so twice, and then writes the track as it should be.
    """
    if not timed or not any(_TIMECODE_PACKET.search(line) for line in lines):
        return lines
    return tuple(
        line
        for line in lines
        if not _TIMECODE_PACKET.search(line) and not line.endswith("pts has no value")
    )


def _empty_span(footage: Footage, times: FrameTimes, span: Span | None) -> RenderError:
    wanted = "" if span is None else f" between {span.start_s:.3f} s and {span.stop_s:.3f} s"
    return RenderError(
        f"there is no frame{wanted}: the footage runs from {times.span.start_s:.3f} s"
        f" to {times.span.stop_s:.3f} s",
        path=footage.path,
        advice="name a stretch inside the footage",
    )


def _run(
    line: _Line,
    clip: ClipPlan,
    times: FrameTimes,
    frames: range,
    plan: Drawable,
    clock_map: ClockMap,
    watch: _Watch,
) -> list[str]:
    """Start the stages, blend between them, and wait for the clip; returns sound warnings."""
    warnings: list[str] = []
    upright = clip.surface.upright
    decoder = Stage("decode", lambda: decode(clip, times, frames, line.decoded), line.stop)
    encoder = Stage("encode", lambda: warnings.extend(encode_clip(clip, line.drawn)), line.stop)
    stages = (decoder, encoder)
    for stage in stages:
        stage.start()
    try:
        for number, decoded in enumerate(line.decoded):
            line.losses.note(decoded, times)
            line.messages.settle()
            picture = decoded.picture
            t_footage_s = times.time_s(decoded.index)
            t_utc_s = float(clock_map.carry(t_footage_s))
            y, u, v = (upright.view(plane) for plane in planes_of(picture))
            shown = plan.draw((y, u, v), t_utc_s)
            pts = stamp(picture, decoded.index, clip, times)
            watch.drawn(pts, t_footage_s, t_utc_s, y, clip.surface.picture.depth)
            line.drawn.put(picture)
            if number == 0:
                _log.info("the first frame is with the encoder")
            watch.done((number, len(frames)), pts, t_footage_s, t_utc_s, shown)
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
