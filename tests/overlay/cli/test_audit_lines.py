"""What `trialreel audit` prints: 80 columns hold it, and a sentence hangs by what it is about."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console

from overlay.audit.verdict import (
    Counts,
    Disagreement,
    Input,
    Piece,
    ShotLine,
    TieCheck,
    Unheld,
    Verdict,
)
from overlay.cli import auditing, console, show_table
from overlay.workflow.auditing.outcome import AuditOutcome

FALSE = "speed shows 21.8 mph on frames 120 to 131, where ledger and logs have 27.8 mph; the rows"
NOTE = "the clip is in metric units and the sheet in us: held in the clip's, with launches timed"


def wrong(number: int) -> Disagreement:
    return Disagreement(
        sort="number", instrument="speed", item="value", frames=(number, number),
        t_film_s=float(number), t_utc_s=float(number), read="21.8", ledger="27.8", logs="27.8",
        pairs=(("picture", "ledger"),), sentence=f"{number}: {FALSE}.",
    )  # fmt: skip


def outcome(count: int, folder: Path) -> AuditOutcome:
    piece = Piece(
        name="launch", clip="launch", recording="bow", ledger_path=folder / "launch.parquet",
        frames=(0, 600), span_s=(0.0, 20.0), strips=(),
        counts=Counts(frames=600, frames_read=600, characters=21_400, values=600, held=600),
        disagreements=tuple(wrong(number) for number in range(count)),
        unheld=(Unheld(what="engine", why="the log 'engine' is a log of a CAN bus " * 3),),
        inputs=(Input(name="log:gps", then="b" * 64, now="c" * 64, path=folder / "gps.nmea"),),
        tie_check=TieCheck(outcome="none available", sentence="Independent check: none. " * 5),
        notes=(NOTE,),
    )  # fmt: skip
    shot = ShotLine(
        number=1, frames=(0, 600), span_s=(0.0, 20.0), source="clip launch",
        sentence="Shot 1 is clip launch, frames 0 to 599 at 0.5 times its speed; it carries none.",
    )  # fmt: skip
    verdict = Verdict(
        film=folder / "film.mp4", sheet=folder / "trial.toml", trial="Tern", software="trialreel",
        made_utc="2026-06-12T08:15:30+00:00", readers=("glyphs",), pieces=(piece,), shots=(shot,),
    )  # fmt: skip
    page = folder / f"{'a-long-name-' * 8}.audit.html"
    return AuditOutcome(
        verdict=verdict, page=page, document=page.with_suffix(".json"), marked="Not marked. " * 9
    )


def test_a_terminal_of_80_columns_holds_it(monkeypatch: pytest.MonkeyPatch) -> None:
    out = io.StringIO()
    screen = Console(file=out, width=80, force_terminal=True, color_system=None, highlight=False)
    monkeypatch.setattr(show_table, "OUT", screen)
    monkeypatch.setattr(console, "OUT", screen)
    found = outcome(auditing.MOST_LINES + 3, Path("clips"))
    assert auditing.tell(found, as_json=False) == 1
    lines = out.getvalue().splitlines()
    paths = [line for line in lines if "a-long-name" in line]
    assert [line[2:10].strip() for line in paths] == ["report", "data"]
    assert str(found.page) in paths[0]  # whole, so that it can be copied
    rest = [line for line in lines if line not in paths]
    assert max(map(len, rest)) <= 80
    labels = [line[2:10].strip() for line in rest if line.startswith("  ") and line[2] != " "]
    assert labels.count("wrong") == auditing.MOST_LINES
    assert set(labels) == {"read", "wrong", "input", "unheld", "tie", "shot", "note", "mark"}
    assert "          and 3 more, which the report has" in rest
    assert all(line[:10].strip() == "" or line[10] != " " for line in rest[1:])


def test_what_is_no_terminal_gets_a_line_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    auditing.tell(outcome(2, Path("clips")), as_json=False)
    lines = capsys.readouterr().out.splitlines()
    assert f"  wrong   1: {FALSE}." in lines
    assert f"  note    {NOTE}" in lines
    assert [line[:10] for line in lines[-3:]] == ["  report  ", "  data    ", "  mark    "]
