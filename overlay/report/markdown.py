"""What crews write into names, as plain text of Markdown: no mark-up, no HTML, no link."""

from __future__ import annotations

import re

from markupsafe import Markup

_MARKS = re.compile(r"([\\`*_{}\[\]#|~$^!])")


def escaped(value: object) -> str:
    """A value as text in which Markdown sees nothing but letters.

    What comes out of the template's own filters is left as it is.
    """
    text = str(value)
    if isinstance(value, Markup):
        return text
    text = _MARKS.sub(r"\\\1", text)
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    # Bare addresses become links by themselves in some dialects.
    text = text.replace("://", r":\/\/").replace("@", r"\@")
    text = re.sub(r"\b(www)\.", r"\1\\.", text, flags=re.IGNORECASE)
    return re.sub(r"^(\d*)([.)+=-])(?=\s|$|[-=])", r"\1\\\2", text)
