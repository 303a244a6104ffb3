"""`series.toml`: what it may say, and what is said of what it may not."""

from __future__ import annotations

from pathlib import Path

import pytest

from overlay.errors import SheetError
from overlay.series.document import load_series, memory_bytes, timeout_s

HEAD = 'schema = "series/1"\ntrials = ["*/trial.toml"]\n'


def written(folder: Path, text: str) -> Path:
    path = folder / "series.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_all_keys_are_read(tmp_path: Path) -> None:
    more = (
        'name = "spring season"\nclips = ["launch*"]\naudit = false\nencoder = "x265"\n'
        'quality = "draft"\nhandles = "2 s"\nstrip_location = true\nfaceplate = "quiet"\n'
        '[matrix]\nshapes = ["wide", "square"]\nunits = ["us"]\n'
        '[limits]\ncores = 3\nmemory = "1.5 GB"\ntimeout = "30 min"\npiece = "5 min"\n'
    )
    series = load_series(written(tmp_path, HEAD + more))
    document = series.document
    assert (document.clips, document.audit, document.encoder) == (["launch*"], False, "x265")
    assert (document.quality, document.handles, document.strip_location) == ("draft", 2.0, True)
    assert document.matrix.shapes == ["wide", "square"]
    limits = document.limits
    assert (limits.cores, limits.memory, limits.timeout, limits.piece) == (
        3, 1_500_000_000, 1800.0, 300.0,
    )  # fmt: skip
    assert series.folder == tmp_path / "spring-season.series"


def test_little_is_enough(tmp_path: Path) -> None:
    document = load_series(written(tmp_path, HEAD)).document
    assert (document.name, document.clips, document.audit) == ("series", ["*"], True)
    assert (document.matrix.shapes, document.matrix.units) == ([], [])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD + 'nmae = "x"', "line 3, nmae: no such key; did you mean 'name'."),
        (HEAD + "[limits]\ncore = 2", "line 4, limits.core: no such key; did you mean 'cores'."),
        (HEAD + "[matrx]\nunits = []", "line 3, matrx: no such key; did you mean 'matrix'."),
        (HEAD + '[matrix]\nshapes = ["upright", "sqare"]', "'sqare' is not allowed here"),
        (HEAD + '[matrix]\nunits = ["metrical"]', "did you mean 'metric'"),
        (HEAD + '[limits]\nmemory = "4"', "'4' is not an amount of memory; write for example"),
        (HEAD + "[limits]\nmemory = 4", "4 is not an amount of memory; write for example"),
        (HEAD + '[limits]\nmemory = "1 kB"', "'1 kB' is less than any job takes"),
        (HEAD + "[limits]\ncores = 0", "line 4, limits.cores: 0 is less than 1."),
        (HEAD + "[limits]\ntimeout = 30", "the bare number 30 has no unit"),
        (HEAD + '[limits]\npiece = "0 s"', "is not more than 0"),
        (HEAD + '[limits]\npiece = "200 ms"', "0.2 s is too short for a piece; write at least"),
        (HEAD + 'audit = "often"', "'often' is not true or false"),
        (HEAD + 'encoder = "x266"', "did you mean 'x26"),
        (HEAD + 'name = "a/b"', "cannot be a name"),
        ('schema = "series/1"\ntrials = []', "trials: this list is empty"),
        ('schema = "series/1"', "trials: this key is missing"),
        ('schema = "series/2"\ntrials = []', "the schema is 'series/2'; write schema"),
        ("trials = []", "the schema is missing"),
        ("schema = ", "this is not TOML"),
    ],
)
def test_what_is_wrong_is_told_in_one_sentence(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(SheetError) as caught:
        load_series(written(tmp_path, text))
    sentence = str(caught.value)
    assert said in sentence
    assert str(tmp_path / "series.toml") in sentence
    assert "\n" not in sentence
    assert "pydantic" not in sentence


def test_what_is_no_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / "series.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SheetError, match="not UTF-8"):
        load_series(tmp_path / "series.toml")


@pytest.mark.parametrize(
    ("text", "size"), [("4 GB", 4 * 10**9), ("500MB", 5 * 10**8), ("2 GiB", 2 * 2**30)]
)
def test_memory_is_counted_as_it_is_written(text: str, size: int) -> None:
    assert memory_bytes(text) == size


def test_a_job_may_take_ten_times_its_estimate_and_half_an_hour_at_least(tmp_path: Path) -> None:
    limits = load_series(written(tmp_path, HEAD)).document.limits
    assert timeout_s(limits, 10.0) == 1800.0
    assert timeout_s(limits, 600.0) == 6000.0
