"""The footage: frames drawn by several processes, encoded with their sound into one film.

Frame i is shown at i / rate seconds and sample j is heard at j / sound rate seconds of
footage time. The encoder of the sound needs a run-up; the container's edit list takes it out
again, so that what a player or a decoder gives is aligned. A recording of several files
is one film of that kind, cut afterwards (`cutting`).
"""

from __future__ import annotations

import multiprocessing
import signal
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import av
import cv2
import numpy as np
from av.video.reformatter import ColorRange, Colorspace
from numpy.typing import NDArray

from demo_media.boat import DEMO
from demo_media.cutting import cut_film
from demo_media.day import demo_day
from demo_media.files import beside
from demo_media.programme import Part
from demo_media.recipe import FootageRecipe
from demo_media.scenario import DEMO_SCENARIO
from demo_media.scene.chase_film import ChaseStage, make_chase_stage
from demo_media.scene.film import Stage, make_stage
from demo_media.shots import BOW, Shot
from demo_media.sound import make_sound
from sync.clock import utc_text

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container import OutputContainer
    from av.video.stream import VideoStream

Planes = NDArray[np.uint8]

AHEAD = 12
"""Frames that may wait for the encoder: enough to keep two processes busy."""

SOUND_BLOCK = 1024
BT_709 = 1
"""Number of ITU-R BT.709 in the standard's tables of primaries, transfer and matrix."""


def make_footage(
    paths: tuple[Path, ...],
    shot: Shot,
    recipe: FootageRecipe,
    progress: Callable[[float], None],
    processes: int,
) -> None:
    """Draw, encode and write a recording.

    Parameters
    ----------
    paths
        Where its files go, whole or not at all.
    progress
        Called with the share that is done.
    processes
        How many processes draw. The frames are equal whatever their number.
    """
    stamps = [utc_text(DEMO_SCENARIO.creation_utc_s(shot, i), 6) for i in range(len(paths))]
    if len(paths) == 1:
        with beside(paths[0]) as part:
            _film(part, stamps[0], shot, recipe, progress, processes)
        return
    with ExitStack() as stack:
        parts = [stack.enter_context(beside(path)) for path in paths]
        whole = parts[0].with_name(f"{parts[0].stem}-whole.mp4")
        stack.callback(whole.unlink, missing_ok=True)
        _film(whole, stamps[0], shot, recipe, progress, processes)
        cut_film(whole, tuple(zip(parts, shot.begins_s, stamps, strict=True)))


def _film(
    path: Path,
    stamp: str,
    shot: Shot,
    recipe: FootageRecipe,
    progress: Callable[[float], None],
    processes: int,
) -> None:
    """One film of a whole recording."""
    times = [shot.start_s + i / recipe.rate for i in range(recipe.frames)]
    samples = make_sound(
        demo_day(part_of(shot)),
        DEMO_SCENARIO,
        DEMO.engine.cylinders,
        recipe.length_s,
        recipe.sound_rate_hz,
        shot,
    )
    with av.open(
        str(path), "w", format="mp4", options={"movflags": "+faststart", "movie_timescale": "90000"}
    ) as film:
        film.metadata["creation_time"] = stamp
        pictures, sounds = _streams(film, recipe)
        heard = 0
        scene = (shot, (recipe.width_px, recipe.height_px))
        for i, planes in enumerate(_drawn(scene, times, processes)):
            _show(film, pictures, planes, i)
            heard = _play(film, sounds, samples, heard, (i + 1) / recipe.rate)
            progress((i + 1) / recipe.frames)
        _play(film, sounds, samples, heard, float("inf"))
        film.mux(pictures.encode(None))
        film.mux(sounds.encode(None))


def _streams(film: OutputContainer, recipe: FootageRecipe) -> tuple[VideoStream, AudioStream]:
    pictures = film.add_stream("libx264", rate=recipe.rate)
    pictures.width, pictures.height = recipe.width_px, recipe.height_px
    pictures.pix_fmt = "yuv420p"
    context = pictures.codec_context
    context.time_base = Fraction(1, recipe.rate)
    context.thread_count = recipe.threads
    context.gop_size = 2 * recipe.rate
    context.color_primaries = context.color_trc = context.colorspace = BT_709
    context.color_range = ColorRange.MPEG
    # key frames stand where they are expected, so that a film can be cut at one
    context.options = {"crf": str(recipe.crf), "preset": recipe.preset, "sc_threshold": "0"}
    sounds = film.add_stream("aac", rate=recipe.sound_rate_hz, layout="mono")
    sounds.codec_context.bit_rate = 128_000
    return pictures, sounds


def _show(film: OutputContainer, stream: VideoStream, planes: Planes, index: int) -> None:
    frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
    frame.pts, frame.time_base = index, stream.codec_context.time_base
    frame.colorspace, frame.color_range = Colorspace.ITU709, ColorRange.MPEG
    film.mux(stream.encode(frame))


def _play(
    film: OutputContainer,
    stream: AudioStream,
    samples: NDArray[np.float32],
    heard: int,
    until_s: float,
) -> int:
    """Encode sound up to a time in whole blocks; returns how many samples are done."""
    rate = stream.codec_context.sample_rate
    while heard < samples.size and heard / rate < until_s:
        block = np.ascontiguousarray(samples[heard : heard + SOUND_BLOCK])
        frame = av.AudioFrame.from_ndarray(block[None, :], format="fltp", layout="mono")
        frame.sample_rate, frame.pts, frame.time_base = rate, heard, Fraction(1, rate)
        film.mux(stream.encode(frame))
        heard += block.size
    return heard


def part_of(shot: Shot) -> Part:
    """The part of the day that is enough for a recording."""
    return "morning" if shot == BOW else "day"


Scene = tuple[Shot, tuple[int, int]]
"""What is filmed, and the size of its picture."""


def _drawn(scene: Scene, times: list[float], processes: int) -> Iterator[Planes]:
    """The frames at a row of times, in order, by this process or by several.

    Each process builds the stage for itself. To hand it over would block for ever on a
    process that dies at its start, since the way to it holds less than a stage.
    """
    if processes <= 1:
        _prepare(scene)
        yield from map(_planes, times)
        return
    spawn = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(processes, mp_context=spawn, initializer=_serve, initargs=(scene,))
    waiting: deque[Future[Planes]] = deque()
    try:
        for t_s in times:
            waiting.append(pool.submit(_planes, t_s))
            if len(waiting) >= AHEAD:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    except BrokenProcessPool as broken:
        raise ChildProcessError(
            "a process that draws the demo's footage ended before its time, perhaps for want of "
            "memory; try again with a single process"
        ) from broken
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


_STAGES: list[Stage | ChaseStage] = []
"""The stage of a process that draws, set once by `_prepare`."""


def _serve(scene: Scene) -> None:
    """Make ready a process that draws for another, which alone answers to Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _prepare(scene)


def _prepare(scene: Scene) -> None:
    cv2.setNumThreads(1)  # the processes share out the cores
    shot, size_px = scene
    seed, day = DEMO_SCENARIO.instruments.seed, demo_day(part_of(shot))
    if shot.view == "chase":
        _STAGES[:] = [make_chase_stage(day, size_px, seed)]
        return
    clap_s = DEMO_SCENARIO.moments.clap_s if shot.clapped else None
    _STAGES[:] = [make_stage(day, clap_s, size_px, seed)]


def _planes(t_s: float) -> Planes:
    """A frame as planes of Y, U and V in BT.709's narrow range [shape=(1.5 height, width)]."""
    picture = _STAGES[0].draw(t_s)
    frame = av.VideoFrame.from_ndarray(picture, format="bgr24")
    frame = frame.reformat(
        format="yuv420p",
        dst_colorspace=Colorspace.ITU709,
        src_color_range=ColorRange.JPEG,
        dst_color_range=ColorRange.MPEG,
    )
    return np.asarray(frame.to_ndarray(), dtype=np.uint8)
