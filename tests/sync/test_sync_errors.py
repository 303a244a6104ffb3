"""Errors: one sentence with its facts, and whole after pickling."""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from pathlib import Path

import pytest

import overlay.errors
from sync import errors


def tree(kind: type[errors.TrialReelError]) -> Iterator[type[errors.TrialReelError]]:
    yield kind
    for below in kind.__subclasses__():
        yield from tree(below)


KINDS = sorted(
    {kind for kind in tree(errors.TrialReelError) if kind.__module__.endswith(".errors")},
    key=lambda kind: kind.__name__,
)


def test_the_tree_is_whole() -> None:
    assert errors.TieRefused in KINDS
    assert overlay.errors.OutputError in KINDS
    assert len(KINDS) >= 15


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_an_error_pickles_with_all_its_facts(kind: type[errors.TrialReelError]) -> None:
    error = kind(
        "it is wrong", path="a/b.toml", line=3, key="boat.length", allowed=("m", "ft"),
        advice="write m",
    )  # fmt: skip
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert again.facts() == error.facts()
    assert (again.what, again.path, str(again)) == (error.what, Path("a/b.toml"), str(error))


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_class_says_when_it_is_raised(kind: type[errors.TrialReelError]) -> None:
    assert kind.__doc__
    assert kind.__doc__.strip()


def test_the_sentence_has_place_fact_choice_and_advice() -> None:
    error = errors.UnitError("'x' is no unit", path="t.toml", line=2, key="k", allowed=("a", "b"),
                             advice="did you mean 'a'")  # fmt: skip
    assert str(error) == "t.toml, line 2, k: 'x' is no unit (allowed: a, b); did you mean 'a'."


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        ({}, "it is wrong."),
        ({"line": 4}, "line 4: it is wrong."),
        ({"key": "k"}, "k: it is wrong."),
        ({"path": "f"}, "f: it is wrong."),
        ({"advice": "mend it"}, "it is wrong; mend it."),
    ],
)
def test_what_is_not_known_is_left_out(facts: dict[str, object], sentence: str) -> None:
    assert str(errors.SyncError("it is wrong", **facts)) == sentence  # type: ignore[arg-type]


def test_errors_are_the_fitting_builtins_too() -> None:
    assert issubclass(errors.LogFormatError, ValueError)
    assert issubclass(overlay.errors.OutputError, OSError)
