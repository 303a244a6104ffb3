"""Films that tests make for themselves, through PyAV's own muxers and encoders.

Every picture is a moving texture with its own number written into a row of blocks, so that a
test can say which frame it has in its hands after any number of encodings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import av
import numpy as np
import sounds
from numpy.typing import NDArray

BITS = 12
"""A frame's number is written in this many blocks, black for 0 and white for 1."""


@dataclass(frozen=True, kw_only=True)
class Track:
    """A sound track: a tone, with a click of one sample at each of some instants.

    With a seed it is wind and engine instead of the tone. `from_s` is where in that sound the
    track begins, as it does in the second file of a recording that was cut.
    """

    codec: str = "aac"
    rate_hz: int = 48000
    layout: str = "stereo"
    format: str = "fltp"
    clicks_s: tuple[float, ...] = ()
    tone_hz: float = 440.0
    start_s: float = 0.0
    from_s: Fraction = Fraction(0)
    seed: int | None = None


@dataclass(frozen=True, kw_only=True)
class Film:
    """What a test wants its footage to be like."""

    frames: int = 60
    width: int = 320
    height: int = 180
    time_base: Fraction = Fraction(1, 15360)
    steps: Sequence[int] = (512,)
    first_pts: int = 0
    codec: str = "libx264"
    pix_fmt: str = "yuv420p"
    options: dict[str, str] = field(default_factory=lambda: {"preset": "veryfast", "g": "24"})
    colour: tuple[int, int, int, int] | None = (1, 1, 1, 1)
    sound: tuple[Track, ...] = (Track(),)
    metadata: dict[str, str] = field(default_factory=dict)
    container_options: dict[str, str] = field(default_factory=dict)
    rotation: int = 0
    aspect: Fraction | None = None
    first_number: int = 0

    def pts(self) -> list[int]:
        """The time stamps: the steps are gone through over and over."""
        stamps = [self.first_pts]
        for n in range(self.frames - 1):
            stamps.append(stamps[-1] + self.steps[n % len(self.steps)])
        return stamps

    @property
    def length_s(self) -> float:
        stamps = self.pts()
        return float((stamps[-1] - stamps[0] + self.steps[-1]) * self.time_base)


def texture(number: int, width: int, height: int, full: bool = False) -> NDArray[np.uint8]:
    """Luma of frame `number`: two waves that move, and the number in blocks along the top."""
    x, y = np.arange(width), np.arange(height)
    across, down = 60 * np.sin((x + 3 * number) / 17.0), 40 * np.cos((y - 2 * number) / 11.0)
    luma = across[None, :] + down[:, None]
    luma += 126
    luma = np.clip(luma, 0 if full else 16, 255 if full else 235, out=luma).astype(np.uint8)
    block = width // BITS
    for bit in range(BITS):
        luma[: height // 8, bit * block : (bit + 1) * block] = 225 if number >> bit & 1 else 25
    return luma


def number_in(luma: NDArray[np.uint8]) -> int:
    """The number that `texture` wrote into a picture."""
    height, width = luma.shape
    block = width // BITS
    number = 0
    for bit in range(BITS):
        patch = luma[2 : height // 8 - 2, bit * block + 2 : (bit + 1) * block - 2]
        number |= int(patch.mean() > 125) << bit
    return number


def picture(number: int, film: Film) -> av.VideoFrame:
    """Frame `number` as a picture, its chroma a slow ramp."""
    width, height = film.width, film.height
    full = film.pix_fmt.startswith("yuvj")
    luma = texture(number, width, height, full)
    half = (-(-height // 2), -(-width // 2))
    u = np.broadcast_to(np.linspace(96, 160, half[1]).astype(np.uint8), half)
    v = np.full(half, 128 + number % 20, np.uint8)
    frame = av.VideoFrame(width, height, "yuvj420p" if full else "yuv420p")
    for plane, values in zip(frame.planes, (luma, u, v), strict=True):
        target = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
        target[:, : plane.width] = values
    if film.pix_fmt not in ("yuv420p", "yuvj420p"):
        frame = frame.reformat(format=film.pix_fmt)
    return frame


_made: dict[tuple[str, str], bytes] = {}


def make_film(path: Path, film: Film) -> Path:
    """Encode and mux a film; the container follows from the file's name.

    A film that was made before in this process is written again from memory.
    """
    key = (path.suffix, repr(film))
    if key not in _made:
        _shoot(path, film)
        _made[key] = path.read_bytes()
    path.write_bytes(_made[key])
    return path


def _shoot(path: Path, film: Film) -> None:
    with av.open(str(path), "w", container_options=film.container_options) as out:
        out.metadata.update(film.metadata)
        video = out.add_stream(film.codec, options=dict(film.options))
        video.width, video.height, video.pix_fmt = film.width, film.height, film.pix_fmt
        context = video.codec_context
        context.time_base = film.time_base
        context.framerate = 1 / (Fraction(sum(film.steps), len(film.steps)) * film.time_base)
        video.time_base = film.time_base
        if film.aspect is not None:
            context.sample_aspect_ratio = film.aspect
        if film.colour is not None:
            tags = ("colorspace", "color_primaries", "color_trc", "color_range")
            for name, value in zip(tags, film.colour, strict=True):
                setattr(context, name, value)
        if film.rotation:
            video.set_display_rotation(film.rotation)
        tracks = [_add_track(out, track) for track in film.sound]
        for track, stream in zip(film.sound, tracks, strict=True):
            _write_sound(out, stream, track, film.length_s)
        stamps = film.pts()
        for number, pts in enumerate(stamps):
            frame = picture(film.first_number + number, film)
            frame.pts, frame.time_base = pts, film.time_base
            following = stamps[number + 1] if number + 1 < len(stamps) else pts + film.steps[-1]
            frame.duration = following - pts
            out.mux(video.encode(frame))
        out.mux(video.encode(None))


def sound_only(path: Path) -> Path:
    """A voice memo: one AAC track and no picture."""
    with av.open(str(path), "w") as out:
        stream = out.add_stream("aac", rate=48000)
        block = np.zeros((2, 1024), np.float32)
        for n in range(20):
            frame = av.AudioFrame.from_ndarray(block, "fltp", "stereo")
            frame.sample_rate, frame.pts, frame.time_base = 48000, 1024 * n, Fraction(1, 48000)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def samples(track: Track, length_s: float) -> NDArray[np.float32]:
    """The tone and the clicks of a track, one channel."""
    first = round(track.from_s * track.rate_hz)
    n = np.arange(first, first + round(length_s * track.rate_hz))
    if track.seed is None:
        wave = 0.05 * np.sin(2 * np.pi * track.tone_hz * n / track.rate_hz)
    else:
        wave = 0.1 * _boat_sound(track.seed, track.rate_hz)[first : first + len(n)]
    for click_s in track.clicks_s:
        if 0 <= round(click_s * track.rate_hz) - first < len(n):
            wave[round(click_s * track.rate_hz) - first] += 0.9
    return wave.astype(np.float32)


@cache
def _boat_sound(seed: int, rate_hz: int) -> NDArray[np.float64]:
    """Twelve seconds of wind and engine."""
    return sounds.under_way(12.0, np.random.default_rng(seed), rate_hz)


def cut_film(film: Film, at: int) -> tuple[Film, Film]:
    """Two films that hold what one holds, each with encoders of its own."""
    stamps = film.pts()
    first_s = (stamps[at] - stamps[0]) * film.time_base
    turn = at % len(film.steps)
    later = replace(
        film,
        frames=film.frames - at,
        first_number=film.first_number + at,
        steps=[*film.steps[turn:], *film.steps[:turn]],
        sound=tuple(replace(track, from_s=track.from_s + first_s) for track in film.sound),
    )
    return replace(film, frames=at), later


def cut_by_copy(
    source: Path, first: Path, second: Path, at_s: Fraction, *, keep_offset: bool = True
) -> None:
    """Cut a film at a key frame as a camera does whose encoders run on: packet by packet.

    Parameters
    ----------
    at_s
        Time of the key frame.
    keep_offset
        Whether the second file says how much its sound begins after its picture; cameras that
        begin each track at 0 do not.
    """
    for path, later in ((first, False), (second, True)):
        with av.open(str(source)) as reader, av.open(str(path), "w") as out:
            streams = {s.index: out.add_stream_from_template(s) for s in reader.streams}
            begun: dict[int, int] = {}
            past_key = False
            for packet in reader.demux():
                if packet.pts is None or packet.size == 0:
                    continue
                if packet.dts is None:  # Matroska keeps none for the first; their order is enough
                    packet.dts = -2 if packet.is_keyframe else -1
                if packet.stream.type == "video":
                    past_key |= packet.pts * packet.time_base >= at_s and packet.is_keyframe
                    mine = past_key == later
                else:
                    mine = (packet.pts * packet.time_base >= at_s) == later
                if not mine:
                    continue
                shift = at_s if later else Fraction(0)
                ticks = round(shift / packet.time_base)
                if later and not keep_offset and packet.stream.type == "audio":
                    ticks = begun.setdefault(packet.stream_index, packet.pts)
                packet.pts, packet.dts = packet.pts - ticks, packet.dts - ticks
                packet.stream = streams[packet.stream_index]
                out.mux(packet)


def _add_track(out: av.container.OutputContainer, track: Track) -> av.AudioStream:
    stream = out.add_stream(track.codec, rate=track.rate_hz)
    stream.layout, stream.format = track.layout, track.format
    return stream


def _write_sound(
    out: av.container.OutputContainer, stream: av.AudioStream, track: Track, length_s: float
) -> None:
    wave = samples(track, length_s - track.start_s)
    first = round(track.start_s * track.rate_hz)
    size = 1024
    for start in range(0, len(wave), size):
        block = wave[start : start + size]
        frame = av.AudioFrame.from_ndarray(
            np.tile(block, (len(av.AudioLayout(track.layout).channels), 1)), "fltp", track.layout
        )
        frame.sample_rate, frame.pts = track.rate_hz, first + start
        frame.time_base = Fraction(1, track.rate_hz)
        if track.format != "fltp":
            (frame,) = av.AudioResampler(track.format, track.layout, track.rate_hz).resample(frame)
            frame.pts = first + start
        out.mux(stream.encode(frame))
    out.mux(stream.encode(None))
