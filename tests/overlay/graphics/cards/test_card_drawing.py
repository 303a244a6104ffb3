"""The picture under a card: straight alpha, lines of text, plots."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from overlay.graphics import shapes
from overlay.graphics.cards.base import CardBench
from overlay.graphics.cards.canvas import Canvas
from overlay.graphics.cards.chart import draw_chart
from overlay.graphics.cards.facts import Chart
from overlay.graphics.cards.prose import TIED, UNKNOWN
from overlay.graphics.picture import Picture

Charts = Callable[..., Chart]
Benches = Callable[..., CardBench]


def test_alpha_is_straight() -> None:
    """Half of white over nothing stays white; half of red over that is mixed by hand:

    a = 0.5 + 0.5 · 0.5 = 0.75, colour = (0.5 · red + 0.25 · white) / 0.75.
    """
    canvas = Canvas(Picture(width_px=4, height_px=4))
    canvas.cover(shapes.rectangle(0, 0, 4, 2), (255, 255, 255), 0.5)
    canvas.cover(shapes.rectangle(0, 0, 2, 2), (255, 0, 0), 0.5)
    image = canvas.rgba()
    assert image[0, 3].tolist() == [255, 255, 255, 128]
    assert image[0, 0].tolist() == [255, 85, 85, 191]
    assert image[3, 3].tolist() == [0, 0, 0, 0]


def test_what_stands_outside_is_cut_off() -> None:
    canvas = Canvas(Picture(width_px=4, height_px=4))
    canvas.cover(shapes.rectangle(-3, -3, 5, 5), (9, 8, 7))
    canvas.cover(shapes.rectangle(40, 40, 5, 5), (9, 8, 7))
    assert (canvas.rgba()[..., 3] == 255).sum() == 4


def test_lines_wrap_at_spaces_and_keep_numbers_with_their_units(card_bench: Benches) -> None:
    script = card_bench().script("text")
    width = script.width("diameter 14 in")
    assert script.wrapped("diameter 14 in", width) == ["diameter 14 in"]
    tied = f"pitch 21{TIED}in"
    assert script.wrapped(f"a {tied}", script.width("pitch 21")) == ["a pitch", f"21{TIED}in"]
    assert all(script.width(line) <= width for line in script.wrapped("x" * 200, width))
    assert "".join(script.wrapped("x" * 200, width)) == "x" * 200


def test_a_letter_that_no_font_has_is_marked(card_bench: Benches) -> None:
    script = card_bench().script("strong")
    assert script.drawable("a\U0001f6a4b") == f"a{UNKNOWN}b"
    assert script.line("a\U0001f6a4b").advance_px == script.width("a?b")


def test_a_text_is_cut_where_its_room_ends(card_bench: Benches) -> None:
    script = card_bench().script("text")
    cut = script.cut("a name without an end", script.width("a name"))
    assert cut.endswith("…")
    assert script.width(cut) <= script.width("a name")
    assert script.cut("a name", 10_000) == "a name"


def test_a_plot_shows_where_its_points_are(speed_chart: Charts, card_bench: Benches) -> None:
    """A step that is 2 mph faster gives another picture."""
    chart = speed_chart()
    moved = replace(chart.points[1], y=chart.points[1].y + 2)
    other = replace(chart, points=(chart.points[0], moved, *chart.points[2:]))
    first, second = (draw_chart(one, card_bench(), (800, 600)) for one in (chart, other))
    assert not np.array_equal(first.image, second.image)
    assert np.array_equal(first.image, draw_chart(chart, card_bench(), (800, 600)).image)


def test_single_steps_are_told_from_means(speed_chart: Charts, card_bench: Benches) -> None:
    both = draw_chart(speed_chart(), card_bench(), (800, 600))
    some = draw_chart(speed_chart(single=True), card_bench(), (800, 600))
    assert "single" not in [text for text, _ in both.texts]
    assert {"both ways", "single"} <= {text for text, _ in some.texts}


def test_a_course_has_no_number_but_its_scale(course_plan: Charts, card_bench: Benches) -> None:
    """18 000 ft across: a quarter of that and of the room beside it is rounded down to 5000."""
    drawn = draw_chart(course_plan(), card_bench(), (900, 600))
    assert sorted(text for text, _ in drawn.texts) == ["5000 ft", "N"]
