"""`trialreel card` from a sheet to files: the report's digits, PNG and clip, what is refused."""

from __future__ import annotations

import json
import shutil
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image
from sailed import DELAYS, logged, sailed, write_trial

from overlay.analysis.results import Results, compute_results
from overlay.cli.app import run
from overlay.errors import AnalysisError, FaceplateError, OutputError, SheetError
from overlay.graphics.cards import CARDS
from overlay.graphics.cards.facts import DOUBT
from overlay.render.still import StillClip
from overlay.report.columns import number
from overlay.report.tables import tables_of
from overlay.trial import Trial, build_trial, read_material
from overlay.workflow.align import ties_for
from overlay.workflow.card import card
from overlay.workflow.card_facts import FILLED, facts_of

MORE = """\
[conditions]
place = "a sound"
wind = "6 kn"
"""

ONE_TRIAL = [kind for kind in CARDS if kind != "comparison"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A simulated day as a crew brings it home."""
    path = tmp_path_factory.mktemp("carded") / "day"
    write_trial(path, logged(sailed()), DELAYS + MORE)
    return path


@pytest.fixture(scope="module")
def worked_out(folder: Path) -> tuple[Results, Trial]:
    material = read_material(folder / "trial.toml", with_footage=False)
    trial = build_trial(material, ties_for(material))
    return compute_results(trial), trial


@pytest.fixture
def sheet(folder: Path, tmp_path: Path) -> Path:
    """A copy of the day to write into."""
    shutil.copytree(folder, tmp_path / "day")
    return tmp_path / "day" / "trial.toml"


def test_every_kind_has_its_facts() -> None:
    assert set(FILLED) == set(ONE_TRIAL)


@pytest.mark.parametrize(("kind", "section"), [("steps", "steps"), ("launches", "launches")])
def test_a_cards_table_is_the_reports(
    kind: str, section: str, worked_out: tuple[Results, Trial]
) -> None:
    results, trial = worked_out
    table = facts_of(results, trial, kind).table
    report = tables_of(results, trial)[section][0]
    assert table is not None
    assert table.rows == report.rows
    assert [column.text for column in table.columns] == [head.text for head in report.headings]


def test_without_its_doubt_a_value_has_its_own_digits(worked_out: tuple[Results, Trial]) -> None:
    """Rounded from the value itself, not from the text that has one digit more."""
    results, trial = worked_out
    launches = facts_of(results, trial, "launches").table
    assert launches is not None
    first = results.both_ways.times[0]
    place = [column.text for column in launches.columns].index(f"to {first.label}")
    assert launches.short_rows[0][place] == number(first.time_s.value, first.time_s.sd)
    assert launches.rows[0][0] == "both ways"
    for row, short in zip(launches.rows, launches.short_rows, strict=True):
        assert "±" not in " ".join(short)
        assert row[0] == short[0]
    steps = facts_of(results, trial, "steps").table
    assert steps is not None
    assert DOUBT in steps.order
    speeds = [short[2] for short in steps.short_rows]
    per_mph = 1 / 0.44704
    assert speeds == [
        number(one.speed.value * per_mph, one.speed.sd * per_mph) for one in results.steps
    ]


def test_a_curve_stands_on_the_steps(worked_out: tuple[Results, Trial]) -> None:
    results, trial = worked_out
    speed = facts_of(results, trial, "curves").charts[0]
    assert [point.x for point in speed.points] == pytest.approx(
        [step.engine_speed.value * 60 for step in results.steps]
    )
    assert [point.y for point in speed.points] == pytest.approx(
        [step.speed.value / 0.44704 for step in results.steps]
    )


def test_a_course_has_no_place_on_it(worked_out: tuple[Results, Trial]) -> None:
    """It begins at nought, and spans as many feet as the log's metres come to."""
    results, trial = worked_out
    chart = facts_of(results, trial, "course").charts[0]
    assert chart.plan
    assert {line.text for line in chart.lines} >= {"between the runs", "steps", "launches"}
    x = np.concatenate([line.x for line in chart.lines])
    assert np.nanmin(np.abs(x)) < 100
    assert 1e3 < np.nanmax(x) - np.nanmin(x) < 1e6


@pytest.mark.parametrize("kind", ONE_TRIAL)
def test_a_card_is_written_whole(kind: str, sheet: Path) -> None:
    outcome = card(kind, [sheet], size="1080x1080")
    clips = sheet.parent / "clips"
    assert sorted(clips.iterdir()) == sorted(outcome.paths)
    for path in outcome.paths:
        with Image.open(path) as image:
            assert image.size == (1080, 1080)
            assert image.mode == "RGB"


def test_the_same_card_again_takes_the_firsts_place(sheet: Path) -> None:
    outcome = card("launches", [sheet])
    before = [path.read_bytes() for path in outcome.paths]
    assert card("launches", [sheet]) == outcome
    assert [path.read_bytes() for path in outcome.paths] == before


def test_a_lower_third_can_be_seen_through(sheet: Path) -> None:
    (path,) = card("title", [sheet], lower_third=True).paths
    assert path.name == "card-title-lower-1920x1080.png"
    with Image.open(path) as image:
        assert image.mode == "RGBA"
        alpha = np.asarray(image)[..., 3]
    assert alpha[0, 0] == 0
    assert (alpha > 230).mean() < 0.25


def test_a_clip_fades_in_and_out(sheet: Path) -> None:
    """2 s at 25 frames, half a second of fade: black first and last, whole from frame 13 on."""
    clip = StillClip(seconds=Fraction(2), fade_s=Fraction(1, 2), rate_hz=Fraction(25))
    (path,) = card("title", [sheet], size="1280x720", form="clip", clip=clip).paths
    (still,) = card("title", [sheet], size="1280x720").paths
    with av.open(str(path)) as film:
        (stream,) = film.streams
        context = film.streams.video[0].codec_context
        assert (context.name, context.pix_fmt) == ("h264", "yuv420p")
        tags = (context.colorspace, context.color_primaries, context.color_trc)
        assert [*map(int, tags), int(context.color_range)] == [1, 1, 1, 1]
        assert stream.average_rate == 25
        frames = [(f.pts * f.time_base, f.to_ndarray()[:720]) for f in film.decode(video=0)]
    assert [time for time, _ in frames] == [Fraction(n, 25) for n in range(50)]
    light = [float(luma.mean()) for _, luma in frames]
    assert light[0] == pytest.approx(16, abs=0.5)
    assert light[-1] == pytest.approx(16, abs=0.5)
    assert light[:14] == sorted(light[:14])
    codes = np.asarray(Image.open(still).convert("RGB"), dtype=float) / 255
    luma = 16 + 219 * (codes @ [0.2126, 0.7152, 0.0722])  # ITU-R BT.709-6, item 3.2
    assert np.abs(frames[25][1] - luma).mean() < 1.5
    assert light[6] == pytest.approx(16 + (luma.mean() - 16) * 6 / 12.5, abs=0.7)


def test_cards_of_an_earlier_parting_do_not_stay_behind(sheet: Path) -> None:
    clips = sheet.parent / "clips"
    (made,) = card("title", [sheet]).paths
    old = clips / "card-title-1920x1080-1-of-2.png"
    theirs = clips / "card-title-1920x1080-2-of-2.png"
    shutil.copy(made, old)
    theirs.write_bytes(b"a photograph")
    card("title", [sheet])
    assert sorted(clips.iterdir()) == sorted([made, theirs])


def test_units_have_files_of_their_own(sheet: Path) -> None:
    own = card("steps", [sheet])
    metric = card("steps", [sheet], units="metric")
    assert {path.name for path in metric.paths} == {"card-steps-metric-1920x1080.png"}
    assert own.paths[0].read_bytes() != metric.paths[0].read_bytes()
    assert card("steps", [sheet], units="us").paths == own.paths


def test_trials_stand_side_by_side(folder: Path, tmp_path: Path) -> None:
    for name in ("one", "two"):
        shutil.copytree(folder, tmp_path / name)
    outcome = card("comparison", [tmp_path / "one", tmp_path / "two"], size="1080x1920")
    assert all(path.parent == tmp_path / "one" / "clips" for path in outcome.paths)
    assert not (tmp_path / "two" / "clips").exists()
    with pytest.raises(SheetError, match="shows one trial, and 2 are named"):
        card("steps", [tmp_path / "one", tmp_path / "two"])
    with pytest.raises(SheetError, match="1 trial cannot be compared"):
        card("comparison", [tmp_path / "one"])


def test_other_peoples_files_are_left_alone(sheet: Path) -> None:
    place = sheet.parent / "clips" / "card-title-1920x1080.png"
    place.parent.mkdir()
    place.write_bytes(b"a photograph")
    with pytest.raises(OutputError, match="no card of trialreel"):
        card("title", [sheet])
    assert place.read_bytes() == b"a photograph"
    assert list(place.parent.iterdir()) == [place]


def test_a_card_does_not_leave_the_trials_folder(sheet: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (sheet.parent / "clips").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(OutputError, match="leave the trial's folder"):
        card("title", [sheet])
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_nothing_half_written_is_left(sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The encoder fails on the last frames; neither clip nor working folder stays."""

    def shown(self: StillClip, frame: int) -> Fraction:
        if frame == self.frames - 2:
            raise KeyboardInterrupt
        return Fraction(1)

    monkeypatch.setattr(StillClip, "shown", shown)
    with pytest.raises(KeyboardInterrupt):
        card("title", [sheet], size="640x360", form="clip")
    assert list((sheet.parent / "clips").iterdir()) == []


def test_a_sheet_that_states_nothing_has_no_conditions(sheet: Path) -> None:
    text = sheet.read_text()
    start = text.index("[load]")
    stop = text.index("[", start + 1)
    sheet.write_text((text[:start] + text[stop:]).replace(MORE, ""))
    with pytest.raises(AnalysisError, match="neither conditions nor load"):
        card("conditions", [sheet])
    assert run(["card", "conditions", "--trial", str(sheet)]) == 3


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["gauge"], "there is no card 'gauge'"),
        (["steps", "--size", "wide"], "'wide' is not a size"),
        (["steps", "--size", "0x100"], "is not a size|cannot be drawn"),
        (["steps", "--size", "1920x1081"], "cannot be drawn"),
        (["curves", "--lower-third"], "no room for its letters"),
        (["title", "--lower-third", "--as", "clip"], "cannot be seen through"),
        (["title", "--as", "clip", "--fade", "3"], "a fade of 3 s"),
        (["title", "--as", "clip", "--seconds", "0"], "cannot be shown for 0 s"),
        (["title", "--as", "clip", "--rate", "999"], "frames a second"),
        (["title", "--as", "clip", "--rate", "1e9"], "is not a number such as"),
        (["title", "--as", "clip", "--rate", "fast"], "'fast' is not a number"),
        (["title", "--as", "film"], "film"),
    ],
)
def test_what_cannot_be_drawn_is_refused_in_one_sentence(
    given: list[str], said: str, sheet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["card", *given, "--trial", str(sheet)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert any(part in err for part in said.split("|"))
    assert not (sheet.parent / "clips").exists()


def test_the_command_says_what_it_wrote(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ["card", "steps", "--trial", str(sheet), "--size", "1080x1920", "--json"]
    assert run(given) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["kind"] == "steps"
    assert all(Path(path).is_file() for path in told["cards"])
    assert any("lasts, range" in remark for remark in told["remarks"])


def test_without_a_kind_all_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["card"]) == 0
    out = capsys.readouterr().out
    assert [line.split()[0] for line in out.splitlines()] == list(CARDS)


def test_a_rate_that_is_written_short_is_exact(sheet: Path) -> None:
    given = ["title", "--as", "clip", "--rate", "29.97", "--seconds", "1", "--size", "640x360"]
    assert run(["card", *given, "--trial", str(sheet)]) == 0
    with av.open(str(sheet.parent / "clips" / "card-title-640x360.mp4")) as film:
        assert film.streams.video[0].average_rate == Fraction(30000, 1001)


def test_a_fade_of_nothing_shows_all_frames_whole() -> None:
    clip = StillClip(seconds=Fraction(1), fade_s=Fraction(0), rate_hz=Fraction(10))
    assert [clip.shown(frame) for frame in range(clip.frames)] == [1] * 10
    with pytest.raises(FaceplateError, match="does not fit"):
        StillClip(seconds=Fraction(1), fade_s=Fraction(51, 100))
