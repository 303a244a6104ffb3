"""[[reels]] in a trial sheet: its two forms, what it means, and what is refused."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import get_args

import pytest
from jsonschema import Draft202012Validator

from overlay.errors import SheetError
from overlay.graphics.cards import CARDS
from overlay.graphics.cards.base import LEAST_PX as CARD_LEAST_PX
from overlay.graphics.cards.base import MOST_PX as CARD_MOST_PX
from overlay.sheet import TrialSheet, load_sheet, sheet_schema
from overlay.sheet.reels import LEAST_PX, MOST_PX, CardName, reel_place

CLIPS = """\
schema = "trial/1"
[[recordings]]
name = "bow"
files = ["bow.mp4"]
[[clips]]
name = "launch"
recording = "bow"
[[clips]]
name = "turn"
recording = "bow"
"""


def loaded(folder: Path, reel: str, name: str = "the day") -> TrialSheet:
    path = folder / "trial.toml"
    path.write_text(f'{CLIPS}[[reels]]\nname = "{name}"\n{reel}\n', encoding="utf-8")
    return load_sheet(path)


def test_a_part_in_short_and_in_full_is_the_same(tmp_path: Path) -> None:
    short = loaded(tmp_path, 'parts = ["card title", "clip launch"]').reels[0]
    full = loaded(tmp_path, 'parts = [{ card = "title" }, { clip = "launch" }]').reels[0]
    assert short == full
    assert [part.words for part in short.parts] == ["card title", "clip launch"]
    assert (short.fade, short.overlap, short.card_length) == (0.5, 0.0, 5.0)
    assert str(reel_place(short)) == "clips/reel-the-day.mp4"


def test_all_that_a_reel_may_say(tmp_path: Path) -> None:
    reel = loaded(
        tmp_path,
        """parts = [
            { card = "title", length = "4 s", fade = "1 s" },
            { clip = "launch", start = "2 s", stop = "0.2 min", overlap = "500 ms" },
        ]
        fade = "250 ms"
        card_length = "3 s"
        size = "1080×1920"
        rate = 29.97""",
    ).reels[0]
    title, launch = reel.parts
    assert (title.length, title.fade) == (4.0, 1.0)
    assert (launch.start, launch.stop, launch.overlap) == (2.0, 12.0, 0.5)
    assert (reel.fade, reel.size, reel.rate) == (0.25, "1080x1920", Fraction(30000, 1001))


@pytest.mark.parametrize(
    ("given", "rate"),
    [
        ("25", Fraction(25)),
        ("23.976", Fraction(24000, 1001)),
        ("23.98", Fraction(24000, 1001)),
        ("59.94", Fraction(60000, 1001)),
        ("'30000/1001'", Fraction(30000, 1001)),
        ("' 30000 / 1001 '", Fraction(30000, 1001)),
        ("12.5", Fraction(25, 2)),
    ],
)
def test_a_rate_is_exact(given: str, rate: Fraction, tmp_path: Path) -> None:
    assert loaded(tmp_path, f'parts = ["card title"]\nrate = {given}').reels[0].rate == rate


def test_the_cards_are_those_that_show_one_trial() -> None:
    assert set(get_args(CardName)) == set(CARDS) - {"comparison"}
    assert (LEAST_PX, MOST_PX) == (CARD_LEAST_PX, CARD_MOST_PX)


@pytest.mark.parametrize(
    ("reel", "said"),
    [
        ('parts = ["card tilte"]', "'tilte' is not allowed here .* did you mean 'title'"),
        ('parts = ["crad title"]', "did you mean 'card title'"),
        ('parts = ["clip lunch"]', "does not list; did you mean 'launch'"),
        ('parts = ["clip xyz"]', r"does not list \(launch, turn\)"),
        ('parts = ["title"]', "is no part of a reel; write 'card title' or 'clip launch'"),
        ('parts = [{ clip = "launch", lenght = "3 s" }]', r"lenght: no such key; .* 'length'"),
        ('parts = [{ clip = "launch", length = "3 s" }]', "length is for cards"),
        ('parts = [{ card = "title", stop = "3 s" }]', "start and stop are for clips"),
        ('parts = [{ card = "title", clip = "launch" }]', "either a card or a clip"),
        ('parts = [{ card = "title", length = 3 }]', "has no unit; write for example '3 s'"),
        ('parts = [{ card = "title", length = "0 s" }]', "is not more than 0"),
        ('parts = [{ clip = "turn", start = "3 s", stop = "2 s" }]', "ends before it starts"),
        ('parts = [{ card = "title", overlap = "1 s" }]', "has none before it to overlap"),
        ("parts = []", "'the day' has none"),
        ("parts = [3]", "3 is not a table"),
        ('fade = "1 s"', "parts: this key is missing"),
        ('parts = ["card title"]\nfade = "90 s"', "is more than 60"),
        ('parts = ["card title"]\nsize = "wide"', "write width and height: '1920x1080'"),
        ('parts = ["card title"]\nsize = "1921x1080"', "must be even numbers"),
        ('parts = ["card title"]\nrate = "fast"', "'fast' is not a number of frames a second"),
        ('parts = ["card title"]\nrate = 1000', "not from 10 to 120"),
        ('parts = ["card title"]\nrate = true', "True is not a number of frames"),
        ('parts = ["card title"]\nrate = "1e2000000"', "'1e2000000' is not a number of frames"),
        ('parts = ["card title"]\nrate = "1e-2000000"', "is not a number of frames"),
        ('parts = ["card title"]\nrate = inf', "inf is not a number of frames"),
        (f'parts = ["card title"]\nrate = "{"7" * 9999}"', "'7{39}… is not a number of frames"),
    ],
)
def test_what_makes_no_sense_is_refused_in_one_sentence(
    reel: str, said: str, tmp_path: Path
) -> None:
    with pytest.raises(SheetError, match=said) as caught:
        loaded(tmp_path, reel)
    assert "\n" not in str(caught.value)


def test_two_reels_do_not_take_one_place(tmp_path: Path) -> None:
    again = 'parts = ["card title"]\n[[reels]]\nname = "{}"\nparts = ["card title"]'
    with pytest.raises(SheetError, match="two reels are called 'the day'"):
        loaded(tmp_path, again.format("the day"))
    with pytest.raises(SheetError, match="and the reel 'the day' would both become"):
        loaded(tmp_path, again.format("The:day"))
    clip = 'parts = ["card title"]\n[[clips]]\nname = "reel-the-day"\nrecording = "bow"'
    with pytest.raises(SheetError, match="and the clip 'reel-the-day' would both become"):
        loaded(tmp_path, clip)


def test_a_name_that_leaves_no_file_name_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="leaves no letter or digit"):
        loaded(tmp_path, 'parts = ["card title"]', name="???")
    with pytest.raises(SheetError, match="cannot be a name"):
        loaded(tmp_path, 'parts = ["card title"]', name="a/b")


def test_the_schema_takes_both_forms() -> None:
    schema = json.loads(json.dumps(sheet_schema()))
    check = Draft202012Validator(schema)
    sheet = {
        "schema": "trial/1",
        "reels": [{"name": "a", "parts": ["card title", {"card": "title"}], "rate": 25}],
    }
    assert list(check.iter_errors(sheet)) == []
    sheet["reels"][0]["parts"].append({"crad": "title"})
    assert list(check.iter_errors(sheet)) != []
