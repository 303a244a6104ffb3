"""Tables at the terminal: 80 columns hold them, and no number is cut."""

import io

import pytest
from rich.console import Console

from overlay.cli import console, show_table
from overlay.report.columns import Heading, Table

HEADS = (
    Heading(text="engine", unit="rpm", kind="number"),
    Heading(text="passes"),
    Heading(text="speed", unit="mph", kind="number"),
    Heading(text="economy", unit="mi/US gal", kind="number"),
    Heading(text="remark", kind="prose"),
)
ROWS = (
    ("1000", "2 both", "5.8 ± 0.01", "14.6", "the propeller drew air 4.7 s after the start " * 3),
    ("5530", "7 both", "50.3 ± 0.05", "4.15", ""),
)


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> io.StringIO:
    """A terminal of 80 columns, kept as text."""
    out = io.StringIO()
    made = Console(file=out, width=80, force_terminal=True, color_system=None, highlight=False)
    monkeypatch.setattr(show_table, "OUT", made)
    monkeypatch.setattr(console, "OUT", made)
    return out


def test_numbers_are_whole_and_prose_wraps(screen: io.StringIO) -> None:
    table = Table(name="t", title="steps", headings=HEADS, rows=ROWS, notes=("a word " * 40,),
                  marked=(1,))  # fmt: skip
    show_table.show_table(table)
    lines = screen.getvalue().splitlines()
    assert all(len(line) <= 80 for line in lines)
    first = next(line for line in lines if "1000" in line)
    assert "5.8 ± 0.01" in first
    assert "14.6" in first
    assert any("mi/US gal" in line for line in lines)
    assert sum("propeller" in line for line in lines) == 3


def test_a_listed_table_is_printed_as_paragraphs(screen: io.StringIO) -> None:
    table = Table(
        name="t", title="definitions", listed=True,
        headings=(Heading(text="of"), Heading(text="definition"), Heading(text="source")),
        rows=(("step", "a steady stretch", "common practice"),),
    )  # fmt: skip
    show_table.show_table(table)
    assert "  · step: a steady stretch (common practice)" in screen.getvalue()


def test_what_is_no_terminal_gets_whole_lines(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    show_table.paragraph("a word " * 40, indent="  ")
    assert len(capsys.readouterr().out.splitlines()) == 1
