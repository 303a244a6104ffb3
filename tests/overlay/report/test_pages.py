"""The pages: whole, harmless, the same every time, and plain about what is missing."""

import os
import re
import subprocess
import sys
from html.parser import HTMLParser

import pytest
from markdown_it import MarkdownIt
from sailed import logged, sailed, write_trial

from overlay.report.markdown import escaped
from overlay.report.pages import html_page, markdown_page, plot_file
from overlay.report.words import one_line
from overlay.workflow.report import report

VOID = {"meta", "br", "hr", "img", "link", "input"}


class Reader(HTMLParser):
    """Keeps what a page consists of, and whether its tags close in the order they open."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.odd: list[str] = []
        self.tags: list[str] = []
        self.ids: list[str] = []
        self.refs: list[tuple[str, str]] = []
        self.texts: dict[str, list[str]] = {}

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value)
            if name in ("href", "src", "xlink:href", "action", "data", "poster", "srcset"):
                self.refs.append((name, value))
            if name.startswith("on"):
                self.odd.append(f"{tag} {name}")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.odd.append(f"</{tag}>")

    def handle_data(self, data):
        if self.open and data.strip():
            self.texts.setdefault(self.open[-1], []).append(data.strip())


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    return reader


@pytest.fixture(scope="module")
def page(day) -> str:
    return html_page(day.report)


@pytest.mark.parametrize("which", ["day", "hostile"])
def test_the_page_is_well_formed_and_runs_nothing(
    which: str, request: pytest.FixtureRequest
) -> None:
    found = read(html_page(request.getfixturevalue(which).report))
    assert found.open == []
    assert found.odd == []
    assert len(found.ids) == len(set(found.ids))
    assert not {"script", "iframe", "object", "embed", "link", "img", "base", "form"} & set(
        found.tags
    )


def test_the_page_needs_nothing_from_elsewhere(page: str) -> None:
    found = read(page)
    assert found.refs
    assert all(value.startswith("#") for _, value in found.refs)
    assert {value[1:] for _, value in found.refs} <= set(found.ids)
    outside_fonts = re.sub(r"data:font/woff;base64,[A-Za-z0-9+/=]+", "", page)
    assert re.findall(r"https?:|//[a-z]|@import", outside_fonts) == []
    urls = re.findall(r"url\(([^)]{0,20})", page)
    assert all(url.startswith(("#", '"data:font/woff')) for url in urls)


def test_the_page_has_every_table_and_plot(page: str, day) -> None:
    found = read(page)
    assert len(day.report.plots()) == 8
    assert found.tags.count("svg") == len(day.report.plots())
    for section in day.report.sections:
        assert section.name in found.ids
        assert section.title in found.texts["h2"]
        for table in section.tables:
            for row in table.rows:
                for cell in row:
                    assert not cell or cell in found.texts["td"]


def test_the_order_of_the_page_is_the_engine_man_s(day) -> None:
    names = [section.name for section in day.report.sections]
    assert names == [
        "tested", "full-throttle", "summary", "launches", "steps", "attitude", "day",
        "definitions", "delays", "missing", "warnings", "cautions",
    ]  # fmt: skip
    assert day.report.full_throttle.what == "full throttle"


def test_cautions_are_printed(page: str) -> None:
    for part in ("never a passage plan", "licensed practice", "engine-reported", "common practice"):
        assert part in page


def test_hostile_names_stay_text(hostile) -> None:
    name = one_line(hostile.trial.sheet.name)
    assert "<script>" in name
    page = html_page(hostile.report)
    found = read(page)
    assert found.texts["h1"] == [name]
    assert "<script>" not in page
    assert any(name in text for text in found.texts["td"])
    assert any("$_{<b>&" in text for text in found.texts["td"])


def test_hostile_names_stay_text_in_markdown(hostile) -> None:
    """As markdown-it, a CommonMark parser, reads it, with tables."""
    reader = MarkdownIt("commonmark").enable("table")
    page = reader.render(markdown_page(hostile.report))
    found = read(page)
    name = one_line(hostile.trial.sheet.name)
    assert found.texts["h1"] == [name]
    assert set(found.tags) <= {
        "h1", "h2", "h3", "p", "table", "thead", "tbody", "tr", "th", "td", "ul", "li", "img",
        "hr", "code",
    }  # fmt: skip
    assert found.texts.get("code", []) in ([], ["tables", "results.json"])
    assert any(name in text for text in found.texts["td"])


def test_markdown_has_every_table_with_its_rows(day) -> None:
    reader = MarkdownIt("commonmark").enable("table")
    found = read(reader.render(markdown_page(day.report)))
    tables = [table for section in day.report.sections for table in section.tables]
    assert found.tags.count("table") == len(tables)
    assert found.tags.count("tr") == sum(len(table.rows) + 1 for table in tables)
    assert found.tags.count("img") == len(day.report.plots())


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("29.6 ± 0.04", "29.6 ± 0.04"),
        ("1. first", "1\\. first"),
        ("- so", "\\- so"),
        ("−1.5", "−1.5"),
        ("a|b", "a\\|b"),
        ("<b>", "&lt;b&gt;"),
        ("http://x.y", "http:\\/\\/x.y"),
        ("www.x.y", "www\\.x.y"),
    ],
)
def test_markdown_escapes_what_would_be_mark_up_and_no_more(text: str, wanted: str) -> None:
    assert escaped(text) == wanted


def test_plots_are_drawn_alike_every_time(day, day_sheet, report_on) -> None:
    again = report_on(day_sheet).report
    assert [plot.svg for plot in again.plots()] == [plot.svg for plot in day.report.plots()]


def test_another_process_writes_the_same_bytes(day_sheet) -> None:
    """With another order of hashes."""
    code = (
        "import sys, pathlib\n"
        "from overlay.workflow.report import report\n"
        "print(report(pathlib.Path(sys.argv[1])).page)\n"
    )
    folder = day_sheet.with_name("report")

    def written() -> dict[str, bytes]:
        return {
            path.relative_to(folder).as_posix(): path.read_bytes()
            for path in folder.rglob("*")
            if path.is_file()
        }

    report(day_sheet)
    here = written()
    ran = subprocess.run(
        [sys.executable, "-c", code, str(day_sheet)], capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONHASHSEED": "1"},
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.strip() == str(folder / "index.html")
    assert written() == here
    assert len(here) > 20


def test_a_plot_is_a_file_that_stands_by_itself(day) -> None:
    from xml.etree import ElementTree as ET

    for plot in day.report.plots():
        root = ET.fromstring(plot_file(plot.svg).encode())
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert root.get("viewBox")


def test_missing_channels_are_named_and_take_away_nothing_else(tmp_path, report_on) -> None:
    left = ("fuel_flow", "pitch", "latitude", "longitude")
    channels = {key: one for key, one in logged(sailed()).items() if key not in left}
    more = "".join(
        f'[[sensors]]\nlog = "{log}"\nchannel = "{channel}"\ndelay = "0.00 s"\n'
        for log, channel in (("gps", "speed"), ("engine", "engine_speed"), ("engine", "throttle"))
    )
    made = report_on(write_trial(tmp_path / "less", channels, more))
    said = " ".join(read(html_page(made.report)).texts["li"])
    assert "Economy: no step has fuel flow" in said
    assert "no pitch is logged" in said
    assert "Course of the day: no log has places." in said
    assert "Noise: no sound level meter logged" in said
    assert "Turns: none of half a circle and more was found." in said
    assert {plot.name for plot in made.report.plots()} == {
        "full_throttle", "launch_speed", "speed_curve", "day",
    }  # fmt: skip
    assert {"launch_times", "steps"} <= {table.name for table in made.report.tables()}


def test_a_day_without_speed_has_a_page_that_says_so(tmp_path, report_on) -> None:
    channels = {key: one for key, one in logged(sailed()).items() if key in (
        "engine_speed", "throttle", "pitch", "course")}  # fmt: skip
    sheet = write_trial(tmp_path / "none", channels, "")
    made = report_on(sheet)
    found = read(html_page(made.report))
    assert "Launches: no log has speed over ground." in found.texts["li"]
    assert "It cannot be said how the engine stands" in " ".join(found.texts["p"])
    assert made.report.plots() == ()
