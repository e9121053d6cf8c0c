"""What fuzzing found, each in a few lines; inputs whole stand in ``fixtures/fuzz``."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.fuzz.targets_record import TARGETS
from weighd.domain.days import plus_days
from weighd.domain.duration import read_duration
from weighd.domain.errors import OperatorError, ScaleError, SessionError
from weighd.domain.lot_json import lot_of
from weighd.domain.lot_shared import shared_body
from weighd.domain.lots import LotBook
from weighd.domain.pasted import read_pasted
from weighd.domain.process_text import read_times
from weighd.domain.record import Tail, seal
from weighd.domain.scan import read_scan
from weighd.domain.temperature import CELSIUS, Temperature, read_temperature
from weighd.domain.toml_text import TomlError, load
from weighd.main.drivers import session_decoder
from weighd.main.files import formula_content
from weighd.station.replay import replay
from weighd.station.session import read
from weighd.station.sharing import shared_of
from weighd.storage.revision_bundle import unbundle
from weighd_drivers.shape_text import named

HEAD = {"session": 1, "scales": {"bench": {"driver": "serial", "interval_g": "0.1"}}}


@pytest.mark.parametrize(
    ("typed", "kind"),
    [
        ("]\u22120104012345678901\x1d1130", "gs1"),  # a mark of no symbology before a trade number
        ("https://exampl[e/01/04012345678901", "plain"),
        ("https://[]org/01/04012345678901", "plain"),
    ],
)
def test_what_reads_codes_gives_up_and_a_scan_does_not(typed: str, kind: str) -> None:
    assert read_scan(typed, 2026).kind == kind


@pytest.mark.parametrize("text", ["2 to 4 hours", "2 to 4true"])
def test_a_band_in_a_unit_that_is_none_is_told(text: str) -> None:
    with pytest.raises(ValueError, match="unit of time"):
        read_times(text)


def test_a_letter_that_is_an_s_in_upper_case_only_is_no_second() -> None:
    with pytest.raises(ValueError, match="length of time"):
        read_duration("5 \u017f")


def test_a_wide_blank_before_a_unit_is_a_blank() -> None:
    assert read_temperature("4 \u00b0\u00a0C") == Temperature(Decimal(4), CELSIUS)


def test_a_sum_that_nobody_can_weigh_is_none() -> None:
    found = read_pasted(f"Total: {'9' * 60} kg", {})
    assert found.lines[0].amount_g is None
    assert found.sum_g is None


@pytest.mark.parametrize(
    "row",
    [
        {"t": 0, "clock": "20pted hands"},
        {"t": 0, "clock": "2026-02-30T10:00:00.000Z"},
        {"t": 1e300, "clock": "2026-02-20T10:00:00.000Z"},
        {"t": 0, "command": {"do": "tare", "key": 3}},
        {"t": 0, "command": {"do": "tare", "confirm": 1}},
        {"t": 0, "command": {"do": "begin step", "dry_ice": [1]}},
        {"t": 0, "command": "tare"},
        {"t": 0, "command": {"do": "start", "formula": {"id": "\ud800"}}},
        {"t": 0, "recalled": [{"seq": 1}]},
        {"t": 0, "down": {"at": "2026", "entries": []}},
    ],
)
def test_a_line_of_a_recording_that_is_none_is_named(row: dict[str, Any]) -> None:
    with pytest.raises(SessionError, match="line 2"):
        list(read([json.dumps(HEAD), json.dumps(row)])[1])


@pytest.mark.parametrize(
    "more",
    [
        {"journal": {"seq": float("inf")}},
        {"journal": {"newest": "yesterday"}},
        {"journal": 3},
        {"lots": [3]},
        {"shared": {"marks": [], "strangers": {}, "sums": [], "at": ""}},
    ],
)
def test_a_header_of_a_recording_that_is_none_is_refused(more: dict[str, Any]) -> None:
    with pytest.raises(SessionError, match="line 1"):
        read([json.dumps({**HEAD, **more})])


@pytest.mark.parametrize("rule", [{"name": "lenient"}, {"name": "guarded", "k": "99"}, {"k": "2"}])
def test_a_rule_that_there_is_not_is_refused(rule: dict[str, str]) -> None:
    header, inputs = read([json.dumps({**HEAD, "rule": rule})])
    with pytest.raises(SessionError, match="rule"):
        replay(header, inputs, session_decoder, formula_content(Path("s"), None))


LOT: dict[str, Any] = json.loads(TARGETS["synced"].seeds()[0])


@pytest.mark.parametrize(
    "wrong",
    [
        {"uses": float("inf")},
        {"seq": 1.5},
        {"keeps_days": True},
        {"elsewhere": "bar"},
        {"elsewhere": {"bar": {"g": "1", "u2": "0", "uses": float("nan")}}},
        {"goods": {"quantity_g": "1"}},
    ],
)
def test_a_lot_of_odd_values_is_none(wrong: dict[str, Any]) -> None:
    assert lot_of(LOT).code == "C-1"
    with pytest.raises((KeyError, TypeError, ValueError)):
        lot_of({**LOT, **wrong})


def test_what_others_drew_is_an_object() -> None:
    with pytest.raises(TypeError):
        shared_of({"marks": "x", "strangers": {}, "sums": [], "at": ""})


def test_a_revision_with_half_a_character_is_left_out(tmp_path: Path) -> None:
    """JSON can say half of a surrogate pair (RFC 8259, 8.2), and no file in UTF-8 holds it."""
    kept = json.loads(TARGETS["revisions"].seeds()[0])
    assert unbundle(json.dumps({**kept, "by": "\ud800"}), tmp_path) == 1
    assert unbundle(json.dumps(kept), tmp_path) == 0


def test_a_key_of_very_many_parts_is_refused_before_anything_is_made_of_it() -> None:
    with pytest.raises(TomlError, match="parts"):
        load("x = 1\n" + "a." * 400_000 + "a = 1")
    assert load("a.b.c.'d'.e = 1\nnote = '" + "1.5, 2.5 " * 100 + "'")["a"]["b"]


def test_a_shape_with_a_name_that_no_file_has_is_none() -> None:
    for name in ("9" * 5000, "a\0b", "/\0"):
        with pytest.raises(ScaleError):
            named(name)


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        ("lot received", {"use_by": "soon"}),
        ("lot received", {"best_before": "2026-02-30"}),
        ("lot opened", {"keeps_days": 10**9}),
        ("lot opened", {"keeps_days": "3"}),
    ],
)
def test_what_another_station_says_of_days_is_of_days(kind: str, wrong: dict[str, Any]) -> None:
    """Its hash fits, so it did say so: nothing of it is taken, or every list of lots would fail."""
    body = {"lot": "C-1", "by": "A", "ingredient": "cream", "name": "Cream", "quantity_g": "5"}
    entry = seal("bar", kind, "2026-11-27T10:00:00.000Z", {**body, **wrong}, Tail())
    book = LotBook(
        [] if kind == "lot received" else [lot_of({**LOT, "station": "bar", "there": "C-1"})]
    )
    with pytest.raises(OperatorError, match="is not taken"):
        shared_body(book, "here", entry)
    with pytest.raises(ValueError, match="beyond"):
        plus_days("2026-11-27", 10**30)
