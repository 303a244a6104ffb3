"""What every kind of card is told of a made-up trial, and how a card is measured."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from overlay.graphics.cards import CARDS
from overlay.graphics.cards.base import CardBench, Drawn
from overlay.graphics.cards.facts import (
    DOUBT,
    CardColumn,
    CardFacts,
    CardNote,
    CardTable,
    Chart,
    ChartLine,
    ChartPoint,
    Stated,
)
from overlay.graphics.picture import Picture
from overlay.graphics.theme import load_theme

SPEEDS = ("5.79", "7.12", "8.26", "9.63", "12.43", "29.58", "35.01", "40.20", "45.30", "50.59")


def step_table(rows: int = len(SPEEDS)) -> CardTable:
    """A table as wide as the step table, each row told apart by its first cell."""
    names = ("engine", "passes", "speed", "flow", "economy", "range", "lasts", "trim", "slip")
    units = ("rpm", "", "mph", "US gal/h", "mi/US gal", "mi", "h:min", "°", "%")
    cells = [
        (f"{1000 + n}", "2 both", SPEEDS[n % 10], "11.89", "14.6", "355", "61:19", "4", "15")
        for n in range(rows)
    ]
    return CardTable(
        columns=tuple(
            CardColumn(text=name, unit=unit, number=name != "passes")
            for name, unit in zip(names, units, strict=True)
        ),
        rows=tuple((*row[:2], f"{row[2]} ± 0.02", *row[3:]) for row in cells),
        short_rows=tuple(cells),
        keys=3,
        order=("lasts", "range", "slip", "trim", DOUBT, "flow", "economy"),
        spare=4,
        marked=(rows - 1,),
        chosen=(rows // 2, rows - 1),
        notes=(
            CardNote(text="Means both ways, current and wind taken out."),
            CardNote(text="± is one standard deviation.", of=(DOUBT,)),
            CardNote(text="Never a passage plan.", of=("range", "lasts")),
            CardNote(text="Each by itself is single.", of_rest=True),
        ),
    )


def curve(*, single: bool = False) -> Chart:
    x = np.linspace(600, 5550, 40)
    return Chart(
        title="speed, mph",
        x_text="engine speed, rpm",
        y_text="",
        lines=(ChartLine(x=x, y=x / 120),),
        points=tuple(
            ChartPoint(
                x=rpm, y=rpm / 120, y_bar=0.4, both=not single or rpm > 3000,
                name="best on the plane" if rpm == 3490 else "",
            )
            for rpm in (1000, 2000, 3490, 5550)
        ),
        band=(5000, 6000, "maker's band"),
        notes=("Bars: two standard deviations.",),
    )  # fmt: skip


def plan() -> Chart:
    t = np.linspace(0, 2 * np.pi, 200)
    return Chart(
        title="", x_text="", y_text="ft", plan=True,
        lines=(
            ChartLine(x=9000 * np.cos(t), y=3000 * np.sin(t), stroke="thin", text="between"),
            ChartLine(x=np.array([0.0, 4000.0]), y=np.array([0.0, 900.0]), stroke="strong",
                      text="launches"),
            ChartLine(x=np.array([0.0, -4000.0]), y=np.array([0.0, 900.0]), stroke="dotted",
                      text="turns"),
        ),
    )  # fmt: skip


def facts(kind: str, title: str = "Reciprocal day") -> CardFacts:
    stated = [
        ("conditions", "wind", "5.8 mph"), ("conditions", "wind from", "040°"),
        ("conditions", "air", "63 °F"), ("conditions", "sea", "low swell, light chop"),
        ("load", "people", "2"), ("load", "mass, weighed as tested", "2601 lb"),
    ]  # fmt: skip
    return CardFacts(
        title=title,
        subtitle="11 June 2026",
        tested=("Six-metre open boat, 19.7 ft", "Outboard, 150 hp"),
        stated=tuple(Stated(part=a, what=b, value=c) for a, b, c in stated),
        table=step_table(),
        charts=(plan(),) if kind == "course" else (curve(), curve()),
    )


def bench(size: tuple[int, int] = (1920, 1080), *, lower: bool = False) -> CardBench:
    return CardBench(
        picture=Picture(width_px=size[0], height_px=size[1]),
        theme=load_theme(),
        lower_third=lower,
    )


def draw(
    kind: str, size: tuple[int, int] = (1920, 1080), *, lower: bool = False, title: str = ""
) -> Drawn:
    told = facts(kind, title) if title else facts(kind)
    return CARDS[kind].draw(told, bench(size, lower=lower))


@pytest.fixture(scope="session")
def draw_card() -> Callable[..., Drawn]:
    return draw


@pytest.fixture(scope="session")
def card_bench() -> Callable[..., CardBench]:
    return bench


@pytest.fixture(scope="session")
def table_of_steps() -> Callable[..., CardTable]:
    return step_table


@pytest.fixture(scope="session")
def speed_chart() -> Callable[..., Chart]:
    return curve


@pytest.fixture(scope="session")
def course_plan() -> Callable[..., Chart]:
    return plan
