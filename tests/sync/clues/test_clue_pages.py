"""Every kind of clue has a page, and all pages tell the same things in the same order."""

from __future__ import annotations

from importlib import resources

import pytest

from sync.clues import CLUES
from sync.clues.pages import page

HEADINGS = [
    "## On the day",
    "## In the sheet",
    "## How sure it is",
    "## How it can mislead",
    "## When it says nothing",
]


@pytest.mark.parametrize("kind", CLUES.values(), ids=lambda kind: kind.key)
def test_a_page_opens_with_its_kind_and_has_every_heading(kind) -> None:
    text = page(kind.key)
    lines = text.splitlines()
    assert lines[0] == f"# {kind.key}: {kind.text}"
    assert [line for line in lines if line.startswith("## ")] == HEADINGS
    parts = text.split("\n## ")
    assert all(len(part.split()) > 3 for part in parts), "a heading with nothing under it"


def test_no_page_is_of_a_kind_that_is_gone() -> None:
    files = resources.files("sync.clues.pages").iterdir()
    pages = {path.name.removesuffix(".md") for path in files if path.name.endswith(".md")}
    assert pages == set(CLUES)


def test_pages_speak_of_sheet_keys_that_there_are() -> None:
    """What stands in backquotes under "In the sheet" is a key, a channel, a mark or a value."""
    import json

    from overlay.sheet import sheet_schema
    from sync.channel_kinds import CHANNELS
    from sync.clues.clap import SOUND_WORDS
    from sync.clues.lamp import LIGHT_WORDS

    schema = json.dumps(sheet_schema())
    known = {*CHANNELS, *SOUND_WORDS, *LIGHT_WORDS}
    for key in CLUES:
        part = page(key).split("## In the sheet")[1].split("\n## ")[0]
        for word in part.split("`")[1::2]:
            name = word.partition(" = ")[0].strip('[]"').rpartition(".")[2]
            assert f'"{name}"' in schema or name in known, (key, word)
