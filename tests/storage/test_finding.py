"""Batches are found by words in every kind of journal alike."""

from __future__ import annotations

import pytest

from tests.servers import Postgres
from tests.storage.entries import Chain
from tests.storage.test_contract import journal as journal  # noqa: PLC0414 - a fixture
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
