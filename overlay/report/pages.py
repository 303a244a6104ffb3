"""The report's pages: one HTML file that needs nothing beside it, and one in Markdown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup

from overlay.figures import unit_for
from overlay.graphics.theme import load_theme
from overlay.report.markdown import escaped
from overlay.report.palette import palette
from overlay.report.typeface import embedded

if TYPE_CHECKING:
    from jinja2 import Environment

    from overlay.report.sections import Report

ALWAYS = "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ.,:;/()–−± "
"""Letters that the page's font has whatever the page says, for page numbers among others."""


def html_page(report: Report) -> str:
    """The report as one HTML page: plots inline, no script, nothing from elsewhere."""
    environment = _environment(html=True)
    template = environment.get_template("index.html.j2")
    facts = {"report": report, "units_line": units_line(report.units)}
    letters = template.render(**facts, css="")
    theme = load_theme()
    css = environment.get_template("page.css.j2").render(
        colours=palette(),
        plain=embedded(theme.plain, ALWAYS + letters),
        strong=embedded(theme.strong, ALWAYS + letters),
    )
    return template.render(**facts, css=css)


def markdown_page(report: Report) -> str:
    """The report in Markdown, its plots as files beside it."""
    template = _environment(html=False).get_template("report.md.j2")
    return template.render(report=report, units_line=units_line(report.units))


def plot_file(svg: str) -> str:
    """A plot as a file of its own."""
    return f'<?xml version="1.0" encoding="utf-8"?>\n{svg}\n'


def units_line(units: str) -> str:
    """What the page counts in, as a chart says it beneath its title."""
    speed, short = unit_for("speed", units), unit_for("short_distance", units)
    distance, flow = unit_for("distance", units), unit_for("volume_flow", units)
    lengths = short if short == distance else f"{distance} and {short}"
    return f"speeds in {speed}, distances in {lengths}, fuel in {flow}"


def _environment(*, html: bool) -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

    def finish(value: object) -> object:
        return value if html else escaped(value)

    environment = Environment(
        loader=PackageLoader("overlay.report"),
        autoescape=select_autoescape(("html.j2",)) if html else False,  # noqa: S701 - see `finish`
        finalize=finish,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["rule"] = _rule
    environment.filters["file"] = Markup
    return environment


def _rule(kind: str) -> Markup:
    """The rule under a heading in Markdown, which sets its column."""
    return Markup("---:") if kind == "number" else Markup("---")
