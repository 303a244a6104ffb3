"""Shapes cover the areas that geometry gives them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from overlay.graphics import shapes


def area(mask):
    return mask.alpha.sum() / 255


def test_a_rectangle_on_whole_pixels_has_hard_edges():
    mask = shapes.rectangle(3, 4, 5, 2)
    assert mask.box == (3, 4, 5, 2)
    assert np.all(mask.alpha == 255)


def test_a_rectangle_between_pixels_covers_its_share():
    mask = shapes.rectangle(0.25, 0.5, 1.5, 1.0)
    assert mask.box == (0, 0, 2, 2)
    np.testing.assert_allclose(mask.alpha / 255, [[0.375, 0.375], [0.375, 0.375]], atol=0.01)


@pytest.mark.parametrize("seed", range(8))
def test_a_polygon_covers_what_the_shoelace_formula_says(seed):
    # Area of a polygon from its corners: the shoelace (surveyor's) formula.
    points = np.random.default_rng(seed).uniform(10, 60, (3, 2))
    x, y = points.T
    exact = abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    edge = sum(np.hypot(*(points[i] - points[i - 1])) for i in range(3))
    # The filler takes every fine pixel that an edge touches, up to a fifth of a pixel along it.
    assert exact - 0.05 * edge <= area(shapes.polygon(points)) <= exact + 0.2 * edge


def test_a_polygon_stands_where_it_was_put():
    mask = shapes.polygon([(10, 20), (30, 20), (30, 40), (10, 40)])
    rows, columns = np.nonzero(mask.alpha > 200)
    assert abs(mask.left + columns.mean() - 19.5) < 0.2
    assert abs(mask.top + rows.mean() - 29.5) < 0.2


def test_a_sector_covers_its_share_of_the_ring():
    mask = shapes.sector((100, 100), (60, 80), (-0.5, 0.9))
    exact = 1.4 / 2 * (80**2 - 60**2)
    assert area(mask) == pytest.approx(exact, rel=0.02)


def test_angles_run_clockwise_from_straight_up():
    assert shapes.on_circle((0, 0), 1, 0) == pytest.approx((0, -1))
    assert shapes.on_circle((0, 0), 1, math.pi / 2) == pytest.approx((1, 0))


def test_a_stroke_is_as_wide_as_asked():
    mask = shapes.stroke((10, 10), (60, 35), 4)
    edge = 2 * (4 + math.hypot(50, 25))
    exact = 4 * math.hypot(50, 25)
    assert exact <= area(mask) <= exact + 0.2 * edge


def test_hatching_keeps_the_share_of_line_to_pitch():
    whole = shapes.rectangle(0, 0, 200, 200)
    assert area(shapes.hatched(whole, 8, 2)) == pytest.approx(area(whole) * 2 / 8, rel=0.03)
