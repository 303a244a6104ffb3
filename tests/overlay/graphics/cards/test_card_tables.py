"""Tables that do not fit are not made smaller, and nothing of them is lost unsaid."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from overlay.errors import FaceplateError
from overlay.graphics.cards.base import CardBench, Drawn
from overlay.graphics.cards.facts import DOUBT, CardColumn, CardFacts, CardTable
from overlay.graphics.cards.fitting import fitted
from overlay.graphics.cards.measures import GAP
from overlay.graphics.cards.table import draw_table

Tables = Callable[..., CardTable]
Benches = Callable[..., CardBench]


def test_a_table_that_fits_is_left_as_it_is(table_of_steps: Tables, card_bench: Benches) -> None:
    table = replace(table_of_steps(3), notes=())
    pieces, remarks = fitted(table, card_bench(), (1900, 900))
    assert remarks == ()
    assert [piece.rows for piece in pieces] == [table.rows]


def test_columns_go_in_the_order_that_is_stated(
    table_of_steps: Tables, card_bench: Benches
) -> None:
    """From wide to narrow each width lacks the next of the order, and says so."""
    table, bench = table_of_steps(3), card_bench()
    seen = []
    for width in range(1900, 500, -20):
        pieces, remarks = fitted(table, bench, (width, 900))
        there = {column.text for piece in pieces for column in piece.columns}
        gone = [name for name in table.order if name not in there and name != DOUBT]
        if "±" not in " ".join(cell for row in pieces[0].rows for cell in row):
            gone.insert(4, DOUBT)
            assert any("without their doubts" in remark for remark in remarks)
        assert gone == list(table.order[: len(gone)])
        named = ", ".join(name for name in gone if name != DOUBT)
        assert not named or any(remark.endswith(f": {named}") for remark in remarks)
        total = sum(pieces[0].widths_px) + bench.px(GAP) * (len(pieces[0].columns) - 1)
        assert total <= width
        seen.append(len(gone))
    assert seen == sorted(seen)
    assert seen[0] == 0
    assert seen[-1] == len(table.order)


def test_rows_go_over_as_many_cards_as_they_need(
    table_of_steps: Tables, card_bench: Benches
) -> None:
    table = table_of_steps(37)
    pieces, remarks = fitted(table, card_bench(), (1900, 800))
    assert [row for piece in pieces for row in piece.rows] == list(table.rows)
    assert len(pieces) > 2
    assert remarks == (f"the table is parted over {len(pieces)} cards",)
    assert [n for piece in pieces for n in piece.marked] == [len(pieces[-1].rows) - 1]


def test_what_is_too_wide_is_parted_with_its_keys(card_bench: Benches) -> None:
    marks = tuple(f"to {n}0 mph" for n in range(1, 9))
    table = CardTable(
        columns=(CardColumn(text="launch"), *(CardColumn(text=m, number=True) for m in marks)),
        rows=tuple((f"launch {n}", *(f"{n}{k}.11 ± 0.02" for k in range(8))) for n in range(3)),
    )
    pieces, remarks = fitted(table, card_bench(), (900, 800))
    assert all(piece.columns[0].text == "launch" for piece in pieces)
    assert [c.text for piece in pieces for c in piece.columns[1:]] == list(marks)
    assert all([row[0] for row in piece.rows] == [r[0] for r in table.rows] for piece in pieces)
    assert remarks == (f"the table is parted over {len(pieces)} cards",)


def test_notes_stand_only_under_what_they_are_about(
    table_of_steps: Tables, card_bench: Benches
) -> None:
    table = table_of_steps(3)
    whole = " ".join(fitted(table, card_bench(), (1900, 900))[0][0].notes)
    narrow = " ".join(fitted(table, card_bench(), (760, 900))[0][0].notes)
    assert "passage plan" in whole
    assert "±" in whole
    assert "passage plan" not in narrow
    assert "±" not in narrow
    assert "Means both ways" in narrow


def test_a_height_without_room_for_a_row_is_refused(
    table_of_steps: Tables, card_bench: Benches
) -> None:
    with pytest.raises(FaceplateError, match="no room for a row"):
        fitted(table_of_steps(3), card_bench(), (1900, 120))


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920), (1080, 1080)])
def test_every_cell_is_on_a_card(
    size: tuple[int, int], table_of_steps: Tables, card_bench: Benches
) -> None:
    table = table_of_steps(23)
    told = CardFacts(title="Day", subtitle="", table=table)
    drawn: Drawn = draw_table(told, card_bench(size), "Steps")
    texts = [text.text for card in drawn.cards for text in card.texts]
    for row in table.rows:
        assert texts.count(row[0]) == 1
    speeds = [row[2] if any("±" in text for text in texts) else short[2]
              for row, short in zip(table.rows, table.short_rows, strict=True)]  # fmt: skip
    assert [text for text in texts if text in set(speeds)] == speeds
    said = [text for text in texts if " OF " in text]
    assert len(said) == len(drawn.cards) > 1


def test_a_lower_third_has_the_rows_that_matter(
    table_of_steps: Tables, card_bench: Benches
) -> None:
    table = table_of_steps(10)
    told = CardFacts(title="Day", subtitle="", table=table)
    drawn = draw_table(told, card_bench(lower=True), "Steps")
    texts = " ".join(text.text for card in drawn.cards for text in card.texts)
    assert [row[0] for row in table.rows if row[0] in texts] == ["1005", "1009"]
    assert "8 rows are left to the full card" in drawn.remarks
    assert "by itself" not in texts


def test_a_long_name_wraps_and_is_all_there(card_bench: Benches) -> None:
    """Where the columns leave it little room, in lines; the row is as much higher."""
    name = "economy, the best of all on the plane"
    table = CardTable(
        columns=(CardColumn(text=""), *(CardColumn(text=t, number=True) for t in "ABC")),
        rows=((name, "50.59 ± 0.02", "50.59 ± 0.02", "50.59 ± 0.02"),),
    )
    bench = card_bench()
    (piece,), _ = fitted(table, bench, (1250, 600))
    assert len(piece.labels[0]) > 1
    assert " ".join(piece.labels[0]) == name
    assert all(bench.script("strong").width(x) <= piece.widths_px[0] for x in piece.labels[0])
    drawn = draw_table(CardFacts(title="Day", subtitle="", table=table), bench, "Side by side")
    texts = [text.text for card in drawn.cards for text in card.texts]
    assert name in " ".join(texts)


def test_rows_must_match_their_columns() -> None:
    with pytest.raises(ValueError, match="does not have 1 columns"):
        CardTable(columns=(CardColumn(text="a"),), rows=(("1", "2"),))
