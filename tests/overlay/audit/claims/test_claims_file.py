"""A claims file: what may stand in it, and one clear sentence for what may not."""

import pickle
import tomllib

import pytest

from overlay.audit import claims as package
from overlay.audit.claims import ClaimsFile, load_claims
from overlay.errors import SheetError

ONE = '[[claims]]\nkind = "measured"\nquantity = "top speed"\nvalue = "38.4 mph"\n'


def test_the_example_in_the_docstring_is_a_claims_file():
    _, _, example = (package.__doc__ or "").partition("::\n")
    read = ClaimsFile.model_validate(tomllib.loads(example.replace("\n    ", "\n")))
    assert [claim.kind for claim in read.claims] == [
        "measured", "maker's data", "comparison", "opinion",
    ]  # fmt: skip


def test_a_file_is_read_as_it_is_written(claims_file):
    read = load_claims(claims_file(f'film = "the film"\n{ONE}text = "38.4"\nat = "0:41"\n'))
    (claim,) = read.claims
    assert (read.film, claim.text, claim.at) == ("the film", "38.4", "0:41")
    assert claim.value == "38.4 mph"


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        (ONE + 'quantitty = "x"\n', 6, ["no such key", "did you mean 'quantity'"]),
        ('flim = "a"\n' + ONE, 2, ["no such key", "did you mean 'film'"]),
        ('[[claims]]\nkind = "mesured"\ntext = "a"\n', 3, ["did you mean 'measured'"]),
        ('[[claims]]\nkind = "measured"\ntext = "a"\n', 2, ["needs a quantity and a value"]),
        ('[[claims]]\ntext = "a"\n', 2, ["kind", "missing"]),
        ('[[claims]]\nkind = "opinion"\n', 2, ["a claim needs its text"]),
        (ONE.replace("38.4 mph", "38.4"), 5, ["has no unit"]),
        (ONE.replace("38.4 mph", "38,4 mph"), 5, ["comma"]),
        (ONE.replace("38.4 mph", "fast"), 5, ["does not begin with a number"]),
        (ONE.replace("38.4 mph", "38.4 mqh"), 5, ["not a unit", "mph"]),
        (ONE.replace('"38.4 mph"', "38.4"), 5, ["is not text in quotes"]),
        (ONE + 'source = "x"\n', 2, ["'measured' has no 'source'"]),
        (ONE + 'rounded_to = "1 kn"\n', 2, ["in the unit of the value"]),
        (ONE + 'rounded_to = "1 mph"\n', 2, ["is not rounded to"]),
        ("claims = []\n", 2, ["there is no claim in it"]),
        ("claims = 3\n", 2, ["is not a list"]),
        (ONE + "[[claims]\n", 6, ["not TOML"]),
    ],
)
def test_what_is_wrong_is_told_with_its_line(claims_file, text, line, words):
    with pytest.raises(SheetError) as caught:
        load_claims(claims_file(text))
    said = str(caught.value)
    assert all(word in said for word in words), said
    assert caught.value.line == line, said
    assert "\n" not in said
    assert str(pickle.loads(pickle.dumps(caught.value))) == said


@pytest.mark.parametrize(
    ("schema", "words"), [("", "the schema is missing"), ('schema = "claims/2"\n', "'claims/2'")]
)
def test_another_schema_is_refused(claims_file, schema, words):
    with pytest.raises(SheetError, match=words):
        load_claims(claims_file(ONE, schema))


def test_a_file_that_is_none_is_told(tmp_path):
    with pytest.raises(SheetError, match="no such claims file"):
        load_claims(tmp_path / "nothing.toml")
    with pytest.raises(SheetError, match="is a folder"):
        load_claims(tmp_path)
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SheetError, match="UTF-8"):
        load_claims(tmp_path / "bytes.toml")
