"""The bare transcode that a render is held against. It needs PyAV alone, so that the memory of a
process that does nothing else is PyAV's own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import av
from av.video.frame import PictureType

if TYPE_CHECKING:
    from overlay.render import Recipe


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What of a recipe decides an encoder's work."""

    codec: str
    options: dict[str, str]
    threads: int


def settings_of(recipe: Recipe) -> Settings:
    """The render's own settings."""
    return Settings(codec=recipe.codec, options=recipe.options(), threads=recipe.threads)


def bare_transcode(source: Path, output: Path, settings: Settings) -> None:
    """Decode, encode and mux in the plainest loop."""
    with (
        av.open(str(source)) as given,
        av.open(str(output), "w", container_options={"movflags": "+faststart"}) as out,
    ):
        video_in, sound_in = given.streams.video[0], given.streams.audio[0]
        video_in.thread_type = "AUTO"
        video = out.add_stream(settings.codec, rate=video_in.average_rate, options=settings.options)
        video.width, video.height, video.pix_fmt = video_in.width, video_in.height, "yuv420p"
        context = video.codec_context
        context.time_base = video.time_base = video_in.time_base
        context.thread_count, context.thread_type = settings.threads, "FRAME"
        sound = out.add_stream_from_template(sound_in)
        for packet in given.demux(video_in, sound_in):
            if packet.stream is sound_in:
                if packet.size:
                    packet.stream = sound
                    out.mux(packet)
                continue
            for frame in packet.decode():
                frame.pict_type = PictureType.NONE
                out.mux(video.encode(frame))
        out.mux(video.encode(None))
