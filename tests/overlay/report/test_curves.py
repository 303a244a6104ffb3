"""Curves between steps make no hump that no step has, and end where the steps end."""

import re
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sailed import T0

from overlay.report.plots.course import places
from overlay.report.plots.curves import Point, between, economy_points, speed_points, unbroken
from overlay.report.plots.drawing import drawable
from overlay.report.typeface import embedded

MPH = 0.44704


def points(x: list[float], y: list[float]) -> list[Point]:
    return [
        Point(name=str(n), x=a, y=b, x_sd=0, y_sd=0, both=True)
        for n, (a, b) in enumerate(zip(x, y, strict=True))
    ]


heights = st.lists(st.integers(0, 1000).map(lambda n: n / 10), min_size=2, max_size=9)


@settings(deadline=None)  # the first call imports SciPy
@given(heights, st.randoms(use_true_random=False))
def test_the_line_stays_between_its_neighbours(y: list[float], order) -> None:
    """The property of monotone cubic interpolation. Source: Fritsch and Carlson 1980."""
    given_points = points([float(10 * n) for n in range(len(y))], y)
    order.shuffle(given_points)
    x, line = between(given_points, 10 * (len(y) - 1) + 1)
    assert x[0] == 0
    assert x[-1] == 10 * (len(y) - 1)
    for n, (low, high) in enumerate(pairwise(y)):
        part = line[10 * n : 10 * n + 11]
        assert np.all(part >= min(low, high) - 1e-9)
        assert np.all(part <= max(low, high) + 1e-9)
    assert line[::10] == pytest.approx(y, abs=1e-9)


def test_fewer_than_two_steps_have_no_line() -> None:
    assert between([])[0].size == 0
    assert between(points([1.0], [2.0]))[0].size == 0
    assert between(points([1.0, 1.0], [2.0, 3.0]))[0].size == 0


def test_points_are_the_steps(day) -> None:
    steps = day.results.steps
    found = speed_points(day.results, "us")
    assert [one.x for one in found] == pytest.approx([s.engine_speed.value * 60 for s in steps])
    assert [one.y for one in found] == pytest.approx([s.speed.value / MPH for s in steps])
    assert [one.both for one in found] == [s.ways == "both" for s in steps]
    economy = economy_points(day.results, "metric")
    # 1 km/L is 1e6 m/m³.
    assert [one.y for one in economy] == pytest.approx(
        [s.economy.per_volume_m.value / 1e6 for s in steps]
    )


def test_the_course_is_where_the_boat_was_simulated(day) -> None:
    """Against the simulation's own metres, to what its latitude's degrees are apart from the
    ellipsoid's (a few parts in a thousand) and the noise that was put on them."""
    from sailed import sailed

    found = places(day.trial.channels)
    truth = sailed()
    east = np.interp(found.t_s - T0, truth.t_s, truth.x_m)
    north = np.interp(found.t_s - T0, truth.t_s, truth.y_m)
    size = max(np.ptp(east), np.ptp(north))
    assert np.nanmax(np.abs(found.east_m - (east - east[0]))) < 0.005 * size + 2.0
    assert np.nanmax(np.abs(found.north_m - (north - north[0]))) < 0.005 * size + 2.0


def test_no_place_on_earth_is_printed(day) -> None:
    """The simulated day lies at 60° N, 24° E: no coordinate of it stands in a table or a plot."""
    texts = [cell for table in day.report.tables() for row in table.rows for cell in row]
    texts += [str(value) for table in day.report.tables() for row in table.raw_rows
              for value in row]  # fmt: skip
    assert not any(re.fullmatch(r"(60|24)\.\d{3,}", text) for text in texts)
    assert day.trial.channels["latitude"].values[0] == pytest.approx(60.0, abs=0.01)


def test_a_name_is_drawn_with_the_letters_that_fonts_have() -> None:
    assert drawable("launch 1") == "launch 1"
    assert drawable("試運転 1") == "□□□ 1"
    assert len(drawable("x" * 90)) == 24


def test_the_page_s_font_has_its_letters_and_no_others() -> None:
    import base64
    import io

    from fontTools.ttLib import TTFont

    from overlay.graphics.theme import load_theme

    plain = load_theme().plain
    made = embedded(plain, "0123 ±°")
    assert made == embedded(plain, "°± 3210")
    content = base64.b64decode(made.partition(",")[2])
    assert len(content) < 8000
    with TTFont(io.BytesIO(content)) as font:
        assert set(font.getBestCmap()) == {ord(letter) for letter in "0123 ±°"}


def test_the_line_is_open_where_nobody_knows_how_she_gets_onto_the_plane() -> None:
    points = [
        Point(name=f"{n}", x=float(n), y=speed, x_sd=0.0, y_sd=0.1, both=True, speed_mps=speed)
        for n, speed in enumerate([3.0, 4.0, 5.5, 13.0, 16.0])
    ]
    assert [[one.name for one in part] for part in unbroken(points)] == [
        ["0", "1", "2"],
        ["3", "4"],
    ]
    assert unbroken([]) == []
