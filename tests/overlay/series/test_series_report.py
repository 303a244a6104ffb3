"""The report of a series: every clip of the plan once, every failure with its reason, links that
lead somewhere, and results that are those of the trials."""

from __future__ import annotations

import json
import math
import os
import re
import shutil
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pandas as pd
import pytest
from film import Film, make_film
from sailed import DELAYS, T0, logged, sailed, script, write_trial
from season import RATE, make_season, outputs_of, run_series, write_series

from overlay.analysis.comparing.limits import Likeness, Limit, Stated
from overlay.analysis.comparing.side import Figures, Reading
from overlay.analysis.means import Mean
from overlay.cli.app import run
from overlay.report.side_by_side import MOST_COLUMNS, Letters, side_tables, stated_table
from overlay.series.amounts import clock_text, megabytes, size_text
from overlay.series.folder import REPORT_PAGE, RESULTS_TABLE, SeriesFolder
from overlay.series.job import SHORT
from overlay.series.page import page_of
from overlay.series.report import write_report
from overlay.series.season import season_of
from overlay.series.standing import standing_of
from overlay.workflow.results import results
from sync.clock import utc_text

pytestmark = pytest.mark.whole_road

VOID = {"meta", "br", "img"}
MPH, NMI_M = 3600 / 1609.344, 1852.0
"""By definition: a statute mile has 1609.344 m, a nautical one 1852 m."""

BOAT = "=<b>Tern</b> & co"
MORE = """
[[recordings]]
name = "bow"
files = ["bow.mp4"]
ties = [{{ frame = 0, utc = {utc} }}]
[boat]
name = "{boat}"
[[clips]]
name = "first go"
recording = "bow"
start = "0 s"
stop = "1 s"
"""


def sailed_day(folder: Path, film: Path, name: str, boat: str, swell: int = 11) -> Path:
    """A simulated day with steps and launches, and a camera in its first launch."""
    begins_s = next(done.start_s for done in script()[1] if done.what == "launch")
    more = MORE.format(utc=utc_text(T0 + begins_s - 1.0, 3), boat=boat)
    sheet = write_trial(folder, logged(sailed(swell)), DELAYS + more)
    sheet.write_text(sheet.read_text().replace('"Reciprocal day"', f'"{name}"'))
    shutil.copy(film, folder / "bow.mp4")
    return sheet


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five trials: two with all results, one with a launch alone, one whose footage is none, and a
    sheet that cannot be read; run once."""
    folder = make_season(tmp_path_factory.mktemp("season") / "spring", trials=2, clips=2,
                         clip_s=0.5, size=(320, 180))  # fmt: skip
    film = make_film(
        folder / "film.mp4",
        Film(frames=90, width=320, height=180, time_base=1 / RATE / 1001, steps=(1001,),
             options={"preset": "ultrafast", "g": "30"}),
    )  # fmt: skip
    sailed_day(folder / "day 3 #1", film, "Reach", BOAT)
    sailed_day(folder / "day4", film, "Reach", "Gannet", swell=12)
    film.unlink()
    (folder / "day2" / "bow.mp4").write_bytes(b"no film at all" * 100)
    (folder / "day9").mkdir()
    (folder / "day9" / "trial.toml").write_text('schema = "trial/1"\nnmae = "x"\n')
    write_series(folder, '[matrix]\nunits = ["us", "metric"]\n[limits]\ncores = 2\n')
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TRIALREEL_CACHE", str(folder.parent / "cache"))
        ran = run_series(folder, timeout_s=600.0)
    assert ran.returncode == 1, ran.stderr
    (folder / "said.txt").write_text(ran.stdout)
    return folder


@pytest.fixture
def own(season: Path, tmp_path: Path) -> Path:
    """The folder of that series, for a test to change."""
    shutil.copytree(season, tmp_path / "spring", copy_function=shutil.copy2)
    folder = tmp_path / "spring" / "season.series"
    _moved(folder, season, tmp_path / "spring")
    return folder


def _moved(folder: Path, before: Path, after: Path) -> None:
    """Let plan and reports name their sheets where they lie now; times of change stay."""
    for path in (folder / "plan.json", *(folder / "jobs").glob("*.json")):
        status = path.stat()
        path.write_text(path.read_text().replace(str(before), str(after)))
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))


class Reader(HTMLParser):
    """What a page consists of, and whether its tags close in the order in which they open."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.odd: list[str] = []
        self.tags: list[str] = []
        self.ids: list[str] = []
        self.refs: list[str] = []
        self.rows: dict[str, str] = {}
        self._row = ""
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        known = {name: value or "" for name, value in attrs}
        self.odd += [f"{tag} {name}" for name in known if name.startswith("on")]
        self.refs += [known[name] for name in ("href", "src", "data", "action") if name in known]
        if "id" in known:
            self.ids.append(known["id"])
        if tag == "tr":
            self._row = known.get("id", "")
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.odd.append(f"</{tag}>")
        if tag == "tr":
            self._row = ""

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "title"):
            self.text += data
            if self._row:
                self.rows[self._row] = f"{self.rows.get(self._row, '')} {data.strip()}".strip()


def read(page: Path) -> Reader:
    reader = Reader()
    reader.feed(page.read_text(encoding="utf-8"))
    reader.close()
    assert reader.open == []
    assert reader.odd == []
    reader.text = " ".join(reader.text.split())
    return reader


def plan_in(folder: Path) -> dict[str, list[dict[str, object]]]:
    found: dict[str, list[dict[str, object]]] = json.loads((folder / "plan.json").read_bytes())
    return found


def table_in(folder: Path) -> pd.DataFrame:
    return pd.read_csv(folder / RESULTS_TABLE, keep_default_na=False, na_values={
        "value": [""], "sd": [""]})  # fmt: skip


def test_a_run_with_failures_writes_page_and_table_and_names_them_last(season: Path) -> None:
    folder = season / "season.series"
    lines = (season / "said.txt").read_text().splitlines()
    assert lines[-2:] == [
        f"page  {folder / REPORT_PAGE}",
        f"results  {folder / RESULTS_TABLE}",
    ]
    assert (folder / REPORT_PAGE).is_file()
    assert (folder / RESULTS_TABLE).is_file()


def test_every_clip_and_every_refused_line_stands_there_once(season: Path) -> None:
    folder = season / "season.series"
    plan = plan_in(folder)
    found = read(folder / REPORT_PAGE)
    jobs = [f"job-{str(row['key'])[:SHORT]}" for row in plan["jobs"]]
    refused = [f"refused-{number}" for number, _ in enumerate(plan["refused"], 1)]
    for row in plan["refused"]:
        told = f"{row['trial']}: {row['clip']}, {row['variant']['units']}"  # type: ignore[index]
        assert found.text.count(told if row["clip"] else "day9 failed:") == 1
    assert (len(jobs), len(refused)) == (8, 5)
    there = [one for one in found.ids if one.startswith(("job-", "refused-"))]
    assert sorted(there) == sorted(jobs + refused)
    assert len(found.ids) == len(set(found.ids))
    assert set(jobs) == set(found.rows)


def test_the_page_runs_nothing_and_every_link_leads_somewhere(season: Path) -> None:
    folder = season / "season.series"
    page = folder / REPORT_PAGE
    found = read(page)
    assert not {"script", "iframe", "object", "link", "img", "base", "form"} & set(found.tags)
    assert "default-src 'none'" in page.read_text()
    assert re.findall(r"https?:|//[a-z]|@import", _without_fonts(page)) == []
    here = {ref[1:] for ref in found.refs if ref.startswith("#")}
    assert here
    assert here <= set(found.ids)
    files = {unquote(ref) for ref in found.refs if not ref.startswith("#")}
    assert all((folder / name).is_file() for name in files), files
    clips = {f"clips/{path.name}" for path in (folder / "clips").glob("*.mp4")}
    assert len(clips) == 8
    assert clips <= files


def _without_fonts(page: Path) -> str:
    return re.sub(r"data:font/woff;base64,[A-Za-z0-9+/=]+", "", page.read_text())


def test_failures_come_first_with_their_reasons_and_without_this_machine_s_paths(
    season: Path,
) -> None:
    folder = season / "season.series"
    found = read(folder / REPORT_PAGE)
    assert found.ids.index("failed") < found.ids.index("trials")
    assert "8 of 13 clips are there and 5 failed." in found.text
    assert "did you mean 'name'" in found.text
    assert re.search(r"day2: clip1, us; day2: clip1, metric; day2: clip2, us;", found.text)
    assert "day2/bow.mp4" in found.text
    assert str(season) not in found.text
    assert "4 clips are not there: see above." in found.text
    assert "Its clips are not there: see above." in found.text


def test_crews_words_stay_words(season: Path) -> None:
    page = (season / "season.series" / REPORT_PAGE).read_text()
    assert "<b>Tern" not in page
    assert "&lt;b&gt;Tern&lt;/b&gt; &amp; co" in page


def test_trials_of_one_name_are_told_apart(season: Path) -> None:
    text = read(season / "season.series" / REPORT_PAGE).text
    assert "Reach (day 3 #1)" in text
    assert "Reach (day4)" in text
    assert "Tern 1 (" not in text


def test_writing_it_again_makes_nothing_else(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path: path.read_bytes() for path in own.rglob("*") if path.is_file()}
    page, table = (own / REPORT_PAGE).read_bytes(), (own / RESULTS_TABLE).read_bytes()
    for name in (REPORT_PAGE, RESULTS_TABLE):
        (own / name).write_text("old")
    assert run(["series", "report", str(own)]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert "13 clips, 5 trials, 1 of them without results, in us units" in said.out
    assert (own / REPORT_PAGE).read_bytes() == page
    assert (own / RESULTS_TABLE).read_bytes() == table
    assert {path for path in own.rglob("*") if path.is_file()} == set(before)
    assert run(["series", "report", str(own.parent), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["page"] == str(own / REPORT_PAGE)
    assert (told["clips"], told["with_results"], told["units"]) == (13, 4, "us")


def test_what_was_never_begun_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    make_season(tmp_path / "new", trials=1)
    assert run(["series", "report", str(tmp_path / "new")]) == 2
    said = capsys.readouterr()
    assert "no series was begun here; `trialreel series run` begins one." in said.err
    assert not (tmp_path / "new" / "new.series").exists()


@pytest.mark.parametrize(
    "text", ["{", '{"name": "new", "jobs": [{"schema": "series-job/9"}]}', "[]"]
)
@pytest.mark.parametrize("word", ["report", "status"])
def test_a_plan_that_cannot_be_read_is_one_sentence(
    word: str, text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = make_season(tmp_path / "new", trials=1)
    (folder / "new.series").mkdir()
    (folder / "new.series" / "plan.json").write_text(text)
    assert run(["series", word, str(folder)]) == 2
    said = capsys.readouterr().err
    assert "plan.json: this plan is damaged, or another version of trialreel wrote it" in said
    assert "keeps the clips that are whole" in said


def changed(folder: Path, job: dict[str, object], **facts: object) -> None:
    """The report of a job with other facts."""
    path = folder / "jobs" / f"{job['key']}.json"
    path.write_text(json.dumps({**json.loads(path.read_bytes()), **facts}))


def test_a_series_is_told_as_it_stands(own: Path) -> None:
    """Disagreeing, killed, gone, never tried, and older clips, each in its place."""
    jobs = plan_in(own)["jobs"]
    films = [next((own / "clips").glob(f"*{str(job['key'])[:SHORT]}.mp4")) for job in jobs]
    audit_page = f"{films[0].stem}.audit.html"
    (own / "clips" / audit_page).write_text("an audit")
    changed(own, jobs[0], audit={"outcome": "disagrees", "sentence": "It does not agree: 2 inputs",
                                 "page": audit_page, "document": ""})  # fmt: skip
    changed(own, jobs[1], outcome="killed", sentence="its process was killed by SIGKILL.",
            attempts=2)  # fmt: skip
    films[2].unlink()
    (own / "jobs" / f"{jobs[3]['key']}.json").unlink()
    for path in (films[4], films[4].with_name(f"{films[4].stem}.ledger.parquet")):
        shutil.copy(path, path.with_name(path.name.replace(str(jobs[4]["key"])[:SHORT], "0" * 12)))
    write_report(SeriesFolder(path=own))
    found = read(own / REPORT_PAGE)
    places = [f"job-{str(job['key'])[:SHORT]}" for job in jobs]
    assert [found.ids.count(place) for place in places] == [1] * 8
    assert set(found.rows) == {places[0], *places[4:]}
    assert (
        "5 of 13 clips are there, 6 failed and 2 not made yet; 1 disagrees with the" in found.text
    )
    assert found.refs.count(f"#{places[0]}") == 1
    assert "disagrees It does not agree: 2 inputs." in found.rows[places[0]]
    assert f"clips/{audit_page}" in {unquote(ref) for ref in found.refs}
    assert "(tried 2 times, ended after" in found.text
    assert "killed: its process was killed by SIGKILL." in found.text
    assert "Nothing was tried yet." in found.text
    assert "no longer there as they were" in found.text
    older = [ref for ref in found.refs if "000000000000" in ref]
    assert len(older) == 1
    assert (own / unquote(older[0])).is_file()


def test_what_another_run_made_counts_as_before(own: Path) -> None:
    """A run plans before it makes clips, so that what is older than the plan was there."""
    text = read(own / REPORT_PAGE).text
    assert "made by the last run8 up to date before0" in text
    (own / "plan.json").touch()
    jobs = plan_in(own)["jobs"]
    (own / "jobs" / f"{jobs[0]['key']}.json").touch()
    write_report(SeriesFolder(path=own))
    text = read(own / REPORT_PAGE).text
    assert "made by the last run1 up to date before7" in text


def test_a_piece_is_no_clip_and_one_that_failed_says_why_the_clip_is_not_there(own: Path) -> None:
    plan = plan_in(own)
    job = plan["jobs"][0]
    clip_report = own / "jobs" / f"{job['key']}.json"
    report = json.loads(clip_report.read_bytes())
    job["cuts"] = [[0, 8], [8, 15]]
    (own / "plan.json").write_text(json.dumps(plan))
    pieces = standing_of(SeriesFolder(path=own)).clips[0].job.pieces
    clip_report.unlink()
    for piece, outcome in zip(pieces, ("done", "timed out"), strict=True):
        facts = {"key": piece.key, "outcome": outcome, "sentence": "it took too long.",
                 "job": piece.as_document(), "outputs": {}}  # fmt: skip
        (own / "jobs" / f"{piece.key}.json").write_text(json.dumps({**report, **facts}))
    write_report(SeriesFolder(path=own))
    found = read(own / REPORT_PAGE)
    assert len([one for one in found.ids if one.startswith(("job-", "refused-"))]) == 13
    assert not any(piece.key[:SHORT] in one for piece in pieces for one in found.ids)
    assert "timed out: it took too long." in found.text


def test_a_report_that_cannot_be_written_is_told_and_the_clips_stay(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (own / REPORT_PAGE).unlink()
    (own / REPORT_PAGE).mkdir()
    before = outputs_of(own.parent)
    ran = run_series(own.parent, timeout_s=600.0)
    assert ran.returncode == 1
    assert "not written  page and table" in ran.stdout
    assert f"{REPORT_PAGE}: this cannot be written" in ran.stdout
    assert "Traceback" not in ran.stderr
    assert before.items() <= outputs_of(own.parent).items()


def test_the_table_opens_as_a_spreadsheet_opens_it(season: Path) -> None:
    folder = season / "season.series"
    raw = (folder / RESULTS_TABLE).read_bytes()
    assert raw.startswith(b"\xef\xbb\xbftrial,sheet,date,boat,section,figure,value,sd,unit,")
    rows = table_in(folder)
    assert set(rows["trial"]) == {"Tern 1", "Tern 2", "Reach (day 3 #1)", "Reach (day4)", "day9"}
    assert rows["value"].dtype == float
    assert rows["sd"].dtype == float
    words = rows.select_dtypes(exclude="number")
    for column in words:
        assert not words[column].astype(str).str.match(r"[=+\-@]").any(), column
    assert set(rows.loc[rows["trial"] == "Reach (day 3 #1)", "boat"]) == {f"'{BOAT}"}
    assert set(rows.loc[rows["trial"] == "Tern 1", "date"]) == {"2026-06-11"}
    lost = rows[rows["value"].isna()]
    assert (lost["missing"] != "").all()
    assert (rows.loc[rows["value"].notna(), "missing"] == "").all()
    unread = rows[rows["trial"] == "day9"]
    assert len(unread) == 1
    assert "did you mean 'name'" in unread["missing"].item()


def test_its_numbers_are_those_of_the_results(own: Path) -> None:
    """The document that `trialreel results` writes, in SI, in the units of the table."""
    rows = table_in(own)
    for name, trial in (("day 3 #1", "Reach (day 3 #1)"), ("day4", "Reach (day4)")):
        path = results(own.parent / name / "trial.toml").path
        assert path is not None
        told = json.loads(path.read_bytes())
        mine = rows[rows["trial"] == trial]
        steps = mine[mine["section"] == "steps"]
        assert len(told["steps"]) >= 4
        for step in told["steps"]:
            here = steps[steps["at"] == step["name"]].set_index("figure")
            assert here.loc["speed", "unit"] == "mph"
            assert here.loc["speed", "value"] == pytest.approx(
                step["speed"]["value"] * MPH, rel=1e-9
            )
            assert here.loc["speed", "sd"] == pytest.approx(step["speed"]["sd"] * MPH, rel=1e-9)
            assert here.loc["engine speed", "value"] == pytest.approx(
                step["engine_speed"]["value"] * 60, rel=1e-9
            )
            # A US gallon is 231 cubic inches.
            gallon_m3 = 231 * 0.0254**3
            assert here.loc["economy", "value"] == pytest.approx(
                step["economy"]["per_volume_m"]["value"] / 1609.344 * gallon_m3, rel=1e-9
            )
        both = mine[mine["section"] == "launches, both ways"].set_index("figure")
        assert told["both_ways"]["times"]
        for time in told["both_ways"]["times"]:
            row = both.loc[f"time to {time['label']}"]
            assert row["value"] == pytest.approx(time["time_s"]["value"], rel=1e-9)
            assert row["sd"] == pytest.approx(time["time_s"]["sd"], rel=1e-9)
        single = mine[mine["section"] == "launches"]
        for launch in told["launches"]:
            for rung in launch["ladder"]:
                row = single[
                    (single["at"] == launch["name"])
                    & (single["figure"] == f"time to {rung['label']}")
                ]
                assert row["value"].item() == pytest.approx(rung["time_s"], rel=1e-9)


def test_the_page_has_the_figures_with_their_uncertainty(season: Path) -> None:
    """What the page prints is the table's number, rounded to its deviation's first digit."""
    folder = season / "season.series"
    rows = table_in(folder)
    text = read(folder / REPORT_PAGE).text
    top = rows[(rows["figure"] == "top speed, both ways") & rows["value"].notna()]
    assert len(top) == 2
    for value, sd in zip(top["value"], top["sd"], strict=True):
        digits = -math.floor(math.log10(sd))
        assert f"{value:.{digits}f} ± {sd:.{digits}f}" in text
    assert "no steps were found" in text
    assert "has no results: " in text


def test_trials_keep_their_places_whoever_has_most_steps(season: Path, tmp_path: Path) -> None:
    """The trial without steps comes first, and the figures of the others stay their own."""
    names = ["day1", "day4", "day 3 #1"]
    told = season_of([season / name / "trial.toml" for name in names], "metric")
    assert told.anchor is not None
    assert told.anchor.path.parent.name == "day4"
    assert told.alike is not None
    assert told.alike.path.parent.name == "day1"
    top = next(row for row in told.figures if row.key == "top_speed")
    assert top.readings[0].lacks
    alone = season_of([season / "day 3 #1" / "trial.toml"], "metric")
    own_top = next(row for row in alone.figures if row.key == "top_speed")
    assert top.readings[2].mean == own_top.readings[0].mean
    assert top.readings[1].mean != own_top.readings[0].mean
    equal = [row for row in told.figures if row.key.startswith("speed_at_")]
    assert len(equal) >= 3
    assert all(row.readings[0].lacks for row in equal)
    assert all(row.readings[1].mean.known for row in equal)


def figures(*readings: Reading, title: str = "top speed", quantity: str = "speed") -> Figures:
    return Figures(key=title, section="speed", title=title, quantity=quantity, better="more",
                   readings=readings)  # fmt: skip


def mean(value: float, sd: float = 0.01, **facts: str) -> Reading:
    return Reading(mean=Mean(value=value, sd=sd), **facts)  # type: ignore[arg-type]


def test_a_table_says_what_is_missing_why_and_how_each_was_had() -> None:
    rows = [
        figures(mean(10.0, at="5000 rpm"), Reading(lacks="no step"), mean(11.0, at="5100 rpm")),
        figures(mean(0.1), mean(0.2), Reading(lacks="no step"), title="at 3000 rpm"),
        figures(Reading(lacks="no log"), Reading(lacks="no log"), Reading(lacks="a hole"),
                title="noise"),
        figures(mean(1e6, basis="weighed fuel"), mean(1e6, basis="metered flow"), mean(1e6),
                title="best", quantity="economy"),
    ]  # fmt: skip
    (table,) = side_tables(rows, "nautical")
    assert table.headings == (("top speed", "kn"), ("at 3000 rpm", "kn"), ("best", "nmi/L"))
    assert [cell.text for cell in table.rows[0]] == [
        "19.44 ± 0.02",
        "0.19 ± 0.02",
        "0.540 ± 0.001",
    ]
    assert [cell.below for cell in table.rows[0]] == ["5000 rpm", "", "weighed fuel"]
    assert table.rows[1][0].letter == table.rows[2][1].letter == "a"
    assert table.notes == (("a", "no step"),)
    assert table.nobody == ("noise: no log; a hole",)


def test_tables_are_no_wider_than_paper() -> None:
    rows = [figures(mean(float(n)), title=f"at {n}") for n in range(1, 2 * MOST_COLUMNS + 2)]
    tables = side_tables(rows, "metric")
    assert [len(table.headings) for table in tables] == [MOST_COLUMNS, MOST_COLUMNS, 1]
    assert [table.title for table in tables] == ["speed", *["speed, continued"] * 2]
    assert [text for table in tables for text, _ in table.headings] == [
        f"at {n}" for n in range(1, 2 * MOST_COLUMNS + 2)
    ]


def test_what_must_be_alike_is_told_of_each() -> None:
    def likeness(key: str, quantity: str, *stated: Stated) -> Likeness:
        limit = Limit(key=key, title=key, quantity=quantity, most=0, share=False, text="",
                      source="", read=lambda _: Stated())  # fmt: skip
        return Likeness(limit=limit, stated=stated, states=(), by=())

    table = stated_table(
        [
            likeness("mass", "mass", Stated(number=1000.0, lacks="crew"), Stated()),
            likeness("wind", "speed", Stated(), Stated()),
            likeness("air", "ratio", Stated(number=0.98), Stated(number=1.0, note="taken as dry")),
            likeness("bottom", "words", Stated(words="clean"), Stated(words="foul")),
        ],
        "us",
    )
    assert table.headings == (("mass", "lb"), ("air", "of standard"), ("bottom", ""))
    assert [[cell.text for cell in row] for row in table.rows] == [
        ["2205", "0.980", "clean"],
        ["––", "1.000", "foul"],
    ]
    assert table.nobody == ("wind: not stated",)
    assert [note for _, note in table.notes] == ["without crew", "not stated", "taken as dry"]


def test_notes_have_letters_however_many_there_are() -> None:
    letters = Letters()
    given = [letters.of(f"note {n}") for n in range(60)]
    assert given[:2] == ["a", "b"]
    assert given[25:28] == ["z", "aa", "ab"]
    assert len(set(given)) == 60
    assert letters.of("note 3") == "d"
    assert letters.of("") == ""


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.4, "0:00"), (42.4, "0:42"), (59.6, "1:00"), (3723, "1:02:03"), (math.nan, "––")],
)
def test_times_in_minutes(seconds: float, text: str) -> None:
    assert clock_text(seconds) == text


def test_sizes_are_told_by_their_magnitude() -> None:
    assert [megabytes(count) for count in (31_000, 1_204_500_000)] == ["0.03", "1,204.5"]
    assert [size_text(count) for count in (31_000, 12_300_000, 1_240_000_000)] == [
        "0.03 MB",
        "12.3 MB",
        "1.2 GB",
    ]


def test_length_size_and_sum_are_those_of_the_clips(season: Path) -> None:
    """The films: 0.5 s at 30000/1001 Hz are 15 frames, 1 s are 30; lengths as frames have them."""
    folder = SeriesFolder(path=season / "season.series")
    standing = standing_of(folder)
    for one in standing.clips:
        frames = 30 if one.job.clip == "first go" else 15
        assert one.length_s == pytest.approx(frames / float(RATE), abs=1.1 / float(RATE))
        assert one.size_bytes == (folder.clips / one.job.output_names[0]).stat().st_size
    page = page_of(standing, season_of(standing.sheets, standing.units))
    counts = dict(page.counts)
    assert counts["film"] == clock_text(sum(one.length_s for one in standing.clips))
    assert counts["failed"] == "5"
    assert counts["trials"] == "5"
