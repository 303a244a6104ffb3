"""What of a film is looked at: where a lamp may be lit, and where the boat turned the most."""

from __future__ import annotations

import numpy as np
import pytest

from overlay.workflow.evidence.looking import ABOUT_S, TURNING_S, look_at
from sync.channel import Channel
from sync.clock import UTC, Span
from sync.log import Mark

FILM = Span(start_s=0.0, stop_s=900.0)
T0 = 1_000_000.0


def lamp(t_s: float) -> Mark:
    return Mark(label="lamp", clock=UTC, t_s=T0 + t_s, sd_s=0.001)


def rolls(about_s: float) -> Channel:
    """A boat that lies still but for a minute about one instant."""
    t = np.arange(0.0, 1000.0, 0.1)
    size = np.where(np.abs(t - about_s) < 30, 0.1, 0.001)
    return Channel(name="pitch", clock=UTC, t_s=T0 + t, values=size * np.sin(2 * t))


def window(offset_s: float, reach_s: float) -> Span:
    return Span(start_s=T0 + offset_s - reach_s, stop_s=T0 + offset_s + reach_s)


def test_a_lamp_is_looked_for_where_stamps_leave_room_for_it() -> None:
    look = look_at(FILM, [lamp(400), lamp(402), lamp(700)], [window(0, 10)], [], [])
    assert look.turning is None
    assert [(s.start_s, s.stop_s) for s in look.spans] == [
        (pytest.approx(390 - ABOUT_S), pytest.approx(412 + ABOUT_S)),
        (pytest.approx(690 - ABOUT_S), pytest.approx(710 + ABOUT_S)),
    ]


def test_without_a_stamp_all_of_it_is_looked_at_for_a_lamp() -> None:
    assert look_at(FILM, [lamp(400)], [], [], []).spans == (FILM,)


def test_a_lamp_that_cannot_be_in_the_film_is_not_looked_for() -> None:
    assert look_at(FILM, [lamp(2000)], [window(0, 10)], [], []).spans == ()


def test_turning_is_looked_at_where_the_boat_did_the_most() -> None:
    look = look_at(FILM, [], [], [rolls(640)], [window(0, 5)])
    assert look.turning is not None
    assert look.spans == (look.turning,)
    assert look.turning.length_s == pytest.approx(TURNING_S)
    assert look.turning.start_s < 620
    assert look.turning.stop_s > 660


def test_where_nothing_is_known_the_middle_is_taken() -> None:
    look = look_at(FILM, [], [], [rolls(640)], [])
    assert look.turning is not None
    assert look.turning.holds(450.0)


def test_a_short_film_is_looked_at_whole_and_once() -> None:
    short = Span(start_s=0.0, stop_s=60.0)
    look = look_at(short, [lamp(30)], [window(0, 5)], [rolls(640)], [])
    assert look.spans == (short,)
    assert look.turning == short
