"""Timecode, from a container's track and off a sound channel."""

from __future__ import annotations

import datetime as dt
import math
from functools import cache

import numpy as np
from code_wave import bits_from, wave
from numpy.typing import NDArray
from sounds import RATE, engine, unit, wind
from study import Outcome, Row

from sync.clock import Span
from sync.clues.labels.read import OFF_PICTURE_SD_S
from sync.clues.linear_timecode import Code, find_code
from sync.clues.timecode import (
    Setting,
    TrialDay,
    code_labels,
    container_labels,
    timecode_clues,
)
from sync.timecode import RATES, frames_of, label_of, seconds_of

GENERATOR_SD_S = 0.02
CODE_RATES = ("24", "25", "29.97 drop", "30")
NOON = dt.datetime(2026, 6, 11, 12, tzinfo=dt.UTC).timestamp()
CODE_DAY = TrialDay(
    date=dt.date(2026, 6, 11), time_zone="UTC", logs=Span(start_s=NOON - 4e4, stop_s=NOON + 4e4)
)


def labelled_at(t_utc_s: float, key: str, set_utc_s: float) -> tuple[int, float]:
    """The label that a generator shows at an instant, set to the time of day at another, and
    how long before the instant it came up."""
    rate = RATES[key]
    midnight = NOON - 43_200.0
    mark = ";" if rate.drop else ":"
    hour = int((set_utc_s - midnight) // 3600)
    start = frames_of(f"{hour:02d}:00:00{mark}00", rate)
    frames = (t_utc_s - midnight - 3600 * hour) * float(rate.rate_hz)
    return start + math.floor(frames), (frames % 1.0) / float(rate.rate_hz)


def by_timecode(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """A container's timecode, its frames anywhere within those of the generator, which was set
    in the morning by a clock that is out by a little; errors in frames."""
    rate = RATES[str(rng.choice(CODE_RATES))]
    set_utc = NOON - 3600.0 * int(rng.integers(1, 8))
    start, wrong = float(rng.uniform(NOON, NOON + 7200)), float(rng.normal(0, GENERATOR_SD_S))
    frame, since = labelled_at(start + wrong, rate.key, set_utc)
    # The camera takes the nearest label for a frame that begins in between.
    frame += round(since * float(rate.rate_hz))
    labels = container_labels(
        "footage:bow", label_of(frame, rate), rate.rate_hz, 0.0, Span(start_s=0.0, stop_s=60.0)
    )
    setting = Setting(meaning="utc", set_utc_s=set_utc, sd_s=GENERATOR_SD_S)
    found = timecode_clues([labels], setting, CODE_DAY).clues
    if not found or found[0].hint:
        return [Outcome(error=math.nan)]
    scale = float(rate.rate_hz)
    error = found[0].offset_s - start
    return [Outcome(error=error * scale, delay=wrong * scale, sd=found[0].sd_s * scale)]


@cache
def programme() -> NDArray[np.float64]:
    """Two minutes of wind and an engine whose speed wanders; RMS 1."""
    rng, seconds = np.random.default_rng(20260914), 120.0
    n = int(seconds * RATE)
    knots = np.cumsum(rng.normal(0, 4, 40))
    hz = np.clip(90 + np.interp(np.arange(n), np.linspace(0, n, 40), knots), 40, 200)
    return unit(engine(hz, seconds, rng) + wind(seconds, rng))


def by_code(rng: np.random.Generator, _short: bool) -> list[Outcome]:
    """Linear timecode 0 to 20 dB below wind and engine, of either polarity, its recorder a little
    out of phase; errors in frames. Half run on a clock up to 50 ppm out, and their error is at one
    of the two instants that they speak of; the others are played up to 2 % off speed, which ties
    nothing but must be read: their error is at any frame of theirs."""
    rate, seconds, begin = RATES[str(rng.choice(CODE_RATES))], 26.0, float(rng.uniform(0, 0.5))
    set_utc = NOON - 3600.0 * int(rng.integers(1, 8))
    wrong, drift = float(rng.normal(0, GENERATOR_SD_S)), float(rng.uniform(-50e-6, 50e-6))
    off_speed = rng.uniform() < 0.5
    if off_speed:
        drift = float(rng.choice([-1, 1]) * rng.uniform(0.001, 0.02))
    late = float(rng.normal(0, OFF_PICTURE_SD_S))
    first, _ = labelled_at(float(rng.uniform(NOON, NOON + 7200)), rate.key, set_utc)
    text = label_of(first, rate)
    numbers = (int(text[0:2]), int(text[3:5]), int(text[6:8]), int(text[9:11]))
    frame_s = float(rate.frame_s) / (1 + drift)
    count = int((seconds - begin - 0.1) / frame_s)
    bits = bits_from(numbers, count, rate.counted, drop=rate.drop)
    place = int(rng.integers(0, programme().size - int(seconds * RATE)))
    sound = unit(wave(bits, frame_s, RATE, start_s=begin + late, seconds=seconds))
    sound = sound * 10 ** (-rng.uniform(0, 20) / 20) * rng.choice([-1, 1])
    sound = sound + programme()[place : place + sound.size]
    code = find_code((0.1 * sound).astype(np.float32), RATE, 0.0)
    if off_speed:
        return _off_speed(rng, code, first, begin, frame_s)
    labels, _ = code_labels("footage:bow", code)
    setting = Setting(meaning="utc", set_utc_s=set_utc, sd_s=GENERATOR_SD_S)
    found = timecode_clues(labels, setting, CODE_DAY).clues
    scale = float(rate.rate_hz)
    set_label = first - (set_utc - NOON + 43_200) // 3600 * rate.frames_in_a_day // 24
    begun = set_utc - wrong + float(seconds_of(int(set_label), rate))
    outcomes = []
    for clue in found:
        at = clue.at_s or 0.0
        truth = begun + (at - begin) * (1 + drift) - at
        outcomes.append(
            Outcome(
                error=(clue.offset_s - truth) * scale, delay=wrong * scale, sd=clue.sd_s * scale
            )
        )
    return outcomes[:1] if rng.uniform() < 0.5 else outcomes[1:2] or [Outcome(error=math.nan)]


def _off_speed(
    rng: np.random.Generator, code: Code, first: int, begin: float, frame_s: float
) -> list[Outcome]:
    """How far off in frames a frame of a tape is that does not run at its speed."""
    labels, remarks = code_labels("footage:bow", code)
    assert labels == ()
    if not code.runs:
        return [Outcome(error=math.nan)]
    assert "not of one speed" in remarks[0]
    run = code.runs[0]
    number = int(rng.integers(0, run.frames))
    at_s = run.start_s + number * run.frame_s
    truth = begin + (run.frame + number - first) * frame_s
    turn = (at_s - run.middle_s) / run.frame_s
    sd = math.hypot(run.sd_s, turn * run.frame_sd_s, OFF_PICTURE_SD_S)
    return [Outcome(error=(at_s - truth) / frame_s, sd=sd / frame_s)]


ROWS = (
    Row(name="timecode", goal=0.5, unit="frames", scale=1, short=200, run=by_timecode),
    Row(name="linear code", goal=0.5, unit="frames", scale=1, short=2, run=by_code),
)
