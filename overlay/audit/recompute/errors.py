"""What stops a recomputation: an answer of its own, never counted as agreement."""

from __future__ import annotations


class CannotRecompute(Exception):
    """Something is not held against the logs, and why, as a clause without a full stop.

    It grows from no tree of the product's, for nothing here may lean on the product.
    """

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why

    def __reduce__(self) -> tuple[type[CannotRecompute], tuple[str]]:
        """Travel between processes with its reason."""
        return type(self), (self.why,)
