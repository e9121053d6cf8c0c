"""Weighings as CSV: what stands there, and that no spreadsheet takes a cell for a formula."""

from __future__ import annotations

import csv
import io
import json
import re
import unicodedata
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from docs.making.pages import read
from tests.reports.records import GOLDEN, HOSTILE, bodies, golden
from weighd.reports.columns import COLUMNS, Of, table_rows
from weighd.reports.csv_table import bare, csv_lines, guarded, read_csv
from weighd.reports.told import Record

#: What starts a formula: OWASP, CSV Injection (owasp.org), with the full-width forms it names.
STARTS = "=+-@\t\r＝＋－＠"
texts = st.text(st.characters(exclude_categories=["Cs"])) | st.text(
    st.sampled_from([*STARTS, *"\n;,'\" \u00a0\u200b\u2212abc1|!"])
)


def as_csv(*documents: dict[str, object]) -> str:
    return "".join(csv_lines([Record(one) for one in documents]))


def seen(cell: str) -> str:
    """What a spreadsheet sees of a cell first: it passes over spaces and what is invisible."""
    for one in unicodedata.normalize("NFKC", cell):
        if not one.isspace() and unicodedata.category(one)[0] not in "CZ":
            return one
    return ""


@given(texts)
def test_a_cell_is_no_formula_and_can_be_read_back(text: str) -> None:
    cell = guarded(text)
    assert bare(cell) == text
    assert not cell.startswith(tuple(STARTS))
    assert seen(cell) not in {"=", "+", "-", "@"}


@given(texts)
def test_nor_is_what_other_separators_make_of_it(text: str) -> None:
    """Set to another language, a spreadsheet splits at semicolons or tabs, also inside cells."""
    for piece in re.split(r"[;\t\r\n]", guarded(text)):
        assert seen(piece.lstrip('" ')) not in {"=", "+", "-", "@"}


def test_ordinary_words_stay_as_they_are() -> None:
    for text in ("Lemon juice", "a gram more does no harm", "L-12=A", "5 °C; well stirred", ""):
        assert guarded(text) == text
    assert guarded("-12") == "'-12"
    assert guarded("'tis") == "''tis"
    assert guarded(" ＝1+1") == "' ＝1+1"
    assert guarded("well;=1+1") == "well;'=1+1"


@given(lot=texts, reason=texts, name=texts, who=texts)
def test_pythons_own_reader_gives_back_what_was_typed(
    lot: str, reason: str, name: str, who: str
) -> None:
    document = golden("over-pour")
    body = bodies(document, "addition accepted")[0]
    body |= {"lot": lot, "reason": reason, "name": name, "operator": who}
    text = as_csv(document)
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert len(rows) == 5
    for cell in rows[0].values():
        assert seen(cell) not in {"=", "+", "@"}
    told = {"lot": lot, "reason": reason, "name": name, "operator": who}
    assert {key: bare(rows[0][key]) for key in told} == told
    assert {key: read_csv(text)[0][key] for key in told} == told


@pytest.mark.parametrize("file", GOLDEN, ids=lambda one: one.stem)
def test_the_values_are_those_of_the_record(file: Path) -> None:
    document = json.loads(file.read_text("utf-8"))
    text = as_csv(document)
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    header, *rows = csv.reader(io.StringIO(text, newline=""), strict=True)
    assert header == [one.name for one in COLUMNS]
    accepted = [one for one in document["entries"] if one["kind"] == "addition accepted"]
    assert len(rows) == len(accepted)
    for cells, entry in zip(rows, accepted, strict=True):
        row = dict(zip(header, cells, strict=True))
        body = entry["body"]
        for key in ("net_g", "target_g", "u_g", "deviation_g", "tare_g", "gross_g", "low_g"):
            assert row[key] == body[key]
            assert re.fullmatch(r"-?\d+(\.\d+)?", row[key])
            assert Decimal(row[key]) == Decimal(body[key])
        for key in ("verdict", "lot", "scale", "operator", "started", "accepted", "ingredient"):
            assert row[key] == body[key]
        assert row["addition"] == str(body["addition"])
        assert (row["entry"], row["hash"]) == (str(entry["seq"]), entry["hash"])
        assert row["batch"] == document["batch"]
        assert row["formula"] == bodies(document, "batch opened")[0]["formula"]["id"]


def test_below_zero_is_a_number_but_not_in_a_column_of_texts() -> None:
    document = golden("plain")
    body = bodies(document, "addition accepted")[0]
    assert body["deviation_g"] == "-0.03"
    body["lot"] = "-0.03"
    row = next(csv.DictReader(io.StringIO(as_csv(document), newline="")))
    assert (row["deviation_g"], row["lot"]) == ("-0.03", "'-0.03")


@pytest.mark.parametrize("value", ["=1+1", "-1+2", "1e5", "- 1", "+1", "٣", "1,5", " -1"])
def test_a_number_that_was_tampered_with_is_text(value: str) -> None:
    document = golden("plain")
    bodies(document, "addition accepted")[0]["net_g"] = value
    row = next(csv.DictReader(io.StringIO(as_csv(document), newline="")))
    assert bare(row["net_g"]) == value
    assert seen(row["net_g"]) not in {"=", "+", "-", "@"}


def test_a_record_of_any_shape_makes_a_table() -> None:
    document = golden("checked")
    for kind in ("addition accepted", "batch opened"):
        for body in bodies(document, kind):
            for n, key in enumerate(list(body)):
                body[key] = [None, 5, [], {"x": HOSTILE}, True, HOSTILE[n % len(HOSTILE)]][n % 6]
    assert len(read_csv(as_csv(document))) == 6
    assert (
        read_csv(as_csv({}, {"entries": [None, 3, {"kind": "addition accepted"}]}))[0]["net_g"]
        == ""
    )


def test_how_the_scale_stood_and_how_the_batch_stands() -> None:
    first = next(table_rows(Record(golden("checked"))))
    assert (first["scale_stood"], first["scale_checked"]) == ("good", "2026-11-26T19:12:17.945Z")
    assert first["status"] == "closed"
    assert first["rule"] == "guarded, k = 2"
    assert next(table_rows(Record(golden("plain"))))["scale_stood"] is None
    assert Record(golden("abandoned")).status == "abandoned"
    assert next(table_rows(Record(golden("by-difference"))))["method"] == "by difference"


def test_every_column_is_documented() -> None:
    page = read("reference/tables.md")
    for one in COLUMNS:
        assert f"| `{one.name}` | {one.of} | {one.about} |" in page, one.name
    assert len({one.name for one in COLUMNS}) == len(COLUMNS)
    assert all((one.of is Of.MASS) == one.name.endswith("_g") for one in COLUMNS)
