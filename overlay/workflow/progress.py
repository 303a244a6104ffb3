"""How far a long piece of work has come, told to whoever wants to know."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Called with the name of the stage, what is done of it, and how much it is in all."""

    def __call__(self, stage: str, done: float, total: float) -> None:
        """Take note."""
        ...


def nobody(stage: str, done: float, total: float) -> None:
    """Tell nobody."""
