"""What all pages share: one HTML file that needs nothing beside it, and the letters that it has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from overlay.graphics.theme import load_theme
from overlay.report.pages import ALWAYS
from overlay.report.palette import palette
from overlay.report.typeface import embedded
from overlay.report.words import one_line, sentence

if TYPE_CHECKING:
    from jinja2 import Environment


def furnished(template_name: str, styles: Sequence[str], facts: Mapping[str, Any]) -> str:
    """A page from its template and style sheets, fonts cut down to its letters."""
    environment = _environment()
    template = environment.get_template(template_name)
    letters = ALWAYS + template.render(**facts, css="")
    theme = load_theme()
    dress = {
        "colours": palette(),
        "plain": embedded(theme.plain, letters),
        "strong": embedded(theme.strong, letters),
    }
    css = "\n".join(environment.get_template(name).render(**dress) for name in styles)
    return template.render(**facts, css=css)


def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

    environment = Environment(
        loader=PackageLoader("overlay.report"),
        autoescape=select_autoescape(("html.j2",)),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters |= {
        "line": one_line,
        "sentence": lambda text: sentence(one_line(text)),
        "stop": _stop,
    }
    return environment


def _stop(text: str) -> str:
    """What may begin with a file's name, which keeps its small letter: a full stop at its end."""
    text = one_line(text)
    return text if text.endswith((".", "?")) else f"{text}."
