"""The picture of everything that draws, and that the one in README shows what is there."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from overlay.cli.app import run
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.specimen import sheet
from overlay.workflow.specimen import specimen_png

ROOT = Path(__file__).resolve().parents[3]


def test_the_picture_in_readme_shows_what_is_drawn_today() -> None:
    """Small differences are the font library's; one instrument more, or a digit, is far more."""
    shown = ROOT / "demo_media" / "specimen.png"
    assert f"({shown.relative_to(ROOT).as_posix()})" in (ROOT / "README.md").read_text()
    content, width, height = specimen_png()
    with Image.open(shown) as before, Image.open(io.BytesIO(content)) as now:
        assert before.size == now.size == (width, height)
        apart = np.abs(
            np.asarray(before.convert("L"), dtype=float) - np.asarray(now.convert("L"), dtype=float)
        )
    assert apart.mean() < 0.2
    # Nowhere is a whole digit another: a block of eight by eight pixels stays what it was.
    high, wide = (side // 8 * 8 for side in apart.shape)
    blocks = apart[:high, :wide].reshape(high // 8, 8, wide // 8, 8).mean(axis=(1, 3))
    assert blocks.max() < 40


def test_states_differ_where_there_is_a_channel() -> None:
    for kind in INSTRUMENTS:
        cells = list(sheet._states(kind))
        assert len(cells) == (4 if INSTRUMENTS[kind].channels else 2)
        if INSTRUMENTS[kind].channels:
            pictures = {cell.pixels.tobytes() for cell in cells}
            assert len(pictures) == len(cells)


def test_the_command_writes_a_picture_and_leaves_others_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "all.png"
    assert run(["specimen", str(place)]) == 0
    assert "all.png" in capsys.readouterr().out
    assert run(["specimen", str(place)]) == 0
    other = tmp_path / "mine.png"
    Image.new("L", (4, 4)).save(other)
    was = other.read_bytes()
    assert run(["specimen", str(other)]) == 1
    assert other.read_bytes() == was
    assert run(["specimen", str(tmp_path / "all.txt")]) == 1
    assert not (tmp_path / "all.txt").exists()
