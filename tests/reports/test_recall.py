"""The recall sheet: where all of a lot is, that it adds up, and what stands on paper and in CSV."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from tests.reports.records import HOSTILE
from tests.reports.test_csv_table import seen
from tests.reports.test_sheet import reaches_out
from weighd.domain.lot_uses import Drawn, Use
from weighd.domain.lots import Goods, Lot, LotBook
from weighd.domain.trace import trace
from weighd.reports.csv_table import bare
from weighd.reports.recall import COLUMNS, recall_csv, recall_pdf
from weighd.station.ports import BatchRow
from weighd.station.recalling import draw_recall

DAY = "2026-11-26"


def lot(code: str, grams: str, **more: Any) -> Lot:
    goods = Goods(
        "milk", "Milk", Decimal(grams), supplier="Invented Dairy", supplier_lot=f"P-{code}"
    )
    return replace(Lot(code, goods, "2026-11-20T08:00:00.000Z", "Ada", 1, "0" * 64), **more)


def thrown_away(grams: str | Decimal) -> tuple[tuple[str, Decimal, bool], ...]:
    return (("1" * 64, -Decimal(grams), False),)


def row(batch: str, status: str = "closed", operator: str = "Cleo") -> BatchRow:
    at = "2026-11-25T09:00:00.000Z"
    return BatchRow(batch, "ice", "Test ice", "1000", operator, at, at, status, 1, 1)


def use(batch: str, code: str, g: str, ingredient: str = "milk") -> Use:
    return Use(batch, 1, code, ingredient, Decimal(g), Decimal("0.1"))


def recall(uses: list[Use], lots: list[Lot], rows: list[BatchRow], **more: Any) -> dict[str, Any]:
    found = trace(
        "A",
        lambda codes: [one for one in uses if one.lot in codes],
        lambda batches: [one for one in uses if one.batch in batches],
    )
    book = LotBook(lots)
    return draw_recall(
        found,
        book.get("A"),
        book,
        {one.id: one for one in rows},
        **{"day": DAY, "took_ms": 1.5, **more},
    )


def chain() -> dict[str, Any]:
    """By hand: 400 g of A in the 1000 g of B-1; 250 g of B-1, so 100 g of A, in the 500 g of B-2.
    600 g of B-1 were taken into stock again after 150 g were thrown away."""
    uses = [
        use("B-1", "A", "400"),
        use("B-1", "", "600", "sugar"),
        use("B-2", "B-1", "250", "base"),
        use("B-2", "", "250", "fruit"),
    ]
    made = lot("B-1", "1000", drawn=Drawn(Decimal(250)), adjusted=thrown_away("150"))
    own = lot("A", "1000", drawn=Drawn(Decimal(400), Decimal("0.01")), count_g=Decimal(600))
    return recall(uses, [own, made], [row("B-1"), row("B-2", operator="Bo")])


def test_where_all_of_it_is_by_hand() -> None:
    first, second = chain()["forward"]
    assert (first["batch"], first["g"], first["passed_g"]) == ("B-1", "400", "100")
    # Left of B-1: 1000 - 250 - 150 = 600 g, of which 0.4 are A: 240 g; thrown away 60 g; out 0.
    assert (first["in_stock_g"], first["wasted_g"], first["out_g"]) == ("240", "60", "0")
    assert (second["g"], second["in_stock_g"], second["out_g"]) == ("100", "0", "100")
    assert chain()["sums"] == {"in_stock_g": "240", "wasted_g": "60", "out_g": "100"}
    assert {(one["who"], one["why"]) for one in chain()["tell"]} == {
        *(("Invented Dairy", "supplier"), ("Cleo", "made it"), ("Bo", "made it")),
    }


def test_what_was_discarded_is_not_out() -> None:
    told = recall([use("B-1", "A", "400")], [lot("A", "1000")], [row("B-1", "abandoned")])
    assert told["sums"] == {"in_stock_g": "0", "wasted_g": "400", "out_g": "0"}


MASSES = st.integers(1, 2000).map(str)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 5), MASSES, MASSES, MASSES), min_size=1, max_size=6))
def test_whatever_becomes_of_it_it_adds_up_to_what_was_used(
    made: list[tuple[int, str, str, str]],
) -> None:
    """Each batch takes of the lot or of an earlier batch; some is booked in again, some wasted."""
    uses, lots = list[Use](), [lot("A", "100000")]
    for n, (of, grams, rest, _) in enumerate(made):
        code = "A" if of >= n else f"B-{of}"
        uses += [use(f"B-{n}", code, grams), use(f"B-{n}", "", rest, "sugar")]
    for n, (_, grams, rest, waste) in enumerate(made):
        whole = Decimal(grams) + Decimal(rest)
        drawn = sum((one.g for one in uses if one.lot == f"B-{n}"), Decimal(0))
        if drawn <= whole and n % 2:
            wasted = min(Decimal(waste), whole - drawn)
            lots.append(lot(f"B-{n}", str(whole), drawn=Drawn(drawn), adjusted=thrown_away(wasted)))
    told = recall(uses, lots, [])
    used = sum((one.g for one in uses if one.lot == "A"), Decimal(0))
    overdrawn = any(
        sum((one.g for one in uses if one.lot == f"B-{n}"), Decimal(0))
        > sum((one.g for one in uses if one.batch == f"B-{n}"), Decimal(0))
        for n in range(len(made))
    )
    total = sum(map(Decimal, told["sums"].values()))
    # Each figure is rounded to 0.01 g.
    doubt = Decimal("0.02") * (3 * len(made) + 1)
    assert total >= used - doubt
    assert overdrawn or total <= used + doubt


def test_it_stands_on_paper_and_can_be_read_back() -> None:
    told = {**chain(), "drill": True, "stations": ["kitchen", "bakery"]}
    made = PdfReader(io.BytesIO(recall_pdf(told)), strict=True)
    assert len(made.pages) == 1
    text = " ".join(" ".join(one.extract_text() for one in made.pages).split())
    for shown in (
        "Milk",
        "2 batches, 2 deep, found in 1.5 ms",
        "A drill: nothing is called back.",
        "kitchen, bakery",
        "Invented Dairy",
        "B-1, Test ice 400 40 100 240 60 0",
        "B-2, Test ice 100 20 0 0 0 100",
        "by way of B-1 (250 g)",
        "All together 240 60 100",
        "It adds up: 0 g unaccounted for, known to ±0.20 g (2 u).",
        "B-2, Test ice: 100 g of the lot",
        "Told on",
        "your local rules say",
    ):
        assert shown in text, shown
    assert made.xmp_metadata is not None
    assert (made.xmp_metadata.pdfaid_part, made.xmp_metadata.pdfaid_conformance) == ("2", "A")
    assert not reaches_out(made)


def test_what_is_missing_is_told() -> None:
    told = chain()
    told["balance"] = {**told["balance"], "difference_g": "12", "adds_up": False}
    text = " ".join(PdfReader(io.BytesIO(recall_pdf(told))).pages[0].extract_text().split())
    assert "It does not add up: 12 g unaccounted for" in text
    told["balance"] = {**told["balance"], "difference_g": None, "adds_up": None}
    text = " ".join(PdfReader(io.BytesIO(recall_pdf(told))).pages[0].extract_text().split())
    assert "Nobody counted what is left" in text


def test_as_csv_no_cell_is_a_formula() -> None:
    told = chain()
    for n, one in enumerate((told["known"], *told["forward"], *told["back"])):
        for key in ("name", "operator", "supplier", "supplier_lot", "batch", "lot", "ingredient"):
            if key in one:
                one[key] = ("=1+1", "@SUM(A1)", "+1", "-1;=2")[n % 4]
    told["lot"] = told["name"] = "=cmd()"
    rows = list(csv.reader(io.StringIO("".join(recall_csv(told)), newline=""), strict=True))
    assert rows[0] == [one.name for one in COLUMNS]
    assert [one[0] for one in rows[1:]] == ["lot", "in", "in"]
    for line in rows[1:]:
        assert all(seen(cell) not in {"=", "+", "-", "@"} for cell in line)
    assert bare(rows[1][2]) == "=cmd()"


@pytest.mark.parametrize("text", HOSTILE[:6])
def test_what_somebody_typed_is_text_and_nothing_else(text: str) -> None:
    told = chain()
    told["lot"] = told["name"] = text
    for one in (told["known"], *told["forward"], *told["tell"]):
        for key, value in one.items():
            if isinstance(value, str) and not value.replace(".", "").isdigit():
                one[key] = text
    assert not reaches_out(PdfReader(io.BytesIO(recall_pdf(told)), strict=True))
