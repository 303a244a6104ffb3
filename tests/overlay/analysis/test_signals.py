"""What is shown is a function of log time alone."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.analysis.signals import Signal, signal_of
from sync.channel import Channel

START = 1_781_170_000.0
MARKS = (START + 3.06, START + 5.0, START + 7.24)


def signal() -> Signal:
    t = np.arange(0, 20, 0.1)
    speed = Channel(name="speed", t_s=START + t, values=2 * t, clock="utc")
    return signal_of(speed, {}, MARKS)


@given(st.floats(0.6, 19.0))
def test_the_shown_instant_is_the_grid_or_the_mark_before_it(t: float) -> None:
    here = signal()
    shown = here.shown_instant(START + t)
    assert shown <= START + t + 1e-6
    assert START + t - shown < 0.5
    on_grid = abs(shown * 4 - round(shown * 4)) < 1e-5
    assert on_grid or any(abs(shown - mark) < 1e-9 for mark in MARKS)


def test_at_a_mark_the_mark_itself_is_shown() -> None:
    here = signal()
    assert here.shown_instant(MARKS[0] - 0.01) == START + 3.0
    assert here.shown_instant(MARKS[0]) == MARKS[0]
    assert here.shown_instant(START + 3.249) == MARKS[0]
    assert here.shown_instant(START + 3.26) == MARKS[0]  # takes the place of 3.25
    assert here.shown_instant(START + 3.5) == START + 3.5
    assert here.sample(MARKS[0]).value == pytest.approx(6.12, abs=1e-5)


def test_the_picture_changes_no_more_often_than_it_should() -> None:
    here = signal()
    times = START + np.arange(1.0, 15.0, 1 / 240)
    shown = np.array([here.shown_instant(t) for t in times])
    changes = times[1:][np.diff(shown) != 0]
    for begin in np.arange(START + 1, START + 14, 0.05):
        assert np.sum((changes >= begin) & (changes < begin + 1)) <= 5
    assert len(changes) / 14 <= 4.01


def test_what_was_asked_before_changes_nothing() -> None:
    forth, back = signal(), signal()
    times = START + np.arange(1.0, 12.0, 1 / 30)
    one = [forth.sample(t) for t in times]
    two = [back.sample(t) for t in times[::-1]][::-1]
    assert one == two


def test_the_greatest_is_held() -> None:
    t = np.arange(0, 20, 0.1)
    values = 10 - np.abs(t - 8)
    speed = Channel(name="speed", t_s=START + t, values=values, clock="utc")
    here = signal_of(speed, {})
    assert here.greatest(START + 1, START + 15).value == pytest.approx(10, abs=0.2)
    assert here.greatest(START + 1, START + 5).value == pytest.approx(7, abs=0.01)


def test_the_greatest_follows_from_the_instant_alone() -> None:
    """In any order of asking, and from far along in a long day."""
    t = np.arange(0, 300, 0.1)
    values = 10 + np.sin(t / 3) + t / 1000
    speed = Channel(name="speed", t_s=START + t, values=values, clock="utc")
    times = START + np.random.default_rng(4).uniform(2, 290, 60)
    asked = signal_of(speed, {}, MARKS)
    jumbled = {time: asked.greatest(START + 1, time) for time in times}
    for time in sorted(times):
        fresh = signal_of(speed, {}, MARKS)
        shown = {fresh.sample(s).value for s in np.append(np.arange(START + 1, time, 0.02), time)}
        assert jumbled[time].value == max(shown)


def test_a_channel_that_still_lags_is_not_shown() -> None:
    speed = Channel(name="speed", t_s=[0.0, 1.0], values=[1.0, 2.0], clock="utc", delay_s=0.2)
    with pytest.raises(ValueError, match="delay"):
        signal_of(speed, {})
