"""One clip of pieces that were encoded apart, without encoding them again.

Each piece begins with a picture that needs none before it, since each had an encoder of its own,
and its pictures have the time stamps of the clip already. What cannot be kept is the order of
decoding: each encoder counted it from its own beginning. It is worked out anew, of all time stamps
in their order (see `decode_times`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, cast

from overlay.errors import RenderError
from overlay.render.clip_plan import ClipPlan, Wanted, clip_begun
from overlay.render.decode import Losses
from overlay.render.decode_times import decode_times
from overlay.render.encode import mux_clip, track_facts, written
from overlay.render.pipeline import Burned, burned, of_clip
from sync.media import Footage
from sync.media.ffmpeg_log import caught

if TYPE_CHECKING:
    from av.container import OutputContainer
    from av.packet import Packet
    from av.stream import Stream
    from av.video import VideoStream

Progress = Callable[[int, int], None]


def join_pieces(
    footage: Footage,
    output: Path,
    pieces: Sequence[Path],
    wanted: Wanted,
    *,
    progress: Progress | None = None,
) -> Burned:
    """Join the pieces of a clip, which `burn` made, and give it its sound, timecode and chapters.

    Parameters
    ----------
    pieces
        In the order of the clip, without a frame missing or twice.
    wanted
        The clip, as its pieces were asked for.

    Raises
    ------
    RenderError
        Where they are not the pieces of this clip.
    OutputError
        Where the clip cannot be written.
    """
    import av

    with caught() as messages, clip_begun(footage, Path(output), wanted) as clip:
        try:
            order = _order(clip, pieces)
        except (av.FFmpegError, OSError) as error:
            raise _unfit(clip, f"cannot be read ({error.strerror or error})") from error
        with written(clip) as out:
            video = _track(out, clip, pieces)
            sound_warnings = mux_clip(out, clip, _packets(video, clip, pieces, order, progress))
    return burned(clip, Losses(), (*sound_warnings, *of_clip(messages.lines(), clip)))


def _unfit(clip: ClipPlan, what: str) -> RenderError:
    return RenderError(
        f"a piece of this clip {what}", path=clip.output, advice="make the pieces once more"
    )


def _in_file(clip: ClipPlan, piece: Path) -> Iterator[Packet[Stream]]:
    """The packets of a piece, in the order of decoding."""
    import av

    with av.open(f"file:{piece.absolute()}") as source:
        stream = source.streams.video[0]
        if stream.time_base != clip.time_base:
            raise _unfit(clip, f"counts in {stream.time_base} s, and not in {clip.time_base} s")
        for packet in source.demux(stream):
            if packet.size:
                yield cast("Packet[Stream]", packet)


def _order(clip: ClipPlan, pieces: Sequence[Path]) -> list[int]:
    """The time stamps of all packets in the order of decoding, seen to be those of the clip."""
    order: list[int] = []
    for piece in pieces:
        for number, packet in enumerate(_in_file(clip, piece)):
            if number == 0 and not packet.is_keyframe:
                raise _unfit(clip, "does not begin with a key frame")
            order.append(-1 if packet.pts is None else packet.pts)
    if sorted(order) != [clip.stamp_pts(index) for index in clip.frames]:
        raise _unfit(clip, "is missing, or has other frames than were asked for")
    return order


def _track(out: OutputContainer, clip: ClipPlan, pieces: Sequence[Path]) -> VideoStream:
    """The clip's track of pictures, like that of its pieces, which must be alike."""
    import av
    from av.video import VideoStream

    heads: list[bytes] = []
    for piece in pieces:
        with av.open(f"file:{piece.absolute()}") as source:
            like = source.streams.video[0]
            heads.append(bytes(like.codec_context.extradata or b""))
            if len(heads) == 1:
                # By the decoder: that of AV1 has no encoder of its name.
                track = out.add_stream_from_template(like, opaque=True)
    if any(head != heads[0] for head in heads):
        raise _unfit(clip, "was encoded with other settings than the rest")
    assert isinstance(track, VideoStream)
    track_facts(track, clip)
    return track


def _packets(
    video: VideoStream,
    clip: ClipPlan,
    pieces: Sequence[Path],
    order: Sequence[int],
    progress: Progress | None,
) -> Iterator[Packet[Stream]]:
    lasting = {clip.stamp_pts(index): clip.duration_pts(index) for index in clip.frames}
    times = decode_times(order, lasting[order[0]])
    number = 0
    for piece in pieces:
        for packet in _in_file(clip, piece):
            assert packet.pts is not None
            packet.stream, packet.time_base = video, Fraction(clip.time_base)
            packet.dts = times[number]
            packet.duration = lasting[packet.pts]
            number += 1
            yield packet
            if progress is not None:
                progress(number, len(order))
