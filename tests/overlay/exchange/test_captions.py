"""Captions, read back by a small parser of the test's own."""

from __future__ import annotations

import html
import re
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from overlay.exchange.captions import (
    LEAST_S,
    Figures,
    cues_of,
    figures_by_frame,
    subrip,
    webvtt,
)
from overlay.ledger import LedgerWriter, Shown, read_ledger

NTSC = Fraction(1001, 30000)
TIMES = re.compile(r"(\d\d):(\d\d):(\d\d)[,.](\d{3}) --> (\d\d):(\d\d):(\d\d)[,.](\d{3})")


def shown(instrument: str, item: str, text: str, unit: str) -> Shown:
    return Shown(
        instrument=instrument, item=item, text=text, value=1.0, unit=unit, t_shown_s=0.0,
        box_px=(0, 0, 9, 9), font="f.ttf", size_px=20,
    )  # fmt: skip


def parse(text: str) -> list[tuple[int, int, list[str]]]:
    """Start and stop in milliseconds, and the lines, of either form."""
    cues = []
    for block in text.split("\n\n"):
        rows = block.split("\n")
        at = next((n for n, row in enumerate(rows) if TIMES.fullmatch(row)), None)
        if at is None:
            continue
        parts = [int(part) for part in TIMES.fullmatch(rows[at]).groups()]
        start, stop = (
            ((h * 60 + m) * 60 + s) * 1000 + ms for h, m, s, ms in (parts[:4], parts[4:])
        )
        cues.append((start, stop, rows[at + 1 :]))
    return cues


@pytest.fixture
def ledger(tmp_path: Path):
    """Six seconds at 29.97: a speed that changes four times a second, a mark at frame 50, two
    engines, and nothing at all for frames 120 to 149."""
    path = tmp_path / "clip.ledger.parquet"
    sources = {
        "speed": ("speed", "gps"),
        ("engines", "port"): ("engine_speed", "bus"),
        ("engines", "starboard"): ("engine_speed.1", "bus"),
    }
    with LedgerWriter(path, {}, sources) as writer:
        for frame in [*range(120), *range(150, 180)]:
            rows = [
                shown("speed", "value", f"{10 + frame // 8}.0", "kn"),
                shown("engines", "port", "3500", "rpm"),
                shown("engines", "starboard", "3510", "rpm"),
            ]
            if frame >= 50:
                rows.append(shown("time", "20 kn", "4.5", "s"))
            if frame >= 110:
                rows.append(shown("time", "30 kn", "6.2", "s"))
            writer.record(frame, 1001 * frame, 0.0, 0.0, tuple(rows))
    return read_ledger(path)


def times(frames: int, step: Fraction = NTSC, start: Fraction = Fraction(0)) -> list[Fraction]:
    return [start + n * step for n in range(frames + 1)]


def test_captions_have_the_ledgers_texts_and_no_others(ledger) -> None:
    figures = figures_by_frame(ledger, 180)
    assert figures[0].lines == (
        "speed 10.0 kn · engine, port 3500 rpm · engine, starboard 3510 rpm",
    )
    assert figures[60].lines[1] == "20 kn 4.5 s"
    assert figures[119].lines[1] == "30 kn 6.2 s"
    assert figures[130] == Figures()
    texts = set(ledger.rows["text"])
    for cue in cues_of(figures, times(180)):
        numbers = re.findall(r"(?<![\w.])[\d.]+(?= kn · | rpm| s$)", "\n".join(cue.lines))
        assert numbers
        assert set(numbers) <= texts


def test_a_caption_shows_what_its_first_frame_shows(ledger) -> None:
    figures, starts = figures_by_frame(ledger, 180), times(180)
    cues = cues_of(figures, starts)
    for cue in cues:
        assert cue.lines == figures[starts.index(cue.start_s)].lines


def test_captions_stay_a_second_but_a_mark_is_told_at_once(ledger) -> None:
    starts = times(180)
    cues = cues_of(figures_by_frame(ledger, 180), starts)
    assert starts[50] in [cue.start_s for cue in cues]
    assert starts[110] in [cue.start_s for cue in cues]
    forced = {starts[50], starts[110], starts[120], starts[180]}
    for cue in cues:
        assert cue.stop_s - cue.start_s >= LEAST_S or cue.stop_s in forced
    assert len(cues) <= 9


def test_captions_go_where_nothing_is_shown_and_never_overlap(ledger) -> None:
    starts = times(180)
    cues = cues_of(figures_by_frame(ledger, 180), starts)
    assert [cue.stop_s for cue in cues if cue.stop_s == starts[120]] == [starts[120]]
    assert all(cue.stop_s <= starts[120] or cue.start_s >= starts[150] for cue in cues)
    assert all(one.stop_s <= other.start_s for one, other in pairwise(cues))
    assert cues[-1].stop_s == starts[180]


def test_what_would_flash_by_is_left_to_the_caption_before() -> None:
    figures = [
        Figures(readouts=(f"speed {n // 31}",), mark="m" if n > 35 else "") for n in range(90)
    ]
    cues = cues_of(figures, times(90, Fraction(1, 30)))
    assert [cue.start_s for cue in cues] == [0, Fraction(36, 30), Fraction(66, 30)]
    assert cues[0].stop_s == cues[1].start_s


@pytest.mark.parametrize(
    "step", [NTSC, Fraction(1, 30), Fraction(1001, 120000), Fraction(1, 25), Fraction(417, 12500)]
)
def test_the_first_frame_that_a_caption_is_on_is_its_own(step: Fraction) -> None:
    """Captions count milliseconds; on the screen they are on frames that begin while they last."""
    figures = [Figures(readouts=(f"speed {n // 40}",)) for n in range(400)]
    starts = times(400, step, Fraction(7, 90000))
    cues = cues_of(figures, starts)
    assert len(cues) >= 4
    for text in (subrip(cues), webvtt(cues, "")):
        read = parse(text)
        assert len(read) == len(cues)
        for cue, (start, stop, lines) in zip(cues, read, strict=True):
            on = [n for n in range(400) if start <= starts[n] * 1000 < stop]
            first, last = starts.index(cue.start_s), starts.index(cue.stop_s) - 1
            assert (on[0], on[-1]) == (first, last)
            assert lines == [f"speed {first // 40}"]


def test_both_forms_say_the_same(ledger) -> None:
    cues = cues_of(figures_by_frame(ledger, 180), times(180))
    assert parse(subrip(cues)) == parse(webvtt(cues, "n"))
    numbers = [block.split("\n")[0] for block in subrip(cues).strip().split("\n\n")]
    assert numbers == [str(n + 1) for n in range(len(cues))]


def test_webvtt_takes_nothing_for_mark_up() -> None:
    """W3C WebVTT, 4.2.2: cue text has no `-->`, and `&` and `<` stand escaped; a note, no arrow."""
    hostile = "a --> b & <c>x</c>"
    cues = cues_of([Figures(readouts=(hostile,))] * 60, times(60))
    text = webvtt(cues, f"note {hostile}")
    assert text.startswith("WEBVTT\n\nNOTE ")
    arrows = [row for row in text.splitlines() if "-->" in row]
    assert all(TIMES.fullmatch(row) for row in arrows)
    assert len(arrows) == len(cues) == 1
    said = parse(text)[0][2]
    assert "<" not in said[0]
    assert [html.unescape(row) for row in said] == [hostile]


def test_an_hour_and_more_is_told() -> None:
    starts = [Fraction(3599), Fraction(3661), Fraction(7325)]
    text = subrip(cues_of([Figures(readouts=("a 1",)), Figures(readouts=("a 2",))], starts))
    assert "00:59:59,000 --> 01:01:01,000" in text
    assert "01:01:01,000 --> 02:02:05,000" in text


def test_a_line_break_in_a_name_does_not_end_a_caption(tmp_path: Path) -> None:
    path = tmp_path / "odd.ledger.parquet"
    with LedgerWriter(path, {}, {}) as writer:
        for frame in range(40):
            writer.record(frame, frame, 0.0, 0.0, (shown("a", "20\n\nkn", "1", "s"),))
    figures = figures_by_frame(read_ledger(path), 40)
    assert figures[0].lines == ("20 kn 1 s",)
