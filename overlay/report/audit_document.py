"""An audit as a document: versioned, with all that the verdict has, pictures left out."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

from overlay.audit.claims.judged import Judged
from overlay.audit.verdict import Input, Verdict
from overlay.documents import without_nan
from overlay.report.audit_words import verdict_line

SCHEMA = "audit/1"


def audit_document(verdict: Verdict) -> dict[str, Any]:
    """The verdict as JSON has it; a time or a value that is not known is null.

    Beside what the verdict holds stand what follows from it: the outcome, the same in one line,
    the sum of what was looked at, and the state of each input.
    """
    made = {
        "schema": SCHEMA,
        "outcome": verdict.outcome,
        "line": verdict_line(verdict),
        **_plain(verdict),
        "counts": _plain(verdict.counts),
    }
    plain = without_nan(made)
    assert isinstance(plain, dict)
    return plain


def _plain(value: Any) -> Any:
    """Lists, tables, texts and numbers of whatever a verdict consists of."""
    if isinstance(value, Judged):
        return value.as_json()
    if is_dataclass(value) and not isinstance(value, type):
        table = {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
        return {**table, "state": value.state} if isinstance(value, Input) else table
    if isinstance(value, Path):
        return value.as_posix()
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value
