"""Linear timecode read off its waveform: libltc's, one written here, weak, jumping, backwards."""

from __future__ import annotations

import datetime as dt
import gzip
import io
import wave as wav
from collections.abc import Sequence

import numpy as np
import pytest
from code_wave import Label, bits_from, following, wave, word
from libltc import written_by_libltc
from numpy.typing import NDArray
from outside import given
from sounds import engine, some_under_way, unit, wind

from sync.clues.linear_timecode import Code, CodeRun, find_code
from sync.clues.ltc.word import date_of, digits, fields, time_bits, user_groups
from sync.timecode import RATES, TimecodeRate, frames_of, label_of

RATE = 48000
Array = NDArray[np.float64]


def heard(samples: Array, rate: float = RATE, start_s: float = 0.0) -> Code:
    return find_code(samples.astype(np.float32), rate, start_s)


def one_run(code: Code) -> CodeRun:
    assert not code.backwards
    (run,) = code.runs
    return run


# Worked out by hand from the published layout, bytes lowest bit first; the polarity bit, which
# no label tells, is left out of the second and the last.
@pytest.mark.parametrize(
    ("label", "rate", "golden"),
    [
        ("01:02:03:04", "30", "04000300020001 00fcbf"),
        ("00:00:00:00", "30", "00000000000000 00fcbf"),
        ("23:59:59;29", "29.97 drop", "09060905090503 02fcbf"),
        ("10:20:30:12", "25", "02010003000200 01fcbf"),
    ],
)
def test_words_are_the_golden_ones(label: str, rate: str, golden: str) -> None:
    bits = time_bits(np.array([frames_of(label, RATES[rate])]), RATES[rate])[0]
    assert np.packbits(bits.astype(np.uint8), bitorder="little").tobytes() == bytes.fromhex(golden)
    numbers = tuple(int(label[k : k + 2]) for k in (0, 3, 6, 9))
    # four numbers, which a tuple made in a loop does not say of itself
    written = word(numbers, drop=RATES[rate].drop)
    assert written == bits.tolist()


def test_a_polarity_bit_makes_the_ones_even_where_the_golden_word_has_it() -> None:
    """10:20:30:12 at 25 ends in 09 fc bf, and 00:00:00:00 at 30 has 08 in its fourth byte."""
    at_25 = np.packbits(
        np.array(word((10, 20, 30, 12), polarity_at=59), np.uint8), bitorder="little"
    )
    at_30 = np.packbits(np.array(word((0, 0, 0, 0), polarity_at=27), np.uint8), bitorder="little")
    assert at_25.tobytes().hex() == "0201000300020009fcbf"
    assert at_30.tobytes().hex() == "0000000800000000fcbf"


@pytest.mark.parametrize("rate", RATES.values(), ids=lambda rate: rate.key)
def test_arrays_of_labels_are_those_of_the_arithmetic(rate: TimecodeRate) -> None:
    frames = np.random.default_rng(4).integers(0, rate.frames_in_a_day, 500)
    columns = fields(frames, rate)
    for k, frame in enumerate(frames.tolist()):
        label = label_of(frame, rate)
        assert [int(label[i : i + 2]) for i in (0, 3, 6, 9)] == [int(c[k]) for c in columns]
    assert digits(np.array([59]), np.arange(7)).tolist() == [[1, 0, 0, 1, 1, 0, 1]]


def given_code(name: str) -> tuple[Array, int]:
    path = given("ltc", name)
    with wav.open(io.BytesIO(gzip.decompress(path.read_bytes()))) as sound:
        raw = np.frombuffer(sound.readframes(sound.getnframes()), "<i2")
        return raw / 32768.0, sound.getframerate()


GIVEN = [
    ("ltc_24fps_01-00-00-00.wav.gz", "01:00:00:01", "24", "2026-09-14"),
    ("ltc_25fps_10-20-30-00.wav.gz", "10:20:30:01", "25", "2026-09-14"),
    ("ltc_2997df_00-59-55-00.wav.gz", "00:59:55;01", "29.97 drop", "2026-09-14"),
    ("ltc_30ndf_23-59-57-00.wav.gz", "23:59:57:01", "30", "2026-09-14"),
]


@pytest.mark.outside
@pytest.mark.parametrize(("name", "label", "rate", "date"), GIVEN)
def test_code_that_libltc_wrote_is_read_to_a_sample(
    name: str, label: str, rate: str, date: str
) -> None:
    """Written with libltc 1.3.2, the first label at the first sample: its first change of sign
    is before the file begins, so that the second label is the first that stands whole. The one
    at 30 crosses midnight, the one that drops labels an hour."""
    sound, rate_hz = given_code(name)
    run = one_run(heard(sound, rate_hz, 100.0))
    assert (run.label, run.rate.key) == (label, rate)
    assert run.start_s == pytest.approx(100.0 + float(run.rate.frame_s), abs=1 / rate_hz)
    assert run.speed == pytest.approx(1.0, abs=1e-7)
    assert run.frames >= 7.8 * float(run.rate.rate_hz)
    assert run.date == dt.date.fromisoformat(date)
    assert run.even == 1.0
    assert one_run(heard(-sound, rate_hz, 100.0)).label == label


@pytest.mark.outside
@pytest.mark.parametrize(("name", "label", "rate", "date"), GIVEN)
def test_code_that_is_played_backwards_is_recognised_and_not_read(
    name: str, label: str, rate: str, date: str
) -> None:
    sound, rate_hz = given_code(name)
    code = heard(sound[::-1], rate_hz)
    assert code.backwards
    assert code.runs == ()


@pytest.mark.outside
@pytest.mark.parametrize("counted", [24, 25, 30])
def test_what_libltc_writes_over_midnight_is_read_under_wind_and_engine(counted: int) -> None:
    """Written by the library as Debian has it; 16 dB below the programme. The date turns."""
    frames = counted * 24
    code = unit(written_by_libltc((23, 59, 50, 3), (30, 6, 26), counted, frames))
    under = programme(code.size / RATE + 1e-3, np.random.default_rng(counted))
    run = one_run(heard(10 ** (-16 / 20) * code + under[: code.size]))
    skipped = run.frame - frames_of("23:59:50:03", RATES[str(counted)])
    assert 0 <= skipped <= 12
    assert run.start_s == pytest.approx(skipped / counted, abs=1.5 / RATE)
    assert run.frames >= frames - 24
    assert run.date == dt.date(2026, 6, 30)


USER = (1, 1, 6, 0, 6, 2, 0, 0)


def written(
    label: Label, counted: int, frame_s: float, seconds: float, *, start_s: float = 0.3,
    drop: bool = False, user: Sequence[int] = USER, rate: float = RATE,
) -> Array:  # fmt: skip
    count = int((seconds - start_s - 0.2) / frame_s)
    bits = bits_from(label, count, counted, drop=drop, user=user)
    return wave(bits, frame_s, rate, start_s=start_s, seconds=seconds)


@pytest.mark.parametrize("speed", [0.98, 0.9999, 1.0, 1.00004, 1.02])
@pytest.mark.parametrize(
    ("key", "counted"), [("23.976", 24), ("24", 24), ("25", 25), ("29.97", 30), ("30", 30)]
)
def test_every_rate_is_read_two_per_cent_off_speed(key: str, counted: int, speed: float) -> None:
    frame_s = float(RATES[key].frame_s) / speed
    run = one_run(heard(0.2 * written((12, 34, 50, 7), counted, frame_s, 10.0)))
    assert run.label == "12:34:50:07"
    assert run.start_s == pytest.approx(0.3, abs=5e-6)
    assert run.frame_s == pytest.approx(frame_s, rel=1e-7)
    assert run.stop_s == pytest.approx(0.3 + run.frames * frame_s, abs=1e-5)
    if abs(speed - 1) < 2e-4:
        assert run.rate.key == key
        assert run.speed == pytest.approx(speed, abs=1e-7)


def test_drop_frame_labels_are_read_across_a_minute_that_leaves_out_two() -> None:
    frame_s = float(RATES["29.97 drop"].frame_s)
    for start, minute in (((3, 18, 55, 10), "03:18:55;10"), ((3, 19, 55, 10), "03:19:55;10")):
        run = one_run(heard(written(start, 30, frame_s, 12.0, drop=True)))
        assert run.label == minute
        assert run.rate.key == "29.97 drop"
        last = start
        for _ in range(run.frames - 1):
            last = following(last, 30, drop=True)
        end = label_of(run.frame + run.frames - 1, run.rate)
        assert [int(end[i : i + 2]) for i in (0, 3, 6, 9)] == list(last)


def test_user_bits_are_kept_and_a_date_in_them_is_read() -> None:
    run = one_run(heard(written((8, 0, 0, 0), 25, 0.04, 5.0)))
    assert run.user == USER
    assert run.date == dt.date(2026, 6, 11)
    other = one_run(heard(written((8, 0, 0, 0), 25, 0.04, 5.0, user=(12, 15, 0, 14, 7, 3, 2, 9))))
    assert other.user == (12, 15, 0, 14, 7, 3, 2, 9)
    assert other.date is None
    assert date_of((1, 3, 2, 0, 6, 2, 0, 0)) is None, "there is no 31st of February"
    assert user_groups(np.array(word((1, 2, 3, 4), user=USER), dtype=np.int8)) == USER


def programme(seconds: float, rng: np.random.Generator) -> Array:
    """Wind, and an engine whose speed wanders."""
    n = int(seconds * RATE)
    slow = np.cumsum(rng.standard_normal(200))
    hz = 80 + 20 * np.interp(np.arange(n), np.linspace(0, n, 200), slow / np.abs(slow).max())
    return unit(wind(seconds, rng) + engine(hz, seconds, rng))


@pytest.mark.parametrize("counted", [24, 25, 30])
def test_code_20_db_below_wind_and_engine_is_read(counted: int) -> None:
    rng = np.random.default_rng(counted)
    code = unit(written((17, 9, 40, 3), counted, 1 / counted * 1.00003, 40.0))
    run = one_run(heard(0.1 * code + programme(40.0, rng)))
    frame = round((run.start_s - 0.3) / run.frame_s)
    assert run.frame == frames_of("17:09:40:03", RATES[str(counted)]) + frame
    assert abs(frame) <= 12
    assert run.start_s == pytest.approx(0.3 + frame / counted * 1.00003, abs=1e-5)
    assert run.speed == pytest.approx(1 / 1.00003, abs=1e-6)


def test_either_channel_may_have_it_and_the_other_may_be_louder() -> None:
    rng = np.random.default_rng(3)
    code = 0.05 * written((1, 2, 3, 4), 25, 0.04, 10.0)
    loud = some_under_way(10.0, rng)
    for place in (0, 1):
        sound = np.stack([code, loud] if place == 0 else [loud, code])
        run = one_run(heard(sound))
        assert run.channel == place
        assert run.label == "01:02:03:04"


def test_a_jump_ends_a_run_at_the_very_frame_and_begins_another() -> None:
    """A piece cut out: the bits go on without a break, the labels jump; and then the code stops
    for a second and begins half a bit later."""
    first = bits_from((9, 0, 0, 0), 305, 25)
    second = bits_from((9, 5, 0, 0), 210, 25)
    third = bits_from((9, 6, 0, 0), 260, 25)
    sound = np.r_[
        wave(first + second, 0.04, RATE, start_s=0.5),
        np.zeros(RATE + 12),
        wave(third, 0.04, RATE),
        np.zeros(RATE // 10),
    ]
    code = heard(sound)
    assert [(run.label, run.frames) for run in code.runs] == [
        ("09:00:00:00", 305),
        ("09:05:00:00", 210),
        ("09:06:00:00", 260),
    ]
    starts = [run.start_s for run in code.runs]
    assert starts[:2] == pytest.approx([0.5, 0.5 + 305 * 0.04], abs=1e-5)


def test_a_tape_whose_speed_wavers_is_followed() -> None:
    bits = bits_from((20, 0, 0, 0), 25 * 38, 25)
    sound = wave(
        bits, 0.04, RATE, start_s=0.1, bent=lambda t: t + 1e-4 * np.sin(2 * np.pi * t / 20)
    )
    run = one_run(heard(sound))
    assert run.label == "20:00:00:00"
    assert run.frames >= 949, "the very last change of sign is where the sound ends"
    assert run.sd_s > 5e-6, "what a straight line misses is in its deviation"


def test_where_it_begins_late_and_ends_early_is_found() -> None:
    rng = np.random.default_rng(8)
    code = written((5, 0, 0, 0), 30, 1 / 30, 20.0, start_s=0.0)
    sound = 0.02 * rng.standard_normal(60 * RATE)
    first = round(21.37 * RATE)
    sound[first : first + code.size] += code
    run = one_run(heard(sound))
    assert run.label == "05:00:00:00"
    assert run.start_s == pytest.approx(21.37, abs=1e-5)
    assert run.stop_s == pytest.approx(21.37 + run.frames / 30, abs=1e-4)


@pytest.mark.parametrize("rate", [16000, 32000, 44100, 96000])
def test_sounds_of_other_rates_are_read(rate: int) -> None:
    run = one_run(heard(written((2, 3, 4, 5), 30, 1 / 30, 6.0, rate=rate), rate))
    assert run.label == "02:03:04:05"
    assert run.start_s == pytest.approx(0.3, abs=1 / rate)


@pytest.mark.parametrize("kind", ["wind and engine", "silence", "noise", "hum", "clicks", "short"])
def test_sound_without_code_has_none(kind: str) -> None:
    rng = np.random.default_rng(11)
    t = np.arange(30 * RATE) / RATE
    sound = {
        "wind and engine": some_under_way(30.0, rng),
        "silence": np.zeros(t.size),
        "noise": rng.standard_normal(t.size),
        "hum": np.sign(np.sin(2 * np.pi * 1000 * t)),
        "clicks": (np.arange(t.size) % 24 == 0) * 1.0,
        "short": rng.standard_normal(200),
    }[kind]
    assert heard(sound) == Code()
    assert heard(sound, 8000) == Code(), "too few samples a second to hold a code"
