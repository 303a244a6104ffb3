"""A span is named by a time on the recording, by its timecode, or by the time of day."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.errors import RenderError
from overlay.workflow.instants import footage_instant
from overlay.workflow.wishes import Wish, handles_s
from sync.clock import ClockMap
from sync.media import Footage, FrameTimes, frame_times, probe
from sync.timecode import RATES, label_of

Shoot = Callable[..., Path]
# 2026-06-11T04:13:00Z, 07:13 in Helsinki, is 100 s on the camera's clock.
TO_UTC = ClockMap(from_clock="bow", to_clock="utc", offset_s=1_781_151_180.0 - 100.0)


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> tuple[Footage, FrameTimes]:
    from film import Film, make_film

    path = make_film(
        tmp_path_factory.mktemp("film") / "a.mov",
        Film(frames=90, time_base=Fraction(1, 30000), steps=(1001,), sound=(),
             metadata={"timecode": "00:00:59;20"}),
    )  # fmt: skip
    footage = probe(path)
    return footage, frame_times(footage)


def instant(film: tuple[Footage, FrameTimes], text: str) -> float:
    return footage_instant(text, *film, TO_UTC, "Europe/Helsinki")


@pytest.mark.parametrize(("text", "t_s"), [("1.5 s", 1.5), ("0 s", 0.0), ("2s", 2.0)])
def test_times_count_from_the_first_frame(
    film: tuple[Footage, FrameTimes], text: str, t_s: float
) -> None:
    assert instant(film, text) == t_s


@given(st.integers(0, 90))
def test_a_timecode_is_the_frame_that_it_labels(film: tuple[Footage, FrameTimes], n: int) -> None:
    """Across the minute at which drop-frame labels leave two out."""
    rate = RATES["29.97 drop"]
    label = label_of(1790 + n, rate)
    assert instant(film, label) == pytest.approx(n * 1001 / 30000, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "t_s"),
    [("07:11:20", 0.0), ("07:11:21.25", 1.25), ("23:59:59", 100 - 7 * 3600 - 13 * 60 - 1)],
)
def test_the_time_of_day_is_the_nearest_one(
    film: tuple[Footage, FrameTimes], text: str, t_s: float
) -> None:
    """07:13:00 in Helsinki is 100 s on the camera's clock; 23:59:59 is nearer on the day before."""
    assert instant(film, text) == pytest.approx(t_s, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("soon", "is no instant of a recording"),
        ("12.5", "is no instant of a recording"),
        ("25:00:00", "is no time of day"),
        ("00:01:00;00", "leaves out"),
        ("00:00:59:20", "drops labels"),
        ("00:02:00;02", "does not come to"),
    ],
)
def test_what_is_no_instant_is_refused_in_one_sentence(
    film: tuple[Footage, FrameTimes], text: str, words: str
) -> None:
    with pytest.raises(RenderError, match=words) as caught:
        instant(film, text)
    assert "\n" not in str(caught.value)


def test_without_timecode_there_is_none_to_go_by(film: tuple[Footage, FrameTimes]) -> None:
    footage, times = film
    with pytest.raises(RenderError, match="has no timecode"):
        footage_instant("00:00:59;20", replace(footage, timecode=None), times, TO_UTC, None)


@pytest.mark.parametrize(("text", "seconds"), [("2 s", 2.0), ("0 s", 0.0), ("1 min", 60.0)])
def test_handles_are_a_time(text: str, seconds: float) -> None:
    assert handles_s(text) == seconds


@pytest.mark.parametrize("text", ["-1 s", "11 min"])
def test_handles_beyond_reason_are_refused(text: str) -> None:
    with pytest.raises(RenderError, match="handles of"):
        handles_s(text)


def test_the_encoder_suits_the_depth(film: tuple[Footage, FrameTimes]) -> None:
    footage, _ = film
    assert Wish().recipe_for(footage).encoder == "x264"
    assert Wish().recipe_for(replace(footage, bit_depth=10)).encoder == "x265"
    assert Wish(encoder="x264").recipe_for(replace(footage, bit_depth=10)).encoder == "x264"
