"""Batches are found by words in every kind of journal alike."""

from __future__ import annotations

import pytest

from tests.servers import Postgres
from tests.storage.entries import Chain
from tests.storage.test_contract import journal as journal  # noqa: PLC0414 - a fixture
from weighd.station.finding import words_of
from weighd.station.ports import Journal


@pytest.fixture(scope="module")
def address(postgres: Postgres) -> str:
    return postgres.create("finding")


def test_batches_are_found_by_words_whatever_signs_are_in_them(journal: Journal) -> None:
    chain = Chain()
    for name in ("kitchen-0001", "kitchen-0002", "odd_%-1"):
        journal.append([chain.opening(name)])
    for words, found in (
        ([], ["odd_%-1", "kitchen-0002", "kitchen-0001"]),
        (["ada", "test"], ["odd_%-1", "kitchen-0002", "kitchen-0001"]),
        (["kitchen", "0002", "2026-03-01"], ["kitchen-0002"]),
        (["_%"], ["odd_%-1"]),
        (["kitchen_0001"], []),
        (["'"], []),
        (["\\"], []),
    ):
        assert [one.id for one in journal.find_batches(words, 9)] == found, words
    assert [one.id for one in journal.find_batches(["kitchen"], 1)] == ["kitchen-0002"]
    assert list(journal.find_batches(["kitchen"], 0)) == []


def test_capitals_and_accents_of_a_batch_do_not_count(journal: Journal) -> None:
    chain = Chain()
    formula = {"id": "eclair-glace", "revision": "ab12", "content": {}}
    for n, name in enumerate(("Crème ÉCLAIR", "Cre\u0301me éclair", "Plum ice"), 1):
        told = {**formula, "name": name}
        journal.append([chain.opening(f"kitchen-000{n}", formula=told, operator="Åse Öz")])
    both = ["kitchen-0002", "kitchen-0001"]
    for typed, found in (
        ("creme", both),
        ("ÉCLAIR crÈme", both),
        ("ase oz plum", ["kitchen-0003"]),
        ("asé", ["kitchen-0003", *both]),
        ("crm", []),
    ):
        assert [one.id for one in journal.find_batches(words_of(typed), 9)] == found, typed


def test_the_newest_batch_of_each_formula_is_one_that_was_weighed(journal: Journal) -> None:
    chain = Chain()
    other = {"id": "plum-ice", "name": "Plum ice", "revision": "ab12", "content": {}}
    for name, end, more in (
        ("kitchen-0001", "batch closed", {}),
        ("kitchen-0002", "batch closed", {}),
        ("kitchen-0003", "batch abandoned", {}),
        ("kitchen-0004", "all weighed", {"formula": other}),
        ("kitchen-0005", "", {}),
    ):
        journal.append([chain.opening(name, **more)])
        if end:
            journal.append([chain.add(end, name)])
    found = {formula: row.id for formula, row in journal.newest_of_formulas().items()}
    assert found == {"test-ice": "kitchen-0002", "plum-ice": "kitchen-0004"}
