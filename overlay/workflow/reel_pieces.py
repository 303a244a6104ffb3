"""The pieces of a reel as MoviePy takes them: upright, at the reel's size and rate, with sound.

MoviePy's own reader takes pictures by their number and every matrix for BT.709; these pieces
show the frame that is on the screen at an instant, in the colours that its tags state.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overlay.render.moviepy_film import SOUND_HZ, rgb_of
from overlay.render.upright import upright_of
from overlay.workflow.reel_plan import Card, Laid, Size, Stretch, upright_size
from sync.clock import TIME_TOLERANCE_S
from sync.media import Decoded, decoded_frames, load_sound
from sync.media.footage import UNKNOWN_CODEC, Footage

Rgb = NDArray[np.uint8]

NEAR_FRAMES = 120
"""Frames no further ahead than this are decoded on to, not sought."""

TRIFLE = Fraction(1, 100)


def put_together(laid: Sequence[Laid], size: Size, rate_hz: Fraction) -> Any:
    """All pieces as one MoviePy clip, with their changes; without sound where none has any."""
    from moviepy import CompositeAudioClip, CompositeVideoClip

    layers = [layer for one in laid for layer in _layers(one, size, rate_hz)]
    film = CompositeVideoClip(layers, size=size, bg_color=(0, 0, 0))
    sounds = [sound for one in laid if (sound := _sound(one, rate_hz)) is not None]
    if sounds:
        film.audio = CompositeAudioClip(sounds)
    return film


def _layers(one: Laid, size: Size, rate_hz: Fraction) -> list[Any]:
    """A piece's pictures: while it comes over the one before they have a mask, and none after."""
    from moviepy import VideoClip, vfx

    length_s, last_s = (float(n / rate_hz) for n in (one.piece.frames, one.piece.frames - 1))
    clip = VideoClip(duration=length_s)
    clip.size = size
    clip.frame_function = _pictures(one.piece.source, one.piece.frames, size, rate_hz)
    if one.coming.frames and not one.coming.over:
        clip = clip.with_effects([vfx.FadeIn(float(one.coming.frames / rate_hz))])
    if one.going.frames and not one.going.over:
        # Counted to the last frame, which is black then, and not to its end.
        clip = clip.with_duration(last_s)
        clip = clip.with_effects([vfx.FadeOut(float(one.going.frames / rate_hz))])
        clip = clip.with_duration(length_s)
    clip = clip.image_transform(_in_codes)
    if not one.coming.over:
        return [clip.with_start(float(one.start / rate_hz))]
    over_s = float(one.coming.frames / rate_hz)
    head = clip.with_duration(over_s).with_effects([vfx.CrossFadeIn(over_s)])
    layers = [head.with_start(float(one.start / rate_hz))]
    if one.piece.frames > one.coming.frames:
        rest = clip.subclipped(over_s, length_s)
        layers.append(rest.with_start(float((one.start + one.coming.frames) / rate_hz)))
    return layers


def _in_codes(image: NDArray[Any]) -> Rgb:
    """What a fade has worked out, rounded and not cut off."""
    codes: Rgb = image if image.dtype == np.uint8 else np.rint(image).astype(np.uint8)
    return codes


def _pictures(source: Card | Stretch, frames: int, size: Size, rate_hz: Fraction) -> Any:
    if isinstance(source, Card):
        image = source.image
        return lambda _t_s: image
    return _Pictures(source, source.start_s + (frames - 1) / rate_hz, size)


class _Pictures:
    """The picture of a clip that is on the screen at an instant, decoded as time goes on."""

    def __init__(self, stretch: Stretch, last_s: Fraction, size: Size) -> None:
        film = stretch.film
        self._film, self._times, self._start_s = film, stretch.times, float(stretch.start_s)
        self._colour = film.colour.settled(width=film.width, height=film.height)
        self._size, self._stop = size, self._index(float(last_s)) + 1
        self._going: Generator[Decoded, None, None] | None = None
        self._shown, self._image = -1, np.zeros((0, 0, 3), np.uint8)

    def __call__(self, t_s: float) -> Rgb:
        index = min(self._index(self._start_s + t_s), self._stop - 1)
        if index != self._shown:
            self._image = self._fitted(self._decoded(index))
            self._shown = index
            if index == self._stop - 1:
                self._close()  # nothing more will be asked for, and a decoder takes room
        return self._image

    def _index(self, t_s: float) -> int:
        """The frame that is shown; before the first and after the last, these."""
        ticks = np.floor((t_s + TIME_TOLERANCE_S) / float(self._times.time_base))
        index = int(np.searchsorted(self._times.pts, ticks, side="right")) - 1
        return max(0, index)

    def _decoded(self, index: int) -> Decoded:
        if self._going is None or not self._shown < index <= self._shown + NEAR_FRAMES:
            self._close()
            self._going = decoded_frames(self._film, self._times, range(index, self._stop))
        return next(one for one in self._going if one.index == index)

    def _close(self) -> None:
        if self._going is not None:
            self._going.close()
        self._going = None

    def _fitted(self, decoded: Decoded) -> Rgb:
        """The picture upright, as large as fits, in the middle of black."""
        left, top, width, height = fitted(self._film, self._size)
        way = upright_of(self._film)
        coded = rgb_of(decoded.picture, self._colour, way.pair(width, height))
        upright = np.stack([way.view(coded[..., n]) for n in range(3)], axis=-1)
        if (width, height) == self._size:
            return upright.astype(np.uint8, copy=False)
        image = np.zeros((self._size[1], self._size[0], 3), np.uint8)
        image[top : top + height, left : left + width] = upright
        return image


def fitted(film: Footage, size: Size) -> tuple[int, int, int, int]:
    """Left, top, width and height of a clip's picture on the reel's.

    Where less than a hundredth of a side would stay black the picture takes it; a circle is then
    still as round as anyone sees.
    """
    wide, high = upright_size(film)
    share = min(size[0] / wide, size[1] / high)
    width, height = (
        side if side - taken < TRIFLE * side else 2 * round(taken / 2)
        for side, taken in zip(size, (wide * share, high * share), strict=True)
    )
    # Even, so that no sample of chroma is half picture and half black.
    return (size[0] - width) // 4 * 2, (size[1] - height) // 4 * 2, width, height


def has_sound(film: Footage) -> bool:
    """Whether a clip has a sound that can be heard here."""
    return bool(film.sound) and film.sound[0].codec != UNKNOWN_CODEC


def _sound(one: Laid, rate_hz: Fraction) -> Any:
    """A piece's sound, which comes and goes with its picture; None where it has none."""
    from moviepy import AudioClip, afx

    source = one.piece.source
    if isinstance(source, Card) or not has_sound(source.film):
        return None
    length_s = one.piece.frames / rate_hz
    sound = AudioClip(duration=float(length_s), fps=SOUND_HZ)
    sound.frame_function, sound.nchannels = _Samples(source, length_s), 2
    changes = [
        effect(float(change.frames / rate_hz))
        for effect, change in ((afx.AudioFadeIn, one.coming), (afx.AudioFadeOut, one.going))
        if change.frames
    ]
    return sound.with_effects(changes).with_start(float(one.start / rate_hz))


class _Samples:
    """The sound of a stretch, left and right, read once it is heard and let go at its end.

    MoviePy's own clip of samples cuts their places off instead of rounding them, and so would
    play every few hundred twice.
    """

    def __init__(self, stretch: Stretch, length_s: Fraction) -> None:
        self._stretch, self._count = stretch, round(length_s * SOUND_HZ)
        self._samples: NDArray[np.float32] | None = None

    def __call__(self, t_s: Any) -> NDArray[np.float32]:
        if self._samples is None:
            self._samples = self._read()
        places = np.rint(np.asarray(t_s, np.float64) * SOUND_HZ).astype(np.int64)
        heard = (places >= 0) & (places < self._count)
        out: NDArray[np.float32] = self._samples[np.where(heard, places, self._count)]
        if places.ndim and places[-1] >= self._count - 1:
            self._samples = None
        return out

    def _read(self) -> NDArray[np.float32]:
        """Samples from the stretch's start on, silence where there are none, and one of silence
        behind the last."""
        laid = np.zeros((self._count + 1, 2), np.float32)
        start_s = float(self._stretch.start_s)
        stop_s = start_s + self._count / SOUND_HZ
        sound = load_sound(
            self._stretch.film, channels="each", rate_hz=SOUND_HZ, start_s=start_s, stop_s=stop_s
        )
        both = sound.samples if len(sound.samples) == 2 else [sound.samples.mean(axis=0)] * 2
        first = round((sound.start_s - start_s) * SOUND_HZ)
        skip, first = max(0, -first), max(0, first)
        for side, samples in enumerate(both):
            kept = samples[skip : skip + self._count - first]
            laid[first : first + len(kept), side] = kept
        return laid
