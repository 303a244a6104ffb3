"""Golden pictures: every instrument as it was when somebody last looked at it.

Drawn by this file itself, run as a program after a change that was looked at:

    python tests/overlay/graphics/test_golden.py

Tolerance: the mean over a block of four by four pixels may be off by six codes of luma. The same
fonts and libraries draw the same to the bit; another build of the font library moves the grey of
an edge by some codes in single pixels, which a block evens out. A tick of a pixel and a half, four
pixels long, moves its block by some twenty, a digit by far more.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from overlay.figures import NO_VALUE
from overlay.graphics import shapes
from overlay.graphics.faceplate import Faceplate, InstrumentSpec
from overlay.graphics.instruments import INSTRUMENTS
from overlay.graphics.picture import Picture
from overlay.graphics.plan import compile_plan
from overlay.graphics.specimen import subjects

FOLDER = Path(__file__).resolve().parent / "golden"
HD = Picture(width_px=1280, height_px=720)
BLOCK_PX, TOLERANCE = 4, 6.0
SUBJECTS = {"bracket": subjects.step, "heading_arc": subjects.turn}
AT_S = 9.0


def drawn(kind: str, at_s: float = AT_S) -> np.ndarray:
    """Luma of one instrument on grey, half way through its run, cut out."""
    channels = INSTRUMENTS[kind].channels
    wanted = [name for name in ("engine_speed", "pitch") if name in channels]
    channel = (*wanted, *channels, "")[0]
    options = {key: spec.default for key, spec in INSTRUMENTS[kind].options.items()}
    spec = InstrumentSpec(name="it", kind=kind, channel=channel, options=options)
    subject = SUBJECTS.get(kind, subjects.launch)()
    plan = compile_plan(Faceplate(name="one", instruments=(spec,)), picture=HD, subject=subject)
    y = np.full((720, 1280), 120, np.uint8)
    chroma = [np.full((360, 640), 128, np.uint8) for _ in range(2)]
    plan.draw((y, *chroma), subjects.T0 + at_s)
    left, top, width, height = plan.boxes["it"]
    return y[top : top + height, left : left + width]


def apart(one: np.ndarray, other: np.ndarray) -> float:
    """The most by which a block differs; beyond all bounds for pictures of two sizes."""
    if one.shape != other.shape:
        return float("inf")
    high, wide = (-(-side // BLOCK_PX) * BLOCK_PX for side in one.shape)
    off = np.zeros((high, wide))
    off[: one.shape[0], : one.shape[1]] = np.abs(one.astype(float) - other.astype(float))
    blocks = off.reshape(high // BLOCK_PX, BLOCK_PX, wide // BLOCK_PX, BLOCK_PX)
    return float(blocks.mean(axis=(1, 3)).max())


@pytest.mark.parametrize("kind", INSTRUMENTS)
def test_it_looks_as_it_did(kind: str) -> None:
    with Image.open(FOLDER / f"{kind}.png") as golden:
        assert apart(np.asarray(golden.convert("L")), drawn(kind)) <= TOLERANCE


def test_there_is_one_for_each_and_none_too_many() -> None:
    assert {path.stem for path in FOLDER.glob("*.png")} == set(INSTRUMENTS)


@pytest.mark.parametrize("kind", [k for k in INSTRUMENTS if INSTRUMENTS[k].channels])
def test_one_digit_that_is_another_is_caught(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from overlay.figures import Figure

    before = drawn(kind)
    text = Figure.text

    def other(self: Figure, value_si: float) -> str:
        told = text(self, value_si)
        if told == NO_VALUE:
            return told
        return told[:-1] + str((int(told[-1]) + 1) % 10)

    monkeypatch.setattr(Figure, "text", other)
    assert apart(before, drawn(kind)) > TOLERANCE


@pytest.mark.parametrize("kind", ["dial", "inclinometer", "heading_arc", "twin_dial"])
@pytest.mark.parametrize("which", [0, 4])
def test_one_tick_that_is_missing_is_caught(
    kind: str, which: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = drawn(kind)
    stroke = shapes.stroke
    count = iter(range(10_000))

    def without(start, end, width_px):
        mask = stroke(start, end, width_px)
        if next(count) == which:
            return shapes.Mask(left=mask.left, top=mask.top, alpha=mask.alpha * 0)
        return mask

    monkeypatch.setattr(shapes, "stroke", without)
    assert apart(before, drawn(kind)) > TOLERANCE


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name in INSTRUMENTS:
        Image.fromarray(drawn(name)).save(FOLDER / f"{name}.png", optimize=True)
