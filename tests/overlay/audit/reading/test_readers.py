"""What holds for every reader, and for the one that knows nothing of the font."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest
import read_film

from overlay.audit.reading import read_clip
from overlay.audit.reading.readers import READERS
from overlay.errors import RenderError


def _missing() -> str:
    try:
        import pytesseract  # noqa: F401
    except ImportError:
        return "pytesseract is not installed (extra: reader)"
    return "" if shutil.which("tesseract") else "the program tesseract is not installed"


@pytest.mark.parametrize("reader", list(READERS))
def test_numbers_are_read_right_or_not_at_all(tmp_path: Path, reader: str) -> None:
    if reader == "tesseract" and _missing():
        pytest.skip(_missing())
    made = read_film.make(
        tmp_path / "clip.mp4", "quiet", "1080p", crf=23, frames=6,
        ground=read_film.spray(read_film.SIZES["1080p"]),
    )  # fmt: skip
    found = read_clip(made.path, made.layout, clock=made.clock, reader=reader).texts
    fields = found[found["kind"] == "field"]
    wanted = {
        (frame, one.instrument): one.text for frame, shown in enumerate(made.shown) for one in shown
    }
    assert len(fields) == len(wanted) > 0
    read = fields[fields["legible"]]
    assert len(read) >= 0.6 * len(fields)
    for row in read.itertuples():
        assert row.text == wanted[row.frame, row.instrument]


def test_without_the_program_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    pytesseract = pytest.importorskip("pytesseract", reason="extra: reader")
    monkeypatch.setattr(pytesseract.pytesseract, "tesseract_cmd", "/nowhere/tesseract")
    with pytest.raises(RenderError, match="needs the program of that name"):
        READERS["tesseract"]()


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pytesseract", None)
    with pytest.raises(RenderError, match="needs pytesseract"):
        READERS["tesseract"]()
