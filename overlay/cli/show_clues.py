"""What `trialreel clues` prints: the kinds of evidence, and the page of one."""

from __future__ import annotations

from overlay.cli.console import OUT, table

MARGIN = "    "
"""What is set in from the margin is a formula or a command, and keeps its lines."""


def kinds() -> None:
    """Every kind of clue with what it is in words."""
    from sync.clues import CLUES

    made = table("", "clue", "what it is")
    for kind in CLUES.values():
        made.add_row(kind.key.replace("_", " "), kind.text)
    OUT.print(made)
    OUT.print("trialreel clues KIND says what one needs, how sure it is and how it can mislead")


def page(name: str) -> bool:
    """The page of a kind, its paragraphs as wide as the terminal; False where there is none."""
    from sync.clues import CLUES
    from sync.clues.pages import page as text_of

    key = name.strip().casefold().replace(" ", "_").replace("-", "_")
    if key not in CLUES:
        return False
    for block in text_of(key).strip().split("\n\n"):
        if block.startswith("#"):
            OUT.print(block.lstrip("# "), style="bold")
        else:
            OUT.print(block if block.startswith(MARGIN) else " ".join(block.split()))
        OUT.print()
    return True
