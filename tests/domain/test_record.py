"""Canonical bytes and the chain, against published vectors."""

from __future__ import annotations

import hashlib
import json
import struct
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from weighd.domain.record import NOTHING_BEFORE, Tail, canonical, entry_hash, seal

TABLE = json.loads(
    (Path(__file__).parents[2] / "fixtures/tables/canonical_json.json").read_text("utf-8")
)
CHECKS = {one["name"]: one for one in TABLE["checks"]}


def test_sample_of_rfc_8785() -> None:
    """RFC 8785, 3.2.2 sample; text read, hash computed from it."""
    check = CHECKS["jcs_sample"]
    found = canonical(json.loads(check["inputs"]["json"]))
    assert found.hex() == check["expected"]["utf8_hex"]
    assert hashlib.sha256(found).hexdigest() == check["expected"]["sha256"]


def test_key_order_of_rfc_8785() -> None:
    """RFC 8785, 3.2.3: keys by UTF-16 code units."""
    check = CHECKS["jcs_sort"]
    ordered = json.loads(canonical(json.loads(check["inputs"]["json"])))
    assert list(ordered.values()) == check["expected"]["value_order"]


NUMBERS = [one for name, one in CHECKS.items() if name.startswith("jcs_number_")]


@pytest.mark.parametrize("check", NUMBERS, ids=lambda one: one["inputs"]["ieee754_hex"])
def test_numbers_of_rfc_8785(check: dict[str, Any]) -> None:
    """RFC 8785, Appendix B (from memory; two packages agree)."""
    (value,) = struct.unpack(">d", bytes.fromhex(check["inputs"]["ieee754_hex"]))
    assert canonical(value).decode() == check["expected"]["text"]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**53, {1: 2}, object()])
def test_what_json_cannot_hold_is_refused(value: object) -> None:
    with pytest.raises((ValueError, TypeError)):
        canonical(value)


def test_an_entry_like_ours() -> None:
    check = CHECKS["jcs_record_example"]
    found = canonical(check["inputs"]["object"])
    assert found.decode() == check["expected"]["canonical"]
    assert hashlib.sha256(found).hexdigest() == check["expected"]["sha256"]


def test_sha256_of_abc() -> None:
    """FIPS 180-4, example "abc" (from memory): the hash behind every entry is the published one."""
    assert hashlib.sha256(b"abc").hexdigest() == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


def test_an_entry_follows_the_tail_and_covers_all_of_itself() -> None:
    first = seal("kitchen", "held", "2026-11-25T09:00:00.000Z", {"batch": "b"}, Tail())
    second = seal("kitchen", "held", "2026-11-25T09:00:01.000Z", {}, Tail(first.seq, first.hash))
    assert (first.seq, first.prev) == (1, NOTHING_BEFORE)
    assert (second.seq, second.prev) == (2, first.hash)
    for change in (
        {"seq": 3},
        {"station": "cellar"},
        {"kind": "tared"},
        {"at": "2026-11-25T09:00:00.001Z"},
        {"body": {"batch": "c"}},
        {"prev": "1" * 64},
    ):
        changed = replace(first, **change)
        assert (
            entry_hash(
                changed.seq, changed.station, changed.kind, changed.at, changed.body, changed.prev
            )
            != first.hash
        )
