"""A page for each kind of clue, for the people who want to be tied and for those who are not."""

from __future__ import annotations

from importlib import resources


def page(key: str) -> str:
    """The page of a kind of clue, as Markdown.

    Raises
    ------
    KeyError
        For a key that `CLUES` does not have.
    """
    from sync.clues import CLUES

    return (resources.files(__package__) / f"{CLUES[key].key}.md").read_text(encoding="utf-8")
