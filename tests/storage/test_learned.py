"""What was learned of scales is kept beside the record, written over, and can be thrown away."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from tests.storage.entries import STATION, Chain
from tests.storage.files import by_hand
from weighd.domain.errors import JournalError
from weighd.domain.settling_learned import Learned
from weighd.station.known import Known
from weighd.storage.journal import SqlJournal, open_journal, open_read_only

AT = "2026-03-01T08:00:00.000Z"
KNOWN = Known(
    Decimal("0.1"), replace(Learned(), spread_d=1.0 / 3, looks=12, response_s=0.37), since=AT
)


def test_what_is_kept_comes_back_exactly_and_survives(journal: SqlJournal, path: Path) -> None:
    book = journal.learned()
    assert book.all() == {}
    book.keep({"bench": ("a scale", KNOWN), "floor": ("another", KNOWN)}, AT)
    journal.close()
    again = open_journal(path, STATION)
    assert again.learned().all() == {"bench": ("a scale", KNOWN), "floor": ("another", KNOWN)}
    again.close()
    quiet = open_read_only(path, STATION)
    assert set(quiet.learned().all()) == {"bench", "floor"}
    with pytest.raises(JournalError):
        quiet.learned().keep({"bench": ("a scale", KNOWN)}, AT)


def test_it_is_written_over_and_forgotten_scale_by_scale(journal: SqlJournal) -> None:
    book = journal.learned()
    book.keep({"bench": ("a scale", KNOWN), "floor": ("another", KNOWN)}, AT)
    newer = replace(KNOWN, learned=replace(KNOWN.learned, looks=40))
    book.keep({"bench": ("a scale", newer)}, AT)
    assert book.all() == {"bench": ("a scale", newer), "floor": ("another", KNOWN)}
    assert book.forget("bench")
    assert not book.forget("bench")
    assert set(book.all()) == {"floor"}


def test_the_record_knows_nothing_of_it(journal: SqlJournal) -> None:
    entries = Chain().whole_batch("kitchen-0001")
    journal.append(entries)
    journal.learned().keep({"bench": ("a scale", KNOWN)}, AT)
    assert list(journal.entries()) == list(entries)
    assert journal.tail().seq == len(list(entries))


@pytest.mark.parametrize("text", ["", "{", "[]", "7", '{"values": {}}', '{"interval_g": "0"}'])
def test_what_cannot_be_read_any_more_counts_as_nothing(
    journal: SqlJournal, path: Path, text: str
) -> None:
    journal.learned().keep({"bench": ("a scale", KNOWN), "floor": ("another", KNOWN)}, AT)
    by_hand(path, f"UPDATE learned SET known = '{text}' WHERE scale = 'bench'")
    assert journal.learned().all() == {"floor": ("another", KNOWN)}
