"""A record that was changed does not verify, whatever was changed."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.domain.forging import sealed_anew
from tests.station.scripted import Hand, LineDecoder
from weighd.domain.errors import RecordError
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import Report, Verifier, export, read_export


def whole_batch() -> list[Entry]:
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.pour("600")
    hand.lost()
    hand.found()
    hand.show("0.0")
    hand.do("resume")
    hand.pour("230")
    hand.do("take out")
    hand.show("213")
    hand.do("accept")
    hand.do("name lot", lot="S-1")
    hand.pour("280")
    hand.show("0.0")  # the scale's own key
    hand.pour("53")
    hand.do("accept")
    hand.lift("-880")
    hand.lost()
    hand.found()
    hand.show("0.0")  # zeroed empty: the vessel stands on its old zero again
    hand.lift("933")
    hand.pour("934", "0.2")
    hand.do("accept", reason="the tin was empty")
    return hand.journal


JOURNAL = whole_batch()
BATCH = JOURNAL[0].body["batch"]
DOCUMENT = json.loads(json.dumps(export("test", BATCH, JOURNAL)))


def check(entries: list[Entry], *, whole: bool = False) -> Report:
    verifier = Verifier(whole=whole, reread=lambda _spec: LineDecoder())
    for entry in entries:
        verifier.take(entry)
    return verifier.finish()


def resealed(change: Callable[[list[dict[str, Any]]], None]) -> list[Entry]:
    """The journal after a change by somebody who can compute hashes too."""
    rows = copy.deepcopy(
        [{"kind": one.kind, "at": one.at, "body": dict(one.body)} for one in JOURNAL]
    )
    change(rows)
    return sealed_anew(Entry(0, "test", **row, prev="", hash="") for row in rows)


def find(rows: list[dict[str, Any]], kind: str) -> dict[str, Any]:
    body: dict[str, Any] = next(row["body"] for row in rows if row["kind"] == kind)
    return body


def test_an_untouched_record_holds_by_itself_and_in_its_journal() -> None:
    for whole in (True, False):
        report = check(read_export(DOCUMENT), whole=whole)
        assert (report.entries, report.weighings, report.open_batches) == (len(JOURNAL), 3, 0)


def test_resealing_alone_changes_nothing() -> None:
    assert [one.hash for one in resealed(lambda rows: None)] == [one.hash for one in JOURNAL]


def flip(value: Any) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, str):
        return value + "x" if not value else value[:-1] + ("0" if value[-1] != "0" else "1")
    if isinstance(value, int | float):
        return value + 1
    return "changed"


def leaves(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(value, dict):
        return [leaf for key, one in value.items() for leaf in leaves(one, (*path, key))]
    if isinstance(value, list):
        return [leaf for n, one in enumerate(value) for leaf in leaves(one, (*path, n))]
    return [path]


LEAVES = leaves(DOCUMENT["entries"])


@settings(max_examples=300)
@given(st.sampled_from(LEAVES))
def test_any_changed_value_is_found_and_its_entry_named(path: tuple[Any, ...]) -> None:
    document = copy.deepcopy(DOCUMENT)
    inside: Any = document["entries"]
    for key in path[:-1]:
        inside = inside[key]
    inside[path[-1]] = flip(inside[path[-1]])
    with pytest.raises(RecordError) as caught:
        check(read_export(document))
    # seq is how an entry is named, so a changed one is named by what it now claims to be.
    named = document["entries"][path[0]]["seq"]
    assert f"entry {named}" in caught.value.where or f"row {path[0] + 1}" in caught.value.where


@pytest.mark.parametrize("gone", range(len(JOURNAL) - 1))
def test_an_entry_left_out_is_missed(gone: int) -> None:
    entries = JOURNAL[:gone] + JOURNAL[gone + 1 :]
    for whole in (True, False):
        with pytest.raises(RecordError):
            check(entries, whole=whole)


def test_a_record_cut_short_is_told_to_be_open() -> None:
    assert check(JOURNAL[:-1]).open_batches == 1


def test_entries_out_of_order_or_twice_are_refused() -> None:
    with pytest.raises(RecordError):
        check([JOURNAL[1], JOURNAL[0], *JOURNAL[2:]])
    with pytest.raises(RecordError):
        check([*JOURNAL, JOURNAL[-1]])


@pytest.mark.parametrize(
    ("kind", "key", "value"),
    [
        ("addition accepted", "net_g", "500.0"),
        ("addition accepted", "verdict", "over"),
        ("addition accepted", "u_g", "0.000100"),
        ("addition accepted", "budget", {"rounding": "0.000001", "spread": "0.000000"}),
        ("addition accepted", "budget", {}),
        ("addition accepted", "gross_budget", {"rounding": "0.028868", "spread": "9.000000"}),
        ("addition accepted", "guard_g", "0"),
        ("addition accepted", "accept_low_g", "0"),
        ("addition accepted", "accept_high_g", "9999"),
        ("tared", "budget", {"rounding": "0.028868", "spread": "9.000000"}),
        ("zero moved", "budget", {"rounding": "0.028868", "spread": "0.000000"}),
        ("addition accepted", "deviation_g", "0.0"),
        ("addition accepted", "target_g", "400"),
        ("addition accepted", "high_g", "600"),
        ("addition accepted", "tare_g", "300.0"),
        ("addition accepted", "lot", "another"),
        ("addition accepted", "rule", {"name": "simple", "k": "2"}),
        ("addition accepted", "interval_g", "1"),
        ("tared", "tare_g", "300.0"),
        ("tared", "u_g", "9"),
        ("zero moved", "sum_g", "1.0"),
        ("zero moved", "shift_g", "-599.0"),
        ("zero moved", "shift_u_g", "0.0001"),
        ("zero moved", "shift_budget", {"rounding": "0.000000", "spread": "0.000000"}),
        ("zero moved", "before_budget", {"rounding": "0.028868", "spread": "0.100000"}),
        ("zero moved", "tare_g", "-280.0"),
        ("zero moved", "u_g", "0.0001"),
        ("zero moved", "before_g", "601"),
        ("zero moved", "after_g", "0.1"),
        ("zero moved", "cause", "tare key"),
        ("held", "before_g", "601"),
        ("held", "sum_g", "1.0"),
        ("addition accepted", "zero_moves", []),
        ("batch opened", "rule", {"name": "simple", "k": "2"}),
    ],
)
def test_a_forged_value_with_fresh_hashes_does_not_follow_from_its_evidence(
    kind: str, key: str, value: Any
) -> None:
    def forge(rows: list[dict[str, Any]]) -> None:
        find(rows, kind)[key] = value

    with pytest.raises(RecordError) as caught:
        check(resealed(forge))
    assert caught.value.code == "does-not-follow"


def test_forged_grams_do_not_follow_from_the_bytes() -> None:
    def forge(rows: list[dict[str, Any]]) -> None:
        for one in find(rows, "tared")["evidence"]["readings"]:
            one["grams"] = "300.0"
        find(rows, "tared")["tare_g"] = "300.0"

    with pytest.raises(RecordError) as caught:
        check(resealed(forge))
    assert caught.value.code == "evidence-differs"


def test_one_reading_is_too_little_evidence() -> None:
    def forge(rows: list[dict[str, Any]]) -> None:
        evidence = find(rows, "tared")["evidence"]
        evidence["readings"] = evidence["readings"][:1]

    with pytest.raises(RecordError) as caught:
        check(resealed(forge))
    assert caught.value.code == "too-little-evidence"


@pytest.mark.parametrize("gone", [1, 3])
def test_a_batch_opened_without_an_amount_of_its_formula_is_refused(gone: int) -> None:
    def forge(rows: list[dict[str, Any]]) -> None:
        additions = find(rows, "batch opened")["additions"]
        for one in additions:
            one.setdefault("of", one["n"])
        del additions[gone - 1]
        for n, one in enumerate(additions, start=1):
            one["n"] = n

    with pytest.raises(RecordError, match=rf"Nothing is weighed of amount {gone} ") as caught:
        check(resealed(forge))
    assert (caught.value.code, caught.value.where) == ("does-not-follow", "entry 1 (batch opened)")


@pytest.mark.parametrize("of", [0, 4])
def test_a_batch_opened_with_an_amount_that_its_formula_has_not_is_refused(of: int) -> None:
    def forge(rows: list[dict[str, Any]]) -> None:
        find(rows, "batch opened")["additions"][1]["of"] = of

    with pytest.raises(RecordError, match=rf"additions\[1\]\.of is {of}, where") as caught:
        check(resealed(forge))
    assert (caught.value.code, caught.value.where) == ("does-not-follow", "entry 1 (batch opened)")


def test_a_batch_closed_early_is_refused() -> None:
    def forge(rows: list[dict[str, Any]]) -> None:
        del rows[-2]

    with pytest.raises(RecordError) as caught:
        check(resealed(forge))
    assert caught.value.code == "closed-early"


def test_bytes_nobody_can_read_here_are_told_not_passed_over() -> None:
    def unknown(_spec: Any) -> LineDecoder:
        raise KeyError("test")

    verifier = Verifier(whole=True, reread=unknown)
    for entry in JOURNAL:
        verifier.take(entry)
    assert verifier.finish().unread == {"test"}


@pytest.mark.parametrize(
    "document",
    [
        None,
        [],
        {},
        {"weighd_record": 2, "entries": []},
        {"weighd_record": 1},
        {"weighd_record": 1, "entries": []},
        {"weighd_record": 1, "entries": ["x"]},
        {"weighd_record": 1, "entries": [{"seq": 1}]},
        {"weighd_record": 1, "entries": [{**DOCUMENT["entries"][0], "seq": "1"}]},
        {"weighd_record": 1, "entries": [{**DOCUMENT["entries"][0], "body": []}]},
    ],
)
def test_what_is_no_record_is_refused(document: Any) -> None:
    with pytest.raises(RecordError):
        check(read_export(document))


def nested(deep: int) -> Any:
    value: list[Any] = []
    for _ in range(deep):
        value = [value]
    return value


@pytest.mark.parametrize(
    "value",
    [float("nan"), 2**60, "\ud800", {3: "x"}, nested(20_000)],
    ids=["nan", "large", "half a character", "number for a name", "deep"],
)
def test_what_has_no_canonical_form_has_no_hash(value: Any) -> None:
    opened = JOURNAL[0]
    forged = replace(opened, body={**opened.body, "more": value})
    with pytest.raises(RecordError) as caught:
        check([forged])
    assert (caught.value.code, caught.value.where) == ("not-canonical", "entry 1")


@pytest.mark.parametrize("name", [None, 3, ["test-0001"]])
def test_an_entry_that_names_no_batch_is_of_none(name: Any) -> None:
    opened = JOURNAL[0]
    body = {**opened.body, "batch": name}
    with pytest.raises(RecordError) as caught:
        check([seal("test", opened.kind, opened.at, body, Tail())])
    assert (caught.value.code, caught.value.where) == ("unreadable-entry", "entry 1")
    assert caught.value.message == "It names no batch."


@settings(max_examples=200)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=5),
        lambda inner: (
            st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
        ),
    )
)
def test_a_body_of_anything_is_refused_with_a_record_error(body: Any) -> None:
    """Hashes are right and the content is nonsense: told as such, never a crash."""
    for kind in ("batch opened", "tared", "addition accepted", "held", "nonsense"):
        wrapped = {"batch": BATCH, "n": 1, "after": "0" * 64, "formula": body, "evidence": body}
        try:
            entry = seal("test", kind, "2026-11-25T09:00:00.000Z", wrapped, Tail())
        except (ValueError, TypeError):
            return
        with pytest.raises(RecordError):
            check([entry])
        follows = seal(
            "test",
            kind,
            "2026-11-25T09:00:00.000Z",
            {**wrapped, "n": 2, "after": JOURNAL[0].hash},
            Tail(1, JOURNAL[0].hash),
        )
        with pytest.raises(RecordError):
            check([JOURNAL[0], follows])
