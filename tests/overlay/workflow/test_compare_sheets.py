"""`trialreel compare` from sheets and logs to what stands on the screen."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from sailed import DELAYS, logged, sailed, write_trial

from overlay.cli.app import run
from overlay.errors import SheetError
from overlay.workflow.compare import CompareOutcome, compare_sheets
from sync.channel import Channel

CONDITIONS = """\
[conditions]
wind = "6 kn"
air_temperature = "15 degC"
pressure = "1013 hPa"
humidity = "50 %"
"""


def day(seed: int, speed: float = 1.0, without: tuple[str, ...] = ()) -> dict[str, Channel]:
    """A day of the simulated boat, with instruments of its own, faster by a factor."""
    channels = logged(sailed(), seed=seed)
    faster = replace(channels["speed"], values=channels["speed"].values * speed)
    return {key: one for key, one in {**channels, "speed": faster}.items() if key not in without}


@pytest.fixture(scope="module")
def series(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four trials: two of one boat, one 4 % faster, one that lacks half of its logs."""
    folder = tmp_path_factory.mktemp("series")
    more = DELAYS + CONDITIONS
    write_trial(folder / "before", day(1), more)
    write_trial(folder / "after", day(2), more)
    write_trial(folder / "faster", day(3, speed=1.04), more)
    write_trial(folder / "bare", day(4, without=("fuel_flow",)), "")
    bare = folder / "bare" / "trial.toml"
    text = bare.read_text()
    start = text.index('[[logs]]\nname = "attitude"')
    stop = text.index('[[logs]]\nname = "marks"')
    bare.write_text(text[:start] + text[stop:])
    (folder / "bare" / "attitude.csv").unlink()
    return folder


@pytest.fixture(scope="module")
def outcome(series: Path) -> CompareOutcome:
    return compare_sheets([series / name for name in ("before", "after", "faster", "bare")])


def said(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    code = run(["compare", *arguments])
    return code, capsys.readouterr().out


def test_two_days_of_one_boat_differ_by_little_and_a_faster_one_is_told(
    outcome: CompareOutcome,
) -> None:
    """Noise of instruments alone lies between the first two: few figures are marked by chance.

    The third boat is 4 % faster by construction, at the same flow.
    """
    rows = [one for one in outcome.comparison.rows if one.differences[1].says]
    assert len(rows) > 15
    assert sum(one.differences[1].exceeds for one in rows) <= len(rows) // 5
    by_key = {one.figures.key: one for one in outcome.comparison.rows}
    top = by_key["top_speed"]
    first = top.figures.readings[0].mean.value
    off = top.differences[2]
    assert abs(off.value.value - 0.04 * first) < 2.5 * off.value.sd
    assert (off.says, off.verdict) == ("higher", "better")
    # One launch each way: the next might have met other waves.
    assert by_key["launch_to_30_mph"].differences[2].says == "too few repeats"
    assert by_key["best_planing_economy"].differences[2].verdict == "better"


def test_what_logs_and_sheet_lack_is_said_figure_by_figure(outcome: CompareOutcome) -> None:
    lacks = {one.figures.key: one.figures.readings[3].lacks for one in outcome.comparison.rows}
    assert lacks["best_economy"] == "no step both ways has fuel flow"
    assert lacks["bow_rise"] == "no pitch is logged"
    assert lacks["time_to_plane"] == "there is no pitch to tell it by"
    assert lacks["top_speed"] == ""
    hindered = [one.limit.key for one in outcome.comparison.hindrances(3)]
    assert hindered == ["wind", "air"]


def test_trials_of_one_name_are_told_apart_by_their_folders(outcome: CompareOutcome) -> None:
    assert [one.name for one in outcome.trials] == [
        f"Reciprocal day ({folder})" for folder in ("before", "after", "faster", "bare")
    ]
    assert [one.letter for one in outcome.trials] == ["A", "B", "C", "D"]


def test_sheets_side_by_side_in_one_folder_are_told_apart_too(series: Path) -> None:
    second = series / "before" / "second.toml"
    second.write_text((series / "before" / "trial.toml").read_text())
    found = compare_sheets([series / "before" / "trial.toml", second])
    second.unlink()
    assert [one.name for one in found.trials] == [
        "Reciprocal day (before)", "Reciprocal day (second.toml)",
    ]  # fmt: skip
    assert not any(one.differences[1].exceeds for one in found.comparison.rows)


def test_all_are_worked_out_with_the_first_ladder_and_nothing_is_written(series: Path) -> None:
    """A ladder of its own would time a trial to other speeds."""
    sheet = series / "after" / "trial.toml"
    kept = sheet.read_text()
    before = {path: path.stat().st_mtime_ns for path in series.rglob("*") if path != sheet}
    sheet.write_text(
        'ladder = { unit = "km/h", speeds = [25, 50] }\n'
        + kept.replace('units = "us"', 'units = "metric"')
        + '[definitions]\nlaunch_start = "first_movement"\n'
    )
    found = compare_sheets([series / "before", series / "after"])
    sheet.write_text(kept)
    assert found.units == "us"
    assert found.redefined == ("B",)
    keys = [one.figures.key for one in found.comparison.rows]
    assert [key for key in keys if key.startswith("launch_to")] == [
        "launch_to_10_mph", "launch_to_20_mph", "launch_to_30_mph", "launch_to_40_mph",
    ]  # fmt: skip
    time = next(o for o in found.comparison.rows if o.figures.key == "launch_to_20_mph")
    assert time.differences[1].says != "not alike"
    after = {path: path.stat().st_mtime_ns for path in series.rglob("*") if path != sheet}
    assert after == before


def test_other_units_are_worked_out_afresh_with_their_own_ladder(series: Path) -> None:
    found = compare_sheets([series / "before", series / "after"], "metric")
    titles = [one.figures.title for one in found.comparison.rows]
    assert "time to 20 km/h" in titles
    assert not [title for title in titles if title.endswith("mph")]


def test_it_reads_well_in_eighty_columns(
    series: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from overlay.cli import console

    monkeypatch.setattr(console.OUT, "_width", 80)
    folders = [str(series / name) for name in ("before", "after", "faster")]
    code, text = said(folders, capsys)
    assert code == 0
    for part in (
        "A  Reciprocal day (before)",
        "C may be held against A: all that must be alike is.",
        "within 5 kn (own choice)",
        "top speed, both",
        "▲ higher, better",
        "within uncertainty",
        "no sound level meter logged",
        "± is one standard deviation",
        "one is marked by chance",
    ):
        assert part in text
    tables = [line for line in text.splitlines() if line.startswith(" ") and "  A  " in line]
    assert len(tables) > 20
    assert all(len(line) <= 80 for line in tables)
    assert "nan" not in text


def test_it_refuses_to_judge_and_says_why_first(
    series: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = said([str(series / "bare"), str(series / "faster")], capsys)
    assert code == 3
    refusal = "Neither B nor A is called better: wind is not known for A; air density is not"
    assert refusal in text
    assert text.index(refusal) < text.index("top speed")
    assert "▲ higher" in text
    assert "higher, better" not in text


def test_a_program_gets_the_same(series: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, text = said([str(series / "before"), str(series / "faster"), "--json"], capsys)
    assert code == 0
    answer = json.loads(text)
    assert answer["schema"] == "compare/1"
    assert [one["letter"] for one in answer["trials"]] == ["A", "B"]
    top = next(one for one in answer["figures"] if one["key"] == "top_speed")
    assert top["differences"][1]["verdict"] == "better"


@pytest.mark.parametrize(
    ("names", "part"),
    [
        (["before"], "1 trial cannot be compared; name 2 to 6 sheets"),
        (["before"] * 7, "7 trials cannot be compared"),
        (["before", "before/trial.toml"], "named twice"),
        (["before", "nowhere"], "no trial sheet here"),
    ],
)
def test_too_few_too_many_and_the_same_again_are_bad_input(
    series: Path, names: list[str], part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SheetError, match=part):
        compare_sheets([series / name for name in names])
    assert run(["compare", *(str(series / name) for name in names)]) == 2
    told = capsys.readouterr().err.strip()
    assert part in told
    assert "\n" not in told


def test_trials_without_a_figure_in_common_are_said_to_have_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folders = []
    for name in ("one", "two"):
        folder = tmp_path / name
        folder.mkdir()
        sheet = f'schema = "trial/1"\nname = "{name}[b]\\u001b[31m"\n'
        (folder / "trial.toml").write_text(sheet)
        folders.append(str(folder))
    code, text = said(folders, capsys)
    assert code == 3
    assert "B and A have no figure in common: there is nothing to compare." in text
    assert "is called better" not in text
    assert "no launch was found" in text
    # A name is printed as it is written, but for what would steer the terminal.
    assert "A  one[b]" in text
    assert "\x1b" not in text
