"""Vessels that were weighed are kept beside the record, replaced by name, and can be forgotten."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from tests.storage.entries import STATION, Chain
from tests.storage.files import by_hand
from weighd.domain.errors import JournalError
from weighd.domain.vessels import Vessel
from weighd.station.vessel_shelf import Kept
from weighd.storage.journal import SqlJournal, open_journal, open_read_only

STEEL = Kept(
    Vessel("steel bowl", Decimal("812.40"), Decimal("0.041"), Decimal(1)),
    scale="bench",
    at="2026-03-01T08:00:00.000Z",
    by="Ada",
)
GLASS = Kept(Vessel("Glas, groß", Decimal(1033)))


def test_what_is_kept_comes_back_exactly_and_survives(journal: SqlJournal, path: Path) -> None:
    book = journal.vessels()
    assert book.all() == ()
    book.keep(STEEL)
    book.keep(GLASS)
    journal.close()
    again = open_journal(path, STATION)
    assert again.vessels().all() == (GLASS, STEEL)
    again.close()
    quiet = open_read_only(path, STATION)
    assert len(quiet.vessels().all()) == 2
    with pytest.raises(JournalError):
        quiet.vessels().keep(STEEL)


def test_one_is_replaced_and_forgotten_by_its_name(journal: SqlJournal) -> None:
    book = journal.vessels()
    book.keep(STEEL)
    book.keep(GLASS)
    newer = replace(STEEL, vessel=replace(STEEL.vessel, mass_g=Decimal(813)))
    book.keep(newer)
    assert book.all() == (GLASS, newer)
    assert book.forget("Glas, groß")
    assert not book.forget("Glas, groß")
    assert book.all() == (newer,)


def test_the_record_knows_nothing_of_it(journal: SqlJournal) -> None:
    entries = Chain().whole_batch("kitchen-0001")
    journal.append(entries)
    journal.vessels().keep(STEEL)
    assert list(journal.entries()) == list(entries)


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "7", '{"name": "x"}', '{"name": 1, "mass_g": "0"}']
)
def test_what_cannot_be_read_any_more_counts_as_nothing(
    journal: SqlJournal, path: Path, text: str
) -> None:
    journal.vessels().keep(STEEL)
    journal.vessels().keep(GLASS)
    by_hand(path, f"UPDATE vessel SET kept = '{text}' WHERE name = 'steel bowl'")
    assert journal.vessels().all() == (GLASS,)
