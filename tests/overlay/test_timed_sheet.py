"""What the sheet asks to be timed: either marks of the trim channel or frames of a film."""

from pathlib import Path

import pytest

from overlay.errors import SheetError
from overlay.sheet import load_sheet, sheet_schema

GOOD = """\
schema = "trial/1"
[definitions]
bow_limit = "5 deg"
[[recordings]]
name = "bow"
files = ["bow.mp4"]
[[timed]]
name = "trim, all the way out"
channel = "trim"
from = "0 %"
to = "100 %"
[[timed]]
name = "lift, up"
recording = "bow"
from_frame = 412
to_frame = 530
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "trial.toml"
    path.write_text(text)
    return path


def test_both_kinds_are_read(tmp_path: Path) -> None:
    sheet = load_sheet(write(tmp_path, GOOD))
    trim, lift = sheet.timed
    assert (trim.channel, trim.marks) == ("trim", (0.0, 1.0))
    assert (lift.recording, lift.frames) == ("bow", (412, 530))
    assert sheet.definitions.bow_limit == pytest.approx(0.0872665)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"trim"', '"pitch"', ["timed[1].channel", "'pitch' cannot be timed"]),
        ('from = "0 %"\n', "", ["timed[1]", "needs channel, from and to"]),
        ('from = "0 %"', 'form = "0 %"', ["timed[1].form", "no such key", "'from'"]),
        ('to = "100 %"', 'to = "2 %"', ["5% and more apart"]),
        ('to = "100 %"', 'to = "180 %"', ["timed[1].to", "too much"]),
        ('channel = "trim"', 'channel = "trim"\nrecording = "bow"', ["or else recording"]),
        ("to_frame = 530\n", "", ["from_frame and to_frame"]),
        ("= 530", "= 412", ["to_frame of 'lift, up' must come after from_frame"]),
        ("= 412", "= -1", ["from_frame", "less than 0"]),
        ('recording = "bow"', 'recording = "stern"', ["the time 'lift, up'", "'stern'", "bow"]),
        ('"lift, up"', '"trim, all the way out"', ["two times are called"]),
        ('"5 deg"', '"95 deg"', ["definitions.bow_limit"]),
        ('"5 deg"', '"0 deg"', ["definitions.bow_limit"]),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(
    tmp_path: Path, old: str, new: str, said: list[str]
) -> None:
    assert GOOD.count(old) == 1
    with pytest.raises(SheetError) as caught:
        load_sheet(write(tmp_path, GOOD.replace(old, new, 1)))
    sentence = str(caught.value)
    assert "\n" not in sentence
    for part in said:
        assert part in sentence


def test_the_schema_writes_the_keys_as_the_sheet_has_them() -> None:
    keys = sheet_schema()["$defs"]["Timed"]["properties"]
    assert set(keys) == {"name", "channel", "from", "to", "recording", "from_frame", "to_frame"}
