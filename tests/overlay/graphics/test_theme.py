"""A theme is legible on any picture, or it is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from overlay.errors import FaceplateError
from overlay.graphics import theme as theme_module
from overlay.graphics.theme import contrast, load_theme

CHART = (Path(theme_module.__file__).parent / "themes" / "chart.toml").read_text()


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.2, "Understanding contrast (minimum)": #767676 on white passes, #777777 fails.
        ((0, 0, 0), (255, 255, 255), 21.0),
        ((0x76, 0x76, 0x76), (255, 255, 255), 4.542),
        ((0x77, 0x77, 0x77), (255, 255, 255), 4.478),
        ((255, 255, 0), (0, 0, 0), 19.556),
        ((255, 0, 0), (255, 255, 255), 3.998),
        ((0, 0, 255), (255, 255, 255), 8.592),
    ],
)
def test_contrast_is_that_of_wcag(one, other, ratio):
    assert contrast(one, other) == pytest.approx(ratio, abs=5e-4)
    assert contrast(other, one) == contrast(one, other)


def test_the_theme_that_comes_with_the_package_loads():
    chart = load_theme()
    assert chart.name == "chart"
    assert chart.opacity >= 0.9
    assert chart.strong.is_file()
    assert chart.plain.is_file()
    # Least sizes of the look, in shares of the short side.
    assert chart.lead >= 0.06
    assert chart.second >= 0.04
    assert chart.label >= 0.028


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("opacity = 0.93", "opacity = 0.5", "does not|not a number between 0.9 and 1"),
        ('cream = "#F6EED9"', 'cream = "#506080"', "contrast of 2"),
        ('magenta = "#B0125B"', 'magenta = "#F080B0"', "cream on magenta over a"),
        ('ink = "#10243E"', 'ink = "navy"', "'navy' is not a colour"),
        ('buff = "#E3C58A"', 'bluff = "#E3C58A"', "bluff: this key is not known.*'buff'"),
        ('buff = "#E3C58A"', "", "buff: this key is missing"),
        ('"SourceSansPro-Regular.ttf"', '"Sans.ttf"', "there is no font file 'Sans.ttf'"),
        ("lead = 0.073", "lead = 0.03", "0.03 is not a number between 0.06 and 0.15"),
        ("lead = 0.073", 'lead = "big"', "'big' is not a number"),
        ('schema = "theme/1"', 'schema = "theme/9"', 'write schema = "theme/1"'),
        ('name = "chart"', "", "name: this key is missing; it says what the theme is called"),
        ("[plate]", "[dish]", "dish: this key is not known"),
    ],
)
def test_a_theme_that_cannot_be_read_on_any_picture_is_refused(tmp_path, old, new, sentence):
    assert old in CHART
    path = tmp_path / "own.toml"
    path.write_text(CHART.replace(old, new))
    with pytest.raises(FaceplateError, match=sentence) as caught:
        load_theme(path)
    assert caught.value.path == path
    assert "\n" not in str(caught.value)


def test_the_line_of_a_colour_is_named(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(CHART.replace("#10243E", "#12"))
    with pytest.raises(FaceplateError) as caught:
        load_theme(path)
    line = next(i for i, text in enumerate(CHART.splitlines(), 1) if text.startswith("ink ="))
    assert caught.value.line == line


def test_a_font_beside_the_theme_is_taken(tmp_path):
    (tmp_path / "Own.ttf").write_bytes(load_theme().strong.read_bytes())
    path = tmp_path / "own.toml"
    path.write_text(CHART.replace("SourceSansPro-Semibold.ttf", "Own.ttf"))
    assert load_theme(path).strong == tmp_path / "Own.ttf"
