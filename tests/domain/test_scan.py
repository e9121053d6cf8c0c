"""Scanned codes: published GS1 checks, misread digits, codes of one's own, and any rubbish."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from biip.checksums import gs1_standard_check_digit
from hypothesis import example, given
from hypothesis import strategies as st

from weighd.domain.scan import Scan, full_day, read_scan

TABLE = Path(__file__).parents[2] / "fixtures" / "tables" / "gs1.json"
CHECKS: list[dict[str, Any]] = json.loads(TABLE.read_text("utf-8"))["checks"]
YEAR = 2026
_KEYS = {"01": "gtin", "02": "gtin", "10": "lot", "15": "best_before", "17": "use_by"}


def named(prefix: str) -> list[dict[str, Any]]:
    return [one for one in CHECKS if one["name"].startswith(prefix)]


@pytest.mark.parametrize("check", named("gs1_check_digit"), ids=lambda one: one["name"])
def test_published_check_digits(check: dict[str, Any]) -> None:
    digits, due = check["inputs"]["digits"], check["expected"]["check_digit"]
    assert gs1_standard_check_digit(digits) == due
    whole = f"{digits}{due}".zfill(14)
    assert read_scan(f"01{whole}10A", YEAR).gtin == whole
    for wrong in range(10):
        if wrong != due:  # every other last digit is a misread code
            assert "check digit" in read_scan(f"01{whole[:-1]}{wrong}10A", YEAR).misread


@pytest.mark.parametrize("check", named("gs1_parse"), ids=lambda one: one["name"])
def test_published_element_strings(check: dict[str, Any]) -> None:
    found = read_scan(check["inputs"]["raw"], YEAR)
    due = check["expected"]
    if "error" in due:
        assert found.misread
        assert (found.gtin, found.lot) == ("", "")  # nothing else in it is believed
        return
    assert not found.misread
    for key, field in _KEYS.items():
        if key in due:
            assert getattr(found, field) == due[key]
    if "net_weight_kg" in due:
        assert found.net_g == Decimal(due["net_weight_kg"]) * 1000
    if "37" in due:
        assert found.packs == due["37"]


@pytest.mark.parametrize("check", named("gs1_310"), ids=lambda one: one["name"])
def test_published_weights(check: dict[str, Any]) -> None:
    raw = f"0109501101530003{check['inputs']['ai']}{check['inputs']['data']}"
    assert read_scan(raw, YEAR).net_g == Decimal(check["expected"]["kg"]) * 1000


def test_every_check_of_the_table_is_used() -> None:
    used = [*named("gs1_check_digit"), *named("gs1_parse"), *named("gs1_310")]
    assert sorted(one["name"] for one in used) == sorted(one["name"] for one in CHECKS)
    assert all(one["source"] and "seen" in one for one in CHECKS)


@pytest.mark.parametrize(
    ("raw", "kind", "gtin", "lot"),
    [
        ("9501101530003", "gtin", "09501101530003", ""),
        ("9501101530004", "plain", "", ""),  # a number of somebody's own, with 13 digits
        ("]E09501101530003", "gtin", "09501101530003", ""),
        ("kitchen-0007", "plain", "", ""),
        ("R-0001\r\n", "plain", "", ""),
        ("10-ABC", "plain", "", ""),  # no element string: it begins with no trade number
        ("(01)09501101530003(10)AB-1(17)271231", "gs1", "09501101530003", "AB-1"),
        (
            "https://example.com/01/09501101530003/10/AB%2F1?17=271231",
            "gs1",
            "09501101530003",
            "AB/1",
        ),
        ("https://example.com/menu", "plain", "", ""),
        ("010950110153000310AB<GS>17271231", "gs1", "09501101530003", "AB"),
        ("]Q3010950110153000310AB", "gs1", "09501101530003", "AB"),
    ],
)
def test_codes(raw: str, kind: str, gtin: str, lot: str) -> None:
    found = read_scan(raw, YEAR)
    assert (found.kind, found.gtin, found.lot, found.misread) == (kind, gtin, lot, "")


@pytest.mark.parametrize(
    "raw",
    [
        "010950110153000410X",  # its check digit should be 3
        "0109501101530003310312",  # a weight needs six digits
        "010950110153000317991332",  # no month 13
        "010950110153000317270231",  # no 31 February
        "https://example.com/01/09501101530004/10/A",
        "(01)09501101530004(10)A",
    ],
)
def test_a_misread_code_is_believed_in_nothing(raw: str) -> None:
    found = read_scan(raw, YEAR)
    assert found.misread
    assert found == Scan("gs1", found.text, misread=found.misread)


@pytest.mark.parametrize(
    ("yymmdd", "year", "due"),
    [  # GS1 General Specifications 7.12, from memory: 49 years back to 50 ahead
        ("760101", 2026, "2076-01-01"),
        ("770101", 2026, "1977-01-01"),
        ("260101", 2026, "2026-01-01"),
        ("010131", 2099, "2101-01-31"),
        ("500101", 2099, "2050-01-01"),
        ("280200", 2026, "2028-02-29"),
        ("270200", 2026, "2027-02-28"),
    ],
)
def test_the_century_of_a_date(yymmdd: str, year: int, due: str) -> None:
    assert full_day(yymmdd, year) == due


@given(st.text(max_size=600))
@example("01" * 200)
@example("(01)")
@example("]C1")
@example("https://example.com/01/")
@example("\x1d\x1d")
def test_nothing_that_a_scanner_types_breaks_it(text: str) -> None:
    found = read_scan(text, YEAR)
    assert found.kind in ("gs1", "gtin", "plain")


@given(st.text("0123456789", max_size=60), st.sampled_from(["", "]C1", "01", "02", "]d2"]))
def test_no_digits_break_it(digits: str, before: str) -> None:
    found = read_scan(before + digits, YEAR)
    assert found.misread == "" or (found.gtin, found.lot, found.net_g) == ("", "", None)


def test_a_net_weight_in_pounds_is_in_grams() -> None:
    """GS1 General Specifications, 320n: net weight in pounds with n decimals (from memory)."""
    found = read_scan("01095011015300033202000150", YEAR)
    assert (found.net_g, found.misread) == (Decimal("680.388555"), "")


def test_an_element_that_says_nothing_of_a_lot_is_passed_over() -> None:
    """GS1 General Specifications, 240: additional product identification (from memory)."""
    found = read_scan("(01)09501101530003(240)A1(10)L7", YEAR)
    assert (found.gtin, found.lot, found.misread) == ("09501101530003", "L7", "")
    assert found == Scan("gs1", found.text, gtin=found.gtin, lot="L7")


@pytest.mark.parametrize("yymmdd", ["270001", "271301", "279901"])
def test_no_month_is_no_day(yymmdd: str) -> None:
    with pytest.raises(ValueError, match="is not a day"):
        full_day(yymmdd, YEAR)


def test_brackets_that_hold_no_known_element_are_misread() -> None:
    found = read_scan("(01)09501101530003(9999)X", YEAR)
    assert found.misread
    assert found == Scan("gs1", found.text, misread=found.misread)
