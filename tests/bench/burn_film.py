"""Films for the study of speed, at next to no cost: one second is drawn, and its packets repeated.

The sea repeats itself from left to right and is shifted by whole periods in that second, what is
near by more of them than what is far, and the swell goes up and down once: the seam between two
seconds is not to be seen. Grain keeps the encoder from finding its pictures ready-made.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import cv2
import numpy as np
from av.audio.stream import AudioStream
from av.packet import Packet
from av.video.stream import VideoStream
from numpy.typing import NDArray

RATE = 30
"""Frames a second, and frames drawn."""

SOUND_HZ, AAC_SAMPLES = 48_000, 1024
SWELL_PX = 14
BANDS = 4
"""Strips of sea, each of which moves faster than the one behind it."""

GRAIN = 13


@dataclass(frozen=True, kw_only=True)
class Size:
    """A size of picture by its word."""

    name: str
    width: int
    height: int


SIZES = {
    size.name: size
    for size in (
        Size(name="360p", width=640, height=360),
        Size(name="720p", width=1280, height=720),
        Size(name="1080p", width=1920, height=1080),
        Size(name="2160p", width=3840, height=2160),
    )
}


def film(folder: Path, size: Size, frames: int) -> Path:
    """A film of whole seconds, made where the folder does not have it yet."""
    path = folder / f"{size.name}-{frames}.mp4"
    if not path.exists():
        second = folder / f"{size.name}-second.mp4"
        if not second.exists():
            _make_second(second, size)
        _repeat(second, path, frames // RATE)
    return path


def _make_second(path: Path, size: Size) -> None:
    """What a camera over the bow sees: a sky, and a sea that rushes by; a few Mbit/s of it."""
    rng = np.random.default_rng(7)
    options = {"preset": "veryfast", "crf": "23", "g": str(RATE), "x264-params": "log=1"}
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=RATE, options=options)
        video.width, video.height, video.pix_fmt = size.width, size.height, "yuv420p"
        sound = out.add_stream("aac", rate=SOUND_HZ)
        for number, luma in enumerate(_second_of_sea(size, rng)):
            frame = av.VideoFrame(size.width, size.height, "yuv420p")
            for plane, values in zip(frame.planes, (luma, 134, 118), strict=True):
                target = np.frombuffer(plane, np.uint8).reshape(plane.height, plane.line_size)
                target[:, : plane.width] = values
            frame.pts, frame.time_base = number, Fraction(1, RATE)
            out.mux(video.encode(frame))
        out.mux(video.encode(None))
        for start in range(0, 2 * SOUND_HZ, AAC_SAMPLES):
            block = rng.normal(0, 0.05, (2, AAC_SAMPLES)).astype(np.float32)
            hiss = av.AudioFrame.from_ndarray(block, "fltp", "stereo")
            hiss.sample_rate, hiss.pts, hiss.time_base = SOUND_HZ, start, Fraction(1, SOUND_HZ)
            out.mux(sound.encode(hiss))
        out.mux(sound.encode(None))


def _second_of_sea(size: Size, rng: np.random.Generator) -> list[NDArray[np.uint8]]:
    period = size.width // 16
    horizon = round(0.42 * size.height)
    sea = _sea(size, period, rng)
    sky = np.linspace(190, 130, horizon - SWELL_PX)[:, None].astype(np.uint8)
    grain = rng.integers(0, GRAIN, (2 * size.height, 2 * size.width), np.uint8)
    pictures = []
    for number in range(RATE):
        luma = np.empty((size.height, size.width), np.uint8)
        rise = round(SWELL_PX * np.sin(2 * np.pi * number / RATE))
        luma[: horizon - SWELL_PX] = sky
        edges = np.linspace(horizon - SWELL_PX, size.height, BANDS + 1).astype(int)
        for band, (top, bottom) in enumerate(pairwise(edges), start=1):
            along = band * number * period // RATE % period
            rows = slice(
                top + rise + 2 * SWELL_PX - horizon, bottom + rise + 2 * SWELL_PX - horizon
            )
            luma[top:bottom] = sea[rows, along : along + size.width]
        down, right = rng.integers(0, (size.height, size.width))
        cv2.add(luma, grain[down : down + size.height, right : right + size.width], luma)
        pictures.append(luma)
    return pictures


def _sea(size: Size, period: int, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Waves and spray that repeat every so many columns, a period wider than the picture."""
    high = size.height
    coarse = rng.normal(0, 1, (high // 8, period // 8)).astype(np.float32)
    fine = rng.normal(0, 1, (high, period)).astype(np.float32)
    waves = cv2.resize(np.tile(coarse, 3), (3 * period, high), interpolation=cv2.INTER_CUBIC) * 16
    waves += cv2.GaussianBlur(np.tile(fine, 3), (0, 0), 1.6) * 30
    one = (95 + waves[:, period : 2 * period]).clip(16, 230).astype(np.uint8)
    return np.tile(one, 17)


def _repeat(second: Path, path: Path, times: int) -> None:
    """The film's packets over and over, each time a second later."""
    with av.open(str(second)) as given, av.open(str(path), "w") as out:
        video_in, sound_in = given.streams.video[0], given.streams.audio[0]
        video, sound = (
            out.add_stream_from_template(video_in),
            out.add_stream_from_template(sound_in),
        )
        pictures = [one for one in given.demux(video_in) if one.size]
        given.seek(0)
        hiss = [one for one in given.demux(sound_in) if one.size][2:]
        step = int(1 / video_in.time_base)
        heard = 0
        for number in range(times):
            for one in pictures:
                out.mux(_again(one, video, one.pts + number * step, one.dts + number * step))
            while heard * AAC_SAMPLES < (number + 1) * SOUND_HZ:
                at = heard * AAC_SAMPLES
                out.mux(_again(hiss[heard % len(hiss)], sound, at, at))
                heard += 1


def _again(given: Packet, stream: VideoStream | AudioStream, pts: int, dts: int) -> Packet:
    packet = Packet(bytes(given))
    packet.pts, packet.dts, packet.duration = pts, dts, given.duration
    packet.time_base, packet.is_keyframe, packet.stream = given.time_base, given.is_keyframe, stream
    return packet
