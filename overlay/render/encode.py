"""The last stage: pictures into packets, packets into the clip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from overlay.errors import RenderError
from overlay.render.clip_plan import ClipPlan
from overlay.render.cropping import display_matrix_of
from overlay.render.decode_times import decode_times
from overlay.render.mastering import mastering_words
from overlay.render.place import write_error
from overlay.render.recipe import CONTAINERS, movie_timescale
from overlay.render.sound import sound_tracks
from overlay.render.tags import HELD

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import OutputContainer
    from av.packet import Packet
    from av.stream import Stream
    from av.video import VideoStream

FULL_RANGE, LIMITED_RANGE = 2, 1

USUAL_RATE_HZ = Fraction(30)
"""Of footage that does not say its own."""

FEW_PICTURES = 2
"""x265 measures the delay of decoding at the third picture; of fewer, its time stamps of decoding
are whatever lay in memory (seen with PyAV 18, and then refused by the muxer, or not)."""


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
    with written(clip) as out:
        video = _picture_track(out, clip)
        return mux_clip(out, clip, _packets(video, clip, pictures))


@contextmanager
def written(clip: ClipPlan) -> Iterator[OutputContainer]:
    """The clip's file, open for its tracks and packets.

    Raises
    ------
    OutputError
        Where it cannot be written.
    """
    import av

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
            yield out
    except av.FFmpegError as error:
        raise write_error(error, clip.output) from error


def mux_clip(out: OutputContainer, clip: ClipPlan, packets: Iterable[Packet[Stream]]) -> list[str]:
    """Write packets of pictures as they come, and the sound along with them.

    The track of the pictures is there already. A piece of a clip has no sound.

    Returns
    -------
    list
        Warnings about the sound.

    Raises
    ------
    RenderError
        Where the container does not hold the footage's sound.
    """
    start_s, stop_s = clip.cut or (None, None)
    sound = (
        sound_tracks(
            clip.footage,
            out,
            output=clip.output,
            origin_s=clip.origin_s,
            start_s=start_s,
            stop_s=stop_s,
        )
        if clip.piece is None
        else None
    )
    if sound is not None:
        sound.copy_until(clip.ends_s[0])  # so that a place that takes nothing is found out at once
    for packet in packets:
        shown_pts = packet.pts
        out.mux(packet)
        if sound is not None and shown_pts is not None:
            sound.copy_until(clip.origin_s + shown_pts * clip.time_base)
    if sound is None:
        return []
    sound.copy_until(None)
    return sound.warnings


def _packets(
    video: VideoStream, clip: ClipPlan, pictures: Iterable[VideoFrame]
) -> Iterator[Packet[Stream]]:
    packets = _of_encoder(video, clip, pictures)
    if len(clip.made) > FEW_PICTURES:
        return packets
    few = list(packets)
    order = [packet.pts for packet in few if packet.pts is not None]
    for packet, dts in zip(few, decode_times(order, few[0].duration or 1), strict=True):
        packet.dts = dts
    return iter(few)


def _of_encoder(
    video: VideoStream, clip: ClipPlan, pictures: Iterable[VideoFrame]
) -> Iterator[Packet[Stream]]:
    durations: dict[int | None, int] = {}
    for picture in pictures:
        durations[picture.pts] = picture.duration
        yield from _lasting(_encoded(video, picture, clip), durations)
    yield from _lasting(_encoded(video, None, clip), durations)


def _lasting(
    packets: list[Packet[Stream]], durations: dict[int | None, int]
) -> Iterator[Packet[Stream]]:
    """Packets with the durations of their pictures; else the last one's is guessed."""
    for packet in packets:
        packet.duration = durations.pop(packet.pts, 0)
        yield packet


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
    flags = ["faststart"] if clip.recipe.fast_start and clip.piece is None else []
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
            clip.recipe.codec, options=clip.recipe.options(words, surface.pix_fmt)
        )
    except ValueError as error:  # how PyAV says that a codec was not built in
        raise RenderError(
            f"the encoder {clip.recipe.encoder} is not in the FFmpeg that PyAV has here",
            path=clip.output,
            advice="name another encoder, or install PyAV's own wheel",
        ) from error
    assert isinstance(video, VideoStream)
    track_facts(video, clip)
    context = video.codec_context
    context.width, context.height = surface.width_px, surface.height_px
    context.pix_fmt = encoder.opens[1] or surface.pix_fmt
    if encoder.bits_a_pixel is not None:
        rate = encoder.bits_a_pixel[clip.recipe.preset] * context.framerate
        context.bit_rate = round(rate * surface.width_px * surface.height_px)
    context.time_base = clip.time_base
    context.thread_count = clip.recipe.threads
    context.thread_type = encoder.thread_type  # by default x264 would cut pictures into slices
    context.colorspace = surface.colour.matrix
    context.color_primaries = surface.colour.primaries
    context.color_trc = surface.colour.transfer
    context.color_range = FULL_RANGE if surface.colour.full_range else LIMITED_RANGE
    return video


def track_facts(video: VideoStream, clip: ClipPlan) -> None:
    """Give a clip's track of pictures what its file says of it: clock, pictures a second, shape of
    pixels, rotation, timecode, and the name of its coding."""
    video.time_base = clip.time_base
    # Without it the muxer makes no track of a timecode.
    video.codec_context.framerate = clip.footage.average_rate_hz or USUAL_RATE_HZ
    video.codec_context.sample_aspect_ratio = clip.footage.sample_aspect
    if clip.recipe.by.tag is not None:
        video.codec_context.codec_tag = clip.recipe.by.tag
    turned = display_matrix_of(clip.footage, clip.surface.crop)
    if turned is not None:
        video.set_display_matrix(turned)
    if clip.timecode is not None:
        video.metadata["timecode"] = clip.timecode
