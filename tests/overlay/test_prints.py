"""Prints of pictures: what they are, that they are kept, and that they cost little."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from overlay.ledger import LedgerWriter, Prints, print_of, read_ledger, read_prints
from overlay.ledger.prints import LINES, pack, unpack
from overlay.render import Recipe, burn
from sync.clock import ClockMap, Span
from sync.media import probe

GOOD = np.random.default_rng(3)


def by_hand(luma: NDArray[np.unsignedinteger], depth: int) -> list[int]:
    """The formula of the docstring, pixel by pixel, in whole numbers."""
    height, width = luma.shape
    out = []
    for r in range(4):
        for c in range(8):
            rows = range(r * height // 4, (r + 1) * height // 4)
            columns = range(c * width // 8, (c + 1) * width // 8)
            if height > width:
                columns = columns[:: max(1, width // LINES)]
            else:
                rows = rows[:: max(1, height // LINES)]
            codes = [int(luma[y, x]) for y in rows for x in columns]
            total, count = sum(codes), len(codes) * 2 ** (depth - 8)
            out.append((2 * total + count) // (2 * count))
    return out


@pytest.mark.parametrize("depth", [8, 10])
@pytest.mark.parametrize("size", [(4, 8), (36, 64), (101, 53), (437, 90), (90, 801), (601, 640)])
def test_a_print_is_what_its_formula_says(size: tuple[int, int], depth: int) -> None:
    kind = np.uint8 if depth == 8 else np.uint16
    luma = GOOD.integers(0, 2**depth, size).astype(kind)
    assert print_of(luma, depth).tolist() == by_hand(luma, depth)


def test_it_is_of_the_picture_and_not_of_how_it_lies_in_memory() -> None:
    luma = GOOD.integers(0, 256, (90, 160)).astype(np.uint8)
    padded = np.zeros((90, 192), np.uint8)
    padded[:, :160] = luma
    turned = np.ascontiguousarray(luma.T).T
    mirrored = np.ascontiguousarray(luma[:, ::-1])[:, ::-1]
    for view in (padded[:, :160], turned, mirrored):
        assert print_of(view).tolist() == print_of(luma).tolist()


def test_a_picture_smaller_than_its_print_is_refused() -> None:
    with pytest.raises(ValueError, match="too small"):
        print_of(np.zeros((3, 20), np.uint8))


def prints(frames: int, rate: Fraction, cells: NDArray[np.uint8]) -> Prints:
    t = np.array([float(n / rate) for n in range(frames)])
    return Prints(
        pts=np.arange(frames) * 1001, t_footage_s=7.5 + t, t_utc_s=1781170000.0 + t, cells=cells
    )


@given(
    frames=st.integers(0, 40),
    seed=st.integers(0, 99),
    rate=st.sampled_from([Fraction(25), Fraction(30000, 1001), Fraction(60000, 1001)]),
)
def test_what_is_packed_is_unpacked(frames: int, seed: int, rate: Fraction) -> None:
    cells = np.random.default_rng(seed).integers(0, 256, (frames, 32)).astype(np.uint8)
    whole = prints(frames, rate, cells)
    back = unpack(pack(whole))
    assert (back.cells == cells).all()
    assert (back.pts == whole.pts).all()
    assert np.allclose(back.t_footage_s, whole.t_footage_s, rtol=0, atol=1e-9)
    assert np.allclose(back.t_utc_s, whole.t_utc_s, rtol=0, atol=1e-6)


def test_an_hour_at_60_hz_takes_less_than_7_mb() -> None:
    """Every cell wanders by three codes from frame to frame, more than any footage at hand."""
    steps = np.random.default_rng(1).normal(0, 3, (216_000, 32))
    cells = (128 + 100 * np.sin(np.cumsum(steps, axis=0) / 60)).astype(np.uint8)
    packed = pack(prints(216_000, Fraction(60000, 1001), cells))
    assert len(packed) < 7e6
    packed.decode("ascii")


@pytest.mark.parametrize("harm", [
    lambda text: b"no json\n" + text,
    lambda text: text[: len(text) // 2],
    lambda text: text.replace(b'"frames": 9', b'"frames": 8'),
    lambda text: text.replace(b"prints/1", b"prints/9"),
    lambda text: b"[]" + text,
])  # fmt: skip
def test_damaged_prints_are_refused(harm: Callable[[bytes], bytes]) -> None:
    packed = pack(prints(9, Fraction(25), np.zeros((9, 32), np.uint8)))
    with pytest.raises(ValueError, match="its prints"):
        unpack(harm(packed))


def test_a_ledger_without_prints_says_so(tmp_path: Path) -> None:
    path = tmp_path / "clip.ledger.parquet"
    with LedgerWriter(path, {}):
        pass
    assert read_prints(path) is None


def test_prints_and_facts_are_both_in_the_metadata(tmp_path: Path) -> None:
    path = tmp_path / "clip.ledger.parquet"
    luma = GOOD.integers(0, 1024, (90, 160)).astype(np.uint16)
    with LedgerWriter(path, {"clip": "launch"}) as ledger:
        for n in range(3):
            ledger.keep_print(n * 512, n / 30, 1781170000 + n / 30, luma + np.uint16(n), 10)
    assert read_ledger(path).facts["clip"] == "launch"
    kept = read_prints(path)
    assert kept is not None
    assert kept.pts.tolist() == [0, 512, 1024]
    assert kept.cells[2].tolist() == print_of(luma + np.uint16(2), 10).tolist()


def test_other_metadata_does_not_stand_in_for_prints(tmp_path: Path) -> None:
    path = tmp_path / "other.parquet"
    pq.write_table(pa.table({"a": [1]}), path)
    assert read_prints(path) is None


class Square:
    """Draws a white square, and shows nothing: such frames are kept too."""

    def draw(self, planes: tuple[NDArray[np.uint8], ...], t_utc_s: float) -> tuple[()]:  # noqa: ARG002 - as plans have it
        planes[0][:80, :23] = 235
        self.last = planes[0].copy()
        return ()


def test_a_render_keeps_the_print_of_every_picture_as_drawn(
    shoot: Callable[..., Path], tmp_path: Path
) -> None:
    footage, plan, seen = probe(shoot(frames=40, rotation=90)), Square(), []
    path = tmp_path / "clip.ledger.parquet"
    to_utc = ClockMap(from_clock="footage", to_clock="utc", offset_s=1781170000.0)

    with LedgerWriter(path, {}) as ledger:

        def keep(pts: int, t_s: float, t_utc_s: float, luma: NDArray[np.uint8], depth: int) -> None:
            assert (luma == plan.last).all()
            seen.append((pts, t_s, print_of(luma, depth)))
            ledger.keep_print(pts, t_s, t_utc_s, luma, depth)

        burned = burn(
            footage,
            tmp_path / "clip.mp4",
            plan=plan,
            clock_map=to_utc,
            span=Span(start_s=0.2, stop_s=1.0),
            recipe=Recipe(),
            keep_print=keep,
        )
    kept = read_prints(path)
    assert kept is not None
    assert len(kept) == burned.frames == len(seen) == 24
    assert (kept.cells == np.stack([cells for _, _, cells in seen])).all()
    assert kept.pts.tolist() == [pts for pts, _, _ in seen]
    assert np.allclose(kept.t_utc_s - 1781170000.0, kept.t_footage_s, atol=1e-6)
    assert (kept.cells[:, 0] == 235).all()
    assert (kept.cells[:, 31] < 200).all()
