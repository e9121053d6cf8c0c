"""A new record in a folder of its own, and what can be done to it from outside."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.storage.entries import STATION
from weighd.storage.journal import SqlJournal, open_journal


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "weighd.db"


@pytest.fixture
def journal(path: Path) -> Iterator[SqlJournal]:
    opened = open_journal(path, STATION)
    yield opened
    opened.close()
