"""Picture, ledger and logs held against each other: which pair disagrees, on which frames."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from overlay.audit.comparing import Compared, Frames, counts_of, disagreements_of, strip_of
from overlay.audit.comparing.labels import compare_still
from overlay.audit.comparing.numbers import compare_field
from overlay.audit.comparing.pointers import OFF, compare_pointer
from overlay.audit.comparing.readers import two_readers
from overlay.audit.reading import Readings
from overlay.ledger import Field, Pointer, Still

FIELD = Field(
    instrument="speed", item="value", right_px=300, baseline_px=100, plate_px=(50, 40, 280, 80),
    font="a.ttf", size_px=40, colour="cream", ground="ink",
)  # fmt: skip
UNIT = Still(
    instrument="speed", text="mph", left_px=310, baseline_px=100, tracking_px=0,
    box_px=(310, 70, 40, 30), font="a.ttf", size_px=20, colour="cream", ground="ink",
)  # fmt: skip
NEEDLE = Pointer(
    instrument="engine", item="value", path="line", mark="middle",
    ends_px=((0.0, 10.0), (100.0, 10.0)), reach_px=(0.0, 5.0), low=0.0, high=6000.0, unit="rpm",
    quantity="rotation", colour="cream",
)  # fmt: skip


def frames(count: int, slack: int = 0) -> Frames:
    number = np.arange(count)
    return Frames(
        number=number, t_film_s=number / 25, ledger_frame=number,
        render_t_utc_s=1000.0 + number / 25, slack=slack,
    )  # fmt: skip


def read(texts: list[str | None]) -> pd.DataFrame:
    """Readings of one field, None for what cannot be read."""
    return pd.DataFrame(
        {
            "frame": np.arange(len(texts)),
            "text": ["?" if text is None else text for text in texts],
            "legible": [text is not None for text in texts],
        }
    )


def rows(texts: list[str | None]) -> pd.DataFrame:
    """The ledger's rows, none for frames that are None."""
    kept = [(n, text, 200, 60, 90, 40) for n, text in enumerate(texts) if text is not None]
    return pd.DataFrame(kept, columns=["frame", "text", "x_px", "y_px", "width_px", "height_px"])


def held(
    picture: list[str | None],
    ledger: list[str | None],
    logs: list[tuple[str, ...] | None],
    slack: int = 0,
) -> Compared:
    return compare_field(FIELD, read(picture), rows(ledger), frames(len(picture), slack), logs)


@pytest.mark.parametrize(
    ("picture", "ledger", "logs", "wrong", "state"),
    [
        ("9.8", "9.8", ("9.8",), "", "agrees"),
        ("9.9", "9.8", ("9.8",), "picture-ledger picture-logs", "disagrees"),
        ("9.8", "9.9", ("9.8",), "picture-ledger ledger-logs", "disagrees"),
        ("9.8", "9.8", ("9.7",), "ledger-logs picture-logs", "disagrees"),
        ("9.8", "9.9", ("9.7",), "picture-ledger ledger-logs picture-logs", "disagrees"),
        ("9.8", "9.8", ("9.7", "9.8"), "", "agrees"),
        (None, "9.8", ("9.8",), "", "unread"),
        (None, "9.9", ("9.8",), "ledger-logs", "disagrees"),
        ("9.8", "9.8", None, "", "unheld"),
        ("9.9", "9.8", None, "picture-ledger", "disagrees"),
        ("", "9.8", ("9.8",), "picture-ledger picture-logs", "disagrees"),
        ("9.8", None, ("9.8",), "picture-ledger ledger-logs", "disagrees"),
    ],
)
def test_the_pair_that_disagrees_is_named(picture, ledger, logs, wrong, state):
    one = held([picture], [ledger], [logs])
    names = ["picture-ledger", "ledger-logs", "picture-logs"]
    assert " ".join(n for n, bad in zip(names, one.wrong[0], strict=True) if bad) == wrong
    assert one.states[0] == state


def test_frames_that_disagree_alike_are_one_stretch():
    picture = ["1.0", "1.0", "2.0", "2.0", "1.0", "3.0"]
    one = held(picture, ["1.0"] * 6, [("1.0",)] * 6)
    found = disagreements_of(one, lambda *_: ())
    assert [(d.frames, d.read) for d in found] == [((2, 3), "2.0"), ((5, 5), "3.0")]
    assert found[0].sentence == (
        "speed reads 2.0 at 0.080 s (frames 2 to 3); ledger and logs have 1.0."
    )
    assert found[0].box_px == (200, 60, 90, 40)
    strip = strip_of(one, (0.0, 0.24))
    assert [(round(a, 3), round(b, 3), s) for a, b, s in strip.stretches] == [
        (0.0, 0.08, "agrees"), (0.08, 0.16, "disagrees"), (0.16, 0.2, "agrees"),
        (0.2, 0.24, "disagrees"),
    ]  # fmt: skip


def test_what_comes_and_goes_is_unseen_in_between():
    """Looked at on frames 0 to 4 and 50 to 54: in between it was not to be seen."""
    table = read(["1.0"] * 10)
    table["frame"] = [*range(5), *range(50, 55)]
    one = compare_field(FIELD, table, rows(["1.0"] * 60), frames(60), [("1.0",)] * 10)
    states = [(round(a, 2), round(b, 2), s) for a, b, s in strip_of(one, (0.0, 2.4)).stretches]
    assert [s for _, _, s in states] == ["agrees", "unseen", "agrees", "unseen"]
    assert states[1][0] == pytest.approx(0.2, abs=0.03)
    assert states[1][1] == 2.0


def test_slack_allows_the_neighbours_and_no_more():
    """A shot that is placed to within a frame may show what the ledger has a frame earlier."""
    ledger = ["1.0", "2.0", "3.0", "4.0"]
    late = ["1.0", "1.0", "2.0", "3.0"]
    logs = [tuple({ledger[max(n - 1, 0)], ledger[n], ledger[min(n + 1, 3)]}) for n in range(4)]
    assert not held(late, ledger, logs, slack=1).wrong.any()
    assert held(late, ledger, [(t,) for t in ledger]).wrong.any()
    wrong = held(["1.0", "1.0", "1.0", "1.0"], ledger, logs, slack=1).wrong[:, 0]
    assert wrong.tolist() == [False, False, True, True]


def test_what_is_unread_is_counted_and_never_held():
    one = held(["12.3", None, "12.3"], ["12.3"] * 3, [("12.3",), ("12.3",), None])
    counts = counts_of(one)
    assert (counts.characters, counts.unread, counts.values, counts.held) == (12, 1, 3, 1)


@pytest.mark.parametrize(
    ("before", "looks", "slack", "wrong"),
    [("?", 5, 0, 5), ("?", 4, 0, 0), ("?", 5, 1, 0), ("??", 5, 0, 0)],
)
def test_what_stays_before_a_number_is_no_part_of_it(
    before: str, looks: int, slack: int, wrong: int
) -> None:
    """Half a sign, say. For a moment it may be the encoder's, and on an edited film a logo."""
    table = read([None] * looks)
    table["text"] = f"{before}9.8"
    one = compare_field(
        FIELD, table, rows(["9.8"] * looks), frames(looks, slack), [("9.8",)] * looks
    )
    assert one.wrong.sum(axis=0).tolist() == [wrong, 0, wrong]
    assert one.unread.astype(bool).sum() == looks - wrong


def test_a_label_agrees_where_its_letters_look_the_same():
    """In some fonts two letters are one picture; another unit is another unit."""
    table = read(["rnph", "mph", "km/h", None])
    alike = str.maketrans({"r": "m", "n": ""})
    one = compare_still(UNIT, table, frames(4), lambda text: text.translate(alike), "mph")
    assert one.states.tolist() == ["agrees", "agrees", "disagrees", "unread"]
    other = compare_still(UNIT, table, frames(4), lambda text: text, "km/h")
    assert other.wrong[1].tolist() == [False, True, True]


def test_a_needle_may_be_off_by_little_and_not_by_two_hundredths():
    span = NEEDLE.high - NEEDLE.low
    shown = np.array([3000.0, 3000 + 0.5 * OFF * span, 3000 + 0.02 * span, np.nan, 3000.0])
    table = pd.DataFrame(
        {"frame": np.arange(5), "value": shown, "sd": 5.0, "legible": [True] * 4 + [False]}
    )
    right = np.full(5, 3000.0)
    one = compare_pointer(NEEDLE, table, frames(5), right, right)
    assert one.states.tolist() == ["agrees", "agrees", "disagrees", "disagrees", "unread"]
    assert one.wrong[2].tolist() == [True, False, True]
    assert one.read[2:4].tolist() == ["3120 rpm", ""]
    assert counts_of(one).unread == 1


def test_a_scale_on_which_nothing_has_come_yet_has_no_mark():
    """A turn of no angle paints nothing; half-way along, a mark that is gone is wrong."""
    table = pd.DataFrame(
        {"frame": [0, 1], "value": [np.nan, np.nan], "sd": [np.nan] * 2, "legible": [True] * 2}
    )
    right = np.array([0.0, 3000.0])
    one = compare_pointer(NEEDLE, table, frames(2), right, right)
    assert one.wrong.any(axis=1).tolist() == [False, True]


def test_a_needle_where_there_is_no_value_is_wrong():
    table = pd.DataFrame({"frame": [0], "value": [3000.0], "sd": [5.0], "legible": [True]})
    one = compare_pointer(NEEDLE, table, frames(1), np.array([np.nan]), np.array([np.nan]))
    assert one.wrong[0].tolist() == [True, False, False]


def test_beyond_the_scale_a_needle_stands_at_its_end():
    table = pd.DataFrame({"frame": [0], "value": [5998.0], "sd": [5.0], "legible": [True]})
    far = np.array([7200.0])
    assert not compare_pointer(NEEDLE, table, frames(1), far, far).wrong.any()


def looked(texts: list[str | None]) -> Readings:
    table = read(texts).assign(
        kind="field", index=0, instrument="speed", t_clip_s=np.arange(len(texts)) / 25
    )
    return Readings(texts=table, pointers=pd.DataFrame(), frames=len(texts))


def test_two_readers_are_told_apart():
    same = two_readers(looked(["1.0", "2.0", None]), looked(["1.0", "2.0", "3.0"]))
    assert "read 2 alike" in same
    assert "1 only one" in same
    assert "differ on none" in same
    differ = two_readers(looked(["1.0", "2.0"]), looked(["1.0", "7.0"]))
    assert "differ on 1: speed at 0.04 s ('2.0' and '7.0')" in differ
