"""The last stage: pictures into packets, packets into the clip."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overlay.errors import RenderError
from overlay.render.fitness import Surface
from overlay.render.mastering import mastering_words
from overlay.render.place import write_error
from overlay.render.recipe import CONTAINERS, Recipe, movie_timescale
from overlay.render.sound import SoundTracks, sound_tracks
from overlay.render.tags import HELD
from sync.media import Footage

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import OutputContainer
    from av.packet import Packet
    from av.stream import Stream
    from av.video import VideoStream

FULL_RANGE, LIMITED_RANGE = 2, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """A chapter of a clip: where it begins on the footage clock, and what it is called."""

    t_footage_s: float
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipPlan:
    """What the encoder has to know about a clip before its first picture.

    `origin_s` is the instant of the footage clock that is 0 in the clip, `cut` the stretch
    that was cut out of the footage, or None for the whole of it; `ends_s` is where its pictures
    begin and end on the footage clock.
    """

    footage: Footage
    output: Path
    part: Path
    recipe: Recipe
    surface: Surface
    time_base: Fraction
    origin_s: Fraction
    cut: tuple[Fraction, Fraction] | None
    ends_s: tuple[Fraction, Fraction]
    tags: Mapping[str, str]
    timecode: str | None = None
    chapters: tuple[Chapter, ...] = ()


def encode_clip(clip: ClipPlan, pictures: Iterable[VideoFrame]) -> list[str]:
    """Encode and mux pictures as they come, and the sound along with them.

    Parameters
    ----------
    pictures
        In the order of showing, their time stamps in the clip's time base.

    Returns
    -------
    list
        Warnings about the sound.

    Raises
    ------
    OutputError
        Where the clip cannot be written.
    RenderError
        Where its container does not hold the footage's sound.
    """
    import av

    start_s, stop_s = clip.cut or (None, None)
    try:
        with av.open(
            f"file:{clip.part.absolute()}",
            "w",
            format=CONTAINERS[clip.output.suffix.lower()],
            container_options=_muxer_options(clip),
        ) as out:
            out.metadata.update(clip.tags)
            if clip.chapters:
                out.set_chapters(_chapters(clip))
            video = _picture_track(out, clip)
            sound = sound_tracks(
                clip.footage,
                out,
                output=clip.output,
                origin_s=clip.origin_s,
                start_s=start_s,
                stop_s=stop_s,
            )
            _encode_all(out, video, sound, clip, pictures)
            return [] if sound is None else sound.warnings
    except av.FFmpegError as error:
        raise write_error(error, clip.output) from error


def _encode_all(
    out: OutputContainer,
    video: VideoStream,
    sound: SoundTracks | None,
    clip: ClipPlan,
    pictures: Iterable[VideoFrame],
) -> None:
    durations: dict[int | None, int] = {}
    for picture in pictures:
        durations[picture.pts] = picture.duration
        for packet in _encoded(video, picture, clip):
            packet.duration = durations.pop(packet.pts, 0)  # else the last frame's is guessed
            out.mux(packet)
        if sound is not None and picture.pts is not None:
            sound.copy_until(clip.origin_s + picture.pts * clip.time_base)
    for packet in _encoded(video, None, clip):
        packet.duration = durations.pop(packet.pts, 0)
        out.mux(packet)
    if sound is not None:
        sound.copy_until(None)


def _encoded(
    video: VideoStream, picture: VideoFrame | None, clip: ClipPlan
) -> list[Packet[Stream]]:
    import av

    try:
        return video.encode(picture)
    except av.FFmpegError as error:
        raise RenderError(
            f"the encoder failed ({error.strerror})",
            path=clip.output,
            advice="render once more with --verbose, and report what it says",
        ) from error


def _chapters(clip: ClipPlan) -> list[Any]:
    """Chapters as the muxer takes them: each ends where the next begins."""
    milli = Fraction(1, 1000)
    origin_s, (_, stop_s) = float(clip.origin_s), clip.ends_s
    starts = [max(0, round((one.t_footage_s - origin_s) / milli)) for one in clip.chapters]
    stops = [*starts[1:], round((float(stop_s) - origin_s) / milli)]
    return [
        {"id": n, "start": start, "end": stop, "time_base": milli,
         "metadata": {"title": chapter.title}}
        for n, (chapter, start, stop) in enumerate(
            zip(clip.chapters, starts, stops, strict=True), start=1
        )
    ]  # fmt: skip


def _muxer_options(clip: ClipPlan) -> dict[str, str]:
    flags = ["faststart"] if clip.recipe.fast_start else []
    if not HELD[clip.output.suffix.lower()].issuperset(clip.tags):
        flags.append("use_metadata_tags")
    scales = (clip.time_base.denominator, *(track.rate_hz for track in clip.footage.sound))
    options = {
        "movie_timescale": str(movie_timescale(tuple(scale for scale in scales if scale > 0))),
        "video_track_timescale": str(clip.time_base.denominator),
    }
    if flags:
        options["movflags"] = "+" + "+".join(flags)
    return options


def _picture_track(out: OutputContainer, clip: ClipPlan) -> VideoStream:
    from av.video import VideoStream

    footage, surface, encoder = clip.footage, clip.surface, clip.recipe.by
    words = mastering_words(encoder, footage.side_data)
    try:
        video = out.add_stream(
            clip.recipe.codec,
            rate=footage.average_rate_hz or Fraction(30),
            options=clip.recipe.options(words, surface.pix_fmt),
        )
    except ValueError as error:  # how PyAV says that a codec was not built in
        raise RenderError(
            f"the encoder {clip.recipe.encoder} is not in the FFmpeg that PyAV has here",
            path=clip.output,
            advice="name another encoder, or install PyAV's own wheel",
        ) from error
    assert isinstance(video, VideoStream)
    if footage.display_matrix is not None:
        video.set_display_matrix(footage.display_matrix)
    if clip.timecode is not None:
        video.metadata["timecode"] = clip.timecode
    context = video.codec_context
    context.width, context.height = surface.width_px, surface.height_px
    context.pix_fmt = encoder.opens[1] or surface.pix_fmt
    if encoder.bits_a_pixel is not None:
        rate = encoder.bits_a_pixel[clip.recipe.preset] * float(video.average_rate or 30)
        context.bit_rate = round(rate * surface.width_px * surface.height_px)
    context.time_base = video.time_base = clip.time_base
    context.sample_aspect_ratio = footage.sample_aspect
    context.thread_count = clip.recipe.threads
    context.thread_type = encoder.thread_type  # by default x264 would cut pictures into slices
    if encoder.tag is not None:
        context.codec_tag = encoder.tag
    context.colorspace = surface.colour.matrix
    context.color_primaries = surface.colour.primaries
    context.color_trc = surface.colour.transfer
    context.color_range = FULL_RANGE if surface.colour.full_range else LIMITED_RANGE
    return video
