"""A recording that the camera cut into files is the recording that it was before the cut."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from film import Film, Track, cut_by_copy, cut_film, make_film, number_in
from hypothesis import given
from hypothesis import strategies as st

from sync.errors import FootageError
from sync.media import Footage, decoded_frames, frame_times, join, load_sound, pictures, probe
from sync.media.joining import common_tick
from sync.media.planes import planes_of
from sync.media.sound_ends import begins_in_mid_stream
from sync.media.timecode import frames_missing, timecode_frames

Shoot = Callable[..., Path]

WHOLE = Film(
    frames=120,
    sound=(Track(seed=3, clicks_s=(1.0, 3.0)),),
    options={"preset": "veryfast", "g": "30", "bf": "2"},
)
PCM = replace(WHOLE, sound=(Track(codec="pcm_s16le", format="s16", seed=3),))


def cut(tmp_path: Path, how: str, name: str, film: Film = WHOLE) -> tuple[Footage, Footage]:
    """The uncut recording, and the same in two files: by copying packets, with or without the
    sound's offset to the picture, or by encoders of their own."""
    source = make_film(tmp_path / f"whole.{name}", film)
    first, second = tmp_path / f"part-1.{name}", tmp_path / f"part-2.{name}"
    if how == "encoded":
        for path, part in zip((first, second), cut_film(film, 60), strict=True):
            make_film(path, part)
    else:
        cut_by_copy(source, first, second, Fraction(2), keep_offset=how == "copied")
    return probe(source), join([probe(first), probe(second)])


def shown_s(footage: Footage) -> list[Fraction]:
    times = frame_times(footage)
    return [(int(p) - int(times.pts[0])) * times.time_base for p in times.pts]


HOW = ("copied", "copied, no offset", "encoded")


@pytest.mark.parametrize("name", ["mp4", "mov", "mkv", "ts"])
@pytest.mark.parametrize("how", HOW)
def test_frames_are_the_same_at_the_same_times(how: str, name: str, tmp_path: Path) -> None:
    """To the tick; a transport stream's clock begins anywhere, so times count from the first."""
    whole, joined = cut(tmp_path, how, name)
    times = frame_times(joined)
    assert shown_s(joined) == shown_s(whole)
    assert times.stop_pts - times.pts[-1] == times.duration_pts(50)
    frames = list(decoded_frames(joined, times, range(len(times))))
    assert [number_in(planes_of(d.picture)[0]) for d in frames] == list(range(120))
    assert [d.picture.pts for d in frames] == times.pts.tolist()
    assert {d.picture.time_base for d in frames} == {times.time_base}
    assert not any(d.stand_in or d.damaged for d in frames)


@pytest.mark.parametrize("name", ["mp4", "mov", "ts"])
@pytest.mark.parametrize("how", ["copied", "copied, no offset"])
def test_sound_that_runs_on_is_the_same_to_the_bit(how: str, name: str, tmp_path: Path) -> None:
    whole, joined = cut(tmp_path, how, name)
    assert [part.runs_on for part in joined.parts] == [False, True]
    before, after = load_sound(whole), load_sound(joined)
    assert (after.gaps, after.start_s) == (0, before.start_s)
    np.testing.assert_array_equal(after.samples, before.samples)


def test_pcm_runs_on_to_the_bit(tmp_path: Path) -> None:
    for how in HOW:
        whole, joined = cut(tmp_path, how, "mov", PCM)
        before, after = load_sound(whole), load_sound(joined)
        np.testing.assert_array_equal(after.samples, before.samples)


@pytest.mark.parametrize("name", ["mp4", "mov", "ts"])
def test_sound_of_two_encoders_meets_without_step_or_gap(name: str, tmp_path: Path) -> None:
    """Near the cut it differs from the uncut sound by no more than two encodings differ
    elsewhere, and it is not shifted by a sample."""
    whole, joined = cut(tmp_path, "encoded", name)
    assert [part.runs_on for part in joined.parts] == [False, False]
    before, after = load_sound(whole), load_sound(joined)
    assert after.gaps == 0
    size = min(len(before.samples), len(after.samples))
    error = before.samples[:size] - after.samples[:size]
    seam = slice(96000 - 1500, 96000 + 1500)
    elsewhere = slice(110000, 150000)
    assert np.abs(error[:90000]).max() == 0
    assert np.std(error[seam]) <= 1.2 * np.std(error[elsewhere])
    assert np.std(error[elsewhere]) < 0.15 * np.std(before.samples[elsewhere])


@pytest.mark.parametrize(("start_s", "stop_s"), [(1.75, 2.5), (2.2, 2.6), (3.0, 3.5)])
def test_a_stretch_across_the_cut_is_that_stretch_of_the_uncut(
    start_s: float, stop_s: float, tmp_path: Path
) -> None:
    """AAC has noise in it that the decoder makes up, so a stretch that is sought out is compared
    with the same stretch sought out in the uncut file."""
    whole, joined = cut(tmp_path, "copied", "mp4")
    part = load_sound(joined, start_s=start_s, stop_s=stop_s)
    want = load_sound(whole, start_s=start_s, stop_s=stop_s)
    assert (part.start_s, len(part.samples)) == (want.start_s, len(want.samples))
    for shift in (-1, 1):
        near = np.corrcoef(part.samples, want.samples)[0, 1]
        assert near > 0.98
        assert near > np.corrcoef(part.samples, np.roll(want.samples, shift))[0, 1]


@pytest.mark.parametrize("stretch", [range(50, 70), range(59, 61), range(61, 64), range(119, 120)])
def test_any_stretch_decodes_to_its_own_frames_across_the_cut(
    stretch: range, tmp_path: Path
) -> None:
    _, joined = cut(tmp_path, "copied", "mp4")
    frames = list(decoded_frames(joined, frame_times(joined), stretch))
    assert [d.index for d in frames] == list(stretch)
    assert [number_in(planes_of(d.picture)[0]) for d in frames] == list(stretch)
    got = pictures(joined, [59, 60], 180)
    assert [number_in(p[..., 1]) for p in got] == [59, 60]


def test_different_ticks_meet_in_a_common_one(tmp_path: Path) -> None:
    first, later = cut_film(replace(WHOLE, sound=()), 60)
    later = replace(later, time_base=Fraction(1, 90000), steps=(3000,))
    joined = join(
        [
            probe(make_film(tmp_path / "a-1.mp4", first)),
            probe(make_film(tmp_path / "a-2.mp4", later)),
        ]
    )
    assert frame_times(joined).time_base == Fraction(1, 5_760_000)  # lcm of 15360 and 90000
    assert shown_s(joined) == [Fraction(n, 30) for n in range(120)]


@given(
    ticks=st.lists(
        st.fractions(min_value=Fraction(1, 10**5), max_value=10, max_denominator=10**5),
        min_size=1,
        max_size=6,
    )
)
def test_a_common_tick_divides_all_and_no_longer_one_does(ticks: list[Fraction]) -> None:
    common = common_tick(ticks)
    multiples = [tick / common for tick in ticks]
    assert all(m.denominator == 1 for m in multiples)
    assert math.gcd(*(int(m) for m in multiples)) == 1


OTHERS = [
    ({"width": 640, "height": 360}, "its picture size is 640×360, not 320×180"),
    ({"steps": (256,)}, "its frame rate is 60 a second, not 30 a second"),
    ({"time_base": Fraction(1, 30000), "steps": (1001,)}, "its frame rate is 29.97 a second"),
    ({"pix_fmt": "yuv422p"}, "its pixel format is yuv422p, not yuv420p"),
    ({"sound": ()}, "its sound is none, not aac, 48000 Hz, stereo"),
    ({"sound": (Track(rate_hz=44100),)}, "its sound is aac, 44100 Hz, stereo, not"),
    ({"codec": "mpeg4", "options": {}}, "its codec is mpeg4, not h264"),
    ({"colour": (6, 6, 6, 1)}, "its colour is smpte170m"),
]


@pytest.mark.parametrize(("facts", "words"), OTHERS)
def test_a_file_of_another_make_is_refused_by_name(
    facts: dict[str, object], words: str, tmp_path: Path
) -> None:
    first = probe(make_film(tmp_path / "a-1.mp4", WHOLE))
    other = probe(make_film(tmp_path / "a-2.mp4", replace(WHOLE, **facts)))
    with pytest.raises(FootageError, match=words) as caught:
        join([first, other])
    assert str(caught.value).startswith(f"{other.path}: cannot be part of one recording with a-1")
    assert "\n" not in str(caught.value)


def test_a_file_that_is_cut_off_can_only_be_the_last(tmp_path: Path) -> None:
    film = replace(WHOLE, container_options={"movflags": "faststart"})
    data = make_film(tmp_path / "a-1.mp4", film).read_bytes()
    broken = tmp_path / "a-0.mp4"
    broken.write_bytes(data[: len(data) * 7 // 10])
    sound = probe(tmp_path / "a-1.mp4")
    with pytest.raises(FootageError, match="is cut off, so that it cannot be said where a-1"):
        join([probe(broken), sound])
    last = join([sound, probe(broken)])
    assert 120 < len(frame_times(last)) < 240
    assert frame_times(last).warnings[0].startswith("a-0.mp4: the file is cut off")


def test_frames_that_the_timecode_misses_are_left_out_of_the_clock(tmp_path: Path) -> None:
    """60 frames from 10:00:00:00 end at 10:00:02:00; the second file says 10:00:02:05."""
    first, later = cut_film(replace(WHOLE, sound=()), 60)
    paths = [tmp_path / "a-1.mov", tmp_path / "a-2.mov"]
    for path, film, code in zip(paths, (first, later), ("00", "05"), strict=True):
        second = "00" if code == "00" else "02"
        make_film(path, replace(film, metadata={"timecode": f"10:00:{second}:{code}"}))
    joined = join([probe(path) for path in paths])
    assert (
        joined.warnings[0] == "5 frames are missing between a-1.mov and a-2.mov, by their timecodes"
    )
    assert shown_s(joined)[60] - shown_s(joined)[59] == Fraction(6, 30)


@pytest.mark.parametrize(
    ("text", "rate", "count"),
    [
        ("00:00:59;29", 30, 1799),
        ("00:01:00;02", 30, 1800),
        ("00:10:00;00", 30, 17982),
        ("01:00:00;00", 30, 107892),
        ("01:00:00:00", 30, 108000),
        ("00:01:00;04", 60, 3600),
        ("00:00:00:30", 30, None),
        ("half past", 30, None),
    ],
)
def test_timecode_counts_frames(text: str, rate: int, count: int | None) -> None:
    """SMPTE ST 12-1, from memory: numbers 0 and 1 are dropped each minute, but not each tenth,
    so that an hour at 29.97 frames a second has 107 892 frames."""
    assert timecode_frames(text, rate) == count


def test_timecode_goes_over_midnight_and_may_stand_still() -> None:
    assert frames_missing("23:59:59:00", "00:00:00:10", 30, 30) == 10
    assert frames_missing("10:00:00:00", "10:00:00:20", 30, 30) == -10
    assert frames_missing("01:00:00:00", "01:00:00:00", 900, 30) is None


@pytest.mark.parametrize("name", ["mp4", "mkv", "ts"])
def test_an_encoder_that_begins_is_heard_whatever_the_container_says(
    name: str, tmp_path: Path
) -> None:
    source = make_film(tmp_path / f"whole.{name}", WHOLE)
    second = tmp_path / f"second.{name}"
    cut_by_copy(source, tmp_path / f"first.{name}", second, Fraction(2))
    assert begins_in_mid_stream(probe(source), 0) is False
    assert begins_in_mid_stream(probe(second), 0) is True
